"""Faults as one sentence on the page, never a traceback."""

from collections.abc import Iterator
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
