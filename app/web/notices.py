"""What a page says beside its work: faults as one sentence, what comes next, progress."""

import re
from collections.abc import Callable, Iterable, Iterator
from contextlib import contextmanager
from html import escape
from pathlib import Path
from typing import Final

import streamlit as st

from app.web.sayings import told_sentence
from colorcore.wording import unbroken

_KEPT: Final = "troubles-to-tell"
_NOTES: Final = "notes-to-tell"
_PATCH: Final = (Path(__file__).with_name("parts") / "empty.svg").read_text(encoding="utf-8")
_SCREENS: Final = Path(__file__).with_name("screens")


def page_path(name: str) -> str:
    """Return what ``st.switch_page`` and ``st.page_link`` take for a page."""
    return str(_SCREENS / f"{name}.py")


@contextmanager
def told() -> Iterator[None]:
    """Show a fault of what is done within as one sentence, and go on with the page."""
    try:
        yield
    except Exception as error:
        show_trouble(told_sentence(error))


@contextmanager
def told_after(beside: str = "") -> Iterator[None]:
    """Keep a fault's sentence for the next run of the page: for what runs before it. It is shown
    above the page, or where ``show_kept_beside`` is asked for the same."""
    kept = _KEPT + beside
    try:
        yield
    except Exception as error:
        st.session_state[kept] = [*st.session_state.get(kept, ()), told_sentence(error)]
        # What the browser shows already is taken back with the next state it gets.
        st.session_state["refused"] = refusals() + 1


def note_after(sentence: str) -> None:
    """Keep a sentence for the next run of the page: what came of the newest step."""
    st.session_state[_NOTES] = [*st.session_state.get(_NOTES, ()), sentence]


def show_kept() -> None:
    """Show what ``told_after`` and ``note_after`` kept."""
    for sentence in st.session_state.pop(_KEPT, ()):
        show_trouble(sentence)
    for sentence in st.session_state.pop(_NOTES, ()):
        with st.container(border=True):
            st.text(unbroken(sentence))


def show_kept_beside(beside: str) -> None:
    """Show what ``told_after`` kept for this place."""
    for sentence in st.session_state.pop(_KEPT + beside, ()):
        show_trouble(sentence)


def refusals() -> int:
    """Return how many steps of this session were refused."""
    return int(st.session_state.get("refused", 0))


def show_trouble(sentence: str) -> None:
    """Show what did not work, as plain text: a file's name may hold anything."""
    st.html(
        '<div class="trouble" role="alert"><strong>That did not work</strong>'
        f"<p>{escape(unbroken(sentence))}</p></div>"
    )


def show_empty(title: str, words: str) -> None:
    """Show what a page without content is for, and what comes first; a button may follow."""
    with st.container(key="empty"):
        # Decoration: the heading says the same.
        st.image(_PATCH, width=240, alt="")
        st.header(title, anchor=False)
        st.write(words)


def show_next(*ways: tuple[str, str]) -> None:
    """Show where the work goes on: pairs (page, words)."""
    with st.container(horizontal=True):
        for name, words in ways:
            st.page_link(page_path(name), label=words, icon=":material/arrow_forward:")


def show_warnings(title: str, sentences: Iterable[str]) -> None:
    """Show what is to be known before anything else is read, as plain text."""
    items = "".join(f"<li>{escape(unbroken(sentence))}</li>" for sentence in sentences)
    if items:
        head = f"<strong>{escape(title)}</strong>"
        st.html(f'<div class="beware" role="note">{head}<ul>{items}</ul></div>')


def show_facts(facts: Iterable[tuple[str, str]]) -> None:
    """Show what is called what, as a list of names and words in plain text."""
    rows = "".join(
        f"<div><dt>{escape(name)}</dt><dd>{escape(unbroken(words))}</dd></div>"
        for name, words in facts
    )
    if rows:
        st.html(f'<dl class="facts">{rows}</dl>')


def show_chip(color: str, words: str) -> None:
    """Show a colour with its words; ``color`` is a CSS colour of our own making."""
    st.html(
        f'<p class="chip"><span style="background:{escape(color, quote=True)}"></span>'
        f"{escape(words)}</p>"
    )


def show_wide(address: str, words: str) -> None:
    """Show a wide drawing by its address; on a small screen it keeps its size and is moved
    sideways, by finger or by arrow keys."""
    st.html(
        f'<div class="wide" tabindex="0" role="group" aria-label="{escape(words, quote=True)}">'
        f'<img src="{escape(address, quote=True)}" alt="{escape(words, quote=True)}"></div>'
    )


def plain(words: str) -> str:
    """Return words as headings, labels and tips show them: whatever they hold, it is no markup."""
    return re.sub(r"([\\`*_{}\[\]()#+\-.!:|<>$~&])", r"\\\1", words)


def lines(sentences: Iterable[str], *, mark: str = "• ") -> None:
    """Show sentences as plain lines close together; names in them are never markup."""
    text = "\n".join(f"{mark}{sentence}" for sentence in sentences)
    if text:
        st.text(unbroken(text))


@contextmanager
def stoppable(
    words: str, *, on_stop: Callable[[], None] | None = None
) -> Iterator[Callable[[int, int, str], None]]:
    """Show progress of long work with a way to stop it; give the function to report with.

    Stopping ends the work at the next report and runs the page again, after ``on_stop``. Work that
    fails takes its progress along.
    """
    place = st.empty()
    with place.container():
        left, right = st.columns([5, 1], vertical_alignment="center")
        with left:
            bar = st.progress(0.0, words)
        right.button(
            "Stop", key=f"stop {words}", icon=":material/stop:", width="stretch", on_click=on_stop
        )

    def report(done: int, total: int, now: str) -> None:
        bar.progress(min(1.0, done / max(total, 1)), now)

    try:
        yield report
    except Exception:
        # Streamlit's own ends of a run are none of these: the next run draws all anew.
        place.empty()
        raise
    place.empty()
