"""Which way to press each seam.

Toward a plain piece where the other side is sewn of several, since seams that are folded back on
themselves stand up and blunt the points; else toward the darker fabric, so that no dark seam
allowance shows through a light patch; but where the seams of two rows meet, the rows are pressed to
opposite sides, so that the seams nest (all common practice, no source). Every answer is given for
every seam, and where they disagree.
"""

from collections.abc import Callable, Hashable, Mapping, Sequence
from dataclasses import dataclass, replace
from fractions import Fraction
from itertools import pairwise, product
from typing import Final

import numpy as np

from colorcore.pattern.layout import Layout, area_and_center
from colorcore.pattern.patches import Patch, Shape, facets
from colorcore.pattern.sewing import Placed, Unit
from colorcore.swatch import Swatch
from colorcore.wording import listing

EITHER: Final = "either"
_SAME_VALUE: Final = 2.0
_MOST_MIXED: Final = 4


@dataclass(frozen=True)
class SeamPressing:
    """One seam of a row, or between two rows.

    ``one`` and ``other`` name what it joins: left and right, or upper and lower. ``darker`` says
    which of left/right (up/down) is darker, or either; ``plain`` which one is a single piece of
    cloth while the other is sewn of several, or "" if both are or neither; ``nest`` where nesting
    wants it, or "" where no seam meets it. ``against`` of ``units`` units have the darker fabric on
    the other side.
    """

    one: str
    other: str
    darker: str
    nest: str = ""
    plain: str = ""
    against: int = 0
    units: int = 1

    @property
    def press(self) -> str:
        """Which way to press: as nesting wants it, else toward what is plain or darker."""
        return self.nest or self.wish

    @property
    def wish(self) -> str:
        """Which way the seam would go by itself: toward a plain piece, else the darker fabric."""
        return self.plain or self.darker

    @property
    def disagrees(self) -> bool:
        """True if nesting wants another side than the seam would go to by itself."""
        return bool(self.nest) and self.wish != EITHER and self.nest != self.wish


@dataclass(frozen=True)
class RowPressing:
    """The seams of one row from left to right; ``sentence`` says how to press the row."""

    row: int
    seams: tuple[SeamPressing, ...]
    sentence: str


@dataclass(frozen=True)
class UnitPressing:
    """How a unit is pressed: inside its patches, row by row, and between its rows."""

    unit: str
    patches: tuple[str, ...]
    rows: tuple[RowPressing, ...]
    between: tuple[SeamPressing, ...]


def plan_pressing(
    layout: Layout,
    filled: Sequence[Swatch],
    yardage: Mapping[str, float],
) -> tuple[UnitPressing, ...]:
    """Return how to press every unit and section of a quilt, inner ones first, and its rows last.

    Parameters
    ----------
    filled : sequence of Swatch
        The fabric of each slot.
    yardage : mapping
        L* of the background and other yardages by name; unknown ones are left out.
    """
    values = _Values(layout, filled, yardage)
    planned = [
        _press_unit(unit, values)
        for unit in layout.units.values()
        if any(name == unit.name for name, _ in layout.makes)
    ]
    quilt = layout.quilt
    whole = Unit(
        "the quilt's rows", (), (), quilt.rows, quilt.width, quilt.height, Fraction(0), True
    )
    return (*planned, _press_unit(whole, values))


