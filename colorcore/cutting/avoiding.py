"""Cut a square so that the pieces come from its good parts.

A dark print with white flowers gives pieces that hold and pieces whose seam runs through a flower.
Where a square has room to spare, the cuts can be laid so that the flowers fall into the waste, and
where it has none, the cuts can at least be laid so that they cross the fewest.
"""

from collections.abc import Callable, Sequence
from fractions import Fraction
from functools import reduce
from itertools import product
from math import lcm
from typing import Any, Final

import numpy as np
from numpy.typing import NDArray

from colorcore.cutting.guillotine import (
    Counts,
    CutLine,
    CutPart,
    Cutting,
    Guillotine,
    PieceWanted,
    sums_of_sides,
)
from colorcore.lengths import SEAM

Badness = Callable[[float, float, float, float], float]
"""How bad a piece would be, 0 (good) and up: from x, y of its top left corner and its cut width
and height, in inches of the square."""

MOST_MELTING: Final = 0.1
"""Share of a piece's seam that may melt in a good piece (common practice, no source)."""
_MOST_PLACES = 15
_MOST_COUNTS = 40
_PER_CUT = 0.002
"""What a cut more is worth, as a share of one seam: of like cuttings the simplest is taken."""


def badness_from_map(
    bad: NDArray[np.floating[Any]], side_inches: float, *, seam: float = float(SEAM)
) -> Badness:
    """Return the share of a piece's seam line that runs through bad parts of the square.

    Parameters
    ----------
    bad : array (N, N)
        How bad each place of the square is, 0 to 1 (1 melts into the background).
    side_inches : float
        Side of the square in inches.
    seam : float
        Seam allowance in inches: what is seen beside the background is the line that lies this
        far inside the cut edge.
    """
    pixels = bad.shape[0]
    scale = pixels / side_inches
    across = np.concatenate([np.zeros((pixels, 1)), np.cumsum(bad, axis=1)], axis=1)
    down = np.concatenate([np.zeros((1, pixels)), np.cumsum(bad, axis=0)], axis=0)

    def badness(x: float, y: float, width: float, height: float) -> float:
        left, right = ((x + seam) * scale, (x + width - seam) * scale)
        top, bottom = ((y + seam) * scale, (y + height - seam) * scale)
        x0, x1, y0, y1 = (
            int(min(max(round(v), 0), pixels - 1)) for v in (left, right - 1, top, bottom - 1)
        )
        x1, y1 = max(x0, x1), max(y0, y1)
        edge = (
            across[y0, x1 + 1]
            - across[y0, x0]
            + across[y1, x1 + 1]
            - across[y1, x0]
            + down[y1 + 1, x0]
            - down[y0, x0]
            + down[y1 + 1, x1]
            - down[y0, x1]
        )
        return float(edge / (2 * (x1 - x0 + 1) + 2 * (y1 - y0 + 1)))

    return badness


def cut_around(
    width: Fraction,
    height: Fraction,
    pieces: Sequence[PieceWanted],
    counts: Counts,
    badness: Badness,
) -> tuple[Cutting, tuple[float, ...]]:
    """Return the cutting that gives ``counts`` with the least badness, and the badness per part.

    The yield is never less than the best one: every sum of piece sizes from either edge is a place
    where a cut may lie, and spare room adds places between. Where there are too many combinations
    to try, the plain best cutting and its mirror images are compared.

    Raises
    ------
    CuttingError
        If no edge-to-edge cutting gives ``counts``.
    """
    plain = Guillotine(width, height, pieces).cutting(counts)
    wanted = [
        PieceWanted(p.name, p.width, p.height, n, p.fixed)
        for p, n in zip(pieces, counts, strict=True)
    ]
    xs, ys = _places(width, wanted, "x"), _places(height, wanted, "y")
    size = int(np.prod([n + 1 for n in counts]))
    if size > _MOST_COUNTS or max(len(xs), len(ys)) > 2 * _MOST_PLACES:
        best = min(_mirrored(plain), key=lambda c: sum(_badness_of(c, badness)))
    else:
        best = _search(wanted, counts, xs, ys, badness, plain)
    return best, _badness_of(best, badness)


