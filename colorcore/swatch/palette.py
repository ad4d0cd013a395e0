"""The colours of a print and their shares."""

from dataclasses import dataclass
from typing import Any, Final

import numpy as np
from numpy.typing import NDArray

from colorcore.color.spaces import lab_from_linear
from colorcore.swatch.model import PaletteColor

_PER_CELL: Final = np.array([1 / 5, 1 / 6, 1 / 6], dtype=np.float32)
"""Counting cells are 5 units of L* by 6 of a* and b*; the outermost take what lies beyond."""
_ORIGIN: Final = np.array([1.0, 24.0, 24.0], dtype=np.float32)
_CELLS: Final = np.array([24, 48, 48], dtype=np.int32)
_STRIDES: Final = np.array([48 * 48, 48, 1], dtype=np.int32)
_CELL_COUNT: Final = 24 * 48 * 48
_ROUNDS: Final = 8


def extract_palette(
    linear: NDArray[np.float32],
    lab: NDArray[np.float32],
    flatness: NDArray[np.float32],
    *,
    most: int = 6,
    merge_below: float = 9.0,
    least_share: float = 0.015,
) -> tuple[PaletteColor, ...]:
    """Return the colours of samples ``linear`` (K, 3), whose CIELAB is ``lab`` (K, 3).

    1. The samples are counted into cells of CIELAB, each by its ``flatness`` (K,), above 0 to 1:
       on an edge between two inks the camera sees mixtures that are no colour of the print.
    2. The cells are gathered around at most ten centres (Lloyd's iteration from centres that are
       far apart and well filled).
    3. Centres nearer than ``merge_below`` CIELAB units, in excess of ``most``, or with less than
       ``least_share`` of the count are joined.
    4. Every sample, flat or not, goes to its nearest colour: that gives the shares.

    Each colour is the mean, by flatness, of its samples in linear light. Nothing is drawn by
    chance. Largest share first; the shares sum to 1. K must be at least 1.
    """
    cells = _count(linear, lab, flatness)
    owner = _gather(cells.lab, cells.weight)
    owner = _merge(owner, cells.lab, cells.weight, most, merge_below, least_share)
    names = np.unique(owner)
    totals = np.array([cells.linear[owner == n].sum(axis=0) for n in names])
    weight = np.array([cells.weight[owner == n].sum() for n in names])
    colors = np.asarray(lab_from_linear(totals / weight[:, None]))
    near = colors.astype(np.float32)
    closest = np.argmin(np.sum(near**2, axis=1) - 2 * lab @ near.T, axis=1)
    counts = np.bincount(closest, minlength=len(names))
    shares = _rounded_shares(counts / counts.sum())
    order = np.argsort(-counts, kind="stable")
    return tuple(_color(colors[i], float(shares[i])) for i in order if shares[i] > 0)


@dataclass(frozen=True, eq=False)
class _Cells:
    """Cells in use: ``weight`` (C,), sum of linear light (C, 3), mean CIELAB (C, 3)."""

    weight: NDArray[np.float64]
    linear: NDArray[np.float64]
    lab: NDArray[np.float64]


def _count(
    linear: NDArray[np.float32], lab: NDArray[np.float32], flatness: NDArray[np.float32]
) -> _Cells:
    steps = (lab * _PER_CELL + _ORIGIN).astype(np.int32)
    np.clip(steps, 0, _CELLS - 1, out=steps)
    keys = steps @ _STRIDES
    weight = np.asarray(np.bincount(keys, flatness, _CELL_COUNT), dtype=np.float64)
    used = np.flatnonzero(weight)

    def sums(values: NDArray[np.float32]) -> NDArray[np.float64]:
        weighted = values.T * flatness
        return np.stack([np.bincount(keys, w, _CELL_COUNT)[used] for w in weighted], axis=1)

    return _Cells(weight[used], sums(linear), sums(lab) / weight[used, None])


def _gather(
    means: NDArray[np.float64], weights: NDArray[np.float64], centres_wanted: int = 10
) -> NDArray[np.int64]:
    """Weighted k-means over cells; the start takes, again and again, the cell whose distance
    squared times weight is largest."""
    chosen = [int(np.argmax(weights))]
    nearest = np.sum((means - means[chosen[0]]) ** 2, axis=1)
    while len(chosen) < min(centres_wanted, len(means)):
        pick = int(np.argmax(nearest * weights))
        if nearest[pick] <= 0:
            break
        chosen.append(pick)
        nearest = np.minimum(nearest, np.sum((means - means[pick]) ** 2, axis=1))
    centre = means[chosen]
    weighted = np.column_stack([means * weights[:, None], weights])
    owner = np.full(len(means), -1, dtype=np.int64)
    for _ in range(_ROUNDS):
        new = np.argmin(np.sum(centre**2, axis=1) - 2 * means @ centre.T, axis=1)
        if np.array_equal(new, owner):
            break
        owner = new
        totals = (owner == np.arange(len(centre))[:, None]).astype(np.float64) @ weighted
        kept = totals[:, 3] > 0
        centre[kept] = totals[kept, :3] / totals[kept, 3:]
    return owner


def _merge(
    owner: NDArray[np.int64],
    means: NDArray[np.float64],
    weights: NDArray[np.float64],
    most: int,
    merge_below: float,
    least_share: float,
) -> NDArray[np.int64]:
    """Join colours that are near, too small or too many.

    Of all pairs that may join, the one goes first that loses least (Ward 1963), so that the
    mixtures along an edge between two inks go to their inks before the inks are compared.
    """
    names = np.unique(owner)
    belongs = (owner == names[:, None]).astype(np.float64)
    mass = belongs @ weights
    centre = belongs @ (means * weights[:, None]) / mass[:, None]
    small = least_share * weights.sum()
    while len(names) > 1:
        apart = np.linalg.norm(centre[:, None] - centre[None], axis=2)
        loss = mass[:, None] * mass[None] / (mass[:, None] + mass[None]) * apart**2
        may = np.ones_like(apart, dtype=np.bool_) if len(names) > most else apart < merge_below
        may |= (mass < small)[:, None]
        np.fill_diagonal(may, val=False)
        if not may.any():
            break
        loss[~may] = np.inf
        i, j = (int(k) for k in np.unravel_index(int(np.argmin(loss)), loss.shape))
        centre[j] = (mass[i] * centre[i] + mass[j] * centre[j]) / (mass[i] + mass[j])
        mass[j] += mass[i]
        owner = np.where(owner == names[i], names[j], owner)
        names, mass = np.delete(names, i), np.delete(mass, i)
        centre = np.delete(centre, i, axis=0)
    return owner


def _color(lab: NDArray[np.floating[Any]], share: float) -> PaletteColor:
    lightness, red_green, yellow_blue = (round(float(v), 2) for v in lab)
    return PaletteColor(lab=(lightness, red_green, yellow_blue), share=share)


def _rounded_shares(shares: NDArray[np.float64]) -> NDArray[np.float64]:
    """Shares in steps of 0.0001 that still sum to 1: the largest takes the remainder."""
    rounded = np.round(shares, 4)
    largest = int(np.argmax(shares))
    rounded[largest] = round(1.0 - float(np.sum(np.delete(rounded, largest))), 4)
    return rounded
