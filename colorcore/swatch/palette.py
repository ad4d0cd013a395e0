"""The colours of prints and their shares, for all squares of a photo at once.

B is the number of squares, K of samples of each, C the most cells that a square fills. Squares
with fewer cells, and samples that do not show, are there with weight 0.
"""

from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from colorcore.color.spaces import lab_from_linear
from colorcore.swatch.model import PaletteColor

_PER_CELL: Final = np.array([1 / 5, 1 / 6, 1 / 6], dtype=np.float32)
"""Counting cells are 5 units of L* by 6 of a* and b*; the outermost take what lies beyond."""
_ORIGIN: Final = np.array([1.0, 24.0, 24.0], dtype=np.float32)
_CELLS: Final = np.array([24, 48, 48], dtype=np.float32)
_STRIDES: Final = np.array([48 * 48, 48, 1], dtype=np.float32)
_NOWHERE: Final = 65535
"""The cell of samples that do not show, after all others."""
_CENTRES: Final = 10
_ROUNDS: Final = 8

Array = NDArray[np.float64]
Index = NDArray[np.intp]


def extract_palettes(
    linear: NDArray[np.float32],
    lab: NDArray[np.float32],
    flatness: NDArray[np.float32],
    shown: NDArray[np.bool_],
    *,
    most: int = 6,
    merge_below: float = 9.0,
    least_share: float = 0.015,
) -> list[tuple[PaletteColor, ...]]:
    """Return the colours of each of B squares from samples ``linear`` (B, K, 3), whose CIELAB is
    ``lab`` (B, K, 3), where they are ``shown`` (B, K); at least one of each square must be.

    1. The samples are counted into cells of CIELAB, each by its ``flatness`` (B, K), above 0 to 1:
       on an edge between two inks the camera sees mixtures that are no colour of the print.
    2. The cells are gathered around at most ten centres (Lloyd's iteration from centres that are
       far apart and well filled).
    3. Centres nearer than ``merge_below`` CIELAB units, in excess of ``most``, or with less than
       ``least_share`` of the count are joined.
    4. Every sample, flat or not, goes to its nearest colour: that gives the shares.

    Each colour is the mean, by flatness, of its samples in linear light. Nothing is drawn by
    chance, and no square's colours depend on the other squares. Largest share first; the shares
    sum to 1.
    """
    cells = _count(linear, lab, flatness, shown)
    owner = _gather(cells)
    owner = np.take_along_axis(_joined(owner, cells, most, merge_below, least_share), owner, axis=1)
    weight = _per_centre(owner, cells.weight)
    light = _per_centre_and_channel(owner, cells.linear)
    used = weight > 0
    colors = lab_from_linear(light / np.where(used, weight, 1.0)[..., None])
    counts = _nearest_counts(lab, shown, np.asarray(colors), used)
    return _palettes(np.asarray(colors), counts)


@dataclass(frozen=True, eq=False)
class _Cells:
    """Cells in use: ``weight`` (B, C), sum of linear light (B, C, 3), mean CIELAB (B, C, 3)."""

    weight: Array
    linear: Array
    lab: Array


def _count(
    linear: NDArray[np.float32],
    lab: NDArray[np.float32],
    flatness: NDArray[np.float32],
    shown: NDArray[np.bool_],
) -> _Cells:
    squares, samples = shown.shape
    steps = np.trunc(lab * _PER_CELL + _ORIGIN)
    np.clip(steps, 0, _CELLS - 1, out=steps)
    keys = (steps @ _STRIDES).astype(np.uint16)
    keys[~shown] = _NOWHERE
    order = np.argsort(keys, axis=1, kind="stable")
    sorted_keys = np.take_along_axis(keys, order, axis=1)
    fresh = np.zeros((squares, samples), dtype=np.intp)
    fresh[:, 1:] = sorted_keys[:, 1:] != sorted_keys[:, :-1]
    rank = np.cumsum(fresh, axis=1)
    cell = np.empty_like(rank)
    np.put_along_axis(cell, order, rank, axis=1)
    wide = int(rank.max()) + 1
    weight = np.where(shown, flatness, np.float32(0.0))
    place = (cell + wide * np.arange(squares)[:, None]).ravel()
    sums = [
        np.asarray(
            np.bincount(place, (part * weight).ravel(), squares * wide), dtype=np.float64
        ).reshape(squares, wide)
        for part in (np.float32(1.0), *np.moveaxis(linear, -1, 0), *np.moveaxis(lab, -1, 0))
    ]
    total = sums[0]
    means = np.stack(sums[4:], axis=-1) / np.where(total > 0, total, 1.0)[..., None]
    return _Cells(total, np.stack(sums[1:4], axis=-1), means)


