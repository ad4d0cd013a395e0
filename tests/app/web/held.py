"""``python -m tests.app.web.held`` is ``python -m app`` where a test holds runs of the page.

A run waits before it shows anything while ``hold-pages`` lies in the home folder, and says with
``held-pages`` beside it that it does. One that begins anew waits before that, for ``hold-again``.
"""

import time
from pathlib import Path
from typing import Any

import streamlit
from streamlit.runtime.scriptrunner.script_runner import ScriptRunner, ScriptRunnerEvent

from app.cli import main


def _wait(what: str) -> None:
    while (Path.home() / f"hold-{what}").exists():
        (Path.home() / f"held-{what}").touch()
        time.sleep(0.02)


if __name__ == "__main__":
    begin, finish = streamlit.set_page_config, ScriptRunner._on_script_finished

    def held_begin(*given: Any, **named: Any) -> None:
        _wait("pages")
        begin(*given, **named)

    def held_finish(runner: Any, context: Any, event: Any, *given: Any) -> None:
        finish(runner, context, event, *given)
        if event == ScriptRunnerEvent.SCRIPT_STOPPED_FOR_RERUN:
            _wait("again")

    streamlit.set_page_config = held_begin
    ScriptRunner._on_script_finished = held_finish  # type: ignore[method-assign]
    raise SystemExit(main())
