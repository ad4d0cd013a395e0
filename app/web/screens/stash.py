"""Stash: the maker's own fabrics, solids and threads."""

import tempfile
import time
import zlib
from fractions import Fraction
from pathlib import Path

import streamlit as st
from streamlit.delta_generator import DeltaGenerator
from streamlit.runtime.uploaded_file_manager import UploadedFile

from app.web import session
from app.web.notices import (
    lines,
    note_after,
    show_empty,
    show_kept_beside,
    stoppable,
    told,
    told_after,
)
from app.web.sayings import shown_name
from colorcore.color.naming import describe_color
from colorcore.errors import StashError
from colorcore.stash import Kind, StashEntry
from colorcore.stash.amounts import parse_amount, say_amount
from colorcore.stash.csv_files import export_csv
from colorcore.stash.exchange import Imported, import_csv, import_json
from colorcore.stash.intake import IntakeSettings
from colorcore.stash.json_files import export_json
from colorcore.stash.measuring import Subject
from colorcore.wording import listing

SUBJECTS = {
    "Find out": Subject.ANY,
    "Squares": Subject.SQUARES,
    "One piece of cloth": Subject.PIECE,
    "A fat quarter": Subject.FAT_QUARTER,
    "A spool of thread": Subject.SPOOL,
}
ROUND = "stash-round"
FIELDS = ("name", "amount", "place", "note", "used")
MOST_SHOWN = 60
MOST_NAMED = 6
SAID = ("subject", "place", "amount")
ADDING = "stash-add"
NO_BREAK = "\u00a0"
LOOKS_EVERY_SECONDS = 0.1


def _add() -> None:
    with st.expander("Add photos", expanded=not _entries("", None)):
        st.write(
            "Squares, the folded edge of yardage, fat quarters, spools, or one piece per photo; "
            "white paper beside them."
        )
        left, right = st.columns(2)
        left.selectbox("What they show", list(SUBJECTS), key="stash-subject")
        right.text_input("Where kept", placeholder="shelf 2, blue box", key="stash-place")
        st.text_input(
            "How much of each, if you know it", placeholder="½ yard, 2 fat quarters",
            key="stash-amount",
        )  # fmt: skip
        turn = st.session_state.get(ROUND, 0)
        with st.container(key="upload-stash"):
            files = st.file_uploader(
                "Drop photos here, or choose them", accept_multiple_files=True,
                key=f"stash-photos-{turn}", max_upload_size=200,
            )  # fmt: skip
        st.button(
            "Measure and keep", type="primary", disabled=not files,
            on_click=_measure, args=(f"stash-photos-{turn}",),
        )  # fmt: skip
        show_kept_beside(ADDING)


def _measure(key: str) -> None:
    """Have the shelf measure what was uploaded: it does, whatever page is shown meanwhile."""
    with told_after(ADDING):
        said = {what: str(st.session_state[f"stash-{what}"]) for what in SAID}
        files = st.session_state[key]
        amount, unit = parse_amount(said["amount"]) if said["amount"].strip() else (None, None)
        settings = IntakeSettings(
            subject=SUBJECTS[said["subject"]], place=said["place"], amount=amount, unit=unit
        )
        photos = [(file.name, file.getvalue()) for file in files]
        session.workshop().shelf.bring(photos, settings)
        st.session_state[ROUND] = st.session_state.get(ROUND, 0) + 1


def _ask_after_a_stop() -> None:
    """Where measuring was stopped: which photos wait, and what to do with them."""
    shelf = session.workshop().shelf
    now = shelf.progress()
    if now is None or not now.stopped:
        return
    with st.container(border=True):
        names = listing(now.waiting[:MOST_NAMED])
        more = len(now.waiting) - MOST_NAMED
        rest = f" and {more} more" if more > 0 else ""
        st.text(f"Measuring was stopped. What was measured is kept; not yet: {names}{rest}.")
        with st.container(horizontal=True):
            st.button(
                "Go on measuring", type="primary", icon=":material/play_arrow:",
                on_click=shelf.go_on,
            )  # fmt: skip
            st.button("Leave them out", icon=":material/close:", on_click=shelf.let_go)


def _watch(place: DeltaGenerator) -> None:
    """Show how far the shelf is until it is done. Any click ends the watching, not the work."""
    shelf = session.workshop().shelf
    if (now := shelf.progress()) is None or now.stopped:
        return
    with place, stoppable("Measuring", on_stop=shelf.stop) as report:
        while now is not None and not now.stopped:
            words = f"Measuring photo {min(now.done + 1, now.total)} of {now.total}"
            report(now.done, now.total, f"{words}; you can go on with other work meanwhile.")
            time.sleep(LOOKS_EVERY_SECONDS)
            now = shelf.progress()
    session.note_what_came()
    st.rerun()


def _entries(text: str, kind: Kind | None) -> list[StashEntry]:
    with session.workshop().stash() as stash:
        return stash.entries(kind=kind, text=text)


def _show(entry: StashEntry) -> None:
    with session.workshop().stash() as stash:
        picture = stash.picture(entry.id)
    st.image(picture, width="stretch", alt=f"{entry.name}: {describe_color(entry.lab)}")
    lines(
        (
            entry.name,
            f"{describe_color(entry.lab)}, L*{NO_BREAK}{entry.lab[0]:.0f}{NO_BREAK}±{NO_BREAK}"
            f"{entry.lab_sd[0]:.0f}",
            ", ".join(filter(None, (say_amount(entry.amount, entry.unit), entry.place))),
        ),
        mark="",
    )
    with st.popover("Change", width="stretch"):
        _change(entry)


