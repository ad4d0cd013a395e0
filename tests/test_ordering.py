"""Our quantiles and medians are NumPy's: the reference is numpy.quantile and numpy.median."""

import numpy as np
import pytest
from numpy.testing import assert_allclose, assert_array_equal

from colorcore.ordering import median, quantiles

SHAPES = [(1,), (2,), (7,), (42,), (9216,), (1, 3), (8, 2), (9, 2, 4)]


@pytest.mark.parametrize("shape", SHAPES)
@pytest.mark.parametrize("kind", [np.float32, np.float64])
def test_median_is_numpys(shape: tuple[int, ...], kind: type) -> None:
    values = np.random.default_rng(5).normal(size=shape).astype(kind)
    assert_array_equal(median(values), np.median(values, axis=0))


@pytest.mark.parametrize("shape", SHAPES)
def test_quantiles_are_numpys(shape: tuple[int, ...]) -> None:
    values = np.random.default_rng(6).normal(size=shape)
    shares = (0.0, 0.1, 0.25, 0.9, 1.0)
    assert_allclose(quantiles(values, *shares), np.quantile(values, shares, axis=0), atol=1e-12)


def test_values_stay_as_they_are() -> None:
    values = np.array([3.0, 1.0, 2.0])
    assert median(values) == 2.0
    assert_array_equal(quantiles(values, 0.5), [2.0])
    assert_array_equal(values, [3.0, 1.0, 2.0])
