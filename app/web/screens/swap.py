"""Swap: what could stand in for a square."""

from collections.abc import Sequence
from functools import partial

import streamlit as st

from app.web import session, steps
from app.web.needs import with_stacks
from app.web.notices import lines, plain, show_facts, told
from app.web.workshop import Step
from colorcore.errors import DealError
from colorcore.project import Choices
from colorcore.sheets.view import words_for
from colorcore.substitutes.model import Origin, Substitute, Substitutes
from colorcore.swatch import Swatch
from colorcore.wording import MINUS, number

SIDE = 320
ABREAST = 2
FIRST_CHANGES = 2
#: Under which key the session knows in which bundles each project looked.
WHERE_ELSE = "where-else"


def _picture(swatch: Swatch, words: str) -> None:
    st.image(
        session.workshop().thumbnail(swatch, SIDE),
        width="stretch",
        alt=f"{words}: {words_for(swatch)}",
    )


def _show_taken(choices: Choices) -> None:
    for square, _, words in choices.swaps:
        with st.container(border=True):
            said, button = st.columns([4, 1], vertical_alignment="center")
            said.text(f"{square}: {words} stands in for it.")
            button.button(
                f"Put {plain(square)} back", key=f"back-{square}", width="stretch",
                on_click=session.step,
                args=(session.current_project(), partial(_put_back, square)),
            )  # fmt: skip


def _put_back(square: str, choices: Choices) -> tuple[Choices, str]:
    return steps.put_back(choices, square), f"put {square} back"


def _take(choices: Choices, found: Substitutes, substitute: Substitute, key: str) -> None:
    if substitute.outcome is None:
        return
    how = partial(_taken, choices, found, substitute)
    st.button(
        "Take this one", key=key, icon=":material/check:", width="stretch",
        on_click=_take_and_go, args=(session.current_project(), how),
    )  # fmt: skip


def _taken(
    shown: Choices, found: Substitutes, substitute: Substitute, choices: Choices
) -> tuple[Choices, str]:
    """What taking a substitute makes of the choices that it was shown for."""
    if choices != shown:
        raise DealError(
            f"{substitute.candidate.full_name} was found for stacks that have changed since; "
            "look again."
        )
    new = steps.take(session.workshop(), choices, found, substitute)
    return new, f"took {substitute.candidate.full_name} for {found.original.id}"


def _take_and_go(project: int | None, how: Step) -> None:
    before = session.take_step(project, how)
    if before is not None:
        st.session_state["before"] = dict(before.places)
        # The board shows what has changed.
        session.lead_on("swap", "stacks")


def _show(choices: Choices, found: Substitutes, substitute: Substitute, key: str) -> None:
    candidate, close = substitute.candidate, substitute.closeness
    with st.container(border=True):
        with st.container(key=f"pair-{key}"):
            one, two = st.columns(2)
        with one:
            _picture(found.original, found.original.id)
            st.caption(f"{plain(found.original.id)} as it is")
        with two:
            _picture(candidate.swatch, candidate.name)
            st.caption("instead")
        st.subheader(plain(candidate.full_name), anchor=False)
        place = "" if candidate.origin is Origin.BUNDLE else candidate.place
        where = ", ".join(filter(None, (candidate.origin.value, candidate.amount, place)))
        lines((words_for(candidate.swatch), where), mark="")
        lines(substitute.changes[:FIRST_CHANGES])
        with st.expander("Everything that changes, and the figures"):
            lines(substitute.changes[FIRST_CHANGES:])
            show_facts(
                (
                    ("Colour difference", f"CIEDE2000 {number(close.delta_e, 1)}"),
                    ("In the textile trade", f"CMC(2:1) {number(close.cmc, 1)}"),
                    ("Grey scale grade", f"{close.grade} (5 is no difference)"),
                    ("Value", f"L* {_step(close.lightness)} ± {number(close.lightness_sd, 1)}"),
                )
            )
        _take(choices, found, substitute, key)


def _step(lightness: float) -> str:
    text = number(lightness, 1)
    return text if text.startswith(MINUS) else f"+{text}"


def _kind(
    choices: Choices, title: str, words: str, found: Substitutes, kind: Sequence[Substitute]
) -> None:
    st.header(title, anchor=False)
    st.write(words)
    if not kind:
        st.text(
            "Nothing comes near enough."
            if found.notes
            else "Nothing yet. Add fabrics to the stash, or bring another bundle as a project."
        )
    for start in range(0, len(kind), ABREAST):
        columns = st.columns(ABREAST)
        for column, place, substitute in zip(
            columns, range(start, len(kind)), kind[start : start + ABREAST], strict=False
        ):
            with column:
                _show(choices, found, substitute, f"take-{title}-{place + 1}")