def _places(length: Fraction, wanted: Sequence[PieceWanted], along: str) -> list[Fraction]:
    """Where cuts may lie: sums of sides from both edges, and shifted ones while few."""
    near = sums_of_sides(wanted, length, along)
    places = {*near, *(length - s for s in near)}
    slack = min(length - s for s in near)
    shifts = [slack / 2, *(Fraction(n, 2) for n in range(1, int(2 * length)))]
    for shift in shifts:
        more = {s + shift for s in near if s + shift < length}
        if len(places | more) <= _MOST_PLACES:
            places |= more
    return sorted(places)


def _search(
    wanted: list[PieceWanted],
    counts: Counts,
    xs: list[Fraction],
    ys: list[Fraction],
    badness: Badness,
    plain: Cutting,
) -> Cutting:
    vectors = list(product(*(range(n + 1) for n in counts)))
    number = {v: i for i, v in enumerate(vectors)}
    # Each pair of counts (a, b) whose sum is within the counts, ordered by that sum.
    pairs = sorted(
        (number[total], i, j)
        for i, a in enumerate(vectors)
        for j, b in enumerate(vectors)
        if (total := tuple(p + q for p, q in zip(a, b, strict=True))) in number
    )
    totals, firsts, seconds = (np.array(column) for column in zip(*pairs, strict=True))
    starts = np.searchsorted(totals, np.arange(len(vectors)))
    sizes = [
        (i, p.width, p.height) for i, p in enumerate(wanted) if p.most
    ] + [
        (i, p.height, p.width)
        for i, p in enumerate(wanted)
        if p.most and not p.fixed and p.width != p.height
    ]  # fmt: skip

    # Whole numbers compare faster than fractions, and most of the work is comparing.
    unit = reduce(lcm, (v.denominator for v in (*xs, *ys)), 1)
    unit = reduce(lcm, (v.denominator for _, w, h in sizes for v in (w, h)), unit)
    across, down = [int(x * unit) for x in xs], [int(y * unit) for y in ys]
    whole_sizes = [(i, int(w * unit), int(h * unit)) for i, w, h in sizes]
    ones = [number[tuple(int(j == i) for j in range(len(wanted)))] for i in range(len(wanted))]
    columns, rows = _stretches(len(across)), _stretches(len(down))
    table = np.full((columns.max() + 1, rows.max() + 1, len(vectors)), np.inf)
    table[..., 0] = 0.0
    for i, w, h in whole_sizes:
        for x0, x1 in _as_long(across, w):
            for y0, y1 in _as_long(down, h):
                here = badness(float(xs[x0]), float(ys[y0]), w / unit, h / unit)
                place = columns[x0, x1], rows[y0, y1], ones[i]
                table[place] = min(table[place], here)
    _join(table, columns, rows, firsts, seconds, starts)

    def cost(x0: int, x1: int, y0: int, y1: int) -> NDArray[np.float64]:
        return np.asarray(table[columns[x0, x1], rows[y0, y1]])

    parts: list[CutPart] = []
    lines: list[CutLine] = []

    def unfold(x0: int, x1: int, y0: int, y1: int, target: int, level: int) -> None:
        w, h = xs[x1] - xs[x0], ys[y1] - ys[y0]
        value = cost(x0, x1, y0, y1)[target]
        if target == 0:
            parts.append(CutPart(xs[x0], ys[y0], w, h, None))
            return
        for i, a, b in sizes:
            if (a, b) == (w, h) and vectors[target] == tuple(
                int(j == i) for j in range(len(wanted))
            ):
                parts.append(CutPart(xs[x0], ys[y0], w, h, i))
                return
        low, high = np.searchsorted(totals, [target, target + 1])
        halves = [
            ((x0, x, y0, y1), (x, x1, y0, y1), CutLine(xs[x], ys[y0], xs[x], ys[y1], level))
            for x in range(x0 + 1, x1)
        ] + [
            ((x0, x1, y0, y), (x0, x1, y, y1), CutLine(xs[x0], ys[y], xs[x1], ys[y], level))
            for y in range(y0 + 1, y1)
        ]
        for one, other, line in halves:
            one_cost, other_cost = cost(*one), cost(*other)
            for k in range(low, high):
                total = one_cost[firsts[k]] + other_cost[seconds[k]] + _PER_CUT
                if abs(total - value) < 1e-9:
                    lines.append(line)
                    unfold(*one, int(firsts[k]), level + 1)
                    unfold(*other, int(seconds[k]), level + 1)
                    return
        raise AssertionError("a cost without a cutting behind it")

    unfold(0, len(xs) - 1, 0, len(ys) - 1, number[tuple(counts)], 0)
    return Cutting(
        plain.width, plain.height, plain.pieces, counts, tuple(parts), tuple(lines), plain.proof
    )


