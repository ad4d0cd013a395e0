"""Faults as one sentence on the page, never a traceback."""

from collections.abc import Callable, Iterable, Iterator
from contextlib import contextmanager

import streamlit as st

from colorcore.errors import BundleError


@contextmanager
def told() -> Iterator[None]:
    """Show a fault of what is done within as one sentence, and go on with the page."""
    try:
        yield
    except BundleError as error:
        show_trouble(str(error))


def show_trouble(sentence: str) -> None:
    """Show what did not work, as plain text: a file's name may hold anything."""
    with st.container(border=True):
        st.markdown(":material/error: **That did not work**")
        st.text(sentence)


def lines(sentences: Iterable[str], *, mark: str = "• ") -> None:
    """Show sentences as plain lines close together; names in them are never markup."""
    text = "\n".join(f"{mark}{sentence}" for sentence in sentences)
    if text:
        st.text(text)


@contextmanager
def stoppable(words: str) -> Iterator[Callable[[int, int, str], None]]:
    """Show progress of long work with a way to stop it; give the function to report with.

    Stopping runs the page again at the next report; what was confirmed until then stays.
    """
    place = st.empty()
    with place.container():
        left, right = st.columns([5, 1], vertical_alignment="center")
        with left:
            bar = st.progress(0.0, words)
        right.button("Stop", key=f"stop {words}", icon=":material/stop:", width="stretch")

    def report(done: int, total: int, now: str) -> None:
        bar.progress(min(1.0, done / max(total, 1)), now)

    yield report
    place.empty()
