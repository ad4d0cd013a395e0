"""Stacks: the squares dealt, to be moved by hand, locked, and dealt again around the locks."""

import contextlib
from dataclasses import replace
from functools import partial
from typing import Any

import streamlit as st
from streamlit.delta_generator import DeltaGenerator

from app.web import session, steps
from app.web.boarding import after_report, board_data
from app.web.choosing import CHOSE, standing, with_choice
from app.web.needs import measure, with_photos
from app.web.notices import (
    lines,
    note_after,
    plain,
    show_chip,
    show_facts,
    show_next,
    show_warnings,
    told,
    told_after,
)
from app.web.parts import picture_url, show_part
from app.web.sayings import background_words
from app.web.workshop import DEFAULT_BACKGROUND, chosen_pattern
from colorcore.color.css import css_color
from colorcore.errors import BundleError, PatternError
from colorcore.pattern import decode_pattern, parse_pattern, shipped_patterns
from colorcore.project import Choices
from colorcore.sheets.second_look import photo_warnings
from colorcore.sheets.view import Card, PlanView, view_plan
from colorcore.stacking import Plan, find_size
from colorcore.wording import BESIDE_PRINT, as_typed, count, listing, number, sentence

THUMBNAIL = 200
MOST_PATTERN_MEGABYTES = 1
WAYS = {"In colour": "color", "In value only": "value", "On the value axis": "axis"}
WORDS = {
    "of": "of", "tooMany": "too many", "tooFew": "too few", "empty": "Nothing here.",
    "locked": "locked", "unlocked": "unlocked", "lock": "Lock it here", "unlock": "Unlock it",
    "moveTo": "Move to", "movedTo": "moved to", "swap": "Find a substitute",
    "background": "background",
}  # fmt: skip


def _choose(choices: Choices) -> DeltaGenerator:
    """Ask for pattern, size and background; return the place for the background in words."""
    shipped = shipped_patterns()
    project = session.current_project()
    # What is chosen here counts until the project changes: a value that the browser still holds
    # from before an undo must not do the step again.
    mark = session.mark()
    own = "\n" in choices.pattern
    left, middle, right = st.columns([2, 1, 2])
    names = [*shipped, "own"] if own else list(shipped)
    default = "own" if own else choices.pattern or names[0]
    name = left.selectbox(
        "Pattern",
        names,
        index=names.index(default) if default in names else 0,
        key=f"pattern-{mark}",
        on_change=_keep,
        args=(project, "pattern", f"pattern-{mark}"),
        format_func=lambda n: _own_name(choices) if n == "own" else n.replace("-", " ").title(),
        help="\n".join(f"**{n}**: {words}  " for n, words in shipped.items()),
    )
    pattern = choices.pattern if name == "own" else name
    chosen = replace(choices, pattern=pattern)
    # Once the pattern is used this is another one, which is closed.
    with left.popover("Bring a pattern of your own", width="stretch", key=f"own-{mark}"):
        file = st.file_uploader(
            "A pattern file (TOML)", key="own-pattern", max_upload_size=MOST_PATTERN_MEGABYTES
        )
        if file:
            # What is wrong with the file is told beside it, before anything is done with it.
            with told():
                text = decode_pattern(file.getvalue(), source=file.name)
                brought = parse_pattern(text, source=file.name)
                sizes = [f"{size.name}, {count(size.squares, 'square')}" for size in brought.sizes]
                st.text(
                    f"{brought.name}, for squares of {brought.square_inches:g} in: "
                    f"{'; '.join(sizes)}."
                )
                st.button(
                    "Use this pattern", type="primary", width="stretch",
                    on_click=session.step, args=(project, partial(_own, text)),
                )  # fmt: skip
        st.write("To make your own, change the file of one that is there in a text editor.")
        st.download_button(
            "The chosen pattern's file", partial(_pattern_file, chosen),
            "my-pattern.toml", "application/toml", icon=":material/download:", width="stretch",
            on_click="ignore",
        )  # fmt: skip
    sizes = [size.name for size in chosen_pattern(chosen).sizes]
    size = middle.selectbox(
        "Size",
        sizes,
        index=sizes.index(choices.size) if choices.size in sizes else 0,
        key=f"size-{mark}",
        on_change=_keep,
        args=(project, "size", f"size-{mark}"),
    )
    background = right.text_input(
        "Background fabric",
        choices.background or DEFAULT_BACKGROUND,
        key=f"background-{mark}",
        on_change=_keep,
        args=(project, "background", f"background-{mark}"),
        help="A square's address such as B3, a fabric of the stash, a colour such as white or "
        "#f4efe6, or 'fabric on photo 1' for what you marked there. 'Background' compares several.",
    )
    new = replace(chosen, size=size, background=background.strip())
    said = {"pattern": new.pattern, "size": new.size, "background": new.background}
    if any(standing(what, choices) != value for what, value in said.items()):
        session.workshop().background(new)
        session.step(project, partial(_chosen, new))
        st.rerun()
    return right.empty()


