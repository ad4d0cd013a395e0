"""What one browser session knows: the workshop, and which project it is on."""

import os
from collections.abc import Sequence
from itertools import count
from pathlib import Path
from typing import Final

import streamlit as st
from streamlit.runtime.uploaded_file_manager import UploadedFile

from app.web.notices import note_after, refusals, told_after
from app.web.sayings import already_here
from app.web.serving import PROJECTS_VARIABLE, STASH_VARIABLE
from app.web.workshop import Step, Workshop
from colorcore.project import Choices

_PROJECT: Final = "project"
#: Under which key the session knows the project that it removed last.
REMOVED: Final = "removed-project"
_LEADS: Final = "leads-on"


@st.cache_resource(show_spinner=False)
def _open_workshop(projects: str, stash: str) -> Workshop:
    return Workshop(Path(projects) if projects else None, Path(stash) if stash else None)


def workshop() -> Workshop:
    """Return the workshop that all sessions of this program share."""
    return _open_workshop(os.environ.get(PROJECTS_VARIABLE, ""), os.environ.get(STASH_VARIABLE, ""))


def current_project() -> int | None:
    """Return the project that this session is on: the address's, else the last changed one."""
    known = {info.id for info in workshop().projects.list()}
    asked = st.query_params.get("project", "")
    for candidate in (st.session_state.get(_PROJECT), int(asked) if asked.isdecimal() else None):
        if candidate in known:
            choose_project(candidate)
            return int(candidate)
    newest = workshop().projects.list()
    if not newest:
        return None
    choose_project(newest[0].id)
    return newest[0].id


def project_labels() -> dict[int, str]:
    """Return projects and what to call them in a choice, where each needs a label of its own:
    Streamlit knows an option by its label, so two of one name would be taken for each other."""
    labels: dict[int, str] = {}
    infos = workshop().projects.list()
    # The oldest keeps its name, so that labels stay as they are when a project is added.
    for info in sorted(infos, key=lambda i: i.id):
        free = (f"{info.name} ({number})" for number in count(2))
        taken = {*labels.values(), *(i.name for i in infos if i.name != info.name)}
        label = info.name if info.name not in taken else next(n for n in free if n not in taken)
        labels[info.id] = label
    return {info.id: labels[info.id] for info in infos}


def choose_project(project: int) -> None:
    """Turn this session to a project; the address keeps it over a reload."""
    st.session_state[_PROJECT] = project
    if st.query_params.get("project") != str(project):
        st.query_params["project"] = str(project)


def remove_project(project: int) -> None:
    """Take a project off the list; it can be brought back."""
    workshop().projects.remove(project)
    st.session_state.pop(_PROJECT, None)
    st.session_state[REMOVED] = project
    st.query_params.pop("project", None)


def restore_project(project: int) -> None:
    """Bring a removed project back and turn to it."""
    workshop().projects.restore(project)
    st.session_state.pop(REMOVED, None)
    choose_project(project)


def mark() -> str:
    """Return a text that changes with every step of the project, undone, redone or refused."""
    project = current_project()
    kept = "" if project is None else workshop().projects.mark(project)
    return f"{project} {kept} {refusals()}"


def choices() -> Choices:
    """Return the choices of the current project, empty ones without a project."""
    project = current_project()
    return Choices() if project is None else workshop().projects.load(project)


def take_step(project: int | None, how: Step) -> Choices | None:
    """Keep as a step what ``how`` makes of a project's choices; return them as they were, None
    where the step was refused, which is told on the page.

    For callbacks alone. What the page's script does after ``if st.button(...)`` is lost if another
    click comes before the script is there, since that ends the run at its next use of Streamlit.
    A callback runs first, and as long as it uses nothing of Streamlit's nothing ends it: so the
    project is given, and ``how`` works on what it is given alone.
    """
    with told_after():
        if project is not None:
            return workshop().step(project, how)
    return None


def step(project: int | None, how: Step) -> None:
    """``take_step`` as a button's ``on_click``."""
    take_step(project, how)


def lead_on(here: str, there: str) -> None:
    """For callbacks of a page: show another page next, unless the maker herself has gone to one."""
    st.session_state[_LEADS] = (here, there)


def leads_from(here: str) -> str | None:
    """Return the page that a callback of this one leads on to; it is told once, to any page."""
    before, there = st.session_state.pop(_LEADS, (None, None))
    return there if before == here else None


def begun_project() -> int:
    """Return the current project; begin one where there is none."""
    project = current_project()
    if project is None:
        project = workshop().projects.create("My first project")
        choose_project(project)
    return project


def note_what_came() -> None:
    """Have the next run of a page say what came of the photos for the stash, once."""
    for sentence in workshop().shelf.take_outcome():
        note_after(sentence)


def bring(files: Sequence[UploadedFile]) -> None:
    """Add uploaded files to the current project, begin one where there is none; what cannot be
    added or is there already is told, and the others are added."""
    project = begun_project()
    for file in files:
        with told_after():
            before = workshop().projects.load(project).photos
            brought = workshop().bring_photo(project, file.name, file.getvalue())
            if brought in before:
                note_after(already_here(file.name, brought))
