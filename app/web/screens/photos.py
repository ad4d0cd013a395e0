"""Bring photos: drop, choose, camera, or the sample bundle."""

from functools import partial
from pathlib import Path

import streamlit as st

from app.web import notices, session
from app.web.following import without
from app.web.samples import bring_samples
from colorcore.project import Choices, ProjectPhoto

MOST_MEGABYTES = 200
ABREAST = 2
SAMPLE = Path(__file__).parent.with_name("static") / "sample.webp"
ROUND = "upload-round"


def _bring(key: str) -> None:
    """Take what was uploaded, once; the next widget is a fresh one."""
    with notices.told_after():
        files = st.session_state[key]
        brought = files if isinstance(files, list) else [files]
        session.bring([file for file in brought if file])
    st.session_state[ROUND] = st.session_state.get(ROUND, 0) + 1


def _ask(turn: int, *, first: bool) -> None:
    choose, camera = st.tabs(["Choose photos", "Use the camera"])
    with choose, st.container(key="upload-first" if first else "upload-more"):
        key = f"brought-{turn}"
        st.file_uploader(
            "Drop photos of one bundle here, or choose them",
            # Any file may come: what is no picture is told by our own reader, by its content.
            type=None,
            accept_multiple_files=True,
            key=key,
            on_change=_bring,
            args=(key,),
            max_upload_size=MOST_MEGABYTES,
        )
        st.caption(f"JPEG, HEIC, PNG, TIFF, WebP or DNG, up to {MOST_MEGABYTES} MB each.")
    with camera:
        if st.toggle("Turn the camera on", key="camera-on"):
            key = f"taken-{turn}"
            st.camera_input("Photograph the squares", key=key, on_change=_bring, args=(key,))


def _offer_sample() -> None:
    st.image(SAMPLE, width="stretch", alt="42 fabric squares in rows on a table, white paper left")
    st.write("No photo at hand? A rendered bundle of 42 squares shows how everything works.")
    st.button(
        "Use the sample bundle", icon=":material/auto_awesome:", width="stretch",
        on_click=_use_sample,
    )  # fmt: skip


def _use_sample() -> None:
    with notices.told_after():
        bring_samples()
        session.lead_on("photos", "squares")


def _show(place: int, item: ProjectPhoto) -> None:
    data, width, height = session.workshop().preview(item.sha256, 900)
    st.image(data, width="stretch", alt=f"Photo {place}: {item.name}")
    words, button = st.columns([3, 2], vertical_alignment="center")
    words.text(item.name)
    words.caption(f"Photo {place}, {width} × {height} pixels")
    button.button(
        "Take out", key=f"take-out-{item.sha256}", icon=":material/close:", width="stretch",
        on_click=session.step, args=(session.current_project(), partial(_without, item)),
    )  # fmt: skip


def _without(item: ProjectPhoto, choices: Choices) -> tuple[Choices, str]:
    return without(session.workshop(), choices, item), f"took {item.name} out"


def _page() -> None:
    photos = session.choices().photos
    turn = st.session_state.get(ROUND, 0)
    if not photos:
        left, right = st.columns([3, 2], gap="large")
        with left:
            _ask(turn, first=True)
            st.markdown(
                "1. Lay the squares out with a finger's width between them.\n"
                "2. Put **a sheet of plain white paper** beside them, and a grey card if you have "
                "one: the contrast rests on it.\n"
                "3. Photograph from above by daylight, out of the sun, all corners in the picture."
            )
        with right:
            _offer_sample()
        return
    if st.button("Check the squares", type="primary", icon=":material/arrow_forward:"):
        st.switch_page(notices.page_path("squares"))
    st.header("In this project", anchor=False)
    abreast = min(ABREAST, len(photos))
    for start in range(0, len(photos), abreast):
        # Row by row: on a phone, where they lie below each other, they keep their order.
        row = enumerate(photos[start : start + abreast], start + 1)
        for column, (place, item) in zip(st.columns(abreast), row, strict=False):
            with column, notices.told():
                _show(place, item)
    st.header("Add more", anchor=False)
    _ask(turn, first=False)


st.title("Bring photos of your bundle", anchor=False)
st.write("Everything stays on this computer; no photo leaves it.")
with notices.told():
    _page()