def _keep(project: int | None, what: str, key: str) -> None:
    """Keep a choice as a step of its own. Where it cannot be, the page itself says why, and the
    widget keeps what was said."""
    value = as_typed(st.session_state[key])
    if project is None or (what, value) == ("pattern", "own"):
        return
    with told_after(), contextlib.suppress(BundleError):
        session.workshop().step(project, partial(with_choice, session.workshop(), what, value))


def _own_name(choices: Choices) -> str:
    # One that was kept before may be refused by now: it must still be there to be left.
    try:
        return f"{chosen_pattern(choices).name} (your own)"
    except PatternError:
        return "Your own"


def _pattern_file(choices: Choices) -> str:
    """What the chosen pattern was read from."""
    return choices.pattern if "\n" in choices.pattern else chosen_pattern(choices).text


def _chosen(new: Choices, choices: Choices) -> tuple[Choices, str]:
    chosen = replace(choices, pattern=new.pattern, size=new.size, background=new.background)
    return chosen, CHOSE


def _own(text: str, choices: Choices) -> tuple[Choices, str]:
    own = replace(choices, pattern=f"{text}\n", size="")
    chosen_pattern(own)
    return own, "brought a pattern"


def _deal(project: int | None) -> None:
    """Deal again around the locks: a step that is finished and kept, whatever is clicked next; so
    nothing is shown before it."""
    before = session.take_step(project, _dealt)
    if before is not None:
        st.session_state["before"] = dict(before.places)


def _dealt(choices: Choices) -> tuple[Choices, str]:
    return session.workshop().deal(choices)[0], "dealt again"


def _deal_first(project: int | None, choices: Choices) -> None:
    """Deal as a part of the newest step, photos or pattern: undoing that takes this back too."""
    with st.spinner("Dealing …"):
        new, _ = session.workshop().deal(choices)
    if project is not None:
        session.workshop().projects.complete(project, choices, new)
    let_go = len(choices.locks) - len(new.locks)
    if let_go:
        note_after(
            f"{count(let_go, 'square is', 'squares are')} no longer locked: this pattern has no "
            "stack of that name. Undo brings pattern and locks back."
        )
    st.session_state["before"] = {}


def _picture(card: Card, value: bool) -> str:
    data = session.workshop().thumbnail(card.swatch, THUMBNAIL, value=value)
    return picture_url(data, f"board-{card.address}-{value}")


