"""The frame around every page: where one is in the work, which project, undo."""

from collections.abc import Callable
from pathlib import Path
from typing import Final

import streamlit as st

from app.web import session
from app.web.notices import page_path, plain, show_kept, told, told_after

#: Under which key a session knows which step it took back or again, of which project, at what mark.
_STEPPED: Final = "stepped"
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


def show_frame() -> None:
    """Show the navigation, the project's bar and the page that was asked for."""
    st.html(_STYLE)
    page = st.navigation(
        [
            st.Page(page_path(name), title=title, icon=icon, url_path=name,
                    default=name == "photos")
            for name, title, icon in PAGES
        ],
        expanded=True,
    )  # fmt: skip
    with st.sidebar, told():
        _show_project()
    show_kept()
    with told():
        page.run()


def _show_project() -> None:
    current = session.current_project()
    labels = session.project_labels()
    st.subheader("Project", divider=False, anchor=False)
    if current is not None:
        chosen = st.selectbox(
            "Project",
            list(labels),
            index=list(labels).index(current),
            format_func=lambda number: labels[number],
            label_visibility="collapsed",
            key=f"chosen-project-{current}",
        )
        if chosen != current:
            session.choose_project(chosen)
            st.rerun()
        _show_steps(current)
    _show_removed()
    with st.popover("New, rename, remove", width="stretch"):
        _change_projects(current)


def _show_steps(current: int) -> None:
    projects = session.workshop().projects
    undo, redo = projects.steps(current)
    with st.container(key="pair-steps"):
        left, right = st.columns(2)
    left.button(
        "Undo", icon=":material/undo:", key="undo", disabled=undo is None, width="stretch",
        help=plain(f"Take back: {undo}") if undo else "Nothing to take back",
        on_click=_back, args=(current,),
    )  # fmt: skip
    right.button(
        "Redo", icon=":material/redo:", key="redo", disabled=redo is None, width="stretch",
        help=plain(f"Do again: {redo}") if redo else "Nothing to do again",
        on_click=_forth, args=(current,),
    )  # fmt: skip
    said, then = st.session_state.get(_STEPPED, ("", None))
    if then != (current, projects.mark(current)):
        said = f"Newest step: {undo}." if undo else ""
    if said:
        # No tip is shown on a phone: what was done, and what undo would take back, stands here.
        st.caption(plain(said))


def _back(project: int) -> None:
    _say_step(project, "Taken back", session.workshop().undo)


def _forth(project: int) -> None:
    _say_step(project, "Done again", session.workshop().redo)


def _say_step(project: int, done: str, take: Callable[[int], tuple[str | None, str]]) -> None:
    """Take a step that was taken before, back or forth, and say on the page which it was: several
    clicks may have been on their way."""
    with told_after():
        words, mark = take(project)
        if words is not None:
            # With its mark: what another click did since is not to be told by this one's words.
            st.session_state[_STEPPED] = (f"{done}: {words}.", (project, mark))


def _change_projects(current: int | None) -> None:
    projects = session.workshop().projects
    name = st.text_input("Name", key=f"project-name-{current}", max_chars=200)
    if st.button("Begin a new project", disabled=not name.strip(), width="stretch"):
        session.choose_project(projects.create(name))
        st.rerun()
    if current is not None:
        if st.button("Rename this one", disabled=not name.strip(), width="stretch"):
            projects.rename(current, name)
            st.rerun()
        if st.button("Remove this one", icon=":material/delete:", width="stretch"):
            session.remove_project(current)
            st.rerun()
    removed = projects.removed()
    if removed:
        st.caption("Removed, and kept:")
    for info in removed:
        st.text(info.name)
        if st.button("Bring it back", key=f"restore-{info.id}", width="stretch"):
            session.restore_project(info.id)
            st.rerun()


def _show_removed() -> None:
    """The project that was just removed, with the way back."""
    number: int | None = st.session_state.get(session.REMOVED)
    name = {i.id: i.name for i in session.workshop().projects.removed()}.get(number or 0)
    if number is None or name is None:
        return
    with st.container(border=True):
        st.text(f"{name} was removed.")
        if st.button("Undo the removal", icon=":material/undo:", width="stretch"):
            session.restore_project(number)
            st.rerun()
