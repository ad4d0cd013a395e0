"""Quantiles of a few thousand values at most, where a general function's care costs most."""

from typing import Any

import numpy as np
from numpy.typing import NDArray


def quantiles(values: NDArray[np.floating[Any]], *shares: float) -> NDArray[np.float64]:
    """Return the quantiles (S, ...) of ``values`` (K, ...) along the first axis, K at least 1.

    Equals ``numpy.quantile(values, shares, axis=0)``: linear between neighbours.
    """
    rising = np.sort(values, axis=0)
    place = np.array(shares) * (len(rising) - 1)
    low = place.astype(np.intp)
    high = np.minimum(low + 1, len(rising) - 1)
    beyond = (place - low).reshape(-1, *(1,) * (rising.ndim - 1))
    return np.asarray(rising[low] + beyond * (rising[high] - rising[low]), dtype=np.float64)


def median(values: NDArray[np.floating[Any]]) -> NDArray[np.float64]:
    """Return the median (...) of ``values`` (K, ...) along the first axis, K at least 1.

    Equals ``numpy.median(values, axis=0)``.
    """
    count = len(values)
    high = count // 2
    low = high if count % 2 else high - 1
    parted = np.partition(values, (low, high), axis=0)
    return np.asarray((parted[low] + parted[high]) / 2, dtype=np.float64)
