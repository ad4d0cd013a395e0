"""Background: several side by side, and the pieces that melt in place."""

import contextlib
from dataclasses import replace
from functools import partial

import streamlit as st

from app.web import session, steps
from app.web.needs import with_squares
from app.web.notices import lines, plain, show_warnings, show_wide, told
from app.web.parts import picture_url
from app.web.sayings import background_title
from app.web.workshop import DEFAULT_BACKGROUND, chosen_pattern
from colorcore.errors import ColorError, CuttingError, PatternError
from colorcore.pattern import StackRule
from colorcore.project import Choices
from colorcore.stacking import find_size
from colorcore.stacking.ranking import Candidate, Ranking
from colorcore.swatch import Swatch
from colorcore.wording import as_typed, percent, unbroken

MOST_TRIES = 6
MOST_SHOWN = 6


def _as_cloth(choices: Choices, text: str) -> tuple[str, str]:
    return steps.as_cloth(session.workshop(), choices, text)


def _add() -> None:
    with st.form("add-try", clear_on_submit=True, border=False):
        words, rest = st.columns([3, 2], vertical_alignment="bottom")
        with rest, st.container(key="pair-try"):
            pick, go = st.columns([1, 1], vertical_alignment="bottom")
        words.text_input(
            "Try another background",
            key="try-words",
            placeholder="white, #d9d2c5, a square such as B3, a fabric of the stash",
        )
        pick.color_picker("or pick a colour", "#f4efe6", key="try-picked")
        go.form_submit_button(
            "Add", icon=":material/add:", width="stretch",
            on_click=_add_try, args=(session.current_project(),),
        )  # fmt: skip


def _add_try(project: int | None) -> None:
    wanted = as_typed(st.session_state["try-words"]) or st.session_state["try-picked"]
    session.step(project, partial(_with_try, wanted))


def _with_try(wanted: str, choices: Choices) -> tuple[Choices, str]:
    # Refused here where it is no background.
    session.workshop().background(choices, wanted)
    tries = tuple(dict.fromkeys((*(choices.tries or steps.FIRST_TRIES), wanted)))
    if len(tries) > MOST_TRIES:
        raise ColorError(f"{MOST_TRIES} backgrounds side by side are enough; drop one.")
    return replace(choices, tries=tries), f"added the background {wanted} to compare"


def _with_background(text: str, choices: Choices) -> tuple[Choices, str]:
    return replace(choices, background=text), f"chose the background {text}"


def _without_try(text: str, choices: Choices) -> tuple[Choices, str]:
    tries = choices.tries or steps.FIRST_TRIES
    kept = tuple(t for t in tries if _as_cloth(choices, t)[0] != text)
    own = choices.background or DEFAULT_BACKGROUND
    return replace(choices, tries=kept or (own,)), f"dropped the background {text}"


def _show(number: int, candidate: Candidate, choices: Choices, told_above: str) -> None:
    own = choices.background or DEFAULT_BACKGROUND
    label = candidate.background.label
    with contextlib.suppress(CuttingError, PatternError):
        # A pattern without sewing, or a deal that cannot be cut, has no picture to show.
        with st.spinner("Laying out units …"):
            picture = steps.on_units(session.workshop(), choices, candidate)
        if picture:
            st.image(picture, width="stretch", alt=f"A close view of the quilt on {label}")
    st.header(f"{number}. {plain(background_title(candidate.background))}", anchor=False)
    for what, shares in (("focal pieces", candidate.focal_apart), ("pieces in all", candidate)):
        if shares is not None:
            st.markdown(
                f"**{percent(shares.holds)}** of {shares.pieces} {what} hold, "
                f"{percent(shares.soft)} are soft, **{percent(shares.melts)}** melt"
            )
    st.text("\n".join(f"{name}: {percent(share)} hold" for name, share in candidate.groups))
    if candidate.melting:
        st.text(unbroken(f"Mostly melting: {', '.join(candidate.melting)}"))
    if candidate.background.doubt:
        st.text(candidate.background.doubt)
    if candidate.trouble and candidate.trouble != told_above:
        st.text(candidate.trouble)
    text = label.removeprefix("square ")
    if text == own:
        st.caption(":material/check: the background of this project")
        return
    with st.container(key=f"pair-use-{number}"):
        use, drop = st.columns(2)
    project = session.current_project()
    use.button(
        "Use it", key=f"use-{label}", width="stretch",
        on_click=session.step, args=(project, partial(_with_background, text)),
    )  # fmt: skip
    # What stands for the project's own background is there as long as that is.
    stands_in = _as_cloth(choices, own)[0] == text
    if not stands_in:
        drop.button(
            "Drop it", key=f"drop-{label}", width="stretch",
            on_click=session.step, args=(project, partial(_without_try, text)),
        )  # fmt: skip


