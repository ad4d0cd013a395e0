"""Addresses on the map of the quilt: within their parts, and large enough to read."""

import cv2
import numpy as np
import pytest
from numpy.typing import NDArray

from colorcore.sheets.cutting_unit_drawings import _room_for

LEG = 2.5
TRIANGLE = np.array([(0.0, 0.0), (LEG, 0.0), (0.0, LEG)])


def _box(shape: NDArray[np.float64], letters: int) -> NDArray[np.float64]:
    """Corners (4, 2) of the room that an address takes: figures are half as wide as they are high
    (common practice in type, no source), capitals two thirds of it."""
    x, y, font = _room_for(shape, letters)
    half = np.array([0.25 * letters, 0.33]) * font
    return np.array([(x, y)]) + np.array([(-1, -1), (1, -1), (1, 1), (-1, 1)]) * half


def _within(shape: NDArray[np.float64], points: NDArray[np.float64]) -> bool:
    outline = shape.astype(np.float32)[:, None]
    return all(cv2.pointPolygonTest(outline, (x, y), True) > 0.02 for x, y in points.tolist())


@pytest.mark.parametrize("letters", [2, 4, 5])
@pytest.mark.parametrize("turns", range(4))
def test_an_address_fits_into_a_clipped_corner(letters: int, turns: int) -> None:
    turn = np.linalg.matrix_power(np.array([[0, -1], [1, 0]]), turns)
    shape = TRIANGLE @ turn.T + (30.0, 40.0)
    assert _within(shape, _box(shape, letters))
    assert _within(shape[::-1], _box(shape[::-1], letters))


def test_an_address_of_a_second_photo_can_be_read_on_paper() -> None:
    """A quilt of 66 inches takes the 190 mm of a page's width: 7 points are 0.86 inches of it.
    (From 6 or 7 points on print can be read in the hand: common practice, no source.)"""
    points_an_inch = 190 / 25.4 * 72 / 66
    *_, font = _room_for(TRIANGLE, len("2-B6"))
    assert font * points_an_inch > 6.5


@pytest.mark.parametrize(
    "shape",
    [
        np.array([(0.0, 0.0), (3.0, 0.0), (3.0, 3.0), (0.0, 3.0)]),
        np.array([(0.0, 2.0), (2.0, 0.0), (4.0, 2.0)]),
        np.array([(0.0, 0.0), (2.0, 2.0), (0.0, 4.0)]),
    ],
)
def test_an_address_fits_into_other_parts(shape: NDArray[np.float64]) -> None:
    assert _within(shape, _box(shape, 2))
    assert _within(shape, _box(shape, 4))
