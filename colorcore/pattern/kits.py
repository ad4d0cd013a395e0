"""What is cut for each unit of a pattern, fabric by fabric, and how often a quilt has each unit."""

from collections.abc import Mapping
from dataclasses import dataclass
from fractions import Fraction
from math import ceil

from colorcore.pattern.patches import Then, cut_needs
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
    times: dict[str, int] = {}
    for row in unit.rows:
        for placed in row:
            times[placed.name] = times.get(placed.name, 0) + 1
    kits: dict[str, dict[tuple[Fraction, Fraction, Then], Fraction]] = {}
    yardage: dict[str, dict[tuple[Fraction, Fraction, Then], Fraction]] = {}
    for patch in unit.patches:
        for need in cut_needs(patch):
            source = unit.source(need.fabric)
            wanted = need.count * times.get(patch.name, 0)
            if not wanted:
                continue
            into = (
                kits.setdefault(source.name, {})
                if source.stack is not None
                else yardage.setdefault(source.yardage or "", {})
            )
            size = (need.width, need.height, need.then)
            into[size] = into.get(size, Fraction(0)) + wanted
    return {name: _whole(kit) for name, kit in kits.items()}, dict(yardage)


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
    pieces = [
        # The segments of a strip set are cut from one strip.
        KitPiece(w, h * ceil(count), 1, then)
        if then is Then.STRIP
        else KitPiece(w, h, ceil(count), then)
        for (w, h, then), count in needs.items()
    ]
    return tuple(sorted(pieces, key=lambda p: (-p.width * p.height, p.width, p.then.value)))
