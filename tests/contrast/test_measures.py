"""Contrast in numbers and words."""

import math

import numpy as np
import pytest

from colorcore.color.parse import parse_color
from colorcore.contrast import Thresholds, contrast


def test_ratio_of_published_pairs() -> None:
    # W3C, WCAG 2.2, 'contrast ratio': 21 for black on white; Understanding SC 1.4.3 and technique
    # G18: #767676 is the lightest grey with 4.5:1 on white.
    white = parse_color("#fff")
    assert contrast(parse_color("#000"), white).ratio == pytest.approx(21, abs=1e-6)
    assert contrast(parse_color("#767676"), white).ratio == pytest.approx(4.54, abs=0.005)
    assert contrast(parse_color("#777777"), white).ratio < 4.5


def test_difference_of_a_published_pair() -> None:
    # Sharma, Wu and Dalal (2005), table 1, pair 1.
    pair = contrast((50.0, 2.6772, -79.7751), (50.0, 0.0, -82.7485))
    assert float(pair.delta_e) == pytest.approx(2.0425, abs=1e-4)
    assert float(pair.delta_l) == 0


def test_sign_and_shape() -> None:
    first = np.array([[20.0, 0, 0], [80.0, 0, 0]])
    apart = contrast(first, (50.0, 0.0, 0.0))
    assert apart.delta_l.tolist() == [-30, 30]
    back = contrast((50.0, 0.0, 0.0), first)
    assert np.allclose(back.delta_e, apart.delta_e)
    assert np.allclose(back.ratio, apart.ratio)
    assert (back.delta_l == -apart.delta_l).all()


@pytest.mark.parametrize(
    ("step", "word"),
    [(20, "holds"), (-20, "holds"), (19.99, "soft"), (10, "soft"), (-9.99, "melts"), (0, "melts")],
)
def test_verdict_at_the_limits(step: float, word: str) -> None:
    assert Thresholds().verdict(step) == word


def test_a_viewing_distance_must_be_one() -> None:
    for wrong in (0.0, -1.0, math.inf, math.nan):
        with pytest.raises(ValueError, match="viewing_inches"):
            Thresholds(viewing_inches=wrong)