def _rank(choices: Choices) -> Ranking:
    own = choices.background or DEFAULT_BACKGROUND
    wanted = dict.fromkeys((own, *(choices.tries or steps.FIRST_TRIES)))
    compared = [_as_cloth(choices, text) for text in wanted]
    lines(filter(None, (words for _, words in compared)), mark="")
    tries = tuple(dict.fromkeys(text for text, _ in compared))
    with st.spinner("Cutting every square virtually and looking along the seams …"):
        return steps.ranking(session.workshop(), choices, tries)


def _in_place(choices: Choices, ranking: Ranking) -> None:
    from colorcore.sheets.seams import describe_seams, draw_seams

    st.header("Where it melts", anchor=False)
    st.write(
        "The pieces of a square as they would be cut, on the background. A heavy dashed seam with "
        "a triangle melts, a dotted one is soft, an unmarked one holds."
    )
    titles = {c.background.label: background_title(c.background) for c in ranking.candidates}
    labels = list(titles)
    label = st.selectbox("On which background", labels, format_func=lambda one: titles[one])
    candidate = ranking.candidates[labels.index(label)]
    bundle = session.workshop().bundle(choices)
    rules = find_size(chosen_pattern(choices), choices.size or None).stacks
    rule_of = _rules_by_square(candidate, rules)
    if not rule_of:
        st.text("Without stacks no square has pieces to look at.")
        return
    first = [s for s in bundle.squares if s.id in candidate.melting and s.id in rule_of]
    rest = [s for s in bundle.squares if s.id in rule_of and s not in first]
    chosen = st.multiselect(
        "Squares",
        [s.id for s in first + rest],
        default=[s.id for s in first[:MOST_SHOWN]] or [s.id for s in rest[:3]],
        max_selections=12,
    )
    shown: list[Swatch] = [s for s in bundle.squares if s.id in chosen]
    for start in range(0, len(shown), 3):
        for column, swatch in zip(st.columns(3), shown[start : start + 3], strict=False):
            pieces = rule_of[swatch.id].pieces
            words = describe_seams(swatch, pieces, candidate.background)
            with column:
                drawn = draw_seams(swatch, pieces, candidate.background)
                st.image(drawn, width="stretch", alt=words)
                st.text(words)


def _rules_by_square(candidate: Candidate, rules: tuple[StackRule, ...]) -> dict[str, StackRule]:
    by_name = {rule.name: rule for rule in rules if rule.pieces}
    plan = candidate.plan
    if plan is None:
        return {}
    return {
        placement.square: by_name[stack.name]
        for stack in plan.stacks
        if stack.name in by_name
        for placement in stack.placements
    }


def _page() -> None:
    choices = with_squares()
    if choices is None:
        return
    with told():
        _add()
    ranking = _rank(choices)
    st.write(ranking.sentence)
    st.text(ranking.basis)
    # What keeps the bundle from being dealt at all has nothing to do with any background.
    troubles = {candidate.trouble for candidate in ranking.candidates}
    told_above = troubles.pop() if len(troubles) == 1 else ""
    show_warnings("Not dealt", [told_above] if told_above else [])
    wide = 2 if len(ranking.candidates) in (1, 2, 4) else 3
    for start in range(0, len(ranking.candidates), wide):
        row = ranking.candidates[start : start + wide]
        for column, (number, candidate) in zip(
            st.columns(wide), enumerate(row, start + 1), strict=False
        ):
            with column, st.container(border=True):
                _show(number, candidate, choices, told_above)
    from colorcore.sheets.value_axis import describe_value_axis, draw_value_axis

    squares = session.workshop().bundle(choices).squares
    drawing = draw_value_axis(squares, ranking).encode("utf-8")
    address = picture_url(drawing, "value-axis", "image/svg+xml")
    show_wide(address, describe_value_axis(squares, ranking))
    _in_place(choices, ranking)


st.title("Background", anchor=False)
with told():
    _page()
