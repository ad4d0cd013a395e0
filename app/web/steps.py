"""The steps after dealing, by project: backgrounds, substitutes, making, sheets, comparing.

Each is kept in the workshop under what it rests on. Knows nothing of Streamlit.
"""

from collections import Counter
from collections.abc import Sequence
from contextlib import suppress
from dataclasses import replace
from fractions import Fraction
from typing import Final

import numpy as np

from app.web.backgrounds import background_mark
from app.web.boarding import OUT, dealt_mark, with_deal
from app.web.workshop import (
    PREVIEW_SIDE,
    Workshop,
    chosen_pattern,
    stand_in_mark,
)
from colorcore.color.parse import parse_color
from colorcore.comparing import Comparison, compare_plans
from colorcore.contrast.cloth import as_cloth_comes
from colorcore.errors import ColorError, DealError
from colorcore.lengths import INCHES_PER_YARD
from colorcore.making import Making, MakingChoices, plan_making
from colorcore.pattern.sewing import BACKGROUND
from colorcore.preview.picture import View, paint
from colorcore.project import Choices
from colorcore.sheets.cutting_content import sheet_content
from colorcore.sheets.cutting_outputs import making_files
from colorcore.sheets.cutting_parts import Content
from colorcore.sheets.outputs import plan_files
from colorcore.sheets.pictures import encode_picture, shrink
from colorcore.stacking import Plan, find_size
from colorcore.stacking.checking import check_pieces
from colorcore.stacking.ranking import Candidate, Ranking, rank_backgrounds
from colorcore.stash.cloths import threads_and_cloths
from colorcore.substitutes.candidates import (
    bundle_squares,
    spare_squares,
    stash_fabrics,
    without_those_here,
)
from colorcore.substitutes.finding import find_substitutes
from colorcore.substitutes.model import Candidate as Substitute
from colorcore.substitutes.model import Origin, Substitutes
from colorcore.substitutes.model import Substitute as Proposal
from colorcore.substitutes.shopping import ShoppingNote, shopping_note

QUILT_PIXELS_PER_INCH: Final = 18.0
CLOSE_PIXELS_PER_INCH: Final = 24.0
CLOSE_INCHES: Final = 22.0
STRIP_SIDE: Final = 90
STRIP_LONG: Final = 7
#: What the option begins with that says the colour of a fabric which the pattern names.
CLOTH: Final = "cloth "
Lab = tuple[float, float, float]
#: Backgrounds that are compared before the maker names any.
FIRST_TRIES: Final = ("#f6f6f6", "#f4efe6", "#d9d2c5", "#20304a")


def checked_plan(workshop: Workshop, choices: Choices) -> Plan:
    """Return the plan with a second look at every piece, as it is read and taken along.

    Apart from ``Workshop.plan``, since it cuts every focal square virtually: a move on the board
    does not wait for it.

    Raises
    ------
    DealError
        If a stack lies empty.
    """

    def make() -> Plan:
        plan = workshop.plan(choices)
        return check_pieces(plan, workshop.bundle(choices), chosen_pattern(choices))

    return workshop.remember(("checked", *workshop.lying(choices)), make)


def ranking(workshop: Workshop, choices: Choices, tries: tuple[str, ...]) -> Ranking:
    """Return how several backgrounds serve a project, the best first."""

    def make() -> Ranking:
        bundle = workshop.bundle(choices)
        known = {square.id for square in bundle.squares}
        return rank_backgrounds(
            bundle,
            [workshop.background(choices, text) for text in tries],
            pattern=chosen_pattern(choices),
            size=choices.size or None,
            locks=[f"{square}={stack}" for square, stack in choices.locks if square in known],
        )

    key = ("ranking", *_on_any_background(choices), tries, _stash_mark(workshop))
    return workshop.remember(key, make)


def as_cloth(workshop: Workshop, choices: Choices, text: str) -> tuple[str, str]:
    """Return what to compare a background as, and a sentence where that is not the background
    itself: a colour that no cloth comes in gives way to the nearest one that cloth does.

    Raises
    ------
    ColorError
        If ``text`` is no background.
    """

    def make() -> tuple[str, str]:
        nearest, words = as_cloth_comes(workshop.background(choices, text)[0])
        return (nearest.label if words else text), words

    key = ("cloth", *_on_any_background(choices), text, _stash_mark(workshop))
    return workshop.remember(key, make)


