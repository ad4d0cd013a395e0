"""All that the making sheet says, put together from a making."""

from collections.abc import Mapping
from fractions import Fraction
from typing import Final

from colorcore.finishing import say_shared
from colorcore.lengths import SEAM, Measure, exact_inches
from colorcore.making import Making
from colorcore.pattern.model import is_too_large
from colorcore.pattern.sewing import BACKGROUND
from colorcore.preview import View, paint_views
from colorcore.sheets.cutting_drawings import backing_drawing
from colorcore.sheets.cutting_finish import assembly, finishing, footer, shopping
from colorcore.sheets.cutting_pages import marking, stack_page, yardage_page
from colorcore.sheets.cutting_parts import Check, Content, Drawn, StackRow, pictured
from colorcore.sheets.cutting_recipes import maps, recipes, rows
from colorcore.sheets.pictures import Picture, shrink
from colorcore.sheets.plan_page import RIM
from colorcore.sheets.second_look import photo_warnings
from colorcore.sheets.view import words_for
from colorcore.stacking import find_size
from colorcore.swatch import Swatch
from colorcore.wording import count, listing, number

_TOP_SIDE: Final = 1300
_CARD_SIDE: Final = 130
_TIMES: Final = "\u00a0×\u00a0"

CAUTIONS: Final = (
    "Cloth: do not wash precut squares, which shrink and fray; press them flat, without steam, "
    "before you measure and cut. Lay a wet scrap of every deep red, blue and black on white cloth: "
    "what runs there runs in the quilt.",
    "Rotary cutter: close the blade whenever it leaves your hand, cut away from your body, keep "
    "fingers behind the ruler's edge, and change a dull blade, since it slips.",
    "Iron: press, do not rub; mind steam and the iron's face; switch it off and let it cool before "
    "it is put away.",
    "Needle and machine: switch the machine off to change needles, keep fingers clear of a running "
    "needle, count pins and needles back in.",
    "You: stand on something soft, cut at elbow height, look up and stretch every half hour.",
    "The makers' instructions for cutter, ruler, iron, machine and batting come before this sheet.",
)


def sheet_content(
    making: Making, *, metric: bool = False, tops: Mapping[View, Picture] | None = None
) -> Content:
    """Return what the making sheet of a plan says, in inches or centimetres.

    ``tops`` are pictures (h, w, 3) of the finished top, if they have been painted already.
    """
    say = Measure(metric)
    quilt = making.layout.quilt
    size = say.size(quilt.width, quilt.height)
    return Content(
        title=making.plan.pattern,
        kicker=" · ".join(
            filter(None, (making.bundle.name or "Bundle", making.plan.size, "making sheet"))
        ),
        lead=(
            f"{size} from {count(sum(len(s.cuts) for s in making.cuts), 'square')} and "
            f"{say.yardage(_takes(making, BACKGROUND))} of background."
            if any(n.name == BACKGROUND for n in making.yardage)
            else f"{size} from {count(sum(len(s.cuts) for s in making.cuts), 'square')}."
        ),
        pictures=_pictures(making, tops),
        facts=_facts(making, size, say),
        again=(*photo_warnings(making.bundle), *making.plan.second_look),
        checks=_checks(making, say),
        stacks=_stacks(making),
        cutting=tuple(
            stack_page(number, stack, making, say) for number, stack in enumerate(making.cuts)
        ),
        yardage=tuple(yardage_page(need, say) for need in making.yardage),
        marking=marking(making),
        recipes=recipes(making, say),
        maps=maps(making),
        rows=rows(making),
        assembly=assembly(making, say),
        threads=tuple(choice.sentence for choice in making.threads),
        fabrics=tuple(
            (use, tuple(choice.told(say) for choice in choices))
            for use, choices in making.fabrics.items()
        ),
        shared=say_shared(making.fabrics, say),
        finishing=finishing(making, say),
        backing=tuple(
            Drawn(
                f"Backing of {count(backing.panels, 'panel')}, the quilt dashed on it",
                backing_drawing(backing, (quilt.width, quilt.height), "Backing"),
            )
            for backing in making.backing[:1]
        ),
        shopping=shopping(making, say),
        cautions=CAUTIONS,
        footer=footer(making, say),
    )  # fmt: skip


