"""Cut and sew: the quilt as it will be, and the sheets to work from."""

import streamlit as st

from app.web import session, steps
from app.web.frame import page_link
from app.web.notices import lines, told
from colorcore.preview.picture import View
from colorcore.project import Choices

CAUTIONS = (
    "A rotary cutter is a razor: close it after every cut, cut away from you, keep fingers off the "
    "ruler's edge. An iron burns: set it down on its heel, and follow its maker's instructions. "
    "Mind the needle, and stand up straight now and then."
)
VIEWS = {"In colour": View.COLOR, "In value only": View.VALUE, "Across a room": View.ROOM}


def _options(choices: Choices) -> None:
    left, middle, right = st.columns(3)
    measure = left.segmented_control(
        "Measures", ["inches", "centimetres"], default=choices.option("measure", "inches")
    )
    paper = middle.segmented_control(
        "Paper", ["Letter", "A4"], default=choices.option("paper", "Letter")
    )
    have = right.number_input(
        "Background at hand, yards (0: not bought yet)",
        0.0,
        50.0,
        float(choices.option("background-yards", "0")),
        step=0.25,
    )
    new = choices.with_option("measure", measure or "inches")
    new = new.with_option("paper", paper or "Letter").with_option("background-yards", f"{have:g}")
    known = choices.with_option("measure", choices.option("measure", "inches"))
    known = known.with_option("paper", choices.option("paper", "Letter"))
    known = known.with_option("background-yards", choices.option("background-yards", "0"))
    if new != known:
        session.save(new, "chose measures, paper or yardage")
        st.rerun()


def _downloads(choices: Choices) -> None:
    st.header("Take it along")
    st.write("The sheet to work from, the stacks as a page, and the plan for a spreadsheet.")
    with st.spinner("Setting the sheets …"):
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
    columns = st.columns(3)
    for number, (name, (label, kind, first)) in enumerate(labels.items()):
        if name in files:
            columns[number % 3].download_button(
                label,
                files[name],
                name,
                kind,
                type="primary" if first else "secondary",
                width="stretch",
                on_click="ignore",
            )


def _page() -> None:
    choices = session.choices()
    workshop = session.workshop()
    if not choices.photos or not workshop.is_dealt(choices):
        st.info("Deal the stacks first; then the cutting follows.", icon=":material/stacks:")
        if st.button("To the stacks", type="primary"):
            st.switch_page(page_link("stacks"))
        return
    _options(choices)
    with st.spinner("Laying the cuts and pairing the prints …"):
        making = steps.making(workshop, choices)
    left, right = st.columns([3, 2])
    with left:
        view = st.segmented_control("The quilt", list(VIEWS), default="In colour") or "In colour"
        with st.spinner("Laying out the quilt …"):
            picture = steps.quilt_picture(workshop, choices, VIEWS[view])
        st.image(
            picture,
            width="stretch",
            alt=f"{making.plan.pattern}, {making.plan.size}: the whole quilt from the photographed "
            f"fabrics, {VIEWS[view].value}",
        )
    with st.spinner("Writing the recipes …"):
        content = steps.sheet(workshop, choices)
    with right:
        st.subheader(content.title)
        st.text(content.lead)
        lines((f"{name}: {fact}" for name, fact in content.facts), mark="")
        st.subheader("To buy")
        lines(f"{name}: {amount}" for name, amount in content.shopping)
    st.warning(CAUTIONS, icon=":material/warning:")
    _downloads(choices)
    _mix_again(choices)


def _mix_again(choices: Choices) -> None:
    st.header("Another arrangement")
    st.write("The same pieces, paired and laid out anew.")
    seed = int(choices.option("seed", "1"))
    if st.button(f"Mix again (now arrangement {seed})", icon=":material/shuffle:"):
        session.save(choices.with_option("seed", str(seed + 1)), "mixed the arrangement")
        st.rerun()


st.title("Cut and sew")
with told():
    _page()
