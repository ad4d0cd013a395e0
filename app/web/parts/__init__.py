"""Components of our own, where Streamlit has nothing: they never compute, they show and report.

Each is trusted code made of fixed files; names and notes travel as data and are set as text.
Places travel as fractions of the picture; ``rev`` tells when the server's state replaces the
browser's.
"""

from collections.abc import Callable, Mapping
from pathlib import Path
from typing import Any, Final

import streamlit as st

_HERE: Final = Path(__file__).parent


def _with_shared(name: str) -> str:
    """A part's script or style with what all parts have in common before it."""
    kind = name.rpartition(".")[2]
    return "\n".join((_HERE / n).read_text(encoding="utf-8") for n in (f"shared.{kind}", name))


@st.cache_resource(show_spinner=False)
def _part(name: str) -> Any:
    return st.components.v2.component(
        f"bundlestacks_{name}",
        html=f'<div class="part" data-part="{name}"></div>',
        css=_with_shared(f"{name}.css"),
        js=_with_shared(f"{name}.js"),
    )


def show_part(
    name: str,
    data: Mapping[str, Any],
    *,
    key: str,
    on_reports: Callable[[list[dict[str, Any]]], None],
) -> None:
    """Show a component.

    Parameters
    ----------
    name : str
        Of its ``.js`` and ``.css`` beside this file.
    on_reports : function
        Called before the page runs again, with what the component reported since it was called
        last, oldest first.
    """
    # By the names that browsers give their views, the number of the newest report heard. Changed
    # in place: what is assigned to the session's state in a callback may end it.
    heard: dict[str, int] = st.session_state.setdefault(f"heard-{key}", {})

    def hear() -> None:
        told = st.session_state[key].report or {}
        view = str(told.get("from"))
        new = [r for r in told.get("reports", ()) if int(r["number"]) > heard.get(view, 0)]
        if new:
            heard[view] = int(new[-1]["number"])
            on_reports(new)

    _part(name)(data={**data, "heard": dict(heard)}, key=key, on_report_change=hear)


@st.cache_resource(show_spinner=False)
def _clicks() -> Any:
    script = (_HERE / "clicks.js").read_text(encoding="utf-8")
    return st.components.v2.component("bundlestacks_clicks", html="<div></div>", js=script)


def order_clicks() -> None:
    """Have clicks on this page wait for what was typed just before; nothing is shown."""
    _clicks()(key="clicks")


def picture_url(data: bytes, place: str, kind: str = "image/jpeg") -> str:
    """Return an address under which this session's browser gets a picture once, so that it does
    not travel again with every step. ``place`` tells the pictures of a page apart."""
    from streamlit.runtime import get_instance

    return get_instance().media_file_mgr.add(data, kind, place)