def _change(entry: StashEntry) -> None:
    there_is = say_amount(entry.amount, entry.unit)
    # What was kept or taken back is shown by other fields: what the browser still holds is not
    # kept once more, nor used once more.
    shown = zlib.crc32(repr((entry.name, there_is, entry.place, entry.note)).encode())
    keys = {what: f"{what}-{entry.id}-{shown}" for what in FIELDS}
    with st.form(f"change-{entry.id}", border=False):
        st.text_input("Name", entry.name, max_chars=200, key=keys["name"])
        st.text_input("How much there is", there_is, key=keys["amount"])
        st.text_input("Where kept", entry.place, key=keys["place"])
        st.text_area("Note", entry.note, max_chars=2000, key=keys["note"])
        st.text_input("Use from it", placeholder=f"how many {entry.unit}", key=keys["used"])
        st.form_submit_button(
            "Keep", type="primary", width="stretch", on_click=_keep, args=(entry, keys)
        )
        show_kept_beside(_beside(entry))
    st.button(
        "Take it out of the stash", key=f"remove-{entry.id}", width="stretch",
        on_click=_take_out, args=(entry,),
    )  # fmt: skip


def _beside(entry: StashEntry) -> str:
    return f"stash-{entry.id}"


def _keep(entry: StashEntry, keys: dict[str, str]) -> None:
    """Keep what the form of a fabric says."""
    said = {what: str(st.session_state[key]) for what, key in keys.items()}
    with told_after(_beside(entry)), session.workshop().stash() as stash:
        # Understood before anything is kept: all of the form is, or nothing.
        there_is = say_amount(entry.amount, entry.unit)
        right = None if said["amount"].strip() == there_is else _amount(entry, said["amount"])
        gone = _amount(entry, said["used"]) if said["used"].strip() else None
        with stash.together():
            if said["name"].strip() != entry.name:
                stash.rename(entry.id, said["name"])
            stash.describe(entry.id, amount=right, place=said["place"], note=said["note"])
            if gone is not None:
                stash.use(entry.id, gone)


def _take_out(entry: StashEntry) -> None:
    with told_after():
        with session.workshop().stash() as stash:
            stash.remove(entry.id)
        note_after(f"{entry.name} was taken out; undo brings it back.")


def _amount(entry: StashEntry, text: str) -> Fraction:
    amount, unit = parse_amount(text, unit=entry.unit)
    if unit != entry.unit:
        raise StashError(f"{entry.name} is kept in {entry.unit}; say how many {entry.unit}.")
    return amount


def _exchange() -> None:
    st.header("Take along, bring back", anchor=False)
    workshop = session.workshop()

    def everything() -> bytes:
        with workshop.stash() as stash:
            return b"".join(export_json(stash))

    with workshop.stash() as stash:
        table = export_csv(stash)
    one, two, three = st.columns(3)
    one.download_button("Table (CSV)", table, "stash.csv", "text/csv", width="stretch")
    # With its pictures only when it is asked for, not whenever the page is shown.
    two.download_button(
        "Everything (JSON)", everything, "stash.json", "application/json", width="stretch"
    )
    three.button("Undo the newest change", icon=":material/undo:", width="stretch", on_click=_undo)
    turn = st.session_state.get(ROUND, 0)
    with st.container(key="stash-back"):
        file = st.file_uploader("Bring back a stash file (CSV or JSON)", key=f"stash-file-{turn}")
    if file:
        st.button("Take it into the stash", on_click=_take_in, args=(file, turn))


def _undo() -> None:
    with told_after():
        with session.workshop().stash() as stash:
            done = stash.undo()
        note_after(f"Taken back: {done}.")


def _take_in(file: UploadedFile, turn: int) -> None:
    with told_after():
        came = _bring_back(file)
        note_after(
            f"{len(came.added)} added, {len(came.changed)} changed, {came.known} as they were."
        )
        st.session_state[ROUND] = turn + 1


def _bring_back(file: UploadedFile) -> Imported:
    """Take a stash file in by its ending; faults name it as the maker does."""
    name = shown_name(file.name)
    ending = Path(name).suffix.lower()
    bring = {".csv": import_csv, ".json": import_json}.get(ending)
    if bring is None:
        raise StashError(f"{name}: no stash file; choose a table (.csv) or everything (.json).")
    with tempfile.TemporaryDirectory(prefix="bundlestacks-") as folder:
        path = Path(folder) / f"stash{ending}"
        path.write_bytes(file.getvalue())
        try:
            with session.workshop().stash() as stash:
                return bring(stash, path)
        except StashError as error:
            raise StashError(str(error).replace(path.name, name, 1)) from error


def _page() -> None:
    place = st.container()
    _ask_after_a_stop()
    _add()
    _list()
    _exchange()
    _watch(place)


def _list() -> None:
    search, which = st.columns([3, 2])
    text = search.text_input("Search in names, places and notes", placeholder="blue")
    kind = which.segmented_control(
        "Kind", ["all", *Kind], default="all", format_func=str.capitalize
    )
    found = _entries(text, None if kind in (None, "all") else Kind(kind))
    if not found:
        if text or kind not in (None, "all"):
            st.write("Nothing of that kind or name is in the stash.")
        else:
            show_empty(
                "Nothing here yet",
                "Add photos of what you own: fabrics, solids and threads. They are measured, and "
                "proposed where a square does not work, for binding, backing and quilting.",
            )
        return
    more = f", the first {MOST_SHOWN} shown" if len(found) > MOST_SHOWN else ""
    st.caption(f"{len(found)} found{more}")
    shown = found[:MOST_SHOWN]
    for start in range(0, len(shown), 4):
        with st.container(key=f"grid-{start}"):
            columns = st.columns(4)
        for column, entry in zip(columns, shown[start : start + 4], strict=False):
            with column:
                _show(entry)


st.title("Stash", anchor=False)
with told():
    _page()
