"""Differences against Sharma et al. (2005), ISO 105-J03 as reference libraries carry it, W3C."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from numpy.testing import assert_allclose

from colorcore.color.difference import (
    ciede2000,
    cmc,
    delta_e_76,
    luminance_ratio,
    relative_luminance,
)
from colorcore.color.spaces import lab_from_linear, linear_from_coded
from tests.color.sharma import PAIRS

LAB = st.tuples(st.floats(0, 100), st.floats(-120, 120), st.floats(-120, 120))


def _random(count: int, seed: int) -> np.ndarray:
    return np.random.default_rng(seed).uniform([0, -90, -90], [100, 90, 90], (count, 3))


@pytest.mark.parametrize("number", range(34))
def test_ciede2000_meets_sharma(number: int) -> None:
    """Sharma, Wu and Dalal (2005), table 1, both ways round, alone and in one array."""
    row = PAIRS[number]
    assert_allclose(ciede2000(row[:3], row[3:6]), row[6], atol=1e-4)
    assert_allclose(ciede2000(row[3:6], row[:3]), row[6], atol=1e-4)
    assert_allclose(ciede2000(PAIRS[:, :3], PAIRS[:, 3:6])[number], row[6], atol=1e-4)


def test_the_34_pairs_are_all_there() -> None:
    assert PAIRS.shape == (34, 7)


def test_ciede2000_against_libraries() -> None:
    import colour
    from skimage.color import deltaE_ciede2000

    one, two = _random(20000, 1), _random(20000, 2)
    one[:50, 1:] = 0
    two[25:75, 1:] = 0
    two[100:200] = one[100:200] + 1e-6
    ours = ciede2000(one, two)
    assert_allclose(ours, deltaE_ciede2000(one, two), atol=1e-8)
    assert_allclose(ours, colour.difference.delta_E_CIE2000(one, two), atol=1e-8)


def test_opposite_hues_take_the_first_branch() -> None:
    """A hue difference of 180 degrees exactly, in every direction, against the paper's eq 14."""
    import colour

    angles = np.deg2rad(np.arange(0, 360, 45))
    one = np.stack([np.full(8, 50.0), 30 * np.cos(angles), 30 * np.sin(angles)], -1)
    one[np.abs(one) < 1e-12] = 0
    two = one * [1, -1, -1]
    exact = [0, 2, 4, 6]
    assert_allclose(
        ciede2000(one, two)[exact], colour.difference.delta_E_CIE2000(one, two)[exact], atol=1e-9
    )
    assert_allclose(ciede2000(one, two), ciede2000(two, one), atol=1e-12)


@given(LAB, LAB)
def test_ciede2000_is_symmetric_and_zero_on_itself(one: tuple, two: tuple) -> None:
    assert_allclose(ciede2000(one, two), ciede2000(two, one), rtol=1e-9, atol=1e-9)
    assert ciede2000(one, one) == 0
    assert cmc(one, one) == 0


def test_cmc_against_libraries() -> None:
    import colour
    from skimage.color import deltaE_cmc

    one, two = _random(20000, 3), _random(20000, 4)
    one[:50, 1:] = 0
    for weight_l, weight_c in ((2, 1), (1, 1), (1.4, 0.7)):
        ours = cmc(one, two, weight_l, weight_c)
        assert_allclose(ours, deltaE_cmc(one, two, weight_l, weight_c), atol=1e-8)
        assert_allclose(
            ours, colour.difference.delta_E_CMC(one, two, l=weight_l, c=weight_c), atol=1e-8
        )


@pytest.mark.parametrize(
    ("one", "two", "one_to_one", "two_to_one"),
    [
        ((0, 0, 0), (0, 0, 0), 0, 0),
        ((100, 0, 0), (0, 0, 0), 67.480171, 33.740085),
        ((100, -50, 50), (20, 10, -20), 66.320207, 47.038863),
        ((10.3454, 3.2151, -189.1230), (51.7781, -22.5151, 1.0001), 98.577755, 69.187455),
        ((41.41, 2.64, 4.15), (0, 0, 0), 42.570316, 21.769476),
    ],
)
def test_cmc_meets_published_calculator(
    one: tuple, two: tuple, one_to_one: float, two_to_one: float
) -> None:
    """B. Lindbloom's public colour difference calculator, as the Colourful library's tests quote
    it: CMC(1:1) and CMC(2:1)."""
    assert_allclose(cmc(one, two, 1, 1), one_to_one, atol=1e-5)
    assert_allclose(cmc(one, two), two_to_one, atol=1e-5)


def test_delta_e_76_against_colour_science() -> None:
    import colour

    one, two = _random(500, 5), _random(500, 6)
    assert_allclose(delta_e_76(one, two), colour.difference.delta_E_CIE1976(one, two), atol=1e-10)


@pytest.mark.parametrize("formula", [ciede2000, cmc, delta_e_76, luminance_ratio])
def test_shapes(formula) -> None:  # type: ignore[no-untyped-def]
    one, two = _random(70, 7).reshape(7, 10, 3), _random(7000, 8).reshape(700, 1, 10, 3)
    whole = formula(one, two)
    assert whole.shape == (700, 7, 10)
    assert_allclose(whole[613, 5, 3], formula(one[5, 3], two[613, 0, 3]), rtol=1e-12)
    assert formula(one[0, 0], one[0, 1]).shape == ()
    assert formula(np.zeros((0, 3)), one[0, 0]).shape == (0,)
    assert np.isnan(formula([np.nan, 0, 0], [50, 0, 0]))
    single = formula(one.astype(np.float32), one[::-1].astype(np.float32))
    assert single.dtype == np.float32
    assert_allclose(single, formula(one, one[::-1]), rtol=2e-3)


def test_last_axis_must_be_three() -> None:
    with pytest.raises(ValueError, match="axis of 3"):
        ciede2000(np.zeros((3, 4)), np.zeros(3))


def test_luminance_ratio_is_that_of_wcag() -> None:
    """WCAG 2.2 'contrast ratio': 21 for black on white; 4.54 for #767676 on white, the
    lightest grey that passes 4.5; the definition on coded values, with its rounded coefficients."""

    def lab(*codes: int) -> np.ndarray:
        return lab_from_linear(linear_from_coded(np.array(codes) / 255))

    def w3c(*codes: int) -> float:
        parts = [c / 255 for c in codes]
        linear = [c / 12.92 if c <= 0.04045 else ((c + 0.055) / 1.055) ** 2.4 for c in parts]
        return 0.2126 * linear[0] + 0.7152 * linear[1] + 0.0722 * linear[2]

    assert_allclose(luminance_ratio(lab(0, 0, 0), lab(255, 255, 255)), 21, atol=1e-9)
    assert_allclose(luminance_ratio(lab(118, 118, 118), lab(255, 255, 255)), 4.54, atol=0.005)
    for codes in ((200, 30, 60), (10, 90, 160), (250, 240, 10)):
        assert_allclose(relative_luminance(lab(*codes)), w3c(*codes), atol=5e-5)
        expected = (w3c(*codes) + 0.05) / (w3c(20, 20, 20) + 0.05)
        assert_allclose(luminance_ratio(lab(20, 20, 20), lab(*codes)), expected, rtol=1e-3)
