"""Check the squares: outlines and addresses on the photo, to be corrected by hand."""

import hashlib
from dataclasses import replace
from functools import partial
from typing import Any

import streamlit as st

from app.web import session
from app.web.following import corrected
from app.web.needs import with_photos
from app.web.notices import page_path, show_warnings, told
from app.web.outlining import Outline, addressed, after_report, outlines, say_step
from app.web.parts import picture_url, show_part
from app.web.workshop import DEFAULT_BACKGROUND
from colorcore.errors import ProjectError
from colorcore.finding import Finding, overlapping_squares
from colorcore.project import Choices, ProjectPhoto
from colorcore.project.addresses import region_name, region_place
from colorcore.sheets.second_look import gaps
from colorcore.wording import TRUST_WORDS, count, listing, sentence

SIZES = [2.5, 5.0, 10.0]
WORDS = {
    "tools": [
        ["adjust", "Adjust"],
        ["add", "Add a square"],
        ["ignore", "Not a square"],
        ["white", "This is the paper"],
        ["background", "This is background fabric"],
        ["outer", "Outer corners"],
    ],
    "hints": {
        "adjust": "Choose a square and drag its corners. Arrow keys move a corner, with Shift "
        "farther; Delete takes the square out.",
        "add": "Click or tap the middle of the square that was missed.",
        "ignore": "Click or tap what is not a square.",
        "white": "Click or tap the sheet of white paper.",
        "background": "Click or tap the background fabric, then drag the corners of the region.",
        "outer": "Drag the four corners to the outer corners of all squares together, then give "
        "rows and columns below.",
    },
    "remove": "Take out", "larger": "Larger", "smaller": "Smaller", "corner": "corner",
    "moved": "moved", "removed": "taken out", "chosen": "chosen", "white": "Paper",
    "background": "Background",
    "pointer": "arrow keys move the cross, Shift farther; Enter uses it",
}  # fmt: skip


def _side(shown: tuple[Outline, ...]) -> list[float]:
    if not shown:
        return [0.15, 0.15]
    spans = [
        [max(c[axis] for c in o.corners) - min(c[axis] for c in o.corners) for axis in (0, 1)]
        for o in shown
    ]
    middle = len(spans) // 2
    return [sorted(span[axis] for span in spans)[middle] for axis in (0, 1)]


def _with_report(
    sha256: str, shown: tuple[Outline, ...], report: Any, place: int, choices: Choices
) -> tuple[Choices, str]:
    """What a report makes of the photo as it is by now: steps that were done since the outlines
    were shown are kept."""
    photo = after_report(_photo(choices, sha256), shown, report)
    return corrected(session.workshop(), choices, photo), f"{say_step(report)} on photo {place}"


def _use_grid(project: int | None, sha256: str, keys: list[str], place: int) -> None:
    rows, columns = (int(st.session_state[key]) for key in keys)
    session.step(project, partial(_with_grid, sha256, (rows, columns), place))


def _with_grid(
    sha256: str, grid: tuple[int, int], place: int, choices: Choices
) -> tuple[Choices, str]:
    photo = replace(_photo(choices, sha256), grid=grid if all(grid) else None)
    new = corrected(session.workshop(), choices, photo)
    return new, f"set rows and columns of photo {place}"


def _as_found(sha256: str, place: int, choices: Choices) -> tuple[Choices, str]:
    photo = _photo(choices, sha256)
    bare = ProjectPhoto(photo.sha256, photo.name)
    return corrected(session.workshop(), choices, bare), f"forgot corrections of photo {place}"


def _choose_size(project: int | None, key: str) -> None:
    size = st.session_state[key]
    if size:
        session.step(project, partial(_with_size, size))


def _with_size(inches: float, choices: Choices) -> tuple[Choices, str]:
    return replace(choices, square_inches=inches), f"set squares of {inches:g} inches"


def _photo(choices: Choices, sha256: str) -> ProjectPhoto:
    for photo in choices.photos:
        if photo.sha256 == sha256:
            return photo
    raise ProjectError("That photo is no longer in the project; undo, or bring it again.")


def _show_photo(photo: ProjectPhoto, place: int) -> None:
    workshop = session.workshop()
    choices = session.choices()
    with st.spinner("Finding and measuring the squares …"):
        finding = workshop.finding(photo, choices.square_inches)
        data, width, height = workshop.preview(photo.sha256)
    counted = _counted_elsewhere(choices, place)
    several = place if len(choices.photos) > 1 else None
    shown = outlines(finding, width, height, several, counted)
    names = addressed(finding, several, counted)
    key = f"outlines-{photo.sha256}"
    project = session.current_project()

    def on_reports(reports: list[dict[str, Any]]) -> None:
        for report in reports:
            session.step(project, partial(_with_report, photo.sha256, shown, report, place))

    with st.container(key=f"beside-{place}"):
        left, right = st.columns([4, 1], gap="medium")
    with left:
        show_part(
            "outlines",
            {
                "url": picture_url(data, key),
                "alt": f"Photo {place} with {len(finding.squares)} squares outlined"
                + (f", of which {len(counted)} are counted in another photo" if counted else ""),
                "rev": hashlib.sha256(repr((photo, session.mark(), names)).encode()).hexdigest(),
                "squares": [
                    {"id": o.id, "address": o.address or o.id, "corners": o.corners,
                     "words": o.words, "doubtful": o.doubtful}
                    for o in shown
                ],
                "white": photo.white,
                "background": photo.background,
                "outer": photo.corners,
                "side": _side(shown),
                "words": WORDS,
            },
            key=key,
            on_reports=on_reports,
        )  # fmt: skip
        # Below the photo, which must stay where it is under the hand that drags a corner.
        show_warnings(
            "Two outlines on the same cloth",
            [
                f"{names[one]} and {names[other]} cover the same cloth: one of the two is wrong. "
                "Adjust it or take it out, else that cloth is measured and dealt twice."
                for one, other in overlapping_squares(finding)
            ],
        )
        if counted:
            st.caption(
                f"{count(len(counted), 'square shows', 'squares show')} in another photo too and "
                f"{'is' if len(counted) == 1 else 'are'} counted there, once: the "
                "label is the address that "
                f"{'it has' if len(counted) == 1 else 'they have'} there."
            )
    with right:
        _show_side(photo, finding, place, several)


