"""How the squares of a stack are cut so that every unit gets its pieces.

All that one slot of the quilt needs from one fabric is its *kit* (a star's centre and its eight
points). A square is cut into whole kits, since a kit must come from one fabric; how many kits a
square can give is searched exactly, and the kits that the quilt wants are spread over the squares
as evenly as can be, so that no fabric carries the quilt alone.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from fractions import Fraction
from functools import cache
from math import floor

from colorcore.cutting.avoiding import MOST_MELTING, Badness, cut_around
from colorcore.cutting.covering import choose_patterns
from colorcore.cutting.giving import SquareGiving, fewest_squares, piece_name, shared_out
from colorcore.cutting.guillotine import CutPart, Cutting, Guillotine, PieceWanted
from colorcore.errors import CuttingError
from colorcore.lengths import say_inches
from colorcore.pattern.kits import Kit
from colorcore.pattern.layout import Layout

_WORTH_AVOIDING = 0.15
"""Seam lines that must be saved from melting, in pieces, before a square is cut on its own."""
_WORTH_SHARE = 0.25
"""And at least this share of what would melt: on an even fabric all places are much alike."""
_HOPELESS = 0.9


@dataclass(frozen=True)
class SquareCut:
    """How one square is cut. ``kits`` counts each kind; ``parts`` of each kit in turn, kind by
    kind; ``around`` is True if the cuts go around bad parts and so differ from the others'."""

    square: str
    kits: tuple[int, ...]
    cutting: Cutting
    around: bool = False
    badness: tuple[float, ...] = ()

    def kit_parts(self, kinds: Sequence[Kit]) -> tuple[tuple[int, tuple[CutPart, ...]], ...]:
        """Return (kind, parts) of each kit that the square gives."""
        free: dict[int, list[CutPart]] = {}
        for part in self.cutting.parts:
            if part.piece is not None:
                free.setdefault(part.piece, []).append(part)
        index = {(p.width, p.height, p.name): i for i, p in enumerate(self.cutting.pieces)}
        found: list[tuple[int, tuple[CutPart, ...]]] = []
        for kind, (kit, times) in enumerate(zip(kinds, self.kits, strict=True)):
            for _ in range(times):
                parts = [
                    free[index[(p.width, p.height, piece_name(p.width, p.height))]].pop(0)
                    for p in kit
                    for _ in range(p.count)
                ]
                found.append((kind, tuple(parts)))
        return tuple(found)


@dataclass(frozen=True)
class StackCutting:
    """How a stack is cut.

    ``kinds`` are the kits that the quilt wants of this stack and ``wanted`` how many of each;
    ``most`` how many of each kind alone one square can give; ``needed`` the fewest squares that
    suffice, ``have`` those there are; ``cuts`` one per square, in the order of the stack.
    """

    stack: str
    kinds: tuple[Kit, ...]
    wanted: tuple[int, ...]
    most: tuple[int, ...]
    needed: int
    have: int
    cuts: tuple[SquareCut, ...]
    sentence: str

    @property
    def ok(self) -> bool:
        """True if the squares suffice."""
        return self.have >= self.needed


def cut_stacks(
    layout: Layout,
    stacks: Mapping[str, Sequence[str]],
    *,
    side: Fraction = Fraction(10),
    trim: Fraction = Fraction(0),
    badness: Mapping[str, Badness] | None = None,
) -> tuple[StackCutting, ...]:
    """Cut every stack of a quilt.

    Parameters
    ----------
    stacks : mapping
        Names of stacks to the ids of their squares, in the order of the stack.
    side : Fraction
        Side of the precut squares in inches.
    trim : Fraction
        What is trimmed from each edge first, for pinked or crooked edges.
    badness : mapping
        For squares with bad parts: how bad a piece there would be.

    Raises
    ------
    CuttingError
        If a kit does not come from one square.
    """
    usable = side - 2 * trim
    if usable <= 0:
        raise CuttingError(
            f"Trimming {say_inches(trim)} in from each edge leaves no square; trim less."
        )
    found = []
    for stack, squares in stacks.items():
        demand: dict[Kit, int] = {}
        for slot in layout.slots:
            if slot.stack == stack:
                demand[slot.kit] = demand.get(slot.kit, 0) + 1
        found.append(_cut_stack(stack, demand, squares, (side, usable), badness or {}))
    return tuple(found)


