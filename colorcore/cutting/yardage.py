"""Strips from yardage: patches, borders, binding, backing and batting.

Lengths are exact fractions of an inch. ``usable`` is the width between the selvages that can be
cut (42 in by default; common practice, no source). ``shrinkage`` is the share of length and width
that cloth loses in the first wash, for makers who wash before cutting; 0.03 is 3 %.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction
from itertools import product
from math import ceil, floor
from typing import Final

from colorcore.cutting.covering import choose_patterns
from colorcore.cutting.guillotine import PieceWanted
from colorcore.errors import CuttingError
from colorcore.lengths import SEAM, Measure, say_inches, say_size

_MOST_PATTERNS: Final = 3000
_MOST_TURNABLE: Final = 6
_MOST_EXACT: Final = 20
_SECONDS: Final = 0.5

USABLE_WIDTH: Final = Fraction(42)
OVERHANG: Final = Fraction(4)
"""How far backing and batting reach past the top on every side (common practice, no source)."""

STRAIGHTENING: Final = Fraction(2)
"""What is cut off before the first strip and after the last, since a shop's cut is seldom square
to the fold (common practice, no source)."""


@dataclass(frozen=True)
class StripKind:
    """So many like strips of ``height`` inches across the cloth; ``pieces`` are pairs (index of
    the piece, how many) that each strip gives, ``rest`` what is left at its end in inches."""

    height: Fraction
    strips: int
    pieces: tuple[tuple[int, int], ...]
    rest: Fraction


@dataclass(frozen=True)
class StripPlan:
    """Strips for patches from one fabric. ``length`` of cloth in inches as it is cut."""

    pieces: tuple[PieceWanted, ...]
    kinds: tuple[StripKind, ...]
    length: Fraction
    proof: str


@dataclass(frozen=True)
class JoinedStrips:
    """Strips sewn end to end: ``strips`` of ``height`` inches; ``length`` of cloth they take."""

    name: str
    strips: int
    height: Fraction
    length: Fraction
    run: Fraction


@dataclass(frozen=True)
class Backing:
    """Panels of a backing: ``panels`` of ``panel_length`` inches, seams ``upright`` (parallel to
    the quilt's sides) or across; ``size`` after joining; ``length`` of cloth."""

    panels: int
    panel_length: Fraction
    upright: bool
    size: tuple[Fraction, Fraction]
    length: Fraction


def squares_from(size: Fraction, width: Fraction, length: Fraction) -> int:
    """Return how many squares of ``size`` inches a cloth of width by length gives, cut in strips
    across it: whole strips, whole squares.

    Raises
    ------
    CuttingError
        If ``size`` is not above 0.
    """
    if size <= 0:
        raise CuttingError(f"A square cannot be {float(size):g} in wide; give a size above 0.")
    return floor(width / size) * floor(length / size)


def washed(length: Fraction, shrinkage: float) -> Fraction:
    """Return the length that is left of ``length`` after washing.

    Raises
    ------
    CuttingError
        If the shrinkage is not between 0 and 0.3.
    """
    return length * (1 - _share(shrinkage))


def _to_buy(length: Fraction, shrinkage: float) -> Fraction:
    """Return the length to buy so that ``length`` is left after washing.

    Raises
    ------
    CuttingError
        As ``washed``.
    """
    return length / (1 - _share(shrinkage))


def _share(shrinkage: float) -> Fraction:
    if not 0 <= shrinkage <= 0.3:
        raise CuttingError(f"Shrinkage {shrinkage} is not between 0 and 0.3 (0.03 is 3 %).")
    return Fraction(shrinkage).limit_denominator(1000)


def plan_strips(
    pieces: Sequence[PieceWanted], *, usable: Fraction = USABLE_WIDTH, shrinkage: float = 0.0
) -> StripPlan:
    """Return the shortest cloth that gives every piece from strips across it.

    Every piece is cut from a strip as high as one of its sides, pieces of like height share
    strips, and every way of laying the pieces is tried.

    Raises
    ------
    CuttingError
        If a piece is longer than the cloth is wide both ways.
    """
    width = washed(usable, shrinkage)
    wanted = [(i, p) for i, p in enumerate(pieces) if p.most]
    for _, p in wanted:
        if p.width > width and (p.fixed or p.height > width):
            raise CuttingError(
                f"{p.name}: a piece of {say_size(p.width, p.height)} does not fit into "
                f"{say_inches(width)} in of usable width; take wider cloth."
            )
    ways = [_ways(p, width) for _, p in wanted]
    if sum(len(w) > 1 for w in ways) > _MOST_TURNABLE:
        ways = [[min(w, key=lambda way: _alone(way, p.most, width))] if len(w) > 1 else w
                for w, (_, p) in zip(ways, wanted, strict=True)]  # fmt: skip
    best: tuple[Fraction, int, list[StripKind], bool] | None = None
    known: dict[tuple[Fraction, tuple[tuple[int, Fraction, int], ...]], _Packed] = {}
    for choice in product(*ways):
        heights: dict[Fraction, list[tuple[int, Fraction, int]]] = {}
        for (i, p), (height, along) in zip(wanted, choice, strict=True):
            heights.setdefault(height, []).append((i, along, p.most))
        kinds: list[StripKind] = []
        exact = True
        for height in sorted(heights, reverse=True):
            key = (height, tuple(heights[height]))
            if key not in known:
                solved = sum(packed.solved for packed in known.values())
                known[key] = _pack(heights[height], width, exactly=solved < _MOST_EXACT)
            for fill, strips in known[key].fills:
                used = sum((n * _along_of(heights[height], i) for i, n in fill), Fraction(0))
                kinds.append(StripKind(height, strips, fill, width - used))
            exact = exact and known[key].proven
        length = sum((k.height * k.strips for k in kinds), Fraction(0))
        rank = (length, len(kinds))
        if best is None or rank < (best[0], best[1]):
            best = (length, len(kinds), kinds, exact)
    if best is None:
        return StripPlan(tuple(pieces), (), Fraction(0), "Nothing to cut.")
    proof = (
        "No fewer strips give these pieces."
        if best[3]
        else "Fewer strips may be possible; every piece is there."
    )
    return StripPlan(tuple(pieces), tuple(best[2]), _to_buy(best[0], shrinkage), proof)


def _along_of(group: Sequence[tuple[int, Fraction, int]], index: int) -> Fraction:
    """How much of a strip one piece of the group takes, in inches."""
    return next(along for i, along, _ in group if i == index)


def _ways(piece: PieceWanted, width: Fraction) -> list[tuple[Fraction, Fraction]]:
    """(height of the strip, length along it) for each way a piece can lie."""
    ways = [(piece.height, piece.width)]
    if not piece.fixed and piece.width != piece.height:
        ways.append((piece.width, piece.height))
    return [(height, along) for height, along in ways if along <= width]


def _alone(way: tuple[Fraction, Fraction], count: int, width: Fraction) -> Fraction:
    height, along = way
    return height * ceil(count / floor(width / along))


@dataclass(frozen=True)
class _Packed:
    fills: tuple[tuple[tuple[tuple[int, int], ...], int], ...]
    proven: bool
    solved: bool = False


def _pack(group: Sequence[tuple[int, Fraction, int]], width: Fraction, *, exactly: bool) -> _Packed:
    """Fewest strips of one height for pieces (index, length along the strip, count): longest
    piece first into the first strip with room; where that misses the lower bound, all ways to
    fill a strip go into an integer program."""
    order = sorted(group, key=lambda g: (-g[1], g[0]))
    strips: list[tuple[Fraction, dict[int, int]]] = []
    for index, along, count in order:
        left = count
        for n, (room, fill) in enumerate(strips):
            take = min(left, floor(room / along))
            if take:
                fill[index] = fill.get(index, 0) + take
                strips[n] = (room - take * along, fill)
                left -= take
        while left:
            take = min(left, floor(width / along))
            strips.append((width - take * along, {index: take}))
            left -= take
    bound = ceil(sum((along * count for _, along, count in group), Fraction(0)) / width)
    per_kind = max(ceil(count / floor(width / along)) for _, along, count in group)
    fills: list[tuple[tuple[int, int], ...]] = [tuple(sorted(f.items())) for _, f in strips]
    proven = len(group) == 1 or len(strips) <= max(bound, per_kind)
    solve = exactly and not proven and len(group) <= 6
    if solve:
        exact = _pack_exactly(order, width)
        if exact is not None:
            fills, proven = exact, True
    counted: dict[tuple[tuple[int, int], ...], int] = {}
    for pieces in fills:
        counted[pieces] = counted.get(pieces, 0) + 1
    return _Packed(tuple(counted.items()), proven, solve)


def _pack_exactly(
    group: Sequence[tuple[int, Fraction, int]], width: Fraction
) -> list[tuple[tuple[int, int], ...]] | None:
    patterns = _strip_patterns([along for _, along, _ in group], width)
    if not patterns or len(patterns) > _MOST_PATTERNS:
        return None
    chosen = choose_patterns(
        patterns, [count for _, _, count in group], [1.0] * len(patterns), seconds=_SECONDS
    )
    if chosen is None:
        return None
    left = [count for _, _, count in group]
    fills = []
    for pattern, times in zip(patterns, chosen, strict=True):
        for _ in range(times):
            fill = []
            for n, (index, _, _) in enumerate(group):
                take = min(pattern[n], left[n])
                left[n] -= take
                if take:
                    fill.append((index, take))
            if fill:
                fills.append(tuple(sorted(fill)))
    return fills


def _strip_patterns(lengths: Sequence[Fraction], width: Fraction) -> list[tuple[int, ...]]:
    """Every way to fill a strip to which no further piece can be added."""
    found: list[tuple[int, ...]] = []

    def grow(taken: tuple[int, ...], room: Fraction) -> None:
        if len(found) > _MOST_PATTERNS:
            return
        n = len(taken)
        if n == len(lengths):
            if all(room < along for along in lengths):
                found.append(taken)
            return
        for count in range(floor(room / lengths[n]), -1, -1):
            grow((*taken, count), room - count * lengths[n])

    grow((), width)
    return found


def plan_binding(
    width: Fraction,
    height: Fraction,
    *,
    strip: Fraction = Fraction(5, 2),
    usable: Fraction = USABLE_WIDTH,
    shrinkage: float = 0.0,
) -> JoinedStrips:
    """Return strips of straight-grain binding for a quilt of width by height inches.

    A diagonal join, the closing one too, takes as much of a strip as the strip is wide; a mitred
    corner, folded with the raw edges along the quilt's, takes none.

    Raises
    ------
    CuttingError
        If the cloth is too narrow for a join, or as ``washed``.
    """
    return _join(
        "binding", 2 * (width + height), strip, washed(usable, shrinkage) - strip, shrinkage
    )


def plan_border(
    name: str,
    width: Fraction,
    height: Fraction,
    border: Fraction,
    *,
    usable: Fraction = USABLE_WIDTH,
    shrinkage: float = 0.0,
) -> tuple[JoinedStrips, Fraction, Fraction]:
    """Return strips for a border around a top of width by height inches, sides sewn first.

    The second and third value are the cut lengths of the two side strips and of the top and
    bottom strips. Strips are joined end to end with quarter-inch seams.

    Raises
    ------
    CuttingError
        If the cloth is too narrow for a join, or as ``washed``.
    """
    side = height + 2 * SEAM
    across = width + 2 * border + 2 * SEAM
    room = washed(usable, shrinkage)
    # Joined into one run, n strips give n times the width less one seam (both allowances) a join.
    joined = _join(
        name, 2 * side + 2 * across - 2 * SEAM, border + 2 * SEAM, room - 2 * SEAM, shrinkage
    )
    return joined, side, across


def _join(
    name: str, run: Fraction, height: Fraction, per_strip: Fraction, shrinkage: float
) -> JoinedStrips:
    if per_strip <= 0:
        raise CuttingError(f"{name}: the cloth is too narrow for its strips; take wider cloth.")
    strips = ceil(run / per_strip)
    return JoinedStrips(name, strips, height, _to_buy(strips * height, shrinkage), run)


def plan_backing(
    width: Fraction,
    height: Fraction,
    *,
    usable: Fraction = USABLE_WIDTH,
    overhang: Fraction = OVERHANG,
    shrinkage: float = 0.0,
) -> tuple[Backing, ...]:
    """Return the ways to piece a backing from whole widths, least cloth first.

    The backing reaches ``overhang`` past the top on every side; panels are joined with
    quarter-inch seams, so each panel but one adds half an inch less than its width.

    Raises
    ------
    CuttingError
        If the cloth is no wider than a seam takes, or as ``washed``.
    """
    room = washed(usable, shrinkage)
    if room <= 2 * SEAM:
        raise CuttingError("Backing: the cloth is too narrow to be joined; take wider cloth.")
    full = (width + 2 * overhang, height + 2 * overhang)
    ways = []
    for upright in (True, False):
        across, along = full if upright else full[::-1]
        panels = max(1, ceil((across - 2 * SEAM) / (room - 2 * SEAM)))
        made = panels * room - (panels - 1) * 2 * SEAM
        ways.append(
            Backing(
                panels,
                along,
                upright,
                (made, along) if upright else (along, made),
                _to_buy(panels * along, shrinkage),
            )
        )
    return tuple(sorted(ways, key=lambda b: (b.length, b.panels, not b.upright)))


def plan_batting(
    width: Fraction, height: Fraction, *, overhang: Fraction = OVERHANG
) -> tuple[Fraction, Fraction]:
    """Return the size of batting in inches for a top of width by height inches."""
    return width + 2 * overhang, height + 2 * overhang


@dataclass(frozen=True)
class Enough:
    """Whether a length of cloth is enough: ``have`` and ``need`` in inches, ``left`` negative if
    it is short."""

    name: str
    have: Fraction
    need: Fraction

    @property
    def left(self) -> Fraction:
        """Inches left over."""
        return self.have - self.need

    @property
    def ok(self) -> bool:
        """True if nothing is missing."""
        return self.left >= 0

    def told(self, say: Measure) -> str:
        """Return a sentence for the maker, in her measure."""
        left = self.left
        if left < 0:
            said = f"{say.length(-left)} too short: {say.length(self.need)} are needed"
        elif left == 0:
            said = "just enough, with nothing for a mistake"
        elif left < STRAIGHTENING:
            room = say.length(left)
            said = f"just enough: {room} for straightening its ends, nothing for a mistake"
        else:
            said = f"enough; {say.length(left)} are left over"
        return f"{self.name}: {say.length(self.have)} are {said}."


def missing_length(
    strips: Sequence[tuple[Fraction, int]], have: Fraction, *, shrinkage: float = 0.0
) -> Fraction:
    """Return the length in inches of the strips that ``have`` inches of cloth do not give.

    ``strips`` are (height, how many). A strip is whole: what is left below the last is of no use.
    The highest are taken from the cloth at hand first.

    Raises
    ------
    CuttingError
        As ``washed``.
    """
    missing = Fraction(0)
    for height, number in sorted(strips, reverse=True):
        length = _to_buy(height, shrinkage)
        given = min(number, int(have / length))
        have -= given * length
        missing += (number - given) * length
    return missing
