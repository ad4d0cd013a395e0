"""The frame around every page: where one is in the work, which project, undo."""

from pathlib import Path
from typing import Final

import streamlit as st

from app.web import session

_PAGES: Final = Path(__file__).with_name("screens")
_STYLE: Final = Path(__file__).with_name("style.css")

#: The pages in the order of the work: file, title, icon.
PAGES: Final = (
    ("photos", "Photos", ":material/photo_camera:"),
    ("squares", "Check the squares", ":material/crop_free:"),
    ("stacks", "Stacks", ":material/stacks:"),
    ("background", "Background", ":material/contrast:"),
    ("swap", "Swap", ":material/swap_horiz:"),
    ("sewing", "Cut and sew", ":material/content_cut:"),
    ("stash", "Stash", ":material/inventory_2:"),
)


def page_link(name: str) -> str:
    """Return what ``st.switch_page`` and ``st.page_link`` take for a page of ``PAGES``."""
    return str(_PAGES / f"{name}.py")


def show_frame() -> None:
    """Show the navigation, the project's bar and the page that was asked for."""
    st.html(_STYLE)
    page = st.navigation(
        [
            st.Page(_PAGES / f"{name}.py", title=title, icon=icon, url_path=name,
                    default=name == "photos")
            for name, title, icon in PAGES
        ],
        expanded=True,
    )  # fmt: skip
    with st.sidebar:
        _show_project()
    page.run()


def _show_project() -> None:
    projects = session.workshop().projects
    current = session.current_project()
    infos = {info.id: info for info in projects.list()}
    if current is None:
        return
    st.subheader("Project", divider=False)
    chosen = st.selectbox(
        "Project",
        list(infos),
        index=list(infos).index(current),
        format_func=lambda number: infos[number].name,
        label_visibility="collapsed",
        key=f"chosen-project-{current}",
    )
    if chosen != current:
        session.choose_project(chosen)
        st.rerun()
    undo, redo = projects.steps(current)
    left, right = st.columns(2)
    if left.button(
        "Undo", icon=":material/undo:", key="undo", disabled=undo is None, width="stretch",
        help=f"Take back: {undo}" if undo else "Nothing to take back",
    ):  # fmt: skip
        projects.undo(current)
        st.rerun()
    if right.button(
        "Redo", icon=":material/redo:", key="redo", disabled=redo is None, width="stretch",
        help=f"Do again: {redo}" if redo else "Nothing to do again",
    ):  # fmt: skip
        projects.redo(current)
        st.rerun()
    with st.popover("New or rename", width="stretch"):
        name = st.text_input("Name", key=f"project-name-{current}", max_chars=200)
        if st.button("Begin a new project", disabled=not name.strip(), width="stretch"):
            session.choose_project(projects.create(name))
            st.rerun()
        if st.button("Rename this one", disabled=not name.strip(), width="stretch"):
            projects.rename(current, name)
            st.rerun()