def _cut_stack(
    stack: str,
    demand: Mapping[Kit, int],
    squares: Sequence[str],
    sides: tuple[Fraction, Fraction],
    badness: Mapping[str, Badness],
) -> StackCutting:
    """``sides`` of a square as it comes, and as trimming leaves it."""
    kinds, wanted = tuple(demand), tuple(demand.values())
    side, usable = sides
    able = SquareGiving(stack, kinds, usable, side)
    most = tuple(able.most(i) for i in range(len(kinds)))
    vectors = able.vectors(wanted)
    needed = fewest_squares(vectors, wanted)
    shares = _share_out(vectors, wanted, len(squares)) if len(squares) >= needed else ()
    cuts = tuple(
        _cut_square(square, kits, able, badness.get(square))
        for square, kits in zip(squares, shares, strict=False)
    )
    return StackCutting(
        stack, kinds, wanted, most, needed, len(squares), cuts,
        _sentence(stack, needed, len(squares), wanted)
        + _short_by_trimming(able, wanted, needed, len(squares)),
    )  # fmt: skip


def _short_by_trimming(able: SquareGiving, wanted: tuple[int, ...], needed: int, have: int) -> str:
    """Say so where squares do not suffice only because they are trimmed; else ""."""
    if have >= needed or able.usable == able.side:
        return ""
    whole = SquareGiving(able.stack, able.kinds, able.side, able.side)
    try:
        would = fewest_squares(whole.vectors(wanted), wanted)
    except CuttingError:
        # More kinds of pieces than can be tried: nothing to be told then.
        return ""
    if would >= needed:
        return ""
    trimming = f"trimming {say_inches((able.side - able.usable) / 2)} in from each edge"
    if would <= have:
        return f" It is {trimming} that makes them fall short: untrimmed, they would do."
    return f" A part of that comes from {trimming}: untrimmed, {would} would be needed."


def _sentence(stack: str, needed: int, have: int, wanted: tuple[int, ...]) -> str:
    if not wanted:
        return f"{stack}: the quilt takes nothing from this stack."
    if have < needed:
        return f"{stack}: {needed} squares are needed and there are {have}: {needed - have} short."
    if have == needed:
        return f"{stack}: all {have} squares are needed."
    return (
        f"{stack}: {have} squares are enough; {needed} would do, "
        "and the others keep the prints varied."
    )


def _share_out(
    vectors: Sequence[tuple[int, ...]], wanted: tuple[int, ...], squares: int
) -> list[tuple[int, ...]]:
    """Kits for each square, as evenly as can be; the fuller squares first."""
    if not wanted or squares == 0:
        return [(0,) * len(wanted)] * squares
    if len(wanted) == 1:
        low, extra = divmod(wanted[0], squares)
        return [(low + (i < extra),) for i in range(squares)]
    costs = [float(sum(v) ** 2) for v in vectors]
    chosen = shared_out(choose_patterns(vectors, wanted, costs, exactly=True, total=squares))
    shares = [v for v, times in zip(vectors, chosen, strict=True) for _ in range(times)]
    return sorted(shares, key=lambda v: (-sum(v), v))


def _cut_square(
    square: str, kits: tuple[int, ...], able: SquareGiving, bad: Badness | None
) -> SquareCut:
    wanted, counts = able.pieces(kits)
    side = able.usable
    if not wanted:
        whole = CutPart(Fraction(0), Fraction(0), side, side, None)
        return SquareCut(square, kits, Cutting(side, side, (), (), (whole,), (), "Stays whole."))
    plain = _plain(side, tuple(wanted), counts)
    if bad is None:
        return SquareCut(square, kits, plain)
    plainly = [
        bad(float(p.x), float(p.y), float(p.width), float(p.height))
        for p in plain.parts
        if p.piece is not None
    ]
    there = sum(plainly)
    # Nothing to gain where nothing melts, and nothing to be found where everything does.
    if there <= _WORTH_AVOIDING or there >= _HOPELESS * sum(counts):
        return SquareCut(square, kits, plain)
    around, badness = cut_around(side, side, wanted, counts, bad)
    saved = sum(badness) < there - max(_WORTH_AVOIDING, _WORTH_SHARE * there)
    # A pale fabric that melts everywhere a little less is still no piece to sew: slow cuts and
    # slivers are for pieces that come out good.
    spoilt = [v for p, v in zip(around.parts, badness, strict=True) if p.piece is not None]
    better = saved and _bad_pieces(spoilt) < _bad_pieces(plainly)
    return SquareCut(square, kits, around if better else plain, better, badness if better else ())


def _bad_pieces(badness: Sequence[float]) -> int:
    return sum(value > MOST_MELTING for value in badness)


@cache
def _plain(side: Fraction, wanted: tuple[PieceWanted, ...], counts: tuple[int, ...]) -> Cutting:
    return Guillotine(side, side, wanted).cutting(counts)


def spare_squares(cutting: StackCutting, size: Fraction) -> int:
    """Return how many squares of ``size`` inches the waste of a stack still gives, part by part;
    squares that stay whole are no waste."""
    return sum(
        floor(part.width / size) * floor(part.height / size)
        for cut in cutting.cuts
        if any(cut.kits)
        for part in cut.cutting.parts
        if part.piece is None
    )
