"""A few squares on or against which a label or a hand lies: no outline of four sides is left."""

import cv2
import numpy as np
import pytest
from numpy.typing import NDArray

from colorcore.finding import Finding, find_squares
from colorcore.finding.cornered import cornered
from colorcore.finding.scene import look
from colorcore.photo import photo_from_array
from tests.bench.finding import match
from tests.finding.drawn import Drawing, make_drawing


def _drawing(seed: int, columns: int) -> Drawing:
    return make_drawing(
        seed, rows=1, columns=columns, fill=0.65, width=800, height=600, prints=("dots", "blotches")
    )


def _lay(pixels: NDArray[np.uint8], spot: NDArray[np.float64], lean: float) -> None:
    """Lay a label, 150 by 90 pixels, with its middle on a spot (2,)."""
    box = cv2.boxPoints(((float(spot[0]), float(spot[1])), (150.0, 90.0), lean))
    cv2.fillPoly(pixels, [np.round(box).astype(np.int32)], (196, 164, 120))


def _find(pixels: NDArray[np.uint8]) -> Finding:
    return find_squares(photo_from_array(pixels))


@pytest.mark.parametrize(("seed", "corners"), [(0, (0,)), (1, (0, 2)), (2, (1, 3)), (3, (2, 3))])
def test_a_square_with_labels_on_its_corners_is_found(seed: int, corners: tuple[int, ...]) -> None:
    drawing = _drawing(seed, 1)
    pixels = drawing.pixels.copy()
    for corner in corners:
        _lay(pixels, drawing.quads[0, corner], 30.0 + 50 * corner)
    squares = _find(pixels).squares
    assert len(match(drawing.quads, np.array([s.corners for s in squares]))) == 1
    assert len(squares) == 1
    # Part of its sides is not seen: the maker is asked to look.
    assert "unsure-outline" in squares[0].flags


def test_two_squares_that_one_label_joins_are_found() -> None:
    drawing = _drawing(4, 2)
    pixels = drawing.pixels.copy()
    _lay(pixels, (drawing.quads[0, 1] + drawing.quads[1, 0]) / 2, 10.0)
    squares = _find(pixels).squares
    assert len(match(drawing.quads, np.array([s.corners for s in squares]))) == 2
    assert len(squares) == 2


@pytest.mark.parametrize("seed", [0, 3])
def test_squares_joined_by_a_label_are_found_beside_one_that_is_free(seed: int) -> None:
    """The one was all that was found."""
    drawing = _drawing(seed, 3)
    pixels = drawing.pixels.copy()
    _lay(pixels, (drawing.quads[0, 1] + drawing.quads[1, 0]) / 2, 10.0)
    squares = _find(pixels).squares
    assert len(match(drawing.quads, np.array([s.corners for s in squares]))) == 3
    assert [("unsure-outline" in s.flags) for s in squares] == [True, True, False]


def test_labels_across_one_another_are_no_square() -> None:
    pixels = make_drawing(5, rows=1, columns=1, missing=1, fill=0.65, width=800, height=600).pixels
    for lean in (20.0, 75.0):
        _lay(pixels, np.array([400.0, 300.0]), lean)
    assert not _find(pixels).squares


def test_no_corner_tells_of_a_square_that_does_not_stand_out() -> None:
    """Of a letter-sized sheet that a thing touches, two corners tell a square, which shows no side
    of its own within the sheet."""
    pixels = make_drawing(6, rows=1, columns=1, missing=1, fill=0.65, width=800, height=600).pixels
    cv2.rectangle(pixels, (250, 150), (590, 410), (236, 236, 234), -1)
    _lay(pixels, np.array([590.0, 410.0]), 40.0)
    scene = look(photo_from_array(pixels))
    assert len(cornered(scene, 0.006 * scene.size[0] * scene.size[1]))
    assert not _find(pixels).squares
