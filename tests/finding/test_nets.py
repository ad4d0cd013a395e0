"""Squares that fill the picture, of whose table only a net shows."""

import numpy as np
import pytest

from colorcore.finding import find_squares
from colorcore.finding.nets import scenes_with_nets
from colorcore.finding.scene import look
from colorcore.photo import photo_from_array
from tests.bench.finding import match
from tests.scenes import make_scene

SIDE, GAP = 190, 14


def _full_of_squares(seed: int, *, fabrics: int) -> tuple[np.ndarray, np.ndarray]:
    """A picture (750, 1000, 3) full of printed squares that run out of it on all sides, and the
    outlines (N, 4, 2) of those that lie in it whole."""
    rng = np.random.default_rng(seed)
    picture = np.empty((750, 1000, 3))
    picture[:] = (92, 88, 104)
    cloth = rng.uniform(20, 235, (fabrics, 2, 3))
    outlines = []
    for row in range(-1, 4):
        for column in range(-1, 5):
            x, y = 60 + column * (SIDE + GAP), 40 + row * (SIDE + GAP)
            ground, motif = cloth[rng.integers(fabrics)]
            square = np.tile(ground, (SIDE, SIDE, 1))
            for cx, cy in rng.integers(12, SIDE - 12, (60, 2)):
                square[cy - 5 : cy + 5, cx - 5 : cx + 5] = motif
            top, left = max(y, 0), max(x, 0)
            part = square[top - y :, left - x :][: 750 - top, : 1000 - left]
            picture[top : y + SIDE, left : x + SIDE] = part
            if x >= 0 and y >= 0 and x + SIDE <= 1000 and y + SIDE <= 750:
                corners = [[x, y], [x + SIDE, y], [x + SIDE, y + SIDE], [x, y + SIDE]]
                outlines.append(corners)
    picture += rng.normal(0, 2, picture.shape)
    return np.clip(picture, 0, 255).astype(np.uint8), np.array(outlines, np.float64)


@pytest.mark.parametrize("seed", range(3))
def test_squares_that_run_out_of_the_picture_on_all_sides_are_found(seed):
    pixels, whole = _full_of_squares(seed, fabrics=30)
    found = np.array([s.corners for s in find_squares(photo_from_array(pixels)).squares])
    pairs = [pair for pair in match(whole, found) if pair[2] > 0.9]
    assert len(pairs) == len(whole) == 12


def test_a_rendered_layout_whose_rim_is_cloth_is_found():
    scene = make_scene("cut_off", 1700, megapixels=1.0, reference="none")
    true = np.array([s.corners for s in scene.truth.squares if s.visible_share > 0.5])
    found = find_squares(photo_from_array(scene.pixels)).squares
    pairs = [p for p in match(true, np.array([s.corners for s in found])) if p[2] > 0.75]
    assert len(pairs) == len(true)


def test_the_likeliest_net_is_the_table():
    pixels, _ = _full_of_squares(5, fabrics=30)
    scenes = scenes_with_nets(look(photo_from_array(pixels)))
    assert scenes
    net = scenes[0].masks[0]
    table = np.abs(pixels.astype(int) - (92, 88, 104)).max(axis=2) < 10
    assert net[table].mean() > 0.9


def test_a_table_in_one_piece_is_no_net():
    pixels = np.full((750, 1000, 3), 150, np.uint8)
    pixels[200:400, 300:500] = (40, 90, 60)
    assert scenes_with_nets(look(photo_from_array(pixels))) == []


def test_the_fields_of_a_trellis_print_are_no_squares():
    pixels, _ = _full_of_squares(7, fabrics=1)
    sure = [s for s in find_squares(photo_from_array(pixels)).squares if s.confidence > 0.75]
    assert len(sure) < 12
