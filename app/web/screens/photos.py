"""Bring photos: drop, choose, camera, or the sample bundle."""

import streamlit as st

from app.web import session
from app.web.frame import page_link
from app.web.notices import show_trouble, told
from app.web.samples import bring_samples

st.title("Bring photos of your bundle")
st.markdown(
    "Lay the squares out with a finger's width between them, **a sheet of plain white paper** "
    "beside them, and photograph them from above, all corners in the picture. "
    "Everything stays on this computer."
)

KINDS = ["jpg", "jpeg", "png", "tif", "tiff", "webp", "heic", "heif", "dng"]

ROUND = "upload-round"
TROUBLES = "upload-troubles"


def _bring(key: str) -> None:
    """Take what was uploaded, once; the next widget is a fresh one."""
    files = st.session_state[key]
    brought = files if isinstance(files, list) else [files]
    st.session_state[TROUBLES] = session.bring([file for file in brought if file])
    st.session_state[ROUND] = st.session_state.get(ROUND, 0) + 1


choose, camera, sample = st.tabs(["Choose photos", "Use the camera", "Try the sample bundle"])
turn = st.session_state.get(ROUND, 0)
with choose:
    key = f"brought-{turn}"
    st.file_uploader(
        "Photos of one bundle",
        type=KINDS,
        accept_multiple_files=True,
        key=key,
        on_change=_bring,
        args=(key,),
        max_upload_size=200,
    )
with camera:
    if st.toggle("Turn the camera on", key="camera-on"):
        key = f"taken-{turn}"
        st.camera_input("Photograph the squares", key=key, on_change=_bring, args=(key,))
with sample:
    st.write("A rendered bundle of 42 squares on a wooden table, to see how everything works.")
    if st.button("Use the sample bundle", type="primary", icon=":material/auto_awesome:"):
        with told():
            bring_samples()
            st.switch_page(page_link("squares"))

for sentence in st.session_state.pop(TROUBLES, ()):
    show_trouble(sentence)

photos = session.choices().photos
if not photos:
    st.info(
        "No photo yet. When there is one, its squares are found and numbered.",
        icon=":material/arrow_upward:",
    )
else:
    st.header("In this project")
    columns = st.columns(min(3, len(photos)))
    for place, item in enumerate(photos):
        with columns[place % len(columns)], told():
            data, width, height = session.workshop().preview(item.sha256, 900)
            st.image(data, width="stretch", alt=f"Photo {place + 1}: {item.name}")
            st.caption(f"{place + 1} · {width} × {height} pixels")
            st.text(item.name)
            if st.button("Take out", key=f"take-out-{item.sha256}", icon=":material/close:"):
                session.take_out(item)
                st.rerun()
    if st.button("Check the squares", type="primary", icon=":material/arrow_forward:"):
        st.switch_page(page_link("squares"))
