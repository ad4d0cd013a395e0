"""The colours of a print and their shares."""

from typing import Final

import numpy as np
from numpy.typing import NDArray

from colorcore.color.spaces import lab_from_linear
from colorcore.swatch.model import PaletteColor

_CELL: Final = np.array([5.0, 6.0, 6.0])
"""Size of a counting cell in L*, a*, b*."""


def extract_palette(
    linear: NDArray[np.float32],
    lab: NDArray[np.float32],
    *,
    most: int = 6,
    merge_below: float = 11.0,
    least_share: float = 0.015,
) -> tuple[PaletteColor, ...]:
    """Return the colours of samples ``linear`` (K, 3), whose CIELAB is ``lab`` (K, 3).

    The samples are counted into cells of CIELAB; the cells are gathered around at most eight
    centres (Lloyd's iteration from centres that are far apart and well filled); centres nearer
    than ``merge_below`` CIELAB units, in excess of ``most``, or with less than ``least_share`` of
    the area join their nearest. Each colour is the mean of its samples in linear light. Nothing is
    drawn by chance. Largest share first; the shares sum to 1. K must be at least 1.
    """
    cells, weights, sums, means = _count(linear, lab)
    if len(cells) == 1:
        return (_color(sums[0], weights[0], 1.0),)
    owner = _gather(means, weights)
    owner = _merge(owner, means, weights, most, merge_below, least_share)
    names = np.unique(owner)
    masses = np.array([weights[owner == n].sum() for n in names])
    shares = _rounded_shares(masses / masses.sum())
    order = np.argsort(-masses, kind="stable")
    return tuple(
        _color(sums[owner == names[i]].sum(axis=0), float(masses[i]), float(shares[i]))
        for i in order
    )


def _count(
    linear: NDArray[np.float32], lab: NDArray[np.float32]
) -> tuple[NDArray[np.int64], NDArray[np.float64], NDArray[np.float64], NDArray[np.float64]]:
    """Cells in use: key, number of samples, sum of linear light (C, 3), mean CIELAB (C, 3)."""
    steps = np.floor(lab / _CELL).astype(np.int64) + 64
    keys = (steps[:, 0] * 256 + steps[:, 1]) * 256 + steps[:, 2]
    cells, index = np.unique(keys, return_inverse=True)
    count = len(cells)
    weights = np.bincount(index, minlength=count).astype(np.float64)
    sums = np.stack([np.bincount(index, linear[:, k], count) for k in range(3)], axis=1)
    means = np.stack([np.bincount(index, lab[:, k], count) for k in range(3)], axis=1)
    return cells, weights, sums, means / weights[:, None]


def _gather(
    means: NDArray[np.float64], weights: NDArray[np.float64], centres_wanted: int = 8
) -> NDArray[np.int64]:
    """Weighted k-means over cells; the start takes, again and again, the cell whose distance
    squared times weight is largest."""
    centres = [means[int(np.argmax(weights))]]
    nearest = np.sum((means - centres[0]) ** 2, axis=1)
    while len(centres) < min(centres_wanted, len(means)):
        pick = int(np.argmax(nearest * weights))
        if nearest[pick] <= 0:
            break
        centres.append(means[pick])
        nearest = np.minimum(nearest, np.sum((means - centres[-1]) ** 2, axis=1))
    centre = np.array(centres)
    owner = np.full(len(means), -1, dtype=np.int64)
    for _ in range(12):
        apart = np.sum((means[:, None, :] - centre[None]) ** 2, axis=2)
        new = np.argmin(apart, axis=1)
        if np.array_equal(new, owner):
            break
        owner = new
        for k in range(len(centre)):
            mine = owner == k
            if mine.any():
                centre[k] = np.average(means[mine], axis=0, weights=weights[mine])
    return owner


def _merge(
    owner: NDArray[np.int64],
    means: NDArray[np.float64],
    weights: NDArray[np.float64],
    most: int,
    merge_below: float,
    least_share: float,
) -> NDArray[np.int64]:
    """Join colours that are near, too small or too many, the nearest pair first."""
    owner = owner.copy()
    total = weights.sum()
    while True:
        names = np.unique(owner)
        if len(names) == 1:
            return owner
        mass = np.array([weights[owner == n].sum() for n in names])
        centre = np.array(
            [np.average(means[owner == n], axis=0, weights=weights[owner == n]) for n in names]
        )
        apart = np.sqrt(np.sum((centre[:, None] - centre[None]) ** 2, axis=2))
        np.fill_diagonal(apart, np.inf)
        small = mass < least_share * total
        candidates = np.where(small[:, None], apart, np.inf) if small.any() else apart
        i, j = np.unravel_index(int(np.argmin(candidates)), apart.shape)
        if not small.any() and apart[i, j] >= merge_below and len(names) <= most:
            return owner
        owner[owner == names[i]] = names[j]


def _color(total: NDArray[np.float64], weight: float, share: float) -> PaletteColor:
    l, a, b = (round(float(v), 2) for v in lab_from_linear(total / weight))  # noqa: E741
    return PaletteColor(lab=(l, a, b), share=share)


def _rounded_shares(shares: NDArray[np.float64]) -> NDArray[np.float64]:
    """Shares in steps of 0.0001 that still sum to 1: the largest takes the remainder."""
    rounded = np.round(shares, 4)
    largest = int(np.argmax(shares))
    rounded[largest] = round(1.0 - float(np.sum(np.delete(rounded, largest))), 4)
    return rounded