def _shopping(choices: Choices) -> None:
    note = steps.shopping(session.workshop(), choices)
    if not note.wishes:
        return
    with st.expander("What this bundle lacks", icon=":material/shopping_bag:"):
        lines(note.words, mark="")
        for wish in note.wishes:
            lines([f"{wish.words}, for {wish.stack}: {wish.why}"])
        st.caption(note.yardage)


def _others() -> dict[int, str]:
    """The projects beside this one that have photos, by what to call them."""
    here, labels = session.current_project(), session.project_labels()
    infos = session.workshop().projects.list()
    return {i.id: labels[i.id] for i in infos if i.id != here and i.photos}


def _compare(choices: Choices) -> None:
    st.header("Another bundle in the same pattern", anchor=False)
    projects = _others()
    if not projects:
        st.text("Bring the other bundle as a project of its own; then it can be set beside this.")
        return
    other = st.selectbox(
        "Set it beside this one", list(projects), index=None, format_func=lambda n: projects[n]
    )
    if other is None:
        return
    with st.spinner("Dealing the other bundle …"):
        found = steps.comparison(session.workshop(), choices, other)
        theirs = steps.other_deal(session.workshop(), choices, other)
    lines(found.words, mark="")
    names = ("This project", projects[other])
    for row in found.rows:
        with st.container(border=True):
            st.markdown(f"**{plain(row.first.name)}**")
            lines(row.words)
            sides = zip(st.columns(2), names, (choices, theirs), (row.first, row.second),
                        strict=True)  # fmt: skip
            for column, name, lying, figures in sides:
                with column:
                    st.text(name)
                    picture, squares = steps.stack_strip(session.workshop(), lying, figures.name)
                    st.image(picture, width="stretch", alt=f"{figures.name} of {name}: {squares}")
                    held = figures.verdicts
                    told = [f"L* {figures.lightness_mean:.0f} on average"]
                    if figures.beside_background:
                        told.insert(
                            0, f"{held['holds']} hold, {held['soft']} soft, {held['melts']} melt"
                        )
                    lines(told, mark="")


def _choose(choices: Choices) -> tuple[str | None, tuple[int, ...]]:
    squares = [square for square, stack in choices.places if stack not in ("", "out")]
    asked = st.session_state.pop("swap-square", None)
    if asked in squares:
        st.session_state["swap-chosen"] = asked
    left, right = st.columns(2)
    square = left.selectbox(
        "Which square", squares, index=None, key="swap-chosen", placeholder="Choose a square"
    )
    with right:
        return square, _where_else()


def _where_else() -> tuple[int, ...]:
    """Ask in which other projects' bundles to look; what was chosen for a project is chosen still
    when she comes back from the board."""
    projects, here = _others(), session.current_project()
    if not projects:
        return ()
    kept: dict[int | None, tuple[int, ...]] = st.session_state.setdefault(WHERE_ELSE, {})
    key = f"where-else-{here}"
    if key not in st.session_state:
        # A page that is left forgets what its widgets held.
        st.session_state[key] = [other for other in kept.get(here, ()) if other in projects]
    others = st.multiselect(
        "Look also in the bundles of", list(projects), key=key, format_func=lambda n: projects[n]
    )
    kept[here] = tuple(others)
    return kept[here]


def _page() -> None:
    choices = with_stacks("What could stand in for a square follows from the stacks.")
    if choices is None:
        return
    workshop = session.workshop()
    _show_taken(choices)
    _shopping(choices)
    square, others = _choose(choices)
    if square is None:
        st.write(
            "Choose a square here, or 'Find a substitute' in its menu on the board: what looks "
            "like it and what does its job is looked up in the stash, among spare squares and in "
            "your other bundles."
        )
        _compare(choices)
        return
    with st.spinner("Comparing, and dealing again with each …"):
        found = steps.substitutes(workshop, choices, square, others)
    picture, words = st.columns([1, 4], vertical_alignment="center")
    with picture, st.container(key="original"):
        _picture(found.original, found.original.id)
    words.text(
        f"{found.original.id}: {words_for(found.original)}, in {found.stack} "
        f"({found.role}, {found.value})"
        + (f"; {found.verdict} against the background." if found.verdict else ".")
    )
    lines(found.notes, mark="")
    _kind(choices, "Looks like it", "Near in colour, print and value spread.", found, found.looks)
    _kind(
        choices, "Does its job", "Keeps value, contrast and evenness of the plan.", found, found.job
    )
    _compare(choices)


st.title("Swap", anchor=False)
with told():
    _page()