def _gather(cells: _Cells) -> Index:
    """Weighted k-means over cells; the start takes, again and again, the cell whose distance
    squared times weight is largest. Returns the centre, 0 to 9, of each cell (B, C)."""
    rows = np.arange(len(cells.weight))
    centre = np.zeros((len(rows), _CENTRES, 3))
    in_use = np.zeros((len(rows), _CENTRES), dtype=np.bool_)
    nearest = np.full(cells.weight.shape, np.inf)
    pick = np.argmax(cells.weight, axis=1)
    more = np.ones(len(rows), dtype=np.bool_)
    for number in range(_CENTRES):
        centre[:, number], in_use[:, number] = cells.lab[rows, pick], more
        gap = cells.lab - centre[:, number, None]
        nearest = np.minimum(nearest, np.einsum("bij,bij->bi", gap, gap))
        score = nearest * cells.weight
        pick = np.argmax(score, axis=1)
        more = score[rows, pick] > 0
    owner = np.full(cells.weight.shape, -1, dtype=np.intp)
    weighted = cells.lab * cells.weight[..., None]
    for _ in range(_ROUNDS):
        size = np.where(in_use, np.einsum("bij,bij->bi", centre, centre), np.inf)
        away = size[:, None] - 2 * cells.lab @ np.swapaxes(centre, 1, 2)
        new = np.argmin(away, axis=2)
        if np.array_equal(new, owner):
            break
        owner = new
        total = _per_centre(owner, cells.weight)
        sums = _per_centre_and_channel(owner, weighted)
        kept = total > 0
        centre[kept] = sums[kept] / total[kept][:, None]
    return owner


def _per_centre(owner: Index, values: Array) -> Array:
    """Sums (B, 10) of values (B, C) of the cells that each centre owns."""
    squares = len(owner)
    place = (owner + _CENTRES * np.arange(squares)[:, None]).ravel()
    sums = np.bincount(place, values.ravel(), squares * _CENTRES)
    return np.asarray(sums.reshape(squares, _CENTRES))


def _per_centre_and_channel(owner: Index, values: Array) -> Array:
    """The same of values (B, C, 3): (B, 10, 3)."""
    return np.stack([_per_centre(owner, values[..., c]) for c in range(3)], axis=-1)


def _joined(
    owner: Index, cells: _Cells, most: int, merge_below: float, least_share: float
) -> Index:
    """Join colours that are near, too small or too many: the centre (B, 10) that each becomes.

    Of all pairs that may join, the one goes first that loses least (Ward 1963), so that the
    mixtures along an edge between two inks go to their inks before the inks are compared.
    """
    mass = _per_centre(owner, cells.weight)
    sums = _per_centre_and_channel(owner, cells.lab * cells.weight[..., None])
    small = least_share * mass.sum(axis=1)
    to = np.tile(np.arange(_CENTRES), (len(owner), 1))
    rows = np.arange(len(owner))
    later = np.triu(np.ones((_CENTRES, _CENTRES), dtype=np.bool_), 1)
    while True:
        alive = mass > 0
        held = np.where(alive, mass, 1.0)
        centre = sums / held[..., None]
        gap = centre[:, :, None] - centre[:, None]
        squared = np.einsum("bijk,bijk->bij", gap, gap)
        lesser = np.minimum(held[:, :, None], held[:, None])
        may = (squared < merge_below**2) | (lesser < small[:, None, None])
        may |= (alive.sum(axis=1) > most)[:, None, None]
        may &= later & alive[:, :, None] & alive[:, None]
        loss = held[:, :, None] * held[:, None] / (held[:, :, None] + held[:, None]) * squared
        loss = np.where(may, loss, np.inf).reshape(len(owner), -1)
        best = np.argmin(loss, axis=1)
        going = rows[np.isfinite(loss[rows, best])]
        if not len(going):
            return to
        gone, kept = np.divmod(best[going], _CENTRES)
        for values in (mass, sums):
            values[going, kept] += values[going, gone]
            values[going, gone] = 0.0
        to[going] = np.where(to[going] == gone[:, None], kept[:, None], to[going])


def _nearest_counts(
    lab: NDArray[np.float32], shown: NDArray[np.bool_], colors: Array, used: NDArray[np.bool_]
) -> Index:
    """How many samples (B, 10) of each square lie nearest to each of its colours (B, 10, 3)."""
    slots = int(used.sum(axis=1).max())
    first = np.argsort(~used, axis=1, kind="stable")[:, :slots]
    near = np.take_along_axis(colors, first[..., None], axis=1).astype(np.float32)
    size = np.where(np.take_along_axis(used, first, axis=1), np.sum(near**2, axis=2), np.inf)
    along = (2 * near) @ np.swapaxes(lab, 1, 2)
    nearest = np.zeros(shown.shape, dtype=np.intp)
    least = size[:, :1] - along[:, 0]
    for slot in range(1, slots):
        away = size[:, slot, None] - along[:, slot]
        closer = away < least
        nearest[closer] = slot
        least = np.minimum(least, away)
    place = first[np.arange(len(lab))[:, None], nearest] + _CENTRES * np.arange(len(lab))[:, None]
    counts = np.bincount(place[shown], minlength=len(lab) * _CENTRES)
    return np.asarray(counts.reshape(len(lab), _CENTRES))


def _palettes(colors: Array, counts: Index) -> list[tuple[PaletteColor, ...]]:
    """Palettes of colours (B, 10, 3) that so many samples (B, 10) show, largest share first.

    Shares are in steps of 0.0001 and still sum to 1: the largest takes the remainder.
    """
    order = np.argsort(-counts, axis=1, kind="stable")
    ranked = np.take_along_axis(counts, order, axis=1)
    shares = np.round(ranked / ranked.sum(axis=1, keepdims=True), 4)
    shares[:, 0] = np.round(1.0 - shares[:, 1:].sum(axis=1), 4)
    labs = np.round(np.take_along_axis(colors, order[..., None], axis=1), 2)
    return [
        tuple(
            PaletteColor(lab=(lab[0], lab[1], lab[2]), share=share)
            for lab, share in zip(*square, strict=True)
            if share > 0
        )
        for square in zip(labs.tolist(), shares.tolist(), strict=True)
    ]
