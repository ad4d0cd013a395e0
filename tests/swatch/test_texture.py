"""Print scale and stripes of drawn prints whose repeat is known exactly."""

import numpy as np
import pytest

from colorcore.swatch import Swatch
from tests.swatch.making import dots, grain, measured, paint, scattered, stripes

GROUND, INK, SECOND = (70.0, 10.0, 20.0), (40.0, -5.0, -20.0), (55.0, 30.0, 0.0)


def apart(one: float, other: float) -> float:
    return abs((one - other + 90) % 180 - 90)


def read(which: np.ndarray, seed: int = 0) -> Swatch:
    return measured(grain(paint(which, GROUND, INK, SECOND), seed))


@pytest.mark.parametrize("period", [0.4, 0.75, 1.3, 2.2])
@pytest.mark.parametrize("degrees", [0.0, 30.0, 90.0, 137.0])
def test_stripes_have_their_period_and_direction(period: float, degrees: float) -> None:
    swatch = read(stripes(period, degrees))
    assert swatch.print_scale_inches == pytest.approx(period, rel=0.06)
    assert swatch.stripe_degrees is not None
    assert apart(swatch.stripe_degrees, degrees) < 3


@pytest.mark.parametrize("pitch", [0.5, 0.9, 1.6, 2.5])
def test_dots_have_their_pitch_and_are_no_stripes(pitch: float) -> None:
    swatch = read(dots(pitch, 0.28 * pitch))
    assert swatch.print_scale_inches == pytest.approx(pitch, rel=0.06)
    assert swatch.stripe_degrees is None


def test_a_plaid_is_no_stripe() -> None:
    both = stripes(1.5, 0.0, 0.4) + stripes(1.5, 90.0, 0.4)
    swatch = read(both)
    assert swatch.stripe_degrees is None
    assert swatch.print_scale_inches == pytest.approx(1.5, rel=0.06)


def test_larger_motifs_read_as_a_larger_print() -> None:
    small, large = read(scattered(4, 0.6, 250)), read(scattered(4, 3.5, 14))
    assert small.print_scale_inches is not None
    assert large.print_scale_inches is not None
    assert 0.3 < small.print_scale_inches < 1.8
    assert 2.0 < large.print_scale_inches <= 10.0


def test_a_print_of_one_lightness_still_has_a_scale() -> None:
    swatch = measured(grain(paint(dots(1.2, 0.35), (60.0, 30.0, 10.0), (60.0, -30.0, 10.0)), 3))
    assert not swatch.reads_as_solid
    assert swatch.value_spread < 6
    assert swatch.print_scale_inches == pytest.approx(1.2, rel=0.08)


def test_a_solid_has_neither() -> None:
    swatch = measured(grain(paint(np.zeros((300, 300), np.int64), GROUND), 5))
    assert swatch.reads_as_solid
    assert swatch.print_scale_inches is None
    assert swatch.stripe_degrees is None
    assert swatch.value_spread < 2
    assert swatch.busyness < 1


def test_turning_the_cloth_turns_the_stripes() -> None:
    cloth = grain(paint(stripes(1.1, 20.0), GROUND, INK), 1)
    first, turned = measured(cloth), measured(np.ascontiguousarray(np.rot90(cloth)))
    assert first.stripe_degrees is not None
    assert turned.stripe_degrees is not None
    assert apart(turned.stripe_degrees, first.stripe_degrees + 90) < 2
    assert turned.print_scale_inches == pytest.approx(first.print_scale_inches, rel=0.02)
