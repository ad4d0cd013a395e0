"""The colours of a print and their shares."""

from dataclasses import dataclass
from itertools import combinations
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
_ROUNDS: Final = 8

_Weighed = tuple[float, float, float, float]
"""A colour's weight and its L*, a* and b*."""


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
    owner = _merged(_gather(cells.lab, cells.weight), cells, most, merge_below, least_share)
    belongs = (owner == np.unique(owner)[:, None]).astype(np.float64)
    colors = np.asarray(lab_from_linear(belongs @ cells.linear / (belongs @ cells.weight)[:, None]))
    near = colors.astype(np.float32)
    closest = np.argmin(np.sum(near**2, axis=1) - lab @ (2 * near.T), axis=1)
    counts = np.bincount(closest, minlength=len(colors))
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
    keys = (steps @ _STRIDES).astype(np.uint16)
    order = np.argsort(keys, kind="stable")
    keys = keys[order]
    starts = np.append(0, 1 + np.flatnonzero(keys[1:] != keys[:-1]))
    values = np.column_stack([np.ones_like(flatness), linear, lab]) * flatness[:, None]
    sums = np.add.reduceat(values.take(order, axis=0), starts, axis=0, dtype=np.float64)
    return _Cells(sums[:, 0], sums[:, 1:4], sums[:, 4:] / sums[:, :1])


def _gather(
    means: NDArray[np.float64], weights: NDArray[np.float64], centres_wanted: int = 10
) -> NDArray[np.int64]:
    """Weighted k-means over cells; the start takes, again and again, the cell whose distance
    squared times weight is largest."""
    chosen = [int(np.argmax(weights))]
    nearest = np.full(len(means), np.inf)
    while len(chosen) < min(centres_wanted, len(means)):
        gap = means - means[chosen[-1]]
        nearest = np.minimum(nearest, np.einsum("ij,ij->i", gap, gap))
        pick = int(np.argmax(nearest * weights))
        if nearest[pick] <= 0:
            break
        chosen.append(pick)
    centre = means[chosen]
    weighted = np.column_stack([means * weights[:, None], weights])
    names = np.arange(len(centre))[:, None]
    owner = np.full(len(means), -1, dtype=np.int64)
    for _ in range(_ROUNDS):
        new = np.argmin(np.einsum("ij,ij->i", centre, centre) - 2 * means @ centre.T, axis=1)
        if np.array_equal(new, owner):
            break
        owner = new
        totals = (owner == names).astype(np.float64) @ weighted
        kept = totals[:, 3] > 0
        centre[kept] = totals[kept, :3] / totals[kept, 3:]
    return owner


def _merged(
    owner: NDArray[np.int64], cells: _Cells, most: int, merge_below: float, least_share: float
) -> NDArray[np.int64]:
    """Join colours that are near, too small or too many; the owner of each cell.

    Of all pairs that may join, the one goes first that loses least (Ward 1963), so that the
    mixtures along an edge between two inks go to their inks before the inks are compared.
    """
    names = np.unique(owner)
    belongs = (owner == names[:, None]).astype(np.float64)
    mass = belongs @ cells.weight
    centre = belongs @ (cells.lab * cells.weight[:, None]) / mass[:, None]
    # There are ten at most: plain numbers are quicker than arrays.
    colors: dict[int, _Weighed] = {
        int(n): (float(m), float(c[0]), float(c[1]), float(c[2]))
        for n, m, c in zip(names, mass, centre, strict=True)
    }
    joined = {n: n for n in colors}
    small = least_share * float(mass.sum())
    apart = {pair: _apart(colors[pair[0]], colors[pair[1]]) for pair in combinations(colors, 2)}
    while len(colors) > 1:
        best: tuple[float, int, int] | None = None
        for (i, j), squared in apart.items():
            ours, others = colors[i][0], colors[j][0]
            if len(colors) > most or squared < merge_below**2 or min(ours, others) < small:
                loss = ours * others / (ours + others) * squared
                if best is None or loss < best[0]:
                    best = (loss, i, j)
        if best is None:
            break
        _, gone, kept = best
        colors[kept] = _together(colors.pop(gone), colors[kept])
        joined = {n: kept if to == gone else to for n, to in joined.items()}
        apart = {pair: squared for pair, squared in apart.items() if gone not in pair}
        for pair in apart:
            if kept in pair:
                apart[pair] = _apart(colors[pair[0]], colors[pair[1]])
    return np.array([joined.get(n, n) for n in range(int(names[-1]) + 1)])[owner]


def _apart(one: _Weighed, other: _Weighed) -> float:
    """Squared distance in CIELAB."""
    return (one[1] - other[1]) ** 2 + (one[2] - other[2]) ** 2 + (one[3] - other[3]) ** 2


def _together(one: _Weighed, other: _Weighed) -> _Weighed:
    mass = one[0] + other[0]
    lightness, red, yellow = (
        (one[0] * a + other[0] * b) / mass for a, b in zip(one[1:], other[1:], strict=True)
    )
    return mass, lightness, red, yellow


def _color(lab: NDArray[np.floating[Any]], share: float) -> PaletteColor:
    lightness, red_green, yellow_blue = (round(float(v), 2) for v in lab)
    return PaletteColor(lab=(lightness, red_green, yellow_blue), share=share)


def _rounded_shares(shares: NDArray[np.float64]) -> NDArray[np.float64]:
    """Shares in steps of 0.0001 that still sum to 1: the largest takes the remainder."""
    rounded = np.round(shares, 4)
    largest = int(np.argmax(shares))
    rounded[largest] = round(1.0 - float(np.sum(np.delete(rounded, largest))), 4)
    return rounded
