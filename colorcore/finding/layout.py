"""Rows and columns of squares, as a person looking at the table would say them."""

from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from colorcore.finding.plane import Plane
from colorcore.ordering import median, quantiles

# So many rows, so long, can be told to be ragged; where their places agree to this share of how
# they agree within a row, squares lie in columns.
_SOME_ROWS, _ALIGNED = 3, 0.8
# A row is counted from a later place only if it starts about three quarters of a place later.
_LATE = 0.67


@dataclass(frozen=True, eq=False)
class Layout:
    """``cells`` (N, 2) row and column of each square, zero-based; ``pitch`` (2,) usual distance of
    neighbours across and down in sides of a square, NaN where there are none; ``middles`` (N, 2)
    in the plane."""

    cells: NDArray[np.int64]
    pitch: NDArray[np.float64]
    middles: NDArray[np.float64] = field(repr=False)


def lay_out(plane: Plane, quads: NDArray[np.float64], leading: int | None = None) -> Layout:
    """Give each of ``quads`` (N, 4, 2) its row and column.

    The first ``leading`` of them (all by default) say where rows and columns are; the others get
    the row and column of the nearest of those, and may share a place.
    """
    if leading is not None and 0 < leading < len(quads):
        main = lay_out(plane, quads[:leading])
        middles = plane.straighten(quads).mean(axis=1)
        pitch = np.where(np.isfinite(main.pitch), main.pitch, 1.2)
        step = middles[leading:, None] - main.middles[None]
        near = np.linalg.norm(step, axis=2).argmin(axis=1)
        move = np.round(step[np.arange(len(near)), near] / pitch).astype(np.int64)[:, ::-1]
        rest = np.maximum(main.cells[near] + move, 0)
        return Layout(np.concatenate([main.cells, rest]), main.pitch, middles)
    middles = plane.straighten(quads).mean(axis=1) if len(quads) else np.zeros((0, 2))
    if not len(quads):
        return Layout(np.zeros((0, 2), np.int64), np.array([np.nan, np.nan]), middles)
    pitch = pitches(middles)
    usual = np.where(np.isfinite(pitch), pitch, np.nanmean(np.append(pitch, 1.2)))
    rows = _lines(middles, usual, 1)
    columns = _ragged_columns(middles, rows, usual[0])
    if columns is None:
        columns = _lines(middles, usual, 0)
    cells = _settle(np.column_stack([rows, columns]), middles)
    return Layout(cells, pitch, middles)


def pitches(middles: NDArray[np.float64]) -> NDArray[np.float64]:
    """Return the usual step (2,) from a square to the next across and down, NaN where none is."""
    return np.array([_pitch(middles, 0), _pitch(middles, 1)])


def _pitch(middles: NDArray[np.float64], axis: int) -> float:
    """Return the usual step to the next square along ``axis`` (0 across, 1 down), or NaN."""
    step = middles[None] - middles[:, None]
    ahead, aside = step[..., axis], step[..., 1 - axis]
    near = (ahead > 0.2) & (ahead < 2.2) & (np.abs(aside) < 0.45)
    distance = np.where(near, ahead, np.inf).min(axis=1)
    distance = distance[np.isfinite(distance)]
    if not len(distance) or len(middles) < 2:
        return float("nan")
    low = float(quantiles(distance, 0.25)[0])
    return float(median(distance[distance < 1.45 * low]))