def on_units(workshop: Workshop, choices: Choices, candidate: Candidate) -> bytes | None:
    """Return a close view of the quilt on one background as JPEG, None if it cannot be dealt.

    Raises
    ------
    PatternError, CuttingError
        If the pattern does not say how to sew, or the squares do not suffice.
    """

    def make() -> bytes | None:
        if candidate.plan is None:
            return None
        wish = MakingChoices(yardage=_colors(workshop, choices))
        sewn = plan_making(
            candidate.plan, workshop.bundle(choices), chosen_pattern(choices), wish
        ).sewn
        region = (0.0, 0.0, min(CLOSE_INCHES, sewn.width), min(CLOSE_INCHES, sewn.height))
        return encode_picture(paint(sewn, CLOSE_PIXELS_PER_INCH, region=region), ".jpg", 88)

    ground = background_mark(candidate.background)
    key = ("units", *_on_any_background(choices), *ground, _cloths(choices), _stash_mark(workshop))
    return workshop.remember(key, make)


def shopping(workshop: Workshop, choices: Choices) -> ShoppingNote:
    """Return what to add to a project's bundle for its pattern."""

    def make() -> ShoppingNote:
        background, used = workshop.background(choices)
        pattern = chosen_pattern(choices)
        return shopping_note(
            workshop.bundle(choices),
            find_size(pattern, choices.size or None),
            background,
            square_inches=pattern.square_inches,
            left_out=used,
        )

    return workshop.remember(("shopping", *workshop.ground(choices)), make)


def substitutes(
    workshop: Workshop, choices: Choices, square: str, others: tuple[int, ...]
) -> Substitutes:
    """Return what could stand in for a square: from the stash, from spare squares, and from the
    bundles of ``others``, numbers of projects."""
    projects = [(workshop.projects.name(other), workshop.projects.load(other)) for other in others]
    notes = [
        f"{name} has dealt its squares into stacks of its own: one that is taken here is missing "
        "there."
        for name, theirs in projects
        if workshop.is_dealt(theirs)
    ]

    def make() -> Substitutes:
        plan, bundle = workshop.plan(choices), workshop.bundle(choices)
        candidates: list[Substitute] = spare_squares(plan, bundle)
        original = next(s for s in bundle.squares if s.id == square)
        with workshop.stash() as stash:
            found, _ = stash_fabrics(stash, original, plan.background)
        candidates += found
        for name, theirs in projects:
            if theirs.photos:
                candidates += bundle_squares(workshop.bundle(theirs), name)
        candidates, here = without_those_here(_not_taken(candidates, choices, square), bundle)
        pattern = chosen_pattern(choices)
        return find_substitutes(plan, bundle, pattern, square, candidates, notes=(*notes, *here))

    bundles = tuple((name, c.photos, c.square_inches, c.swaps) for name, c in projects)
    key = ("swap", *workshop.lying(choices), square, bundles, *notes, _stash_mark(workshop))
    return workshop.remember(key, make)


def _not_taken(candidates: Sequence[Substitute], choices: Choices, square: str) -> list[Substitute]:
    """Candidates less what stands in for other squares than this one already: a square of another
    bundle is there once, and a length of cloth gives so many."""
    taken = Counter(sha256 for other, sha256, _ in choices.swaps if other != square)
    if not taken:
        return list(candidates)
    return [
        replace(one, squares=one.squares - taken[stand_in_mark(one.swatch)]) for one in candidates
    ]


def take(workshop: Workshop, choices: Choices, found: Substitutes, substitute: Proposal) -> Choices:
    """Return choices in which a substitute has taken its square's place, dealt as was shown.

    A spare square changes places with it; a fabric from elsewhere stands in at its address.

    Raises
    ------
    DealError
        If no deal is possible with it.
    """
    candidate, square = substitute.candidate, found.original.id
    if substitute.outcome is None:
        raise DealError(f"{candidate.full_name} cannot take the place of {square}.")
    if candidate.origin is Origin.SPARE:
        new = choices.with_lock(square, OUT).with_lock(candidate.swatch.id, found.stack)
        return with_deal(new, substitute.outcome.plan)
    sha256 = workshop.stand_in(candidate.swatch)
    where = ", ".join(filter(None, (candidate.name, candidate.place)))
    words = f"{where} ({candidate.origin.value})"
    others = tuple(swap for swap in choices.swaps if swap[0] != square)
    new = replace(choices, swaps=(*others, (square, sha256, words)))
    return with_deal(new.with_lock(square, found.stack), substitute.outcome.plan)


