"""The sheet's pages on sewing: units, where every piece goes, rows."""

from collections.abc import Mapping
from fractions import Fraction
from itertools import pairwise
from math import ceil
from typing import Final

import numpy as np

from colorcore.lengths import SEAM, Measure
from colorcore.making import Making
from colorcore.pattern.kits import longest_run, unit_cuts
from colorcore.pattern.patches import Patch, Shape, Then
from colorcore.pattern.sewing import BACKGROUND, Unit
from colorcore.piecing import UnitPressing
from colorcore.preview import paint
from colorcore.sheets.cutting_pages import THEN_WORDS
from colorcore.sheets.cutting_parts import Drawn, Recipe, Row, pictured
from colorcore.sheets.cutting_unit_drawings import place_map, unit_diagram
from colorcore.wording import listing, sentence

_MAP_WIDTH: Final = 66.0

_MAP_SHAPE: Final = 1.2

_LETTERS: Final = "abcdefghijklmnopqrstuvwxyz"


def recipes(making: Making, say: Measure) -> tuple[Recipe, ...]:
    """Return how every unit and section is made, inner ones first."""
    pressing = {p.unit: p for p in making.pressing}
    found = []
    for unit in making.layout.units.values():
        plain = making.layout.makes.get((unit.name, False), 0)
        mirrored = making.layout.makes.get((unit.name, True), 0)
        if plain + mirrored == 0:
            continue
        letters = {f.name: _LETTERS[i % 26] for i, f in enumerate(unit.fabrics)}
        for fabric in unit.fabrics:
            letters[fabric.name] = letters[unit.source(fabric.name).name]
        found.append(_recipe(making, unit, plain, mirrored, letters, pressing[unit.name], say))
    return tuple(found)


def _recipe(
    making: Making,
    unit: Unit,
    plain: int,
    mirrored: int,
    letters: Mapping[str, str],
    pressing: UnitPressing,
    say: Measure,
) -> Recipe:
    make = f"Make {plain + mirrored}"
    if mirrored and plain:
        make += f": {plain} as drawn and {mirrored} mirrored"
    elif mirrored:
        make += ", all mirrored"
    words = f"{unit.name}: fabrics {', '.join(sorted(set(letters.values())))} and how to press"
    if unit.is_section:
        words = f"{unit.name}: its units in rows, with pressing arrows"
    return Recipe(
        name=unit.name,
        make=make,
        size=say.size(unit.width, unit.height) + " finished, "
        + say.cut(unit.width, unit.height)
        + " before it is sewn in",
        drawing=Drawn(
            words,
            unit_diagram(
                unit, making.layout.units, letters, _greys(making, unit), pressing, words
            ),
        ),
        photo=_photo(making, unit),
        pieces=_pieces(making, unit, letters, plain + mirrored, say),
        steps=_steps(unit, plain + mirrored, say),
        pressing=(*pressing.patches, *(row.sentence for row in pressing.rows if row.seams),
                  *_between(pressing), *_when_mirrored(unit, mirrored)),
        is_section=unit.is_section,
    )  # fmt: skip


def _when_mirrored(unit: Unit, mirrored: int) -> list[str]:
    if not mirrored or all(len(row) == 1 for row in unit.rows):
        return []
    return ["In mirrored units, left and right change places."]


def _between(pressing: UnitPressing) -> list[str]:
    ways = {seam.press for seam in pressing.between}
    if not ways:
        return []
    if len(ways) == 1:
        way = ways.pop()
        return [f"Between rows: press {'to either side' if way == 'either' else way}."]
    return [
        "Between rows: " + ", ".join(
            f"{s.one} and {s.other.removeprefix('row ')} "
            f"{'to either side' if s.press == 'either' else s.press}" for s in pressing.between
        ) + "."
    ]  # fmt: skip


def _greys(making: Making, unit: Unit) -> dict[str, float]:
    """Mean L* of each fabric of a unit over the quilt."""
    sums: dict[str, list[float]] = {}
    for slot, swatch in zip(making.layout.slots, making.filled, strict=True):
        if slot.unit == unit.name:
            sums.setdefault(slot.fabric, []).append(swatch.lab[0])
    greys = {}
    for fabric in unit.fabrics:
        source = unit.source(fabric.name)
        if source.name in sums:
            greys[fabric.name] = sum(sums[source.name]) / len(sums[source.name])
        elif source.yardage == BACKGROUND:
            greys[fabric.name] = making.plan.background.lab[0]
    return greys


