"""Values of the pieces that a square is cut into."""

import numpy as np
import pytest

from colorcore.color.spaces import lab_from_linear, linear_from_coded
from colorcore.swatch import Swatch
from colorcore.swatch.pieces import piece_values
from tests.swatch.making import inches, linear_of, measured, paint

LIGHT, DARK = (85.0, 0.0, 0.0), (30.0, 0.0, 0.0)


def values_of(swatch: Swatch, piece_inches: float) -> np.ndarray:
    linear = linear_from_coded(swatch.picture).astype(np.float32)
    shows = np.ones(linear.shape[:2], np.bool_) if swatch.valid is None else swatch.valid
    return piece_values(linear, shows, swatch.side_inches, piece_inches)


def test_halves_of_two_colours_give_pieces_of_each() -> None:
    x, _ = inches()
    swatch = measured(paint((x > 5).astype(np.int64), LIGHT, DARK))
    values = values_of(swatch, 5.0)
    assert values.shape == (4, 3)
    assert values[:, 0] == pytest.approx([85, 30, 85, 30], abs=0.6)


def test_what_does_not_fit_is_left_over() -> None:
    swatch = measured(paint(np.zeros((300, 300), np.int64), LIGHT))
    assert len(values_of(swatch, 2.5)) == 16
    assert len(values_of(swatch, 3.0)) == 9
    assert len(values_of(swatch, 4.5)) == 4
    assert len(values_of(swatch, 10.0)) == 1
    assert values_of(swatch, 10.5).shape == (0, 3)


def test_pieces_blend_in_linear_light() -> None:
    x, _ = inches()
    swatch = measured(paint((x % 1 > 0.5).astype(np.int64), LIGHT, DARK))
    truth = lab_from_linear(linear_of(LIGHT, DARK).mean(axis=0))
    assert np.abs(values_of(swatch, 5.0) - truth).max() < 0.7


def test_covered_pieces_are_left_out() -> None:
    cloth = paint(np.zeros((300, 300), np.int64), LIGHT)
    left = np.array([[12.0, 12.0], [150.0, 12.0], [150.0, 312.0], [12.0, 312.0]])
    values = values_of(measured(cloth, visible=left), 5.0)
    assert len(values) == 2
