"""Fabrics beside each other: at one scale, on the background."""

import numpy as np
import pytest

from colorcore.color.spaces import lab_from_linear, linear_from_coded
from colorcore.contrast import Background
from colorcore.sheets.side_by_side import RIM, cloth, side_by_side
from tests.substitutes.making import CREAM, striped

GREY = (50.0, 0.0, 0.0)


def edges(line):
    """How many times a line of pixels crosses its middle value."""
    return int(np.count_nonzero(np.diff(line > (line.min() + line.max()) / 2)))


@pytest.mark.parametrize("samples", [60, 160, 400])
@pytest.mark.parametrize("side_inches", [5.0, 10.0, 14.0])
def test_prints_are_at_their_true_scale_whatever_was_measured(side_inches, samples):
    """Stripes of an inch, and 4 inches of them: 8 edges, however large the piece measured."""
    swatch = striped(GREY, period=1.0, spread=40, side_inches=side_inches, samples=samples)
    shown = cloth(swatch, 4.0, 200)
    assert shown.shape == (200, 200, 3)
    assert edges(shown[100, :, 1]) in (7, 8)


def test_both_show_as_many_inches():
    small = striped(GREY, period=1.0, spread=40, side_inches=4.0)
    large = striped(GREY, period=1.0, spread=40, side_inches=10.0)
    picture = side_by_side((small, large), CREAM, pixels_per_inch=40)
    inches = 4.0 * (1 - 2 * RIM)
    side = round(inches * 40)
    mat = 20
    assert picture.shape == (side + 2 * mat + 12, 2 * side + 3 * mat, 3)
    left = picture[mat + side // 2, mat : mat + side, 1].astype(float)
    right = picture[mat + side // 2, 2 * mat + side : 2 * mat + 2 * side, 1].astype(float)
    assert abs(edges(left) - edges(right)) <= 1


def test_colours_are_kept_and_the_background_lies_around():
    picture = side_by_side((striped((40.0, 5.0, -35.0)), striped((60.0, 20.0, 30.0))), CREAM)
    lab = lab_from_linear(linear_from_coded(picture))
    assert lab[5, 5] == pytest.approx(CREAM.lab, abs=0.6)
    middle = picture.shape[0] // 2
    assert lab[middle, 100] == pytest.approx((40.0, 5.0, -35.0), abs=0.6)
    assert lab[middle, -60] == pytest.approx((60.0, 20.0, 30.0), abs=0.6)


def test_a_printed_background_is_shown_as_print():
    cloth_below = striped((80.0, 0.0, 0.0), period=0.5, spread=30)
    ground = Background("dots", (80.0, 0, 0), picture=cloth_below.picture, pixels_per_inch=16.0)
    picture = side_by_side((striped(GREY), striped(GREY)), ground)
    assert np.ptp(picture[4, :, 1].astype(int)) > 30