def _photo(making: Making, unit: Unit) -> Drawn | None:
    """One of these units from the quilt, turned back to lie as drawn; None if all are mirrored,
    since cloth cannot be."""
    places = [p for p in making.layout.places if p.name == unit.name and not p.mirrored]
    if not places:
        return None
    place = min(places, key=lambda p: p.turn)
    left, top, right, bottom = place.box
    picture = paint(making.sewn, 420 / max(right - left, bottom - top), region=place.box)
    row, column = place.cell
    return pictured(
        f"{unit.name} in row {row + 1}, unit {column + 1}, from your fabrics",
        np.ascontiguousarray(np.rot90(picture, place.turn // 90)),
    )


def _pieces(
    making: Making, unit: Unit, letters: Mapping[str, str], times: int, say: Measure
) -> tuple[tuple[str, str, str], ...]:
    needs: dict[tuple[str, Fraction, Fraction, Then], Fraction] = {}
    for need in unit_cuts(unit):
        key = (unit.source(need.fabric).name, need.width, need.height, need.then)
        needs[key] = needs.get(key, Fraction(0)) + need.count
    found = []
    for (fabric, width, height, then), number in needs.items():
        source = unit.source(fabric)
        origin = source.yardage or source.stack or ""
        said = f"{_count(number)} of {say.size(width, height)}"
        if then is Then.ACROSS and number * times == 1:
            then = Then.SEGMENT
        if then is not Then.WHOLE:
            said += f", {THEN_WORDS[then]}"
        found.append((letters[fabric], origin, f"{said} ({ceil(number * times)} in all)"))
    return tuple(found)


def _count(number: Fraction) -> str:
    if number.denominator == 1:
        return str(number)
    whole, rest = divmod(number, 1)
    part = {Fraction(1, 2): "½", Fraction(1, 4): "¼", Fraction(3, 4): "¾"}.get(rest, str(rest))
    return f"{whole or ''}{part}"


def _steps(unit: Unit, times: int, say: Measure) -> tuple[str, ...]:
    """How the patches of so many units are sewn, like ones together, then how they are joined."""
    alike: dict[str, list[str]] = {}
    for patch in unit.patches:
        if patch.shape is not Shape.PLAIN:
            alike.setdefault(_how_to_sew(unit, patch, times, say), []).append(patch.name)
    steps = [f"{listing(names)}: {how}" for how, names in alike.items()]
    if len(unit.rows) > 1 or len(unit.rows[0]) > 1:
        what = "units" if unit.is_section else "patches"
        steps.append(f"Sew the {what} into rows as drawn, then the rows together.")
    return tuple(sentence(step) for step in steps)


def _how_to_sew(unit: Unit, patch: Patch, times: int, say: Measure) -> str:
    seam = say.length(SEAM)
    if patch.shape is Shape.FLIPPED_CORNERS:
        corner = "the corner" if len(patch.corners) == 1 else "a corner"
        return (
            f"mark a diagonal on the wrong side of each small square, lay it on {corner} of the "
            f"{say.cut(patch.width, patch.height)} piece, right sides together, sew on the line, "
            f"trim {seam} beyond it, flip open."
        )
    if patch.shape is Shape.HALF_SQUARE:
        return (
            "sew one triangle of each along the long side; or two at once: lay two uncut squares "
            f"right sides together, mark a diagonal, sew {seam} to either side of it, cut on it."
        )
    if patch.shape is Shape.QUARTER_SQUARE:
        return "sew the four triangles in pairs along their short sides, then the pairs together."
    if patch.shape is Shape.GEESE:
        return "sew a sky triangle to each short side of the goose, one after the other."
    sewn = "sew the strips side by side along their length"
    # Strips across the cloth hold the segments of all units.
    lying = sum(placed.name == patch.name for row in unit.rows for placed in row)
    if (longest_run(unit, patch) or lying * times) == 1:
        return f"{sewn}."
    return f"{sewn}, then cut across every {say.length(patch.height + 2 * SEAM)}."


def maps(making: Making) -> tuple[Drawn, ...]:
    """Return the quilt with an address on every patch, in parts that can be read on a page."""
    layout = making.layout
    rows, columns = len(layout.quilt.rows), max(len(row) for row in layout.quilt.rows)
    # What fits on a page with addresses large enough to read.
    across = ceil(layout.width / _MAP_WIDTH)
    down = ceil(layout.height / (_MAP_SHAPE * layout.width / across))
    found = []
    for r in _bands(rows, down):
        for c in _bands(columns, across):
            words = "Where every piece goes: each patch carries the address of its square"
            if down * across > 1:
                words += f"; rows {r.start + 1} to {r.stop}, units {c.start + 1} to {c.stop}"
            found.append(Drawn(words, place_map(layout, making.pairing, r, c, words)))
    return tuple(found)


def _bands(total: int, parts: int) -> list[range]:
    edges = [round(i * total / parts) for i in range(parts + 1)]
    return [range(a, b) for a, b in pairwise(edges) if b > a]


def rows(making: Making) -> tuple[Row, ...]:
    """Return the rows of the quilt with the addresses of their pieces in sewing order."""
    by_cell: dict[tuple[int, int], list[str]] = {}
    last: dict[tuple[int, int], tuple[object, ...]] = {}
    for slot in making.layout.slots:
        square = making.pairing.supplies[slot.number].square
        entry = by_cell.setdefault(slot.cell, [])
        if entry and last[slot.cell] == (slot.unit, slot.path):
            entry[-1] += f" + {square}"
        else:
            entry.append(square)
        last[slot.cell] = (slot.unit, slot.path)
    whole = making.pressing[-1]
    found = []
    for r, row in enumerate(making.layout.quilt.rows):
        units = tuple(
            (placed.words, ", ".join(by_cell.get((r, c), []))) for c, placed in enumerate(row)
        )
        press = whole.rows[r].sentence if whole.rows[r].seams else ""
        found.append(Row(r + 1, units, sentence(press.partition(": ")[2])))
    return tuple(found)
