"""What the making sheet says, ready to be laid out: words, tables and drawings, no layout."""

from collections.abc import Mapping
from dataclasses import dataclass, field
from fractions import Fraction
from itertools import pairwise
from math import ceil
from typing import Final

import numpy as np

from colorcore.cutting.kits import SquareCut, StackCutting, spare_squares
from colorcore.lengths import SEAM, Measure
from colorcore.making import Making, YardageNeed
from colorcore.pattern.patches import Shape, Then, cut_needs
from colorcore.pattern.sewing import BACKGROUND, Unit
from colorcore.piecing import UnitPressing
from colorcore.preview import View, paint
from colorcore.sheets.cutting_drawings import (
    backing_drawing,
    place_map,
    square_diagram,
    unit_diagram,
)
from colorcore.sheets.pictures import Picture, jpeg_uri, shrink
from colorcore.sheets.wording import count, listing, sentence

CAUTIONS: Final = (
    "Rotary cutter: close the blade whenever it leaves your hand, cut away from your body, keep "
    "fingers behind the ruler's edge, and change a dull blade, since it slips.",
    "Iron: press, do not rub; mind steam and the iron's face; switch it off and let it cool before "
    "it is put away.",
    "Needle and machine: switch the machine off to change needles, keep fingers clear of a running "
    "needle, count pins and needles back in.",
    "You: stand on something soft, cut at elbow height, look up and stretch every half hour.",
    "The makers' instructions for cutter, ruler, iron, machine and batting come before this sheet.",
)

_THEN_WORDS: Final = {
    Then.WHOLE: "",
    Then.CUT_ONCE: "then once on the diagonal",
    Then.CUT_TWICE: "then twice on the diagonal",
    Then.STRIP: "sewn side by side, then cut across",
}
_MAP_WIDTH: Final = 66.0
_MAP_SHAPE: Final = 1.2
_LETTERS: Final = "abcdefghijklmnopqrstuvwxyz"


@dataclass(frozen=True)
class Drawn:
    """A drawing (SVG) or a picture (pixels) with its words."""

    words: str
    svg: str = ""
    picture: Picture | None = field(default=None, compare=False)


@dataclass(frozen=True)
class Check:
    """Something that was checked: ``ok`` or to be looked at."""

    ok: bool
    text: str


@dataclass(frozen=True)
class SquareKind:
    """Squares that are cut alike."""

    heading: str
    drawing: Drawn
    squares: tuple[str, ...]
    gives: tuple[str, ...]
    left_over: str
    note: str = ""


@dataclass(frozen=True)
class StackPage:
    """How one stack is cut."""

    name: str
    sentence: str
    kinds: tuple[SquareKind, ...]
    spare: str
    proof: str


@dataclass(frozen=True)
class YardagePage:
    """What is cut from one yardage: rows of (strips, height, what each gives, how many)."""

    name: str
    buy: str
    rows: tuple[tuple[str, str, str], ...]
    enough: str
    ok: bool


@dataclass(frozen=True)
class Recipe:
    """How one unit is made."""

    name: str
    make: str
    size: str
    drawing: Drawn
    photo: Drawn | None
    pieces: tuple[tuple[str, str, str], ...]
    steps: tuple[str, ...]
    pressing: tuple[str, ...]
    is_section: bool


@dataclass(frozen=True)
class Row:
    """One row of the quilt: units with the addresses of their pieces, in sewing order."""

    number: int
    units: tuple[tuple[str, str], ...]
    press: str


@dataclass(frozen=True)
class Content:
    """The whole sheet."""

    title: str
    kicker: str
    lead: str
    pictures: tuple[Drawn, ...]
    facts: tuple[tuple[str, str], ...]
    checks: tuple[Check, ...]
    stacks: tuple[tuple[str, str, str], ...]
    cutting: tuple[StackPage, ...]
    yardage: tuple[YardagePage, ...]
    marking: tuple[tuple[str, str], ...]
    recipes: tuple[Recipe, ...]
    maps: tuple[Drawn, ...]
    rows: tuple[Row, ...]
    assembly: tuple[str, ...]
    threads: tuple[str, ...]
    fabrics: tuple[tuple[str, tuple[str, ...]], ...]
    finishing: tuple[str, ...]
    backing: tuple[Drawn, ...]
    shopping: tuple[tuple[str, str], ...]
    cautions: tuple[str, ...]
    footer: str


