"""Whether squares give what a pattern cuts from them, before a square is bought or measured."""

from collections.abc import Mapping, Sequence
from fractions import Fraction
from math import ceil, prod
from typing import Final

from colorcore.cutting.giving import SquareGiving, fewest_squares, piece_name
from colorcore.cutting.guillotine import Effort, Guillotine, PieceWanted
from colorcore.errors import CuttingError
from colorcore.lengths import exact_inches, say_inches
from colorcore.pattern.fields import Table
from colorcore.pattern.kits import Kit, count_units, unit_needs
from colorcore.pattern.model import Pattern, PatternSize, PieceRule
from colorcore.pattern.sewing import Sewing, Unit
from colorcore.wording import count, listing

Kits = Mapping[str, Mapping[str, Kit]]
_MOST_MIXES: Final = 60
_MOST_EFFORT: Final = 150_000
"""What is tried of all sizes while a pattern is read; the patterns that come along take 4,000."""


def check_pieces_fit(
    table: Table, pieces: Sequence[PieceRule], square: Fraction, effort: Effort
) -> None:
    """Refuse pieces of a stack, whose table this is, that straight cuts of one square of so many
    inches do not give; stacks share the ``effort``.

    Raises
    ------
    PatternError
        Naming file and stack, the pieces and what a square gives of them.
    """
    wanted = [
        PieceWanted(piece_name(p.width, p.height), p.width, p.height, p.per_square) for p in pieces
    ]
    if wanted:
        _check(table, "piece", wanted, square, "the stack wants {}", effort)


def check_sewing_fits(pattern: Pattern, sewing: Sewing) -> None:
    """Refuse a pattern with a unit that wants more of one square than straight cuts of it give,
    or with a size that deals a stack fewer squares than its quilt takes pieces of.

    Raises
    ------
    PatternError
        Naming file, unit and fabric, what the unit wants and what a square gives; or file, size
        and stack, and how many squares it takes at least.
    """
    source, square = pattern.source or pattern.name, exact_inches(pattern.square_inches)
    kits = _check_units(Table(pattern.sewing, source, ""), sewing, square)
    effort = Effort(_MOST_EFFORT)
    for number, size in enumerate(pattern.sizes, 1):
        quilt = sewing.quilt(size.name)
        if quilt is not None:
            place = Table({}, source, f"size {number}, squares")
            _check_squares(
                place, size, count_units(quilt, sewing.units), sewing, kits, square, effort
            )


def _check_units(table: Table, sewing: Sewing, square: Fraction) -> Kits:
    """What is cut for each unit that a quilt has, by the unit's and the fabric's name."""
    used = {name for quilt in sewing.quilts.values() for name in count_units(quilt, sewing.units)}
    kits: dict[str, Mapping[str, Kit]] = {}
    effort = Effort()
    for place in table.tables("unit"):
        unit = sewing.units[place.text("name")]
        if unit.name not in used:
            continue
        kits[unit.name] = unit_needs(unit)[0]
        for fabric, kit in kits[unit.name].items():
            wanted, _ = SquareGiving(unit.name, (kit,), square, square).pieces((1,))
            wish = f"one {unit.name!r} wants {{}} in of one fabric"
            _check(place.table("fabrics"), fabric, wanted, square, wish, effort)
    return kits


def _check_squares(
    table: Table,
    size: PatternSize,
    times: Mapping[str, int],
    sewing: Sewing,
    kits: Kits,
    square: Fraction,
    effort: Effort,
) -> None:
    """``times`` is how often the quilt has each unit."""
    for rule in size.stacks:
        demand: dict[Kit, int] = {}
        for name, kit in _kits_from(rule.name, times, sewing.units, kits):
            demand[kit] = demand.get(kit, 0) + times[name]
        wanted = tuple(demand.values())
        giving = SquareGiving(rule.name, tuple(demand), square, square, effort)
        try:
            needed = _least(giving, wanted)
        except CuttingError:
            # Too many ways to cut them for every one to be tried: that is told where they are cut.
            continue
        if needed > rule.squares:
            table.fail(
                rule.name,
                f"at least {needed}, not {rule.squares}: the units of this size take the pieces "
                f"of {count(needed, 'square')} of {say_inches(square)} in",
            )


def _least(giving: SquareGiving, wanted: tuple[int, ...]) -> int:
    """How many squares are needed, or at least so many where all mixes of kits are more than are
    tried while a pattern is read."""
    if not wanted:
        return 0
    most = [giving.most(kind) for kind in range(len(wanted))]
    alone = max(ceil(n / m) for n, m in zip(wanted, most, strict=True))
    if len(wanted) == 1:
        return alone
    if prod(m + 1 for m in most) <= _MOST_MIXES:
        return fewest_squares(giving.vectors(wanted), wanted)
    area = sum(
        (n * p.width * p.height * p.count
         for kit, n in zip(giving.kinds, wanted, strict=True) for p in kit),
        Fraction(0),
    )  # fmt: skip
    return max(alone, ceil(area / giving.usable**2))


def _kits_from(
    stack: str, times: Mapping[str, int], units: Mapping[str, Unit], kits: Kits
) -> list[tuple[str, Kit]]:
    """The units of a quilt that take something of a stack, each with what is cut for it."""
    return [
        (name, kit)
        for name in times
        for fabric, kit in kits.get(name, {}).items()
        if units[name].source(fabric).stack == stack
    ]


def _check(
    table: Table,
    key: str,
    wanted: Sequence[PieceWanted],
    square: Fraction,
    wish: str,
    effort: Effort,
) -> None:
    try:
        able = Guillotine(square, square, wanted, effort).frontier()
    except CuttingError as error:
        table.fail(key, f"pieces that a square can be cut into: {str(error).removesuffix('.')}")
    if tuple(p.most for p in wanted) in able:
        return
    best = max(
        able, key=lambda c: sum(p.width * p.height * n for p, n in zip(wanted, c, strict=True))
    )
    most = listing([f"{n} of {p.name}" for p, n in zip(wanted, best, strict=True) if n])
    wishes = wish.format(listing([f"{p.most} of {p.name}" for p in wanted]))
    gives = f"at most {most} of these" if most else "none of these"
    table.fail(
        key,
        f"pieces that straight cuts of one square of {say_inches(square)} in give; {wishes}, and "
        f"a square gives {gives}",
    )