def put_back(choices: Choices, square: str) -> Choices:
    """Return choices with the bundle's own square at an address again."""
    rest = tuple(swap for swap in choices.swaps if swap[0] != square)
    new = replace(choices, swaps=rest).with_lock(square, None)
    is_dealt = choices.dealt_for == dealt_mark(choices)
    return replace(new, dealt_for=dealt_mark(new)) if is_dealt else new


def other_deal(workshop: Workshop, choices: Choices, other: int) -> Choices:
    """Return another project's bundle dealt into this project's pattern.

    Raises
    ------
    DealError
        If the other bundle cannot fill the pattern's stacks.
    """
    theirs = workshop.projects.load(other)
    same = Choices(
        photos=theirs.photos,
        square_inches=theirs.square_inches,
        pattern=choices.pattern,
        size=choices.size,
        background=theirs.background or choices.background,
        swaps=theirs.swaps,
    )
    return workshop.remember(("other", *workshop.ground(same)), lambda: workshop.deal(same)[0])


def stack_strip(workshop: Workshop, choices: Choices, stack: str) -> tuple[bytes, str]:
    """Return the squares of a stack in value order, dark first, as one JPEG, and addresses."""
    plan = workshop.plan(choices)
    swatches = {square.id: square for square in workshop.bundle(choices).squares}
    placed = next(s for s in plan.stacks if s.name == stack).placements
    shown = sorted((swatches[p.square] for p in placed), key=lambda s: s.lab[0])

    def make() -> bytes:
        tiles = [shrink(s.picture, STRIP_SIDE)[:STRIP_SIDE, :STRIP_SIDE] for s in shown]
        tiles += [np.full_like(tiles[0], 255)] * (-len(tiles) % STRIP_LONG)
        rows = [np.hstack(tiles[i : i + STRIP_LONG]) for i in range(0, len(tiles), STRIP_LONG)]
        return encode_picture(np.vstack(rows), ".jpg", 86)

    picture = workshop.remember(("strip", stack, *workshop.lying(choices)), make)
    return picture, ", ".join(s.id for s in shown)


def comparison(workshop: Workshop, choices: Choices, other: int) -> Comparison:
    """Return a project's plan beside the same pattern dealt from another project's bundle.

    Raises
    ------
    DealError
        If the other bundle cannot fill the pattern's stacks.
    """
    same, name = other_deal(workshop, choices, other), workshop.projects.name(other)

    def make() -> Comparison:
        return compare_plans(
            workshop.plan(choices),
            workshop.bundle(choices),
            workshop.plan(same),
            workshop.bundle(same),
            names=("This project", name),
            square_inches=chosen_pattern(choices).square_inches,
            apart=chosen_pattern(choices).stacks_apart(choices.size),
        )

    return workshop.remember(
        ("compare", name, *workshop.lying(choices), *workshop.lying(same)), make
    )


def cloth_color(workshop: Workshop, text: str) -> Lab:
    """Return the CIELAB colour that is meant by a fabric of the stash or by a CSS colour.

    Raises
    ------
    ColorError
        If it is neither.
    """
    with workshop.stash() as stash:
        if stash.knows(text):
            return stash.swatch(text).lab
    try:
        return parse_color(text)
    except ColorError as error:
        raise ColorError(f"Your stash has no fabric of that name, and {error}") from None


def other_cloths(workshop: Workshop, choices: Choices) -> tuple[str, ...]:
    """Return the fabrics beside the background that the pattern names and that show: a border's."""
    return making(workshop, choices).shown_yardage


def takes_background(workshop: Workshop, choices: Choices) -> bool:
    """Whether anything of the pattern is cut from the background fabric."""
    return any(need.name == BACKGROUND for need in making(workshop, choices).yardage)