class _Values:
    """L* of every fabric of every unit, instance by instance."""

    def __init__(
        self, layout: Layout, filled: Sequence[Swatch], yardage: Mapping[str, float]
    ) -> None:
        self.units = layout.units
        self.yardage = yardage
        self.shares = {
            unit.name: {patch.name: _shares(patch) for patch in unit.patches}
            for unit in layout.units.values()
        }
        self.means: dict[str, float | None] = {}
        self.instances: dict[str, dict[Hashable, dict[str, float]]] = {}
        self.squares: dict[str, dict[Hashable, dict[str, str]]] = {}
        for slot, swatch in zip(layout.slots, filled, strict=True):
            place = (slot.cell, slot.path)
            at = self.instances.setdefault(slot.unit, {}).setdefault(place, {})
            at[slot.fabric] = swatch.lab[0]
            of = self.squares.setdefault(slot.unit, {}).setdefault(place, {})
            of[slot.fabric] = swatch.id

    def of(self, unit: Unit) -> list[dict[str, float]]:
        """L* by fabric name for each instance of a unit; one without stacks has one instance."""
        found = []
        for chosen in self.instances.get(unit.name, {"": {}}).values():
            values = {}
            for fabric in unit.fabrics:
                source = unit.source(fabric.name)
                if source.yardage is not None and source.yardage in self.yardage:
                    values[fabric.name] = self.yardage[source.yardage]
                elif source.name in chosen:
                    values[fabric.name] = chosen[source.name]
            found.append(values)
        return found

    def named(self, unit: Unit) -> list[dict[str, str]]:
        """Addresses of the squares by fabric name for each instance of a unit, as ``of``."""
        return [
            {
                fabric.name: chosen[source]
                for fabric in unit.fabrics
                if (source := unit.source(fabric.name).name) in chosen
            }
            for chosen in self.squares.get(unit.name, {"": {}}).values()
        ]

    def mean(self, unit: Unit) -> float | None:
        """Mean L* of a unit over its area and its instances."""
        if unit.name not in self.means:
            self.means[unit.name] = self._mean(unit)
        return self.means[unit.name]

    def patch(self, unit: Unit, name: str, values: Mapping[str, float]) -> float | None:
        """Mean L* of a patch by area, or None if a fabric's value is unknown."""
        shares = self.shares[unit.name][name]
        if any(fabric not in values for fabric, _ in shares):
            return None
        return sum(share * values[fabric] for fabric, share in shares)

    def _mean(self, unit: Unit) -> float | None:
        total, area = 0.0, 0.0
        patches = {p.name: p for p in unit.patches}
        instances = self.of(unit)
        for row in unit.rows:
            for placed in row:
                if placed.name in patches:
                    patch = patches[placed.name]
                    size = float(patch.width * patch.height)
                    known = [
                        v
                        for v in (self.patch(unit, patch.name, i) for i in instances)
                        if v is not None
                    ]
                    value = sum(known) / len(known) if known else None
                else:
                    inner = self.units[placed.name]
                    size = float(inner.width * inner.height)
                    value = self.mean(inner)
                if value is not None:
                    total, area = total + size * value, area + size
        return total / area if area else None


def _shares(patch: Patch) -> tuple[tuple[str, float], ...]:
    """Share of a patch's area by fabric."""
    whole = float(patch.width * patch.height)
    return tuple(
        (facet.fabric, area_and_center(np.array(facet.polygon, dtype=float))[0] / whole)
        for facet in facets(patch)
    )


def _press_unit(unit: Unit, values: _Values) -> UnitPressing:
    patches = {p.name: p for p in unit.patches}
    instances = values.of(unit)

    def value(placed: Placed, instance: Mapping[str, float]) -> float | None:
        if placed.name in patches:
            return values.patch(unit, placed.name, instance)
        return values.mean(values.units[placed.name])

    def plain(row: Sequence[Placed]) -> bool:
        part = patches.get(row[0].name)
        return len(row) == 1 and part is not None and part.shape is Shape.PLAIN

    def width(placed: Placed) -> Fraction:
        part = patches.get(placed.name) or values.units[placed.name]
        return part.width if placed.turn % 180 == 0 else part.height

    seams_at = [_seam_places(row, width) for row in unit.rows]
    raw: list[list[SeamPressing]] = []
    for row in unit.rows:
        raw.append(
            [
                _compare(
                    one.words, other.words, ("left", "right"),
                    [(value(one, i), value(other, i)) for i in instances],
                    (plain([one]), plain([other])),
                )
                for one, other in pairwise(row)
            ]
        )  # fmt: skip
    nested = _nest(raw, seams_at)
    rows = tuple(RowPressing(n, tuple(row), _say_row(n, row)) for n, row in enumerate(nested, 1))
    between = []
    for n, (upper, lower) in enumerate(pairwise(unit.rows), 1):
        pairs = [
            (_row_value(upper, i, value, width), _row_value(lower, i, value, width))
            for i in instances
        ]
        flat = plain(upper), plain(lower)
        between.append(_compare(f"row {n}", f"row {n + 1}", ("up", "down"), pairs, flat))
    named = values.named(unit)
    notes = tuple(
        note
        for patch in unit.patches
        if (note := _press_patch(patch, instances, named)) is not None
    )
    return UnitPressing(unit.name, notes, rows, tuple(between))


def _seam_places(row: Sequence[Placed], width: Callable[[Placed], Fraction]) -> list[Fraction]:
    places, x = [], Fraction(0)
    for placed in row[:-1]:
        x += width(placed)
        places.append(x)
    return places


def _row_value(
    row: Sequence[Placed],
    instance: Mapping[str, float],
    value: Callable[[Placed, Mapping[str, float]], float | None],
    width: Callable[[Placed], Fraction],
) -> float | None:
    total, length = 0.0, 0.0
    for placed in row:
        here = value(placed, instance)
        if here is None:
            return None
        share = float(width(placed))
        total, length = total + here * share, length + share
    return total / length