def sheet_content(making: Making, *, metric: bool = False) -> Content:
    """Return what the making sheet of a plan says, in inches or centimetres."""
    say = Measure(metric)
    quilt = making.layout.quilt
    size = say.size(quilt.width, quilt.height)
    recipes = _recipes(making, say)
    return Content(
        title=making.plan.pattern,
        kicker=" · ".join(
            filter(None, (making.bundle.name or "Bundle", making.plan.size, "making sheet"))
        ),
        lead=(
            f"{size} from {count(sum(len(s.cuts) for s in making.cuts), 'square')} and "
            f"{say.yardage(_need(making, BACKGROUND))} of background."
            if any(n.name == BACKGROUND for n in making.yardage)
            else f"{size} from {count(sum(len(s.cuts) for s in making.cuts), 'square')}."
        ),
        pictures=_pictures(making),
        facts=_facts(making, size, say),
        checks=_checks(making),
        stacks=tuple(
            (stack.name, f"{stack.value}, {stack.role}",
             "  ".join(p.square for p in stack.placements))
            for stack in making.plan.stacks
        ),
        cutting=tuple(
            _stack_page(number, stack, making, say) for number, stack in enumerate(making.cuts)
        ),
        yardage=tuple(_yardage_page(need, say) for need in making.yardage),
        marking=_marking(making),
        recipes=recipes,
        maps=_maps(making),
        rows=_rows(making),
        assembly=_assembly(making, say),
        threads=tuple(choice.sentence for choice in making.threads),
        fabrics=tuple(
            (use, tuple(choice.sentence for choice in choices))
            for use, choices in making.fabrics.items()
        ),
        finishing=_finishing(making, say),
        backing=tuple(
            Drawn(
                f"Backing of {count(backing.panels, 'panel')}, the quilt dashed on it",
                backing_drawing(backing, (quilt.width, quilt.height), "Backing"),
            )
            for backing in making.backing[:1]
        ),
        shopping=_shopping(making, say),
        cautions=CAUTIONS,
        footer=_footer(making, say),
    )  # fmt: skip


def _need(making: Making, name: str) -> Fraction:
    return next(need.length for need in making.yardage if need.name == name)


def _pictures(making: Making) -> tuple[Drawn, ...]:
    sewn = making.sewn
    scale = 1300 / max(sewn.width, sewn.height)
    return tuple(
        Drawn(f"The finished top {view.value}", picture=paint(sewn, scale, view=view))
        for view in View
    )


def _facts(making: Making, size: str, say: Measure) -> tuple[tuple[str, str], ...]:
    layout = making.layout
    units = ", ".join(
        f"{n + layout.makes.get((name, True), 0)} {name}"
        for (name, mirrored), n in layout.makes.items()
        if not mirrored
    )
    only_mirrored = [
        f"{n} {name}" for (name, mirrored), n in layout.makes.items()
        if mirrored and (name, False) not in layout.makes
    ]  # fmt: skip
    rows = making.layout.quilt.rows
    return (
        ("Finished size", size),
        ("Layout", f"{len(rows)} rows of {len(rows[0])}"),
        ("Units", ", ".join([units, *only_mirrored]) if only_mirrored else units),
        ("Seams", say.length(SEAM) + " throughout"),
        ("Usable width of yardage", say.length(making.choices.usable)),
    )


def _checks(making: Making) -> tuple[Check, ...]:
    found = [Check(stack.ok, stack.sentence) for stack in making.cuts if stack.wanted]
    for need in making.yardage:
        if need.enough is not None:
            found.append(Check(need.enough.ok, need.enough.sentence))
    pairing = making.pairing
    if pairing.repeats:
        places = listing(
            [_place(making, i) + " and " + _place(making, j) for i, j in pairing.repeats[:6]]
        )
        found.append(Check(False, f"One fabric lies beside itself: {places}."))
    else:
        found.append(Check(True, "No fabric lies beside itself."))
    if pairing.alike:
        i, j, apart = min(pairing.alike, key=lambda a: a[2])
        found.append(
            Check(
                False,
                f"{count(len(pairing.alike), 'pair')} of prints that should differ clearly "
                f"{'is' if len(pairing.alike) == 1 else 'are'} close; the closest are "
                f"{_place(making, i)} and {_place(making, j)} (ΔE {apart:.0f}).",
            )
        )
    elif any(slot.different for slot in making.layout.slots):
        found.append(Check(True, "Prints that meet in a unit differ clearly."))
    around = [cut.square for stack in making.cuts for cut in stack.cuts if cut.around]
    if around:
        found.append(
            Check(True, f"Cut {listing(around)} as drawn: the cuts go around parts that melt.")
        )
    return tuple(found)


