"""Cut and sew: the quilt as it will be, and the sheets to work from."""

from functools import partial

import streamlit as st
from streamlit.delta_generator import DeltaGenerator

from app.web import session, steps
from app.web.needs import with_stacks
from app.web.notices import lines, plain, show_facts, show_wide, told
from app.web.parts import picture_url
from colorcore.preview.picture import View
from colorcore.project import Choices
from colorcore.sheets.cutting_parts import Content, Drawn, Recipe, StackPage

LONGEST_NAME = 24
YARDS = "background-yards"
DEFAULTS = {"measure": "inches", "paper": "Letter", YARDS: "0"}
VIEWS = {"In colour": View.COLOR, "In value only": View.VALUE, "Across a room": View.ROOM}


def _options(choices: Choices) -> DeltaGenerator:
    """Ask for measures and paper; return the place beside them."""
    # A value that the browser still holds from before an undo must not do the step again.
    mark = session.mark()
    project = session.current_project()
    left, middle, right = st.columns(3)
    left.segmented_control(
        "Measures", ["inches", "centimetres"], default=_option(choices, "measure"),
        key=f"measure-{mark}", on_change=_choose, args=(project, "measure", f"measure-{mark}"),
    )  # fmt: skip
    middle.segmented_control(
        "Paper", ["Letter", "A4"], default=_option(choices, "paper"),
        key=f"paper-{mark}", on_change=_choose, args=(project, "paper", f"paper-{mark}"),
    )  # fmt: skip
    return right.container()


def _background_at_hand(choices: Choices, place: DeltaGenerator) -> None:
    """Ask how much background there is, where the pattern takes any."""
    if not steps.takes_background(session.workshop(), choices):
        return
    key = f"yards-{session.mark()}"
    place.number_input(
        "Background at hand, yards (0: not bought yet)",
        0.0, 50.0, float(_option(choices, YARDS)), step=0.25,
        key=key, on_change=_choose, args=(session.current_project(), YARDS, key),
    )  # fmt: skip


def _cloths(choices: Choices) -> None:
    """Ask for the colours of what the pattern cuts from other yardage than the background."""
    workshop, mark = session.workshop(), session.mark()
    names = steps.other_cloths(workshop, choices)
    for start in range(0, len(names), 3):
        for name, column in zip(names[start : start + 3], st.columns(3), strict=False):
            key = f"cloth-{name}-{mark}"
            column.text_input(
                f"Colour of the {plain(name)}", choices.option(f"{steps.CLOTH}{name}"), key=key,
                placeholder="navy, #20304a, a fabric of the stash", max_chars=200,
                on_change=_choose_cloth, args=(session.current_project(), name, key),
                help="A colour, or the name of a fabric in your stash. Until it is known, it is "
                "drawn grey.",
            )  # fmt: skip


def _choose_cloth(project: int | None, name: str, key: str) -> None:
    text = st.session_state[key]
    session.step(project, partial(steps.with_cloth, session.workshop(), name, text))


def _option(choices: Choices, name: str) -> str:
    return choices.option(name, DEFAULTS[name])


def _choose(project: int | None, name: str, key: str) -> None:
    value = st.session_state[key]
    text = f"{value:g}" if name == YARDS else value or DEFAULTS[name]
    session.step(project, partial(_with_option, name, text))


def _with_option(name: str, text: str, choices: Choices) -> tuple[Choices, str]:
    # What stands for itself need not be said: that is no step.
    known = text == _option(choices, name)
    new = choices if known else choices.with_option(name, text)
    return new, "chose measures, paper or yardage"


def _downloads(choices: Choices) -> None:
    st.header("Take it along", anchor=False)
    st.write("The sheet to work from, the stacks as a page, and the plan for a spreadsheet.")
    with st.spinner("Writing the sheets …"):
        files = steps.files(session.workshop(), choices)
    labels = {
        "plan.pdf": ("Sheet to print (PDF)", "application/pdf", True),
        "plan.html": ("Stacks as a page (HTML)", "text/html", False),
        "plan.csv": ("Table (CSV)", "text/csv", False),
        "plan.json": ("Plan (JSON)", "application/json", False),
        "bundle.json": ("Measured squares (JSON)", "application/json", False),
        "quilt.png": ("Picture of the quilt (PNG)", "image/png", False),
        "quilt.svg": ("Drawing of the quilt (SVG)", "image/svg+xml", False),
    }
    with st.container(key="row-files", horizontal=True):
        for name, (label, kind, first) in labels.items():
            if name in files:
                st.download_button(
                    label,
                    files[name],
                    name,
                    kind,
                    type="primary" if first else "secondary",
                    on_click="ignore",
                )


def _draw(drawn: Drawn, key: str) -> None:
    """A drawing on paper of its own: its ink is dark in the dark theme too."""
    with st.container(key=f"paper-{key}"):
        st.image(drawn.jpeg or drawn.svg, width="stretch", alt=drawn.words)


def _quilt(choices: Choices, content: Content) -> None:
    left, right = st.columns([3, 2], gap="large")
    with left:
        view = st.segmented_control("The quilt", list(VIEWS), default="In colour") or "In colour"
        with st.spinner("Laying out the quilt …"):
            picture = steps.quilt_picture(session.workshop(), choices, VIEWS[view])
        st.image(
            picture,
            width="stretch",
            alt=f"{content.title}: the whole quilt from the photographed fabrics, "
            f"{VIEWS[view].value}",
        )
    with right:
        st.header(plain(content.title), anchor=False)
        st.text(content.lead)
        show_facts(content.facts)
    buy, checked = st.columns(2, gap="large")
    with buy:
        st.header("To buy", anchor=False)
        show_facts(content.shopping)
    with checked:
        st.header("Checked", anchor=False)
        lines((f"{'✓' if check.ok else 'Look:'} {check.text}" for check in content.checks), mark="")


