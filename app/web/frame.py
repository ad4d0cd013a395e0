"""The frame around every page: where one is in the work, which project, undo."""

from collections.abc import Callable
from pathlib import Path
from typing import Final

import streamlit as st
from streamlit.runtime.scriptrunner import get_script_run_ctx

from app.web import session
from app.web.notices import page_path, plain, show_kept, told, told_after
from app.web.parts import order_clicks

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
    _hold_to_what_was_asked()
    pages = {
        name: st.Page(page_path(name), title=title, icon=icon, url_path=name,
                      default=name == "photos")
        for name, title, icon in PAGES
    }  # fmt: skip
    page = st.navigation(list(pages.values()), expanded=True)
    there = session.leads_from(next(name for name, known in pages.items() if known is page))
    if there is not None:
        st.switch_page(page_path(there))
    with st.sidebar, told():
        _show_project()
    with st.sidebar:
        if page is not pages["stash"]:
            _show_shelf()
        order_clicks()
    # In a place that is there with and without them: else all below would be drawn anew when they
    # come and go, and what is open there would close.
    with st.container():
        session.note_what_came()
        show_kept()
    with told():
        page.run()


def _hold_to_what_was_asked() -> None:
    """Have this run show the page that it was asked for.

    Streamlit keeps which page that is once for all runs of a session. A run that ends by
    ``st.rerun`` or ``st.switch_page`` writes it when it begins anew, even if a link was clicked in
    between and the next run is on its way to its page: that one would show the page of the run
    before, and the click was lost.
    """
    context = get_script_run_ctx()
    # Streamlit tells a run's own request nowhere else; without it all is as Streamlit has it.
    asked = getattr(getattr(context, "script_requests", None), "_rerun_data", None)
    if context is not None and asked is not None:
        context.pages_manager.set_script_intent(asked.page_script_hash, asked.page_name)


def _show_project() -> None:
    current = session.current_project()
    labels = session.project_labels()
    st.subheader("Project", divider=False, anchor=False)
    if current is not None:
        key = f"chosen-project-{current}"
        st.selectbox(
            "Project",
            list(labels),
            index=list(labels).index(current),
            format_func=lambda number: labels[number],
            label_visibility="collapsed",
            key=key,
            on_change=_choose,
            args=(key,),
        )
        _show_steps(current)
    _show_removed()
    with st.popover("New, rename, remove", width="stretch"):
        _change_projects(current)


def _show_shelf() -> None:
    """How far the photos for the stash are, where their own page is not shown."""
    now = session.workshop().shelf.progress()
    if now is not None:
        how = "Measuring was stopped" if now.stopped else "Being measured"
        st.caption(f"Photos for the stash: {how.lower()}, {now.done} of {now.total} are done.")


def _choose(key: str) -> None:
    session.choose_project(st.session_state[key])


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
    key = f"project-name-{current}"
    st.text_input("Name", key=key, max_chars=200)
    # Never out of use: a name that is still in the field comes with the click.
    st.button("Begin a new project", width="stretch", on_click=_begin, args=(key,))
    if current is not None:
        st.button("Rename this one", width="stretch", on_click=_rename, args=(current, key))
        st.button(
            "Remove this one", icon=":material/delete:", width="stretch",
            on_click=_remove, args=(current,),
        )  # fmt: skip
    removed = session.workshop().projects.removed()
    if removed:
        st.caption("Removed, and kept:")
    for info in removed:
        st.text(info.name)
        st.button(
            "Bring it back", key=f"restore-{info.id}", width="stretch",
            on_click=_restore, args=(info.id,),
        )  # fmt: skip


def _begin(key: str) -> None:
    with told_after():
        session.choose_project(session.workshop().projects.create(st.session_state[key]))


def _rename(project: int, key: str) -> None:
    with told_after():
        session.workshop().projects.rename(project, st.session_state[key])


def _remove(project: int) -> None:
    with told_after():
        session.remove_project(project)


def _restore(project: int) -> None:
    with told_after():
        session.restore_project(project)


def _show_removed() -> None:
    """The project that was just removed, with the way back."""
    number: int | None = st.session_state.get(session.REMOVED)
    name = {i.id: i.name for i in session.workshop().projects.removed()}.get(number or 0)
    if number is None or name is None:
        return
    with st.container(border=True):
        st.text(f"{name} was removed.")
        st.button(
            "Undo the removal", icon=":material/undo:", width="stretch",
            on_click=_restore, args=(number,),
        )  # fmt: skip