def _lines(
    middles: NDArray[np.float64], pitch: NDArray[np.float64], axis: int
) -> NDArray[np.int64]:
    """Number the rows (axis 1) or columns (axis 0), zero-based, uneven ones too.

    Squares are chained to their neighbours along the line; chains that lie at the same height are
    one line; heights a whole number of pitches apart count the lines missing between them.
    """
    count = len(middles)
    step = middles[None] - middles[:, None]
    ahead, aside = step[..., 1 - axis], step[..., axis]
    own, other = pitch[axis], pitch[1 - axis]
    link = (ahead > 0.3 * other) & (ahead < 1.6 * other) & (np.abs(aside) < 0.42 * own)
    order = np.argsort(np.where(link, np.abs(aside) + 0.2 * ahead, np.inf), axis=None)
    along = middles[:, 1 - axis].tolist()
    chain = [[k] for k in range(count)]
    for flat in order[: int(link.sum())].tolist():
        one, two = (chain[k] for k in divmod(flat, count))
        # A chain may bend but not hold two squares above each other.
        if one is not two and all(
            abs(along[i] - along[j]) > 0.45 * other for i in one for j in two
        ):
            one += two
            for k in two:
                chain[k] = one
    group = np.array([line[0] for line in chain])
    names = np.unique(group)
    height = np.array([median(middles[group == g, axis]) for g in names])
    ranks = np.argsort(height, kind="stable")
    number = np.zeros(len(names), np.int64)
    line, last = 0, float(height[ranks[0]])
    for k in ranks:
        rise = round((float(height[k]) - last) / own)
        if rise > 0:
            line += rise
            last = float(height[k])
        else:
            last = (last + float(height[k])) / 2
        number[k] = line
    place = {int(g): int(n) for g, n in zip(names, number, strict=True)}
    numbers = np.array([place[int(g)] for g in group])
    return np.asarray(numbers - numbers.min(), dtype=np.int64)


def _ragged_columns(
    middles: NDArray[np.float64], rows: NDArray[np.int64], pitch: float
) -> NDArray[np.int64] | None:
    """Count along each row, zero-based, places left empty included, where squares do not lie one
    below the other; None where they do, or where rows are too few or short to tell.

    A row that starts about a place further in than most is counted from there.
    """
    names = np.unique(rows)
    lines = [np.flatnonzero(rows == n) for n in names]
    lines = [line[np.argsort(middles[line, 0], kind="stable")] for line in lines]
    lengths = np.array([len(line) for line in lines], dtype=np.float64)
    if len(lines) < _SOME_ROWS or float(median(lengths)) < _SOME_ROWS:
        return None
    # Rows may run aslant in the plane: what one drifts from the row above says nothing.
    slope = _drift(middles, rows, pitch)
    places = middles[:, 0] - slope * middles[:, 1]
    phases = np.array([np.exp(2j * np.pi * places[line] / pitch).mean() for line in lines])
    if abs(phases.mean()) > _ALIGNED * float(median(np.abs(phases))):
        return None
    # Of ragged rows the drift that makes them agree best is chance: starts count as they lie.
    places = middles[:, 0]
    first = np.array([places[line[0]] for line in lines])
    usual = float(median(first))
    columns = np.zeros(len(middles), np.int64)
    for line, start in zip(lines, first, strict=True):
        begin = round((start - usual) / pitch * _LATE)
        steps = np.maximum(np.round(np.diff(places[line]) / pitch), 1)
        columns[line] = begin + np.concatenate([[0], np.cumsum(steps)]).astype(np.int64)
    return np.asarray(columns - columns.min(), dtype=np.int64)


def _drift(middles: NDArray[np.float64], rows: NDArray[np.int64], pitch: float) -> float:
    """Return by how much rows move along themselves per side from row to row: 0 but under a
    plane that leans."""
    best, most = 0.0, -1.0
    for slope in np.linspace(-0.06, 0.06, 13):
        phase = np.exp(2j * np.pi * (middles[:, 0] - slope * middles[:, 1]) / pitch)
        here = float(abs(phase.mean())) - 0.5 * abs(slope)
        if here > most:
            best, most = float(slope), here
    return best


def _settle(cells: NDArray[np.int64], middles: NDArray[np.float64]) -> NDArray[np.int64]:
    """Move squares that share a cell to the nearest free one."""
    taken: dict[tuple[int, int], int] = {}
    settled = cells.copy()
    for i in np.argsort(cells[:, 0] * 1000 + cells[:, 1], kind="stable"):
        cell = (int(settled[i, 0]), int(settled[i, 1]))
        if cell not in taken:
            taken[cell] = int(i)
            continue
        other = taken[cell]
        step = middles[i] - middles[other]
        moves = np.array([(0, 1), (0, -1), (1, 0), (-1, 0)])
        for move in moves[np.argsort(-(moves[:, ::-1] @ step), kind="stable")].tolist():
            free = (cell[0] + move[0], cell[1] + move[1])
            if free not in taken and min(free) >= 0:
                settled[i] = free
                taken[free] = int(i)
                break
    return settled