def _counted_elsewhere(choices: Choices, place: int) -> dict[str, str]:
    """Squares of a photo that are counted in another one: by their addresses here those there. It
    is known once all photos are measured."""
    workshop = session.workshop()
    if len(choices.photos) < 2 or not workshop.is_measured(choices):
        return {}
    again = workshop.bundle(choices).seen_again
    return {s.address.partition("-")[2]: s.square for s in again if s.photo == place - 1}


def _show_side(photo: ProjectPhoto, finding: Finding, place: int, several: int | None) -> None:
    squares, doubtful = finding.squares, finding.doubtful
    st.metric("Squares found", len(squares))
    if doubtful:
        st.warning(
            f"{len(doubtful)} more outlines are doubtful, marked “?”. Adjust one to keep it, or "
            "take it out.",
            icon=":material/visibility:",
        )
    if not squares:
        st.text(finding.reason)
    number = "" if several is None else f"{several}-"
    holes = gaps((f"{number}{s.address}", s.row, s.column) for s in squares)
    if holes:
        show_warnings(
            "Was one missed?",
            [f"No square was found at {listing(holes)}. Where one lies, choose “Add a square”."],
        )
    _show_trust(photo, place)
    project = session.current_project()
    rows, columns = photo.grid or (0, 0)
    with st.form(f"grid-{photo.sha256}", border=False):
        st.caption("If whole rows are missing, say how the squares lie:")
        with st.container(key=f"pair-grid-{photo.sha256}"):
            one, two = st.columns(2)
        # Other keys for other numbers kept, so that an undo shows: but not for every step, since
        # what was typed and not used yet is to stay.
        keys = [f"{name}-{photo.sha256}-{rows}-{columns}" for name in ("rows", "columns")]
        one.number_input("Rows", 0, 40, rows, key=keys[0])
        two.number_input("Columns", 0, 40, columns, key=keys[1])
        st.form_submit_button(
            "Use these", width="stretch",
            on_click=_use_grid, args=(project, photo.sha256, keys, place),
        )  # fmt: skip
    if photo.background:
        _show_marked(place)
    changed = photo.add or photo.ignore or photo.white or photo.corners or photo.background
    if changed:
        st.button(
            "Forget my corrections", width="stretch", key=f"clear-{place}",
            on_click=session.step, args=(project, partial(_as_found, photo.sha256, place)),
        )  # fmt: skip


def _show_marked(place: int) -> None:
    """Whether the marked fabric is the background of the stacks, and the way to make it that."""
    choices = session.choices()
    if region_place(choices.background) == place:
        st.text("The marked fabric is the background of the stacks.")
        return
    now = choices.background or DEFAULT_BACKGROUND
    st.text(f"The background of the stacks is another one: {now}.")
    st.button(
        "Take the marked fabric", width="stretch", key=f"marked-{place}",
        on_click=session.step, args=(session.current_project(), partial(_with_marked, place)),
    )  # fmt: skip


def _with_marked(place: int, choices: Choices) -> tuple[Choices, str]:
    new = replace(choices, background=region_name(place))
    return new, f"took the marked fabric of photo {place} as background"


def _show_trust(photo: ProjectPhoto, place: int) -> None:
    """How far to trust the photo, as soon as it is measured."""
    workshop, choices = session.workshop(), session.choices()
    if not workshop.is_measured(choices):
        return
    record = workshop.measured(photo, choices.square_inches, place - 1).record
    st.subheader(f"Trust: {record.trust}", anchor=False)
    st.text(sentence(TRUST_WORDS[record.trust]))
    # Here the photo can still be taken again: what the grade rests on, and what would better it.
    with st.expander("Why"):
        st.text(record.trust_words)
    show_warnings("This photo", record.warnings)


def _page() -> None:
    current = with_photos()
    if current is None:
        return
    sides, deal = st.columns([2, 1], vertical_alignment="bottom")
    # A value that the browser still holds from before an undo must not do the step again.
    key = f"square-inches-{session.mark()}"
    sides.segmented_control(
        "Size of the squares",
        SIZES,
        default=current.square_inches if current.square_inches in SIZES else None,
        format_func=lambda inches: f"{inches:g} in".replace("2.5", "2½"),
        key=key,
        on_change=_choose_size,
        args=(session.current_project(), key),
    )
    if deal.button(
        "Deal the stacks", type="primary", icon=":material/arrow_forward:", width="stretch"
    ):
        st.switch_page(page_path("stacks"))
    for number, item in enumerate(current.photos, start=1):
        if len(current.photos) > 1:
            st.header(f"Photo {number}", anchor=False)
        with told():
            _show_photo(item, number)


st.title("Check the squares", anchor=False)
with told():
    _page()
