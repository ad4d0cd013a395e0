"""Squares measured together: what each measures does not depend on the others, or on threads."""

from dataclasses import fields

import numpy as np
import pytest

from colorcore.finding import FoundSquare
from colorcore.photo import Photo, photo_from_array
from colorcore.swatch import Swatch, measure_square, measure_squares
from tests.swatch.making import EvenLight, dots, grain, paint, scattered, stripes

SIDE, GAP = 300, 20
INKS = ((82.0, 3.0, 12.0), (35.0, 20.0, -30.0), (58.0, 40.0, 25.0))


@pytest.fixture(scope="module")
def laid() -> tuple[Photo, list[FoundSquare]]:
    """Five prints in a row, one of them partly covered, one seen in few pixels."""
    prints = [stripes(1.2, 15.0), dots(1.5, 0.4), scattered(2, 2.0), dots(0.5, 0.1), stripes(6.0)]
    pixels = np.full((SIDE + 2 * GAP, 5 * (SIDE + GAP) + GAP, 3), 120, np.uint8)
    found = []
    for k, which in enumerate(prints):
        x = GAP + k * (SIDE + GAP)
        pixels[GAP : GAP + SIDE, x : x + SIDE] = grain(paint(which, *INKS), k)
        corners = np.array([[0, 0], [1, 0], [1, 1], [0, 1]]) * (80.0 if k == 3 else SIDE) + [x, GAP]
        half = corners * 1.0
        half[1:3, 0] -= SIDE / 3
        found.append(FoundSquare(corners, 0, k, 0.9, half if k == 1 else None))
    return photo_from_array(pixels), found


def same(one: Swatch, other: Swatch) -> None:
    for field in fields(Swatch):
        mine, its = getattr(one, field.name), getattr(other, field.name)
        assert np.array_equal(mine, its) if isinstance(mine, np.ndarray) else mine == its, field


def test_each_measures_what_it_measures_alone(laid: tuple[Photo, list[FoundSquare]]) -> None:
    photo, found = laid
    together = measure_squares(photo, EvenLight(), found, side_inches=10.0)
    for square, swatch in zip(found, together, strict=True):
        same(measure_square(photo, EvenLight(), square, side_inches=10.0), swatch)


@pytest.mark.parametrize("threads", [2, 7])
def test_threads_change_nothing(laid: tuple[Photo, list[FoundSquare]], threads: int) -> None:
    photo, found = laid
    alone = measure_squares(photo, EvenLight(), found, side_inches=10.0)
    beside = measure_squares(photo, EvenLight(), found, side_inches=10.0, threads=threads)
    for one, other in zip(alone, beside, strict=True):
        same(one, other)


def test_no_squares_measure_nothing(laid: tuple[Photo, list[FoundSquare]]) -> None:
    assert measure_squares(laid[0], EvenLight(), [], side_inches=10.0) == ()


def test_telling_every_square_changes_nothing(laid: tuple[Photo, list[FoundSquare]]) -> None:
    photo, found = laid
    told: list[int] = []
    quiet = measure_squares(photo, EvenLight(), found, side_inches=10.0, threads=3)
    beside = measure_squares(
        photo, EvenLight(), found, side_inches=10.0, threads=3, each=told.append
    )
    assert told == list(range(1, len(found) + 1))
    for one, other in zip(quiet, beside, strict=True):
        same(one, other)
