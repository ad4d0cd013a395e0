"""What a page needs before it can show anything: photos, measured squares, dealt stacks.

Where it is not there yet the page says so and shows the way to it. Measuring is told step by step,
so that it can be stopped at any of them.
"""

from typing import Final

import streamlit as st

from app.web import session
from app.web.following import as_counted
from app.web.notices import page_path, show_empty, show_next, show_trouble, stoppable
from app.web.workshop import Workshop
from colorcore.errors import BundleError
from colorcore.project import Choices

_STOPPED: Final = "measuring-stopped"
_STEPS: Final = 100


def with_photos() -> Choices | None:
    """Return the project's choices if it has a photo, else None after showing the way to one."""
    choices = session.choices()
    if choices.photos:
        return choices
    show_empty(
        "First a photo",
        "Bring a photo of your bundle, or try the sample: its squares are found and measured.",
    )
    _lead_to("photos", "Bring photos")
    return None


def with_squares() -> Choices | None:
    """The same when its photos are measured too."""
    choices = with_photos()
    if choices is not None:
        measure(choices)
    return choices


def with_stacks(what_for: str) -> Choices | None:
    """The same when its squares are measured and dealt, else None after showing the way there."""
    choices = with_photos()
    if choices is None:
        return None
    if not session.workshop().is_dealt(choices):
        show_empty("First the stacks", what_for)
        _lead_to("stacks", "Deal the stacks")
        return None
    measure(choices)
    return choices


def measure(choices: Choices) -> None:
    """See to it that a project's photos are measured, showing how far it is.

    After 'Stop' the page ends here and asks before it goes on; photos that were done stay done.
    Where photos cannot be measured it ends after saying which, and shows the way to them. It begins
    anew where something was said of a square that is counted in another photo by now.
    """
    workshop = session.workshop()
    if not workshop.is_measured(choices):
        _measure_now(workshop, choices)
    counted, project = as_counted(workshop, choices), session.current_project()
    if counted != choices and project is not None:
        # It follows from the newest step: which photos there are, and what is known of them.
        workshop.projects.complete(project, choices, counted)
        st.rerun()


def _measure_now(workshop: Workshop, choices: Choices) -> None:
    _ask_after_a_stop()
    count = len(choices.photos)
    troubles: list[str] = []
    with stoppable("Measuring the squares", on_stop=_stop) as report:
        for number, photo in enumerate(choices.photos):
            name = f"Photo {number + 1} of {count}: " if count > 1 else ""

            def step(
                done: int, total: int, words: str, number: int = number, name: str = name
            ) -> None:
                report(_STEPS * number + _STEPS * done // total, _STEPS * count, name + words)

            try:
                workshop.measured(photo, choices.square_inches, number, step)
            except BundleError as error:
                troubles.append(str(error))
        if not troubles:
            report(_STEPS * count, _STEPS * count, "Comparing the squares")
            workshop.bundle(choices)
    if troubles:
        for trouble in troubles:
            show_trouble(trouble)
        show_next(("photos", "Photos"), ("squares", "Check the squares"))
        st.stop()


def _stop() -> None:
    st.session_state[_STOPPED] = True


def _ask_after_a_stop() -> None:
    if not st.session_state.get(_STOPPED):
        return
    place = st.empty()
    with place.container(border=True):
        st.text("Measuring was stopped. Photos that were done are kept.")
        if not st.button("Go on measuring", type="primary", icon=":material/play_arrow:"):
            st.stop()
    st.session_state.pop(_STOPPED)
    place.empty()


def _lead_to(page: str, words: str) -> None:
    if st.button(words, type="primary", icon=":material/arrow_forward:"):
        st.switch_page(page_path(page))