def _compare(
    one: str,
    other: str,
    sides: tuple[str, str],
    pairs: Sequence[tuple[float | None, float | None]],
    plain: tuple[bool, bool],
) -> SeamPressing:
    """The darker side over all instances, how many go the other way, and the plain side."""
    votes = {sides[0]: 0, sides[1]: 0}
    for a, b in pairs:
        if a is not None and b is not None and abs(a - b) >= _SAME_VALUE:
            votes[sides[0] if a < b else sides[1]] += 1
    first, second = votes[sides[0]], votes[sides[1]]
    darker = EITHER if first == second else sides[0] if first > second else sides[1]
    against = 0 if darker == EITHER else min(first, second)
    flat = "" if plain[0] == plain[1] else sides[0] if plain[0] else sides[1]
    return SeamPressing(one, other, darker, "", flat, against, len(pairs))


def _nest(
    rows: Sequence[Sequence[SeamPressing]], places: Sequence[Sequence[Fraction]]
) -> list[list[SeamPressing]]:
    """Turn seams that meet to opposite sides, the way that agrees most often with their wish."""
    count = len(rows)
    meets = [
        {
            x
            for near in (n - 1, n + 1)
            if 0 <= near < count
            for x in set(places[n]) & set(places[near])
        }
        for n in range(count)
    ]

    def settle(phases: Mapping[Fraction, bool]) -> list[list[SeamPressing]]:
        return [
            [
                replace(s, nest=("right" if (n % 2 == 0) == phases[x] else "left"))
                if x in meets[n]
                else s
                for s, x in zip(row, places[n], strict=True)
            ]
            for n, row in enumerate(rows)
        ]

    every = sorted({x for at in places for x in at})
    ways = [settle(dict.fromkeys(every, phase)) for phase in (True, False)]
    if len(every) <= _MOST_MIXED:
        # In a small unit each seam may go its own way, as long as it meets its opposite.
        ways += [
            settle(dict(zip(every, mix, strict=True)))
            for mix in product((True, False), repeat=len(every))
        ]
    return min(ways, key=lambda way: sum(s.disagrees for row in way for s in row))


def _say_row(number: int, seams: Sequence[SeamPressing]) -> str:
    if not seams:
        return f"Row {number}: no seam."
    ways = {seam.press for seam in seams}
    if len(ways) == 1:
        way = ways.pop()
        said = f"Row {number}: press all to the {way}" if way != EITHER else (
            f"Row {number}: press to either side"
        )  # fmt: skip
    else:
        listed = ", ".join(
            f"seam {n} {'to the ' if s.press != EITHER else 'to '}{s.press}"
            + (" side" if s.press == EITHER else "")
            for n, s in enumerate(seams, 1)
        )
        said = f"Row {number}: {listed}"
    told = []
    for what, at in (
        ("plain piece", [n for n, s in enumerate(seams, 1) if s.disagrees and s.plain]),
        ("darker fabric", [n for n, s in enumerate(seams, 1) if s.disagrees and not s.plain]),
    ):
        if at:
            places = ", ".join(map(str, at))
            told.append(
                f"the {what} lies the other way at seam{'s' if len(at) > 1 else ''} {places}"
            )
    return f"{said}, so that the rows nest; {'; '.join(told)}." if told else f"{said}."


def _press_corners(
    patch: Patch, instances: Sequence[Mapping[str, float]], named: Sequence[Mapping[str, str]]
) -> str:
    """How to press flipped corners: as most of them go by value, and which squares' do not."""
    base = patch.fabrics[0]
    found: list[tuple[bool, str]] = []
    for values, squares in zip(instances, named, strict=True):
        for corner in patch.corners:
            if corner.fabric in values and base in values:
                # The square that is of the stack; of two, they are named together.
                names = [squares[f] for f in (corner.fabric, base) if f in squares]
                found.append((values[corner.fabric] < values[base], " on ".join(names)))
    if not found:
        return f"{patch.name}: press the corner open, toward the darker fabric."
    out = 2 * sum(outward for outward, _ in found) >= len(found)
    others = list(dict.fromkeys(names for outward, names in found if outward != out))
    ways = ("outward, toward the corner", "inward, toward the base")
    said = f"{patch.name}: press the corner seam {ways[0] if out else ways[1]}"
    if not others:
        return f"{said}."
    return f"{said}; but {ways[1] if out else ways[0]}, where it is cut from {listing(others)}."


def _press_patch(
    patch: Patch, instances: Sequence[Mapping[str, float]], named: Sequence[Mapping[str, str]]
) -> str | None:
    if patch.shape is Shape.PLAIN:
        return None
    if patch.shape is Shape.GEESE:
        return f"{patch.name}: press toward the sky triangles, away from the goose's point."
    if patch.shape is Shape.FLIPPED_CORNERS:
        return _press_corners(patch, instances, named)
    if patch.shape is Shape.STRIP_SET:
        return f"{patch.name}: press every seam of the strip set toward the darker strip."
    return f"{patch.name}: press toward the darker triangle."