def _show_board(choices: Choices) -> None:
    workshop, project = session.workshop(), session.current_project()
    plan = workshop.plan(choices)
    view = view_plan(plan, workshop.bundle(choices), chosen_pattern(choices))
    rules = find_size(chosen_pattern(choices), choices.size or None).stacks

    way = st.segmented_control(
        "The board",
        list(WAYS),
        default="In colour",
        help="In value only, every square is a grey of the same lightness: what holds and what "
        "melts shows best without colour. On the value axis, squares lie from black (L* 0) to "
        "white (100), the background is the line.",
    )

    if plan.background.picture is not None:
        st.caption(BESIDE_PRINT)

    def on_reports(reports: list[dict[str, Any]]) -> None:
        moves = [report for report in reports if report.get("what") != "swap"]
        before = [session.take_step(project, partial(_after, report)) for report in moves]
        # Only now: what the session's state is given may end the callback.
        kept = [choices for choices in before if choices is not None]
        if kept:
            st.session_state["before"] = dict(kept[-1].places)
        for report in reports:
            if report.get("what") == "swap":
                st.session_state["swap-square"] = str(report.get("id"))
                session.lead_on("stacks", "swap")

    data = board_data(
        view,
        {rule.name: rule.squares for rule in rules},
        dict(choices.locks),
        st.session_state.get("before", {}),
        _picture,
        mark=session.mark(),
        swapped={square: words for square, _, words in choices.swaps},
    )
    shown = {
        **data,
        "way": WAYS.get(way or "", "color"),
        "background": round(plan.background.lab[0], 1) if view.on_background else None,
        "words": WORDS,
    }
    show_part("board", shown, key="board", on_reports=on_reports)
    moved = _moved(choices)
    if moved:
        # Below the board, which must stay where it is under the hand that moves squares.
        st.caption(moved)
    # Only now that the board is on its way: looking at every piece takes longer than a move.
    _show_told(steps.checked_plan(workshop, choices), view)


def _show_told(plan: Plan, view: PlanView) -> None:
    left, right = st.columns(2)
    with left:
        st.header("Look again before the first cut", anchor=False)
        again = [f"{', '.join(ids)}: {words}." for ids, words in view.look_again]
        missing = (
            [f"{listing(view.gaps)}: no square was found there; where one lies, add it on the page "
             "'Check the squares'."] if view.gaps else []
        )  # fmt: skip
        lines([*missing, *plan.second_look, *again] or ["Nothing stands out."])
        if plan.margins:
            st.subheader("Where stacks meet", anchor=False)
            lines(plan.margins)
    with right:
        st.header("How far to trust it", anchor=False)
        for trust in view.trust:
            if trust.measured:
                several = len(view.bundle.photos) > 1
                st.text(f"{trust.who}: {trust.words}" if several else sentence(trust.words))
        if view.evenness:
            with st.expander("How even the mixed stacks are"):
                for stacks, figures in view.evenness:
                    if stacks:
                        st.subheader(plain(stacks), anchor=False)
                    show_facts((words, number(figure, 1)) for words, figure in figures)
        st.caption(plan.proof)


def _after(report: Any, choices: Choices) -> tuple[Choices, str]:
    """What a step on the board makes of the choices, refused where no plan can be made of it."""
    new, words = after_report(choices, report)
    session.workshop().plan(new)
    return new, words


def _unlocked(choices: Choices) -> tuple[Choices, str]:
    return replace(choices, locks=()), "unlocked all"


def _page() -> None:
    choices = with_photos()
    if choices is None:
        return
    with told():
        chip = _choose(choices)
        measure(choices)
        with chip.container():
            ground, _ = session.workshop().background(choices)
            pattern = chosen_pattern(choices)
            if len(pattern.stacks_apart(choices.size)) == len(pattern.sizes[0].stacks):
                st.caption("This pattern is sewn to no background.")
            else:
                show_chip(css_color(ground.lab), background_words(ground))
        workshop = session.workshop()
        project = session.current_project()
        again, unlock, _ = st.columns([3, 2, 1])
        again.button(
            "Deal again around the locks", width="stretch", on_click=_deal, args=(project,)
        )
        unlock.button(
            "Unlock all", width="stretch",
            on_click=session.step, args=(project, _unlocked),
        )  # fmt: skip
        # Below the ways out of locks that no deal can keep to.
        if not workshop.is_dealt(choices):
            _deal_first(project, choices)
            st.rerun()
        show_warnings("Before you rely on the numbers", photo_warnings(workshop.bundle(choices)))
        _show_board(choices)
        show_next(("background", "Compare backgrounds"), ("sewing", "Cut and sew"))


def _moved(choices: Choices) -> str:
    before = st.session_state.get("before", {})
    now = dict(choices.places)
    changed = sorted(s for s, stack in now.items() if before.get(s, stack) != stack)
    return f"Changed by the newest step: {', '.join(changed)}." if changed else ""


st.title("Stacks", anchor=False)
with told():
    _page()
