"""Value bands: by hand, by brute force, and by properties."""

from itertools import combinations, pairwise

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from colorcore.color.bands import band_breaks, value_bands


def test_three_clear_groups() -> None:
    assert band_breaks([20, 22, 24, 50, 52, 54, 80, 82, 84]) == (37.0, 67.0)
    assert value_bands([84, 20, 52]) == ("light", "dark", "medium")


def test_relative_to_the_bundle() -> None:
    lights = value_bands([70, 71, 72, 82, 83, 84, 94, 95, 96])
    assert lights == ("dark",) * 3 + ("medium",) * 3 + ("light",) * 3


def test_two_groups_have_no_medium() -> None:
    low, high = band_breaks([20, 20, 20, 80, 80, 80])
    assert low == high == 50
    assert value_bands([20, 80, 20]) == ("dark", "light", "dark")


@pytest.mark.parametrize("flat", [[], [40], [50, 50, 50], [50, 51, 52, 53, 54, 55]])
def test_all_medium_where_nothing_differs(flat: list[float]) -> None:
    assert set(value_bands(flat)) <= {"medium"}


def test_one_white_does_not_make_the_rest_dark() -> None:
    values = [*np.linspace(20, 60, 31), 96]
    bands = value_bands(values)
    assert min(bands.count(band) for band in ("dark", "medium", "light")) >= 4


@given(st.lists(st.integers(0, 60), min_size=3, max_size=12))
def test_least_variance_by_brute_force(values: list[int]) -> None:
    ordered = sorted(values)

    def variance(cuts: tuple[int, int]) -> float:
        edges = [0, *cuts, len(ordered)]
        parts = (ordered[a:b] for a, b in pairwise(edges))
        return sum(len(part) * float(np.var(part)) for part in parts)

    allowed = [n for n in range(1, len(ordered)) if ordered[n] > ordered[n - 1]]
    low, high = band_breaks(values, smallest_share=0, smallest_step=0)
    if len(allowed) < 2:
        assert low == high or (low, high) == (-np.inf, np.inf)
        return
    best = min(variance(pair) for pair in combinations(allowed, 2))
    found = (sum(v < low for v in ordered), sum(v < high for v in ordered))
    assert variance(found) == pytest.approx(best, abs=1e-6)


@given(st.lists(st.floats(0, 100), min_size=1, max_size=60), st.randoms())
def test_order_does_not_matter_and_bands_rise(values: list[float], random) -> None:  # type: ignore[no-untyped-def]
    shuffled = values[:]
    random.shuffle(shuffled)
    by_value = dict(zip(shuffled, value_bands(shuffled), strict=True))
    assert [by_value[v] for v in values] == list(value_bands(values))
    ranks = [("dark", "medium", "light").index(by_value[v]) for v in sorted(values)]
    assert ranks == sorted(ranks)


def test_otsu_agrees() -> None:
    """scikit-image's multi-level Otsu puts three classes into the same groups."""
    from skimage.filters import threshold_multiotsu

    rng = np.random.default_rng(4)
    values = np.concatenate([rng.normal(m, 4, 40) for m in (25, 52, 82)])
    thresholds = threshold_multiotsu(values, classes=3, nbins=512)
    assert (
        np.mean(
            np.array(value_bands(values))
            == np.array([("dark", "medium", "light")[n] for n in np.digitize(values, thresholds)])
        )
        > 0.98
    )


def test_bad_settings() -> None:
    with pytest.raises(ValueError, match="0 to 1/3"):
        band_breaks([1, 2], smallest_share=0.5)
    with pytest.raises(ValueError, match="finite"):
        band_breaks([1, np.nan])
