"""Part a stack of folded cloth, seen from its folded edges, into the single fabrics.

Across a stack the mean colour of a row of pixels changes from fabric to fabric. The rows are cut
where that explains most: the exact least-squares segmentation with a price for every cut (dynamic
programming over all places; B. Jackson et al., 'An algorithm for optimal partitioning of data on
an interval', IEEE Signal Processing Letters 12 (2005), 105-108). Every fold is rounded and so
darkens towards its edges; L* therefore counts for less than hue.
"""

from typing import Final

import numpy as np
from numpy.typing import NDArray

LEAST_SHARE: Final = 0.035
"""Smallest height of a fabric, as a share of the picture's longer side."""
_STEP: Final = 7.0
"""Weighted CIELAB units by which neighbours must differ, over the smallest height, to be two."""
_WEIGHTS: Final = (0.3, 1.0, 1.0, 0.3, 0.5, 0.5)
"""Of the mean L*, a*, b* of a row, and of their standard deviations along it (is it a print?)."""
_ALTERNATES: Final = 5
_EDGE_SHARE: Final = 0.45
_MOST_ROWS: Final = 400


def split_bands(lab: NDArray[np.float32], part: NDArray[np.bool_]) -> list[NDArray[np.bool_]]:
    """Return a mask (h, w) for every fabric of a stack, from top to bottom or left to right.

    ``lab`` (h, w, 3) is the picture in CIELAB, at most 400 pixels a side, ``part`` (h, w) True
    where the stack is. The stack lies level or upright, whichever parts it better; a single fabric
    comes back as it is.
    """
    least = max(4, round(LEAST_SHARE * max(part.shape)))
    ways = []
    for upright in (False, True):
        turned = (np.swapaxes(lab, 0, 1), part.T) if upright else (lab, part)
        rows, features = _features(*turned)
        if len(rows) < 2 * least:
            continue
        cuts, gain = _segments(features, least, _STEP)
        cuts = _fabrics(cuts, features)
        ways.append((gain if len(cuts) > 1 else 0.0, upright, [rows[s] for s in cuts]))
    if not ways:
        return [part]
    _, upright, groups = max(ways, key=lambda way: way[0])
    if len(groups) < 2:
        return [part]
    masks = []
    for rows in groups:
        mask = np.zeros(part.shape[::-1] if upright else part.shape, np.bool_)
        mask[rows] = (part.T if upright else part)[rows]
        masks.append(mask.T if upright else mask)
    return masks


def _fabrics(cuts: list[slice], features: NDArray[np.float64]) -> list[slice]:
    """The slices that are fabrics: what is much lower than the rest is a fold's shaded edge, and
    what alternates again and again is one print, not a stack."""
    means = np.array([features[cut].mean(axis=0) for cut in cuts])
    alike = np.linalg.norm(means[2:] - means[:-2], axis=1) < _STEP
    if len(cuts) >= _ALTERNATES and alike.mean() > 0.6:
        return [slice(cuts[0].start, cuts[-1].stop)]
    heights = np.array([cut.stop - cut.start for cut in cuts])
    usual = float(np.quantile(heights, 0.75))
    return [c for c, h in zip(cuts, heights, strict=True) if h >= _EDGE_SHARE * usual]


def _features(
    lab: NDArray[np.float32], part: NDArray[np.bool_]
) -> tuple[NDArray[np.intp], NDArray[np.float64]]:
    """Rows that show enough of the stack, and what each looks like (n, 6)."""
    count = part.sum(axis=1)
    rows = np.flatnonzero(count > 0.5 * count.max(initial=0))[:_MOST_ROWS]
    found = np.empty((len(rows), 6))
    for n, row in enumerate(rows):
        pixels = lab[row, part[row]]
        found[n, :3], found[n, 3:] = pixels.mean(axis=0), pixels.std(axis=0)
    return rows, found * np.array(_WEIGHTS)


def _segments(features: NDArray[np.float64], least: int, step: float) -> tuple[list[slice], float]:
    """Slices of rows, each at least ``least`` long, and how much squared deviation they explain
    beyond the price of the cuts."""
    n = len(features)
    total = np.concatenate([np.zeros((1, features.shape[1])), np.cumsum(features, axis=0)])
    squares = np.concatenate([[0.0], np.cumsum(np.square(features).sum(axis=1))])
    price = least * step**2 / 2
    best = np.full(n + 1, np.inf)
    best[0] = -price
    last = np.zeros(n + 1, dtype=np.intp)
    for end in range(least, n + 1):
        starts = np.arange(0, end - least + 1)
        size = (end - starts)[:, None]
        spread = (squares[end] - squares[starts]) - (
            np.square(total[end] - total[starts]) / size
        ).sum(axis=1)
        cost = best[starts] + spread + price
        k = int(np.argmin(cost))
        best[end], last[end] = cost[k], starts[k]
    slices: list[slice] = []
    end = n
    while end > 0:
        slices.append(slice(int(last[end]), end))
        end = int(last[end])
    whole = squares[n] - float(np.square(total[n]).sum() / n)
    return slices[::-1], float(whole - best[n])
