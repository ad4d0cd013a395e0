"""Swap: what could stand in for a square."""

from collections.abc import Sequence

import streamlit as st

from app.web import session, steps
from app.web.frame import page_link
from app.web.notices import lines, told
from colorcore.project import Choices
from colorcore.sheets.view import words_for
from colorcore.substitutes.model import Substitute, Substitutes
from colorcore.swatch import Swatch

SIDE = 320


def _picture(swatch: Swatch, words: str) -> None:
    st.image(
        session.workshop().thumbnail(swatch, SIDE),
        width="stretch",
        alt=f"{words}: {words_for(swatch)}",
    )


def _show(found: Substitutes, substitute: Substitute, number: int) -> None:
    candidate, close = substitute.candidate, substitute.closeness
    with st.container(border=True):
        one, two = st.columns(2)
        with one:
            _picture(found.original, found.original.id)
            st.caption("as it is")
        with two:
            _picture(candidate.swatch, candidate.name)
            st.caption("instead")
        st.markdown(f"**{number}. {candidate.origin.value.capitalize()}**")
        where = ", ".join(filter(None, (candidate.amount, candidate.place)))
        lines(
            filter(
                None,
                (
                    candidate.name,
                    words_for(candidate.swatch),
                    where,
                    f"CIEDE2000 {close.delta_e:.1f}, CMC(2:1) {close.cmc:.1f}, "
                    f"grey scale {close.grade}, L* {close.lightness:+.0f}",
                ),
            ),
            mark="",
        )
        lines(substitute.changes)


def _kind(title: str, words: str, found: Substitutes, kind: Sequence[Substitute]) -> None:
    st.header(title)
    st.write(words)
    if not kind:
        st.text("Nothing yet. Add fabrics to the stash, or bring another bundle as a project.")
    for number, substitute in enumerate(kind, start=1):
        _show(found, substitute, number)


def _shopping(choices: Choices) -> None:
    note = steps.shopping(session.workshop(), choices)
    if not note.wishes:
        return
    with st.expander("What this bundle lacks", icon=":material/shopping_bag:"):
        lines(note.words, mark="")
        for wish in note.wishes:
            lines([f"{wish.words}, for {wish.stack}: {wish.why}"])
        st.caption(note.yardage)


def _compare(choices: Choices) -> None:
    st.header("Another bundle in the same pattern")
    here = session.current_project()
    infos = session.workshop().projects.list()
    projects = {i.id: i.name for i in infos if i.id != here and i.photos}
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
    lines(found.words, mark="")
    for row in found.rows:
        with st.container(border=True):
            st.markdown(f"**{row.first.name}**")
            lines(row.words)
            one, two = st.columns(2)
            for column, figures in ((one, row.first), (two, row.second)):
                with column:
                    held = figures.verdicts
                    lines(
                        (
                            f"{held['holds']} hold, {held['soft']} soft, {held['melts']} melt",
                            f"L* {figures.lightness_mean:.0f} on average",
                        ),
                        mark="",
                    )


def _choose(choices: Choices) -> tuple[str | None, tuple[int, ...]]:
    workshop = session.workshop()
    squares = [square for square, stack in choices.places if stack not in ("", "out")]
    asked = st.session_state.pop("swap-square", None)
    if asked in squares:
        st.session_state["swap-chosen"] = asked
    left, right = st.columns(2)
    square = left.selectbox(
        "Which square", squares, index=None, key="swap-chosen", placeholder="Choose a square"
    )
    here = session.current_project()
    projects = {i.id: i.name for i in workshop.projects.list() if i.id != here and i.photos}
    others = right.multiselect(
        "Look also in the bundles of", list(projects), format_func=lambda n: projects[n]
    )
    return square, tuple(others)


def _page() -> None:
    choices = session.choices()
    workshop = session.workshop()
    if not choices.photos or not workshop.is_dealt(choices):
        st.info("Deal the stacks first; then look for substitutes.", icon=":material/stacks:")
        if st.button("To the stacks", type="primary"):
            st.switch_page(page_link("stacks"))
        return
    _shopping(choices)
    square, others = _choose(choices)
    if square is None:
        st.info("Choose a square, or 'Find a substitute' in a square's menu on the board.")
        _compare(choices)
        return
    with st.spinner("Comparing, and dealing again with each …"):
        found = steps.substitutes(workshop, choices, square, others)
    st.text(
        f"{found.original.id}: {words_for(found.original)}, in {found.stack} "
        f"({found.role}, {found.value}); {found.verdict} against the background."
    )
    lines(found.notes, mark="")
    left, right = st.columns(2, gap="large")
    with left:
        _kind("Looks like it", "Near in colour, print and value spread.", found, found.looks)
    with right:
        _kind("Does its job", "Keeps value, contrast and evenness of the plan.", found, found.job)
    _compare(choices)


st.title("Swap")
with told():
    _page()
