"""Squares of the table's colour are told from empty places by what their cloth looks like."""

import cv2
import numpy as np
import pytest

from colorcore.finding import find_squares
from colorcore.finding.scene import look, table_within
from colorcore.finding.texture import ends_table, hides_table
from colorcore.photo import photo_from_array
from tests.bench.finding import match
from tests.scenes import Scene, make_scene


def _counts(scene: Scene) -> tuple[int, int, int]:
    """Return how many squares there are, are found and are found where none is."""
    finding = find_squares(photo_from_array(scene.pixels))
    truth = np.array([s.corners for s in scene.truth.squares])
    found = np.array([s.corners for s in finding.squares]).reshape(-1, 4, 2)
    right = len(match(truth, found))
    return len(truth), right, len(found) - right


@pytest.mark.parametrize(
    ("kind", "seed"),
    [("mat_on_table", 1217), ("touching_similar", 1211)],
    ids=["plain cloth hides the lines of a mat", "print on a plain table"],
)
def test_what_is_of_another_texture_between_squares_is_one(kind: str, seed: int) -> None:
    there, right, false = _counts(make_scene(kind, seed, megapixels=1.5))
    assert (right, false) == (there, 0)


def test_an_empty_place_framed_by_squares_has_the_texture_of_the_table() -> None:
    scene = make_scene("touching_similar", 1500, megapixels=1.5, missing=0.1, gap=0.03)
    there, right, false = _counts(scene)
    assert (right, false) == (there, 0)


def test_texture_is_told_on_a_drawn_table() -> None:
    noise = np.random.default_rng(1).normal(0, 1, (400, 600))
    lightness = 150 + noise
    quads = []
    for left in (60, 180, 300, 420):
        x, y = np.array([left, left + 110, left + 110, left]), np.array([140, 140, 250, 250])
        quads.append(np.column_stack([x, y]).astype(np.float64))
        # The first two are woven coarsely, the third one is empty; the fourth has one coarse half.
        wide = {60: 110, 180: 110, 300: 0, 420: 55}[left]
        weave = np.random.default_rng(left).normal(0, 8, (110, wide))
        lightness[140:250, left : left + wide] += weave
    pixels = np.clip(np.repeat(lightness[..., None], 3, axis=2), 0, 255).astype(np.uint8)
    outlines = np.array(quads)
    hidden = hides_table(look(photo_from_array(pixels)), outlines[1:], outlines[:1])
    assert hidden.tolist() == [True, False, False]


def _blobs(seed: int, high: int, wide: int) -> np.ndarray:
    """Light and dark blobs (high, wide) some 20 pixels across, about a middle grey."""
    noise = np.random.default_rng(seed).normal(0, 1, (high, wide)).astype(np.float32)
    soft = np.asarray(cv2.GaussianBlur(noise, (0, 0), 6))
    return 120 + 40 * soft / float(soft.std())


def _on_blobs() -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """A picture (900, 1200, 3) of four rows of five places on a table of blobs; their outlines
    (20, 4, 2); and which are empty. One square is of a shade of the table."""
    picture = np.repeat(_blobs(1, 900, 1200)[..., None], 3, axis=2)
    side, step, outlines, empty = 120, 150, [], np.zeros(20, bool)
    empty[13] = True
    rng = np.random.default_rng(2)
    for k in range(20):
        row, column = divmod(k, 5)
        left, top = 250 + step * column, 160 + step * row
        outlines.append([[left, top], [left + side, top], [left + side, top + side],
                         [left, top + side]])  # fmt: skip
        cloth = rng.uniform(40, 230, 3) if k != 7 else np.full(3, 50.0)
        if not empty[k]:
            picture[top : top + side, left : left + side] = cloth
    noisy = picture + rng.normal(0, 1.5, picture.shape)
    return np.clip(noisy, 0, 255).astype(np.uint8), np.array(outlines, np.float64), empty


def test_cloth_ends_the_pattern_of_the_table_where_an_empty_place_goes_on_with_it() -> None:
    pixels, outlines, empty = _on_blobs()
    scene = look(photo_from_array(pixels))
    asked = outlines[[7, 13]] * scene.view.scale
    bare = np.array([table_within(scene, quad) for quad in asked])
    assert ends_table(scene, asked, bare, 0.25).tolist() == [True, False]
    # Where squares touch, neighbours lie beyond all sides.
    assert not ends_table(scene, asked, bare, 0.01).any()
    finding = find_squares(photo_from_array(pixels))
    found = np.array([s.corners for s in finding.squares])
    assert {i for i, _, _ in match(outlines, found)} == set(np.flatnonzero(~empty))
    assert len(found) == 19