def _place(making: Making, slot: int) -> str:
    row, column = making.layout.slots[slot].cell
    return f"{making.pairing.supplies[slot].square} in row {row + 1}, unit {column + 1}"


def _stack_page(number: int, stack: StackCutting, making: Making, say: Measure) -> StackPage:
    alike: dict[tuple[int, ...], list[SquareCut]] = {}
    own: list[SquareCut] = []
    for cut in stack.cuts:
        if cut.around:
            own.append(cut)
        elif any(cut.kits):
            alike.setdefault(cut.kits, []).append(cut)
    kinds = []
    for n, cuts in enumerate(alike.values()):
        one = cuts[0]
        words = f"{stack.stack}: {_gives_words(one, say)} from one square"
        kinds.append(
            SquareKind(
                heading=f"Cut {count(len(cuts), 'square')} like this",
                drawing=Drawn(
                    words,
                    square_diagram(one.cutting, words, f"s{number}k{n}", metric=say.metric),
                ),
                squares=tuple(cut.square for cut in cuts),
                gives=_gives(one, say),
                left_over=f"{one.cutting.waste:.0%} of the square is left over".replace("%", " %"),
            )
        )
    for n, cut in enumerate(own):
        swatch = making.swatches[cut.square]
        words = f"{cut.square}: {_gives_words(cut, say)}, cut around what melts"
        rim = float(making.choices.trim) / swatch.side_inches
        side = swatch.picture.shape[0]
        inner = swatch.picture[
            round(rim * side) : side - round(rim * side),
            round(rim * side) : side - round(rim * side),
        ]
        kinds.append(
            SquareKind(
                heading=f"{cut.square}, cut on its own",
                drawing=Drawn(
                    words,
                    square_diagram(
                        cut.cutting, words, f"s{number}o{n}",
                        picture=jpeg_uri(shrink(inner, 420)), metric=say.metric,
                    ),
                ),
                squares=(cut.square,),
                gives=_gives(cut, say),
                left_over="",
                note="The cuts go around parts that melt into the background.",
            )
        )  # fmt: skip
    spare = making.pairing.spare
    mine = [s for s in spare if s.stack == stack.stack]
    rest = spare_squares(stack, Fraction(5, 2))
    left = [f"{count(len(mine), 'spare set')} of pieces"] if mine else []
    if rest:
        square = say.length(Fraction(5, 2))
        left.append(f"{rest} more squares of {square} from the waste, if every part is used")
    return StackPage(
        stack.stack,
        stack.sentence,
        tuple(kinds),
        sentence("Left over: " + listing(left)) if left else "",
        stack.cuts[0].cutting.proof if stack.cuts else "",
    )


def _gives(cut: SquareCut, say: Measure) -> tuple[str, ...]:
    return tuple(
        f"{n} of {say.size(p.width, p.height)}"
        for p, n in zip(cut.cutting.pieces, cut.cutting.counts, strict=True)
        if n
    )


def _gives_words(cut: SquareCut, say: Measure) -> str:
    return listing(_gives(cut, say))


def _yardage_page(need: YardageNeed, say: Measure) -> YardagePage:
    rows = []
    for kind in need.strips.kinds:
        gives = listing(
            [
                f"{n} of {say.size(p.width, p.height)}"
                + (f", {_THEN_WORDS[then]}" if (then := need.then[i]) is not Then.WHOLE else "")
                for i, n in kind.pieces
                for p in (need.strips.pieces[i],)
            ]
        )
        rows.append((f"{kind.strips} ×", say.length(kind.height), gives))
    for border in need.borders:
        rows.append(
            (
                f"{border.strips.strips} ×",
                say.length(border.strips.height),
                f"joined for the {border.name}: two of "
                f"{say.length(border.side)} for the sides, two of "
                f"{say.length(border.across)} for top and bottom "
                "(measure your own top first)",
            )
        )
    if need.binding:
        rows.append(
            (
                f"{need.binding.strips} ×",
                say.length(need.binding.height),
                f"joined on the diagonal for the binding, {say.length(need.binding.run)} around",
            )
        )
    return YardagePage(
        need.name.capitalize(),
        say.yardage(need.length),
        tuple(rows),
        need.enough.sentence if need.enough else "",
        need.enough.ok if need.enough else True,
    )


