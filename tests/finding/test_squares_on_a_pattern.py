"""Squares on a patterned tablecloth, among whose steps their own sides are lost."""

import cv2
import numpy as np
import pytest

from colorcore.finding import find_squares
from colorcore.finding.scene import look
from colorcore.finding.woven import are_woven
from colorcore.photo import photo_from_array
from tests.bench.finding import match
from tests.finding.drawn import draw_surface, make_drawing
from tests.scenes import Scene, make_scene

_SMALL = {"width": 1000, "height": 750}


def _found(scene: Scene) -> tuple[int, int, int]:
    """Return how many squares there are, how many are found, and how many outlines are false."""
    finding = find_squares(photo_from_array(scene.pixels))
    truth = np.array([s.corners for s in scene.truth.squares])
    found = np.array([s.corners for s in finding.squares])
    right = len(match(truth, found))
    return len(truth), right, len(found) - right


def test_what_hides_the_pattern_between_squares_is_one() -> None:
    there, right, false = _found(make_scene("gaps_cloth", 1048, megapixels=1.5))
    assert right >= there - 1
    assert false == 0


@pytest.mark.parametrize("seed", [1060, 1061])
def test_an_empty_place_that_shows_the_pattern_is_none(seed: int) -> None:
    there, right, false = _found(make_scene("gaps_cloth", seed, megapixels=1.0, missing=0.2))
    assert right == there
    assert false == 0


def test_the_checks_of_a_tablecloth_are_no_squares_beside_the_layout() -> None:
    """Seven were taken for squares; one, beside which a square hides the checks, still is."""
    there, right, false = _found(make_scene("gaps_cloth", 1531, megapixels=1.5))
    assert right == there
    assert false <= 1


@pytest.mark.parametrize(("rows", "columns", "seed"), [(1, 1, 1), (1, 2, 0), (2, 2, 3), (3, 3, 1)])
def test_few_squares_on_gingham_are_found_and_no_check_is(
    rows: int, columns: int, seed: int
) -> None:
    """All checks of the cloth were taken for squares, and no square was found."""
    drawing = make_drawing(
        seed, surface="gingham", rows=rows, columns=columns, light=0.5, fill=0.7, **_SMALL
    )
    found = np.array([s.corners for s in find_squares(photo_from_array(drawing.pixels)).squares])
    assert len(found) == rows * columns
    assert len(match(drawing.quads, found)) == rows * columns


def test_of_gingham_alone_the_maker_is_asked_at_most() -> None:
    bare = draw_surface(np.random.default_rng(4), "gingham", 600, 800)
    finding = find_squares(photo_from_array(np.clip(bare, 0, 255).astype(np.uint8)))
    assert finding.squares == ()
    assert finding.reason


@pytest.mark.parametrize("seed", [9, 11])
def test_of_a_small_print_alone_the_maker_is_asked_at_most(seed: int) -> None:
    """What lay past the first dots looked like larger squares: 219 and 154 of them."""
    rng = np.random.default_rng(seed)
    y, x = np.mgrid[: 2 * 337, : 2 * 450] / 2
    turn, pitch = rng.uniform(-0.3, 0.3), rng.uniform(20, 44)
    wide = rng.uniform(0.35, 0.6) * pitch
    u = np.cos(turn) * x + np.sin(turn) * y
    v = np.cos(turn) * y - np.sin(turn) * x
    dots, ground = rng.uniform(30, 225, (2, 3))
    print_alone = np.where(((u % pitch < wide) & (v % pitch < wide))[..., None], dots, ground)
    picture = cv2.resize(print_alone, (450, 337), interpolation=cv2.INTER_AREA)
    picture *= (1 + 0.1 * (np.arange(450) / 450 - 0.5))[:, None]
    picture += rng.normal(0, 1.5, picture.shape)
    pixels = np.clip(np.round(picture), 0, 255).astype(np.uint8)
    assert find_squares(photo_from_array(pixels)).squares == ()


def test_squares_of_one_cloth_that_run_out_of_the_picture_are_no_checks() -> None:
    drawing = make_drawing(
        3, rows=6, columns=8, fill=1.15, gap=0.2, prints=("solid",), tone=(70, 75), **_SMALL
    )
    scene = look(photo_from_array(drawing.pixels))
    assert not are_woven(scene, drawing.quads * scene.view.scale).any()


def test_prints_of_like_greys_are_no_checks_of_a_mat() -> None:
    """Fifteen of 25 were of like colours, and what lay close to the edge showed them there."""
    assert _found(make_scene("gaps_mat", 1566, megapixels=1.5)) == (25, 25, 0)
