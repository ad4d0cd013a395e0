"""Dark, medium and light: value bands within a bundle, and value in absolute words.

Value is relative: what is a light in one bundle is a medium in another. The two breaks are those
that leave the least variance of L* within the three bands (W. D. Fisher, 'On grouping for maximum
homogeneity', Journal of the American Statistical Association 53 (1958), 789-798; for three classes
the same as N. Otsu's thresholds of 1979), found exactly, with two limits of our own (common
practice, no source): no band holds fewer than an eighth of the squares, so that a single white
does not make everything else dark; and neighbouring bands lie at least 8 L* apart in their means,
or the difference cannot be told at arm's length and they are one.
"""

import math
from typing import Final

import numpy as np
from numpy.typing import ArrayLike, NDArray

BANDS: Final = ("dark", "medium", "light")
SMALLEST_SHARE: Final = 1 / 8
SMALLEST_STEP: Final = 8.0
"""L* units between the means of neighbouring bands."""

Breaks = tuple[float, float]


def band_breaks(
    lightness: ArrayLike,
    *,
    smallest_share: float = SMALLEST_SHARE,
    smallest_step: float = SMALLEST_STEP,
) -> Breaks:
    """Return the L* where dark ends and where light begins, from the L* of a bundle (N,).

    Equal breaks mean that there is no medium band; (-inf, inf) that all is medium, because the
    bundle is empty or its values lie too close together. Breaks lie midway between squares.

    Raises
    ------
    ValueError
        If an L* is not finite, or a limit is out of its range (share 0 to 1/3, step 0 up).
    """
    if not 0 <= smallest_share <= 1 / 3 or not smallest_step >= 0:
        raise ValueError(
            f"smallest_share is 0 to 1/3 and smallest_step 0 or more, "
            f"not {smallest_share} and {smallest_step}"
        )
    values = np.sort(np.asarray(lightness, dtype=np.float64).ravel())
    if not np.isfinite(values).all():
        raise ValueError("an L* is not a finite number")
    total = np.concatenate([[0.0], np.cumsum(values)])
    floor = max(1, math.floor(smallest_share * len(values)))
    cuts = np.flatnonzero(np.diff(values) > 1e-9) + 1
    cuts = cuts[(cuts >= floor) & (cuts <= len(values) - floor)]

    for count in (2, 1):
        chosen = _best_cuts(cuts, total, floor, count)
        if not chosen:
            continue
        edges = [0, *chosen, len(values)]
        means = np.diff(total[edges]) / np.diff(edges)
        if np.diff(means).min() >= smallest_step:
            breaks = [float(values[cut - 1] + values[cut]) / 2 for cut in chosen]
            return breaks[0], breaks[-1]
    return -math.inf, math.inf


def _best_cuts(
    cuts: NDArray[np.intp], total: NDArray[np.float64], floor: int, count: int
) -> list[int]:
    """Where to cut the sorted values into ``count`` + 1 classes of least variance, or nothing.

    Least variance within is most between: the sum over classes of (sum squared / size).
    """
    size = len(total) - 1

    def weight(start: NDArray[np.intp] | int, end: NDArray[np.intp] | int) -> NDArray[np.float64]:
        return np.asarray((total[end] - total[start]) ** 2 / (np.asarray(end) - start))

    best, chosen = -math.inf, list[int]()
    for first in cuts.tolist():
        if count == 1:
            gain = float(weight(0, first) + weight(first, size))
            if gain > best + 1e-9:
                best, chosen = gain, [first]
            continue
        seconds = cuts[cuts >= first + floor]
        if seconds.size:
            gains = weight(0, first) + weight(first, seconds) + weight(seconds, size)
            n = int(np.argmax(gains))
            if gains[n] > best + 1e-9:
                best, chosen = float(gains[n]), [first, int(seconds[n])]
    return chosen


def value_bands(lightness: ArrayLike, breaks: Breaks | None = None) -> tuple[str, ...]:
    """Return ``dark``, ``medium`` or ``light`` for each L* (N,), by its own breaks or those given.

    Equal L* get equal bands, and order of input does not matter.

    Raises
    ------
    ValueError
        As ``band_breaks``.
    """
    values = np.asarray(lightness, dtype=np.float64).ravel()
    dark_end, light_start = band_breaks(values) if breaks is None else breaks
    return tuple(
        BANDS[0] if value < dark_end else BANDS[2] if value >= light_start else BANDS[1]
        for value in values.tolist()
    )