def _marking(making: Making) -> tuple[tuple[str, str], ...]:
    groups: dict[str, list[str]] = {}
    for square, advice in making.marking.items():
        name = {"either": "Either; try on a scrap"}.get(advice.tool, advice.tool.capitalize())
        groups.setdefault(name, []).append(square)
        if advice.busy:
            groups.setdefault("Mark on the wrong side: the print may hide a line", []).append(
                square
            )
    order = ("Chalk", "Graphite", "Either; try on a scrap")
    names = [n for n in order if n in groups] + [n for n in groups if n not in order]
    return tuple((name, "  ".join(groups[name])) for name in names)


def _recipes(making: Making, say: Measure) -> tuple[Recipe, ...]:
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
        steps=_steps(unit, say),
        pressing=(*pressing.patches, *(row.sentence for row in pressing.rows if row.seams),
                  *_between(pressing)),
        is_section=unit.is_section,
    )  # fmt: skip


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
    return Drawn(
        f"{unit.name} in row {row + 1}, unit {column + 1}, from your fabrics",
        picture=np.ascontiguousarray(np.rot90(picture, place.turn // 90)),
    )


def _pieces(
    making: Making, unit: Unit, letters: Mapping[str, str], times: int, say: Measure
) -> tuple[tuple[str, str, str], ...]:
    placed: dict[str, int] = {}
    for row in unit.rows:
        for p in row:
            placed[p.name] = placed.get(p.name, 0) + 1
    needs: dict[tuple[str, Fraction, Fraction, Then], Fraction] = {}
    for patch in unit.patches:
        for need in cut_needs(patch):
            source = unit.source(need.fabric)
            key = (source.name, need.width, need.height, need.then)
            needs[key] = needs.get(key, Fraction(0)) + need.count * placed.get(patch.name, 0)
    found = []
    for (fabric, width, height, then), number in needs.items():
        if not number:
            continue
        source = unit.source(fabric)
        origin = source.yardage or source.stack or ""
        said = f"{_count(number)} of {say.size(width, height)}"
        if then is not Then.WHOLE:
            said += f", {_THEN_WORDS[then]}"
        found.append((letters[fabric], origin, f"{said} ({ceil(number * times)} in all)"))
    return tuple(found)


def _count(number: Fraction) -> str:
    if number.denominator == 1:
        return str(number)
    whole, rest = divmod(number, 1)
    part = {Fraction(1, 2): "½", Fraction(1, 4): "¼", Fraction(3, 4): "¾"}.get(rest, str(rest))
    return f"{whole or ''}{part}"


def _steps(unit: Unit, say: Measure) -> tuple[str, ...]:
    steps = []
    for patch in unit.patches:
        if patch.shape is Shape.FLIPPED_CORNERS:
            steps.append(
                f"{patch.name}: mark a diagonal on the wrong side of each small square, lay it on "
                f"{'the corner' if len(patch.corners) == 1 else 'a corner'} of the "
                f"{say.cut(patch.width, patch.height)} "
                "piece, right sides together, sew on the line, trim "
                f"{say.length(SEAM)} beyond it, flip open."
            )
        elif patch.shape is Shape.HALF_SQUARE:
            steps.append(
                f"{patch.name}: lay the two squares right sides together, mark one diagonal, sew "
                f"{say.length(SEAM)} to either side of it, cut on the line; "
                "that makes two."
            )
        elif patch.shape is Shape.QUARTER_SQUARE:
            steps.append(f"{patch.name}: sew the four triangles in pairs, then the pairs together.")
        elif patch.shape is Shape.GEESE:
            steps.append(f"{patch.name}: sew a sky triangle to each short side of the goose.")
        elif patch.shape is Shape.STRIP_SET:
            cut = say.length(patch.height + Fraction(1, 2))
            steps.append(f"{patch.name}: sew the strips side by side, then cut across every {cut}.")
    if len(unit.rows) > 1 or len(unit.rows[0]) > 1:
        what = "units" if unit.is_section else "patches"
        steps.append(f"Sew the {what} into rows as drawn, then the rows together.")
    return tuple(steps)


def _maps(making: Making) -> tuple[Drawn, ...]:
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


def _rows(making: Making) -> tuple[Row, ...]:
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
        found.append(Row(r + 1, units, press.partition(": ")[2]))
    return tuple(found)


def _assembly(making: Making, say: Measure) -> tuple[str, ...]:
    sections = [u for u in making.layout.units.values() if u.is_section]
    steps = ["Sew all units first; lay each beside its address, and check it against the map."]
    if sections:
        steps.append(
            f"Join the units of each section ({listing([s.name for s in sections])}) as its recipe "
            "shows."
        )
    steps += [
        "Lay the whole top out, row by row, and step back before any long seam.",
        "Sew each row from left to right and press as its line says.",
        "Join row 1 to row 2, row 3 to row 4 and so on, then the pairs, so that no long seam is "
        "handled more often than it must.",
    ]
    for border in making.layout.quilt.borders:
        width = say.length(border.width)
        steps.append(
            f"{border.name.capitalize()} ({width} finished): measure the top through its middle, "
            "cut two sides to that length, sew and press outward; then measure across, and do the "
            "same at top and bottom."
        )
    return tuple(steps)


def _finishing(making: Making, say: Measure) -> tuple[str, ...]:
    backing, binding = making.backing[0], making.binding
    lies = "upright" if backing.upright else "across"
    said = [
        f"Backing: {count(backing.panels, 'panel')} of "
        f"{say.length(backing.panel_length)} from yardage as wide as stated"
        + (f", joined with {'a seam' if backing.panels == 2 else 'seams'} {lies}; press open. "
           if backing.panels > 1 else ". ")
        + f"It comes to about {say.size(backing.size[0], backing.size[1])}.",
        f"Batting: {say.size(*making.batting)}; let it rest flat overnight.",
        f"Binding: {count(binding.strips, 'strip')} of {say.length(binding.height)}, "
        "joined on the diagonal, folded lengthwise, sewn to the front and turned to the back.",
    ]  # fmt: skip
    if len(making.backing) > 1 and making.backing[1].length != backing.length:
        other = making.backing[1]
        said.insert(
            1,
            f"The other way ({'upright' if other.upright else 'across'} seams) takes "
            f"{say.yardage(other.length)}.",
        )
    return tuple(said)


def _shopping(making: Making, say: Measure) -> tuple[tuple[str, str], ...]:
    quilt = making.layout.quilt
    found = [
        (
            f"{sum(len(s.cuts) for s in making.cuts)} squares",
            "the bundle, dealt into its stacks",
        )
    ]
    for need in making.yardage:
        uses = []
        if need.strips.kinds:
            uses.append("patches")
        uses += [b.name for b in need.borders]
        if need.binding:
            uses.append("binding")
        name = making.plan.background.label if need.name == BACKGROUND else ""
        what = f"{need.name}{f' ({name})' if name else ''}"
        found.append((say.yardage(need.length), f"{what}: {listing(uses)}"))
    found += [
        (say.yardage(making.backing[0].length), "backing"),
        (say.size(*making.batting), "batting"),
        ("thread", "for piecing, a neutral between background and prints"
         + ("; for quilting, see Finishing" if making.threads else "")),
    ]  # fmt: skip
    if making.choices.shrinkage:
        found.append(("note", f"lengths allow for {making.choices.shrinkage:.0%} shrinkage"))
    if quilt.borders:
        found.append(("note", "borders are cut across the width and joined"))
    return tuple(found)


def _footer(making: Making, say: Measure) -> str:
    trim = making.choices.trim
    said = [
        "Made by Bundle Stacks.",
        f"Pairing seed {making.pairing.seed}.",
        "Sizes are exact; cloth is not: check a first unit before all are cut.",
    ]
    if trim:
        said.append(f"Squares are trimmed by {say.length(trim)} on each edge first.")
    return " ".join(said)
