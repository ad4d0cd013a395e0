"""What is cut for each unit of a pattern, fabric by fabric, and how often a quilt has each unit."""

from collections.abc import Mapping
from dataclasses import dataclass, replace
from fractions import Fraction
from math import ceil, floor

from colorcore.pattern.patches import CutNeed, Patch, Shape, Then, cut_needs
from colorcore.pattern.sewing import Placed, Quilt, Unit

Needs = Mapping[tuple[Fraction, Fraction, Then], Fraction]
"""Pieces by cut width and height in inches and what then happens to them; a fraction of a piece
where one gives the triangles of several patches."""


@dataclass(frozen=True)
class KitPiece:
    """Whole pieces of one cut size, in inches, that a slot needs."""

    width: Fraction
    height: Fraction
    count: int
    then: Then


Kit = tuple[KitPiece, ...]
"""All that is cut for one slot, from one fabric."""


def unit_needs(unit: Unit) -> tuple[dict[str, Kit], dict[str, Needs]]:
    """Return what is cut for the patches of one unit: a kit for each of its fabrics that comes
    from a stack, by the fabric's name ('same as' followed to its end), and what it needs of each
    yardage, by the yardage's name."""
    kits: dict[str, dict[tuple[Fraction, Fraction, Then], Fraction]] = {}
    yardage: dict[str, dict[tuple[Fraction, Fraction, Then], Fraction]] = {}
    for need in unit_cuts(unit):
        source = unit.source(need.fabric)
        into = (
            kits.setdefault(source.name, {})
            if source.stack is not None
            else yardage.setdefault(source.yardage or "", {})
        )
        size = (need.width, need.height, need.then)
        into[size] = into.get(size, Fraction(0)) + need.count
    return {name: _whole(kit) for name, kit in kits.items()}, dict(yardage)


def unit_cuts(unit: Unit) -> tuple[CutNeed, ...]:
    """Return what is cut for all patches of one unit, patch by patch.

    A strip set that holds a fabric from a square is sewn from strips as long as that square can
    give, all of them alike, and its yardage too; of yardage alone its segments are counted, and the
    strips run across the cloth.
    """
    times: dict[str, int] = {}
    for row in unit.rows:
        for placed in row:
            times[placed.name] = times.get(placed.name, 0) + 1
    found: list[CutNeed] = []
    for patch in unit.patches:
        wanted = times.get(patch.name, 0)
        if not wanted:
            continue
        runs = _runs(unit, patch, wanted)
        for need in cut_needs(patch):
            if not runs:
                then = Then.ACROSS if need.then.in_strips else need.then
                found.append(replace(need, count=need.count * wanted, then=then))
            found += [
                replace(
                    need,
                    height=need.height * segments,
                    count=Fraction(number),
                    then=Then.STRIP if segments > 1 else Then.SEGMENT,
                )
                for segments, number in runs
            ]
    return tuple(found)


def longest_run(unit: Unit, patch: Patch) -> int | None:
    """Return how many segments the longest strip of a strip set gives; None where the strips run
    across yardage, as long as that is wide."""
    wanted = sum(placed.name == patch.name for row in unit.rows for placed in row)
    runs = _runs(unit, patch, wanted) if wanted else ()
    return max(segments for segments, _ in runs) if runs else None


def _runs(unit: Unit, patch: Patch, wanted: int) -> tuple[tuple[int, int], ...]:
    """Into how long strips a strip set with a fabric from a square is parted: (segments in a
    strip, how many such strips), the fewest and most even; none for any other patch."""
    if patch.shape is not Shape.STRIP_SET:
        return ()
    if all(unit.source(strip.fabric).stack is None for strip in patch.strips):
        return ()
    segment = cut_needs(patch)[0].height
    parts = ceil(wanted / max(floor(unit.square / segment), 1))
    short, longer = divmod(wanted, parts)
    runs = ((short + 1, longer), (short, parts - longer))
    return tuple((segments, number) for segments, number in runs if number)


def count_units(quilt: Quilt, units: Mapping[str, Unit]) -> dict[str, int]:
    """Return how often each unit lies in a quilt, at any depth, by name."""
    found: dict[str, int] = {}
    _count(quilt.rows, units, 1, found)
    # A unit holds only units that are named before it.
    for name in reversed(list(units)):
        if name in found:
            _count(units[name].rows, units, found[name], found)
    return found


def _count(
    rows: tuple[tuple[Placed, ...], ...],
    units: Mapping[str, Unit],
    times: int,
    found: dict[str, int],
) -> None:
    for row in rows:
        for placed in row:
            if placed.name in units:
                found[placed.name] = found.get(placed.name, 0) + times


def _whole(needs: Needs) -> Kit:
    pieces = [KitPiece(w, h, ceil(count), then) for (w, h, then), count in needs.items()]
    return tuple(sorted(pieces, key=lambda p: (-p.width * p.height, p.width, p.then.value)))
