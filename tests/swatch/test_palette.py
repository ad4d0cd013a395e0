"""Colours of a print and their shares."""

import numpy as np
import pytest

from tests.swatch.making import Lab, dots, grain, measured, paint, scattered, stripes

GROUND, INK, SECOND = (82.0, 3.0, 12.0), (35.0, 20.0, -30.0), (58.0, 40.0, 25.0)


def nearest(palette: list[tuple[Lab, float]], lab: Lab) -> tuple[float, float]:
    far = [float(np.linalg.norm(np.subtract(c, lab))) for c, _ in palette]
    k = int(np.argmin(far))
    return far[k], palette[k][1]


@pytest.mark.parametrize(
    "which",
    [stripes(1.2, 15.0, 0.3), dots(1.5, 0.4), scattered(2, 2.0)],
    ids=["stripes", "dots", "scattered"],
)
def test_inks_and_shares_are_found(which: np.ndarray) -> None:
    inks = (GROUND, INK, SECOND)[: which.max() + 1]
    swatch = measured(grain(paint(which, *inks), 7))
    palette = [(c.lab, c.share) for c in swatch.palette]
    assert len(palette) == len(inks)
    inner = which[9:-9, 9:-9]
    for number, ink in enumerate(inks):
        far, share = nearest(palette, ink)
        assert far < 2.0
        assert share == pytest.approx(float(np.mean(inner == number)), abs=0.04)


def test_shares_sum_to_one_largest_first() -> None:
    swatch = measured(grain(paint(scattered(9, 1.0, 200), GROUND, INK, SECOND), 1))
    shares = [c.share for c in swatch.palette]
    assert sum(shares) == pytest.approx(1.0, abs=1e-9)
    assert shares == sorted(shares, reverse=True)


def test_a_solid_with_grain_has_one_colour() -> None:
    swatch = measured(grain(paint(np.zeros((300, 300), np.int64), INK), 2, levels=4))
    assert len(swatch.palette) == 1
    assert np.linalg.norm(np.subtract(swatch.palette[0].lab, INK)) < 1.0


def test_the_palette_blends_to_the_reads_as_colour() -> None:
    from colorcore.color.spaces import lab_from_linear, linear_from_lab

    swatch = measured(grain(paint(dots(1.0, 0.35), GROUND, INK), 4))
    blend = sum(c.share * linear_from_lab(np.array(c.lab)) for c in swatch.palette)
    assert np.linalg.norm(lab_from_linear(np.asarray(blend)) - swatch.lab) < 2.0


def test_same_input_same_palette() -> None:
    cloth = grain(paint(scattered(3, 1.5), GROUND, INK, SECOND), 3)
    assert measured(cloth).palette == measured(cloth).palette