def _takes(making: Making, name: str) -> Fraction:
    return next(need.takes for need in making.yardage if need.name == name)


def _pictures(making: Making, tops: Mapping[View, Picture] | None) -> tuple[Drawn, ...]:
    sewn = making.sewn
    painted = tops or paint_views(sewn, _TOP_SIDE / max(sewn.width, sewn.height))
    return tuple(
        pictured(f"The finished top {view.value}", shrink(painted[view], _TOP_SIDE))
        for view in View
    )


def _stacks(making: Making) -> tuple[StackRow, ...]:
    rules = find_size(making.pattern, making.plan.size).stacks
    beside = {rule.name for rule in rules if rule.beside_background}
    return tuple(
        StackRow(
            stack.name,
            f"{stack.value}, {stack.role}",
            tuple(
                _card(
                    making.swatches[place.square],
                    place.verdict if stack.name in beside else "",
                )
                for place in stack.placements
            ),
        )
        for stack in making.plan.stacks
    )


def _card(swatch: Swatch, verdict: str) -> tuple[str, str, Drawn, str]:
    # The outermost rim shows pinked teeth and table between them.
    side = swatch.picture.shape[0]
    rim = round(side * RIM)
    picture = shrink(swatch.picture[rim : side - rim, rim : side - rim], _CARD_SIDE)
    drawn = pictured(f"{swatch.id}: {words_for(swatch)}", picture)
    return swatch.id, f"L* {number(swatch.lab[0])}", drawn, "" if verdict == "holds" else verdict


def _facts(making: Making, size: str, say: Measure) -> tuple[tuple[str, str], ...]:
    layout = making.layout
    units = ", ".join(
        f"{n + layout.makes.get((name, True), 0)}{_TIMES}{name}"
        for (name, mirrored), n in layout.makes.items()
        if not mirrored
    )
    only_mirrored = [
        f"{n}{_TIMES}{name}" for (name, mirrored), n in layout.makes.items()
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


def _checks(making: Making, say: Measure) -> tuple[Check, ...]:
    found = [Check(stack.ok, stack.sentence) for stack in making.cuts if stack.wanted]
    for need in making.yardage:
        if need.enough is not None:
            found.append(Check(need.enough.ok, need.enough.told(say)))
    for name in sorted(set(making.shown_yardage) - making.known_yardage):
        found.append(Check(False, f"The colour of the {name} is not known; it is drawn grey."))
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
    whole = [place.square for place in making.plan.left_over]
    if whole:
        found.append(Check(True, f"Left over whole: {listing(whole)}."))
    wanted = making.pattern.square_inches
    large = [
        cut.square for stack in making.cuts for cut in stack.cuts
        if any(cut.kits) and is_too_large(making.swatches[cut.square].side_inches, wanted)
    ]  # fmt: skip
    if large:
        side = say.length(exact_inches(wanted))
        found.append(
            Check(
                False,
                f"First cut a square of {side} from the top left corner, as photographed, of "
                f"{listing(large)}: they are larger than those that the drawings show.",
            )
        )
    tight = [
        stack.stack for stack in making.cuts
        if any(any(cut.kits) and cut.cutting.takes_a_whole_side for cut in stack.cuts)
    ]  # fmt: skip
    if tight:
        whole_side = say.length(making.cuts[0].cuts[0].cutting.width)
        trimmed = " that trimming leaves" if making.choices.trim else ""
        found.append(
            Check(
                False,
                f"Measure every square of {listing(tight)} before you cut it: its pieces take all "
                f"of the {whole_side}{trimmed}, from edge to edge.",
            )
        )
    around = [cut.square for stack in making.cuts for cut in stack.cuts if cut.around]
    if around:
        found.append(
            Check(True, f"Cut {listing(around)} as drawn: the cuts go around parts that melt.")
        )
    return tuple(found)


def _place(making: Making, slot: int) -> str:
    row, column = making.layout.slots[slot].cell
    return f"{making.pairing.supplies[slot].square} in row {row + 1}, unit {column + 1}"