def with_cloth(workshop: Workshop, name: str, text: str, choices: Choices) -> tuple[Choices, str]:
    """Return choices in which such a fabric has a colour, none for "", and the words for the step.

    Raises
    ------
    ColorError
        If ``text`` is no colour and no fabric of the stash.
    """
    text = text.strip()
    if text:
        cloth_color(workshop, text)
    words = f"chose the colour of the {name}"
    known = text == choices.option(f"{CLOTH}{name}")
    return choices if known else choices.with_option(f"{CLOTH}{name}", text), words


def _colors(workshop: Workshop, choices: Choices) -> dict[str, Lab]:
    """The colours of the other fabrics, as far as they are known; one may have left the stash."""
    found = {}
    for key, text in choices.more:
        if key.startswith(CLOTH) and text:
            with suppress(ColorError):
                found[key.removeprefix(CLOTH)] = cloth_color(workshop, text)
    return found


def making(workshop: Workshop, choices: Choices) -> Making:
    """Return how the plan is cut, paired, marked, pressed and finished."""

    def make() -> Making:
        yards = Fraction(choices.option("background-yards", "0"))
        with workshop.stash() as stash:
            threads, fabrics = threads_and_cloths(stash)
        wish = MakingChoices(
            seed=int(choices.option("seed", "1")),
            background_inches=yards * INCHES_PER_YARD if yards else None,
            threads=threads,
            fabrics=fabrics,
            yardage=_colors(workshop, choices),
        )
        return plan_making(
            workshop.plan(choices), workshop.bundle(choices), chosen_pattern(choices), wish
        )

    return workshop.remember(("making", *_making_key(workshop, choices)), make)


def sheet(workshop: Workshop, choices: Choices) -> Content:
    """Return what the making sheet says."""
    metric = choices.option("measure") == "centimetres"
    key = ("sheet", metric, *_making_key(workshop, choices))
    return workshop.remember(key, lambda: sheet_content(_as_told(workshop, choices), metric=metric))


def _as_told(workshop: Workshop, choices: Choices) -> Making:
    """How the plan is made, with the second look at every piece that its sheet tells."""
    return replace(making(workshop, choices), plan=checked_plan(workshop, choices))


def quilt_picture(workshop: Workshop, choices: Choices, view: View) -> bytes:
    """Return the whole quilt from its photographed fabrics as JPEG."""

    def make() -> bytes:
        picture = paint(making(workshop, choices).sewn, QUILT_PIXELS_PER_INCH, view=view)
        return encode_picture(picture, ".jpg", 88)

    return workshop.remember(("quilt", view, *_making_key(workshop, choices)), make)


def files(workshop: Workshop, choices: Choices) -> dict[str, bytes]:
    """Return name and content of everything that a project gives to take along."""

    def make() -> dict[str, bytes]:
        photos = [workshop.photo(p.sha256, p.name).small(PREVIEW_SIDE)[0] for p in choices.photos]
        bundle, pattern = workshop.bundle(choices), chosen_pattern(choices)
        plan = checked_plan(workshop, choices)
        return plan_files(plan, bundle, pattern, photos=photos) | making_files(
            _as_told(workshop, choices),
            photos=photos,
            content=sheet(workshop, choices),
            paper="a4" if choices.option("paper") == "A4" else "us-letter",
        )

    key = ("files", choices.option("measure"), choices.option("paper"))
    return workshop.remember((*key, *_making_key(workshop, choices)), make)


def _on_any_background(choices: Choices) -> tuple[object, ...]:
    """What several backgrounds are compared by: not which of them the project uses."""
    return (dealt_mark(replace(choices, background="")), choices.locks)


def _making_key(workshop: Workshop, choices: Choices) -> tuple[object, ...]:
    small = tuple(choices.option(key) for key in ("seed", "background-yards"))
    return (*workshop.lying(choices), small, _cloths(choices), _stash_mark(workshop))


def _cloths(choices: Choices) -> tuple[tuple[str, str], ...]:
    return tuple((key, text) for key, text in choices.more if key.startswith(CLOTH) and text)


def _stash_mark(workshop: Workshop) -> int:
    with workshop.stash() as stash:
        return stash.newest_change()
