"""The best edge-to-edge cutting of one square, exactly.

A rotary cutter on a ruler cannot stop halfway: every cut runs from edge to edge of the part that
lies on the mat, and so a cutting is a tree of such cuts (a guillotine cutting). For a set of piece
sizes this module finds every count of pieces that such a tree can give and keeps those that no
other beats.

It is exact: pieces can be pushed left and up until every cut lies at a sum of piece sizes
(J. C. Herz, "Recursive computational procedure for two-dimensional stock cutting", IBM Journal
of Research and Development 16, 1972; N. Christofides and C. Whitlock, "An algorithm for
two-dimensional cutting problems", Operations Research 25, 1977), so trying those sums as cuts
tries all that matter.
Cuts have no width: cloth loses none to a blade.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction
from functools import reduce
from math import lcm
from typing import Final

from colorcore.errors import CuttingError

Counts = tuple[int, ...]

_MOST_STATES: Final = 200_000
_MOST_JOINS: Final = 600_000
_MOST_PLACES: Final = 300


_TOO_MANY: Final = (
    "These pieces are too small or too many to try every cutting; ask for fewer pieces per square."
)


class Effort:
    """How much is tried at most, in joins of two parts; searches for one answer may share it."""

    def __init__(self, most: int = _MOST_JOINS) -> None:
        self._left = most

    def spend(self, joins: int) -> None:
        """Take off what a step tries.

        Raises
        ------
        CuttingError
            If more is tried than there is left.
        """
        self._left -= joins
        if self._left < 0:
            raise CuttingError(_TOO_MANY)


@dataclass(frozen=True)
class PieceWanted:
    """A piece to cut: cut size in inches, and at most so many of it.

    ``fixed`` forbids turning it by a quarter (a stripe that must run one way).

    Raises
    ------
    CuttingError
        If a side is not above 0, or ``most`` is no count from 0 to 10,000.
    """

    name: str
    width: Fraction
    height: Fraction
    most: int
    fixed: bool = False

    def __post_init__(self) -> None:
        if self.width <= 0 or self.height <= 0:
            raise CuttingError(f"Piece {self.name}: a side is 0 or less; give sizes above 0.")
        if not 0 <= self.most <= 10_000:
            raise CuttingError(f"Piece {self.name}: {self.most} is not a count from 0 to 10,000.")


@dataclass(frozen=True)
class CutPart:
    """A rectangle of the square after cutting, in inches from its top left; ``piece`` is the index
    of the piece it becomes, or None for what is left over."""

    x: Fraction
    y: Fraction
    width: Fraction
    height: Fraction
    piece: int | None


@dataclass(frozen=True)
class CutLine:
    """One cut from edge to edge: from (x0, y0) to (x1, y1) in inches. ``level`` 0 runs across the
    whole square, 1 across a part that a level 0 cut made, and so on."""

    x0: Fraction
    y0: Fraction
    x1: Fraction
    y1: Fraction
    level: int


@dataclass(frozen=True)
class Cutting:
    """One square cut up. ``counts`` of each piece; ``lines`` in the order to cut; ``proof`` says in
    a sentence that no other edge-to-edge cutting gives more."""

    width: Fraction
    height: Fraction
    pieces: tuple[PieceWanted, ...]
    counts: Counts
    parts: tuple[CutPart, ...]
    lines: tuple[CutLine, ...]
    proof: str

    @property
    def waste(self) -> float:
        """Share of the square that becomes no piece, 0 to 1."""
        used = sum(
            (part.width * part.height for part in self.parts if part.piece is not None),
            Fraction(0),
        )
        return float(1 - used / (self.width * self.height))

    @property
    def takes_a_whole_side(self) -> bool:
        """True if pieces lie side by side from one edge of the square to the other, so that a
        square that is a thread too small does not give them."""
        kept = [part for part in self.parts if part.piece is not None]
        across = (sum(q.width for q in kept if q.y <= p.y < q.y + q.height) for p in kept)
        down = (sum(q.height for q in kept if q.x <= p.x < q.x + q.width) for p in kept)
        return any(n == self.width for n in across) or any(n == self.height for n in down)


@dataclass(frozen=True)
class _Tree:
    """How counts come about: ``cut`` None for one piece (or waste), else 'x' or 'y' at ``at``."""

    counts: Counts
    cuts: int
    width: int
    height: int
    cut: str = ""
    at: int = 0
    first: "_Tree | None" = None
    second: "_Tree | None" = None
    piece: int | None = None


class Guillotine:
    """All that edge-to-edge cuts can give from a rectangle.

    Parameters
    ----------
    width, height : Fraction
        The usable rectangle in inches.
    pieces : sequence of PieceWanted
        At most six kinds; ``most`` bounds each count, so small bounds are fast.
    effort : Effort
        How much is tried, if searches share it.

    Raises
    ------
    CuttingError
        If there are more than six kinds of pieces or the search grows past its limit.
    """

    def __init__(
        self,
        width: Fraction,
        height: Fraction,
        pieces: Sequence[PieceWanted],
        effort: Effort | None = None,
    ) -> None:
        if width <= 0 or height <= 0:
            raise CuttingError("There is nothing left of the square to cut; trim less.")
        if len(pieces) > 6:
            raise CuttingError(f"{len(pieces)} kinds of pieces from one square; ask for 6 at most.")
        self.width, self.height, self.pieces = width, height, tuple(pieces)
        sizes = [width, height, *(s for p in pieces for s in (p.width, p.height))]
        self._unit = Fraction(1, reduce(lcm, (s.denominator for s in sizes), 1))
        self._w, self._h = int(width / self._unit), int(height / self._unit)
        self._sides = [
            {(int(p.width / self._unit), int(p.height / self._unit))}
            | (set() if p.fixed else {(int(p.height / self._unit), int(p.width / self._unit))})
            for p in pieces
        ]
        self._most = tuple(p.most for p in pieces)
        kinds = [side for p, side in zip(pieces, self._sides, strict=True) if p.most]
        self._xs = _sums({a for side in kinds for a, _ in side}, self._w)
        self._ys = _sums({b for side in kinds for _, b in side}, self._h)
        self._known: dict[tuple[int, int], list[_Tree]] = {}
        self._effort = effort or Effort()
        self.states = 0
        if len(self._xs) + len(self._ys) > _MOST_PLACES:
            raise CuttingError(_TOO_MANY)

    def frontier(self) -> tuple[Counts, ...]:
        """Return every count of pieces that no other beats, most pieces first."""
        trees = self._solve(self._w, self._h)
        return tuple(sorted((t.counts for t in trees), key=lambda c: (-sum(c), c)))

    def cutting(self, counts: Counts) -> Cutting:
        """Return the cutting with the fewest cuts that gives at least ``counts``.

        Raises
        ------
        CuttingError
            If no edge-to-edge cutting gives them.
        """
        able = [
            tree
            for tree in self._solve(self._w, self._h)
            if all(have >= want for have, want in zip(tree.counts, counts, strict=True))
        ]
        if not able:
            wanted = " and ".join(
                f"{n} {p.name}" for n, p in zip(counts, self.pieces, strict=True) if n
            )
            raise CuttingError(
                f"No edge-to-edge cutting of one square gives {wanted}; ask for less of it."
            )
        tree = min(able, key=lambda t: (t.cuts, sum(t.counts), t.counts))
        parts: list[CutPart] = []
        lines: list[CutLine] = []
        spare = [-want for want in counts]
        _count_leaves(tree, spare)
        self._unfold(tree, 0, 0, self._w, self._h, 0, parts, lines, _left_whole(tree, spare), "")
        return Cutting(
            width=self.width,
            height=self.height,
            pieces=self.pieces,
            counts=counts,
            parts=tuple(parts),
            lines=tuple(lines),
            proof=(
                "No edge-to-edge cutting gives more: all "
                f"{len(self._xs)} × {len(self._ys)} places where a cut can matter were tried "
                f"({self.states} part sizes)."
            ),
        )

    def _solve(self, w: int, h: int) -> list[_Tree]:
        """The unbeaten trees of a part of w by h units."""
        w, h = _at_most(self._xs, w), _at_most(self._ys, h)
        known = self._known.get((w, h))
        if known is not None:
            return known
        self.states += 1
        nothing = (0,) * len(self.pieces)
        best: dict[Counts, _Tree] = {nothing: _Tree(nothing, 0, w, h)}
        for index, sides in enumerate(self._sides):
            if not self._most[index]:
                continue
            for a, b in sides:
                if a <= w and b <= h:
                    counts = tuple(int(i == index) for i in range(len(self.pieces)))
                    cuts = int(a < w) + int(b < h)
                    if counts not in best or cuts < best[counts].cuts:
                        best[counts] = _Tree(counts, cuts, a, b, piece=index)
        for along, places, length in (("x", self._xs, w), ("y", self._ys, h)):
            # The smaller half can always be put first and shrunk to a sum, so cuts past the
            # middle bring nothing new.
            for at in places:
                if not 0 < at <= length // 2:
                    continue
                if along == "x":
                    first, second = self._solve(at, h), self._solve(w - at, h)
                else:
                    first, second = self._solve(w, at), self._solve(w, h - at)
                self._join(best, first, second, along, at, w, h)
        unbeaten = _unbeaten(list(best.values()))
        if len(self._known) * max(1, len(unbeaten)) > _MOST_STATES:
            raise CuttingError(_TOO_MANY)
        self._known[(w, h)] = unbeaten
        return unbeaten

    def _join(
        self,
        best: dict[Counts, _Tree],
        first: list[_Tree],
        second: list[_Tree],
        along: str,
        at: int,
        w: int,
        h: int,
    ) -> None:
        most = self._most
        self._effort.spend(len(first) * len(second))
        for a in first:
            for b in second:
                counts = tuple(
                    min(x + y, limit) for x, y, limit in zip(a.counts, b.counts, most, strict=True)
                )
                cuts = a.cuts + b.cuts + 1
                old = best.get(counts)
                if old is None or cuts < old.cuts:
                    best[counts] = _Tree(counts, cuts, w, h, along, at, a, b)

    def _unfold(
        self,
        tree: _Tree,
        x: int,
        y: int,
        w: int,
        h: int,
        level: int,
        parts: list[CutPart],
        lines: list[CutLine],
        whole: set[str],
        path: str,
    ) -> None:
        """Turn a tree into parts and lines; (w, h) is the room it really has at (x, y), ``whole``
        the branches that are left over uncut."""
        if path in whole:
            self._part(parts, x, y, w, h, None)
        elif tree.piece is not None:
            if tree.width < w:
                self._line(lines, x + tree.width, y, x + tree.width, y + h, level)
                self._part(parts, x + tree.width, y, w - tree.width, h, None)
                level += 1
            if tree.height < h:
                self._line(lines, x, y + tree.height, x + tree.width, y + tree.height, level)
                self._part(parts, x, y + tree.height, tree.width, h - tree.height, None)
            self._part(parts, x, y, tree.width, tree.height, tree.piece)
        elif tree.first and tree.second:
            along_x, at, deeper = tree.cut == "x", tree.at, level + 1
            a, b = tree.first, tree.second
            if along_x:
                self._line(lines, x + at, y, x + at, y + h, level)
                self._unfold(a, x, y, at, h, deeper, parts, lines, whole, path + "1")
                self._unfold(b, x + at, y, w - at, h, deeper, parts, lines, whole, path + "2")
            else:
                self._line(lines, x, y + at, x + w, y + at, level)
                self._unfold(a, x, y, w, at, deeper, parts, lines, whole, path + "1")
                self._unfold(b, x, y + at, w, h - at, deeper, parts, lines, whole, path + "2")
        else:
            self._part(parts, x, y, w, h, None)

    def _part(
        self, parts: list[CutPart], x: int, y: int, w: int, h: int, piece: int | None
    ) -> None:
        u = self._unit
        if w > 0 and h > 0:
            parts.append(CutPart(x * u, y * u, w * u, h * u, piece))

    def _line(self, lines: list[CutLine], x0: int, y0: int, x1: int, y1: int, level: int) -> None:
        u = self._unit
        lines.append(CutLine(x0 * u, y0 * u, x1 * u, y1 * u, level))


def sums_of_sides(
    pieces: Sequence[PieceWanted], length: Fraction, along: str
) -> tuple[Fraction, ...]:
    """Return every sum of piece sides up to ``length``, 0 included; ``along`` is x or y, which
    matters for pieces that may not be turned."""
    sides = {
        side
        for p in pieces
        if p.most
        for side in ((p.width if along == "x" else p.height,) if p.fixed else (p.width, p.height))
    }
    unit = Fraction(1, reduce(lcm, (s.denominator for s in (length, *sides)), 1))
    return tuple(n * unit for n in _sums({int(side / unit) for side in sides}, int(length / unit)))


def _count_leaves(tree: _Tree, into: list[int]) -> None:
    """Add the pieces of a tree; counts in trees are capped, so a tree may hold more."""
    if tree.piece is not None:
        into[tree.piece] += 1
    for half in (tree.first, tree.second):
        if half is not None:
            _count_leaves(half, into)


def _left_whole(tree: _Tree, spare: list[int], path: str = "") -> set[str]:
    """Branches to leave uncut so that only the wanted counts are cut: the largest first, from the
    right and the bottom. ``spare`` is what the tree holds beyond them, and is used up."""
    leaves = [0] * len(spare)
    _count_leaves(tree, leaves)
    if all(n <= extra for n, extra in zip(leaves, spare, strict=True)):
        for i, n in enumerate(leaves):
            spare[i] -= n
        return {path}
    found: set[str] = set()
    for branch, half in (("2", tree.second), ("1", tree.first)):
        if half is not None and any(spare):
            found |= _left_whole(half, spare, path + branch)
    return found


def _sums(lengths: set[int], most: int) -> tuple[int, ...]:
    """Every sum of the lengths, each used any number of times, up to ``most``; 0 included."""
    reached = [False] * (most + 1)
    reached[0] = True
    for total in range(1, most + 1):
        reached[total] = any(total >= n and reached[total - n] for n in lengths)
    return tuple(i for i, yes in enumerate(reached) if yes)


def _at_most(sums: tuple[int, ...], value: int) -> int:
    """The largest sum that is not above ``value``: no piece can use what lies beyond."""
    low, high = 0, len(sums) - 1
    while low < high:
        middle = (low + high + 1) // 2
        if sums[middle] <= value:
            low = middle
        else:
            high = middle - 1
    return sums[low]


def _unbeaten(trees: list[_Tree]) -> list[_Tree]:
    """Keep the trees whose counts no other tree reaches and exceeds."""
    trees.sort(key=lambda t: (-sum(t.counts), t.counts))
    kept: list[_Tree] = []
    for tree in trees:
        if not any(
            all(have >= want for have, want in zip(other.counts, tree.counts, strict=True))
            for other in kept
        ):
            kept.append(tree)
    return kept