def _stretches(places: int) -> NDArray[np.intp]:
    """Numbers (P, P) of the stretches from one of so many places to a later one, the shortest
    first, those of one length from the first place on; the rest is 0."""
    numbers = np.zeros((places, places), np.intp)
    first, last = np.triu_indices(places, 1)
    order = np.argsort(last - first, kind="stable")
    numbers[first[order], last[order]] = np.arange(len(first))
    return numbers


def _as_long(places: Sequence[int], length: int) -> list[tuple[int, int]]:
    """Pairs of places, by their numbers, that lie ``length`` apart."""
    number = {place: i for i, place in enumerate(places)}
    return [(i, number[p + length]) for i, p in enumerate(places) if p + length in number]


def _join(
    table: NDArray[np.float64],
    columns: NDArray[np.intp],
    rows: NDArray[np.intp],
    firsts: NDArray[np.intp],
    seconds: NDArray[np.intp],
    starts: NDArray[np.intp],
) -> None:
    """Fill in what every rectangle costs at least, cut in two or as it is, by counts of pieces.

    ``table`` (X, Y, V) holds the costs by stretch across, stretch down and counts; counts
    ``firsts`` and ``seconds`` (P,) of two halves add up to those of the whole, in order, the pairs
    of each beginning at ``starts`` (V,). Rectangles of one size are joined at once, the smaller
    sizes first.
    """
    for wide in range(1, len(columns)):
        across, cuts_across = _halves(columns, wide)
        for high in range(1, len(rows)):
            down, cuts_down = _halves(rows, high)
            halves = [(table[one, down], table[other, down]) for one, other in cuts_across]
            halves += [(table[across, one], table[across, other]) for one, other in cuts_down]
            if not halves:
                continue
            both = np.full((*table[across, down].shape[:2], len(firsts)), np.inf)
            for near, far in halves:
                joined = near.take(firsts, axis=2)
                joined += far.take(seconds, axis=2)
                np.minimum(both, joined, out=both)
            best = np.minimum.reduceat(both + _PER_CUT, starts, axis=2)
            np.minimum(table[across, down], best, out=table[across, down])


def _halves(numbers: NDArray[np.intp], length: int) -> tuple[slice, list[tuple[slice, slice]]]:
    """Where the stretches over so many places lie, and, for each cut within, their two halves."""
    count = len(numbers) - length

    def lie(start: int, stop: int) -> slice:
        first = int(numbers[start, stop])
        return slice(first, first + count)

    return lie(0, length), [(lie(0, cut), lie(cut, length)) for cut in range(1, length)]


def _mirrored(cutting: Cutting) -> list[Cutting]:
    """The cutting as it is, mirrored left to right, top to bottom, and both."""
    w, h = cutting.width, cutting.height
    images = []
    for flip_x, flip_y in product((False, True), repeat=2):
        parts = tuple(
            CutPart(
                w - p.x - p.width if flip_x else p.x,
                h - p.y - p.height if flip_y else p.y,
                p.width,
                p.height,
                p.piece,
            )
            for p in cutting.parts
        )
        lines = tuple(
            CutLine(
                *(
                    (w - line.x1, h - line.y1, w - line.x0, h - line.y0)
                    if flip_x and flip_y
                    else (w - line.x1, line.y0, w - line.x0, line.y1)
                    if flip_x
                    else (line.x0, h - line.y1, line.x1, h - line.y0)
                    if flip_y
                    else (line.x0, line.y0, line.x1, line.y1)
                ),
                line.level,
            )
            for line in cutting.lines
        )
        images.append(Cutting(w, h, cutting.pieces, cutting.counts, parts, lines, cutting.proof))
    return images


def _badness_of(cutting: Cutting, badness: Badness) -> tuple[float, ...]:
    return tuple(
        0.0
        if part.piece is None
        else badness(float(part.x), float(part.y), float(part.width), float(part.height))
        for part in cutting.parts
    )