def _named(words: str) -> tuple[str, str]:
    """A caution as what it is about and what to do."""
    name, colon, rest = words.partition(": ")
    return (name, rest) if colon and len(name) < LONGEST_NAME else ("", words)


def _cut_stack(stack: StackPage) -> None:
    st.header(plain(stack.name), anchor=False)
    st.text(stack.sentence)
    for start in range(0, len(stack.kinds), 3):
        row = enumerate(stack.kinds[start : start + 3], start)
        for column, (number, kind) in zip(st.columns(3, gap="medium"), row, strict=False):
            with column:
                _draw(kind.drawing, f"{stack.name}-{number}")
                st.subheader(plain(kind.heading), anchor=False)
                # What is cut on its own has its square in the heading.
                named = "" if kind.note else ", ".join(kind.squares)
                said = (named, *kind.gives, kind.left_over, kind.note)
                lines(filter(None, said), mark="")
    lines(filter(None, (stack.spare, stack.proof)), mark="")


def _cutting(content: Content) -> None:
    st.caption(content.legends.cutting)
    for stack in content.cutting:
        _cut_stack(stack)
    st.header("From yardage", anchor=False)
    for page, column in zip(content.yardage, st.columns(len(content.yardage) or 1), strict=False):
        with column:
            st.subheader(plain(f"{page.name}: {page.buy}"), anchor=False)
            lines(f"{strips} strip of {height}: {gives}" for strips, height, gives in page.rows)
            lines(filter(None, [page.enough]), mark="")
    st.header("Marking", anchor=False)
    st.caption(content.legends.marking)
    show_facts(content.marking)


def _recipe(recipe: Recipe, number: int) -> None:
    st.header(plain(recipe.name.capitalize()), anchor=False)
    one, two, words = st.columns([1, 1, 2], gap="medium")
    with one:
        _draw(recipe.drawing, f"recipe-{number}")
    if recipe.photo is not None:
        with two:
            _draw(recipe.photo, f"recipe-photo-{number}")
    with words:
        lines((recipe.make, recipe.size), mark="")
        lines(f"{part}: {fabric}, {pieces}" for part, fabric, pieces in recipe.pieces)
        lines((*recipe.steps, *recipe.pressing))


def _rows(content: Content) -> None:
    for number, drawn in enumerate(content.maps):
        address = picture_url(drawn.svg.encode("utf-8"), f"map-{number}", "image/svg+xml")
        with st.container(key=f"paper-map-{number}"):
            show_wide(address, drawn.words)
    st.caption(content.legends.rows)
    for row in content.rows:
        with st.expander(f"Row {row.number}"):
            lines(f"{unit}: {squares}" for unit, squares in row.units)
            st.text(row.press)
    lines(content.assembly)


def _finishing(content: Content) -> None:
    st.header("Quilting thread", anchor=False)
    lines(content.threads or ["Measure your spools on the page 'Stash': the nearest to the quilt's "
                              "fabrics are named here."])  # fmt: skip
    st.header("Binding, border and backing from the stash", anchor=False)
    if not content.fabrics:
        st.write("Yardage in the stash would be proposed here, with how much of it there is.")
    for use, proposals in content.fabrics:
        st.subheader(plain(use.capitalize()), anchor=False)
        lines(proposals)
    lines(content.shared)
    st.header("Backing, batting, binding", anchor=False)
    lines(content.finishing)
    for number, drawn in enumerate(content.backing):
        left, _ = st.columns([1, 2])
        with left:
            _draw(drawn, f"backing-{number}")


def _page() -> None:
    choices = with_stacks("The cutting, the quilt and the sheets to print follow from the stacks.")
    if choices is None:
        return
    workshop = session.workshop()
    beside = _options(choices)
    with st.spinner("Laying the cuts and pairing the prints …"):
        content = steps.sheet(workshop, choices)
    _background_at_hand(choices, beside)
    _cloths(choices)
    _quilt(choices, content)
    _downloads(choices)
    st.header("Work safely", anchor=False)
    show_facts(_named(words) for words in content.cautions)
    cutting, units, rows, finishing = st.tabs(["Cutting", "Units", "Rows", "Finishing"])
    with cutting:
        _cutting(content)
    with units:
        st.caption(content.legends.units)
        for number, recipe in enumerate(content.recipes):
            _recipe(recipe, number)
    with rows:
        _rows(content)
    with finishing:
        _finishing(content)
    _mix_again(choices)


def _mix_again(choices: Choices) -> None:
    st.header("Another arrangement", anchor=False)
    st.write("The same pieces, paired and laid out anew.")
    seed = int(choices.option("seed", "1"))
    st.button(
        f"Mix again (now arrangement {seed})", icon=":material/shuffle:",
        on_click=session.step, args=(session.current_project(), _mixed),
    )  # fmt: skip


def _mixed(choices: Choices) -> tuple[Choices, str]:
    seed = int(choices.option("seed", "1")) + 1
    return choices.with_option("seed", str(seed)), "mixed the arrangement"


st.title("Cut and sew", anchor=False)
with told():
    _page()
