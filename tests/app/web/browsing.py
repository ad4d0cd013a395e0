"""A server of our own and a browser to drive it with, for tests."""

import contextlib
import os
import re
import shutil
import socket
import subprocess
import sys
import time
import urllib.request
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

#: Nothing outside this machine is asked for.
FLAGS = [
    "--no-sandbox", "--disable-gpu", "--disable-quic", "--no-first-run", "--disable-sync",
    "--disable-background-networking", "--disable-component-update",
]  # fmt: skip
LONG_MS = 60_000


def chromium() -> str | None:
    """Where the system's Chromium is, or None."""
    return shutil.which("chromium") or shutil.which("chromium-browser")


@contextlib.contextmanager
def serving(folder: Path, *, port: int = 0, program: str = "app") -> Iterator[str]:
    """Serve the pages with projects and stash in ``folder``; give the address."""
    process, address = start(folder, port=port, program=program)
    try:
        yield address
    finally:
        process.terminate()
        process.wait(20)


def start(
    folder: Path, *, port: int = 0, program: str = "app"
) -> tuple[subprocess.Popen[bytes], str]:
    """Start a server over what is in ``folder``; return its process and its address.

    ``program`` is the module that is run: the app, or a test's own way of running it.
    """
    command = [sys.executable, "-m", program, "app", "--no-open"]
    command += ["--port", str(port or free_port())]
    command += ["--projects", str(folder / "projects.sqlite"), "--stash", str(folder / "s.sqlite")]
    environment = {**os.environ, "PYTHONWARNINGS": "default", "HOME": str(folder)}
    # As it is for a person: what is printed into a file is not told at once by itself.
    environment.pop("PYTHONUNBUFFERED", None)
    with (folder / "app.log").open("wb") as log:
        process = subprocess.Popen(command, stdout=log, stderr=log, env=environment)
    return process, _address(folder / "app.log", process)


def free_port() -> int:
    """Return a port that nothing answers at."""
    with socket.socket() as trial:
        trial.bind(("127.0.0.1", 0))
        return int(trial.getsockname()[1])


def _address(log: Path, process: subprocess.Popen[bytes]) -> str:
    for _ in range(600):
        found = re.search(r"http://127\.0\.0\.1:\d+", log.read_text(encoding="utf-8"))
        if found:
            with contextlib.suppress(OSError), urllib.request.urlopen(found[0] + "/_stcore/health"):
                return found[0]
        if process.poll() is not None:
            break
        time.sleep(0.1)
    raise RuntimeError(f"the app did not start: {log.read_text(encoding='utf-8')}")


QUIET = """
() => {
  const app = document.querySelector('[data-testid=stApp]');
  const busy = app?.dataset.testScriptState !== 'notRunning'
    || document.querySelector('[data-testid=stSpinner], [data-testid=stSkeleton]');
  const now = performance.now();
  if (busy) { window.quietSince = null; return false; }
  window.quietSince ??= now;
  return now - window.quietSince > 250;
}
"""


def settle(page: Any) -> None:
    """Wait until the page has had nothing to do for a quarter of a second."""
    page.evaluate("() => { window.quietSince = null }")
    page.wait_for_function(QUIET, timeout=LONG_MS, polling=50)


def turn_to(page: Any, title: str) -> None:
    """Go to another page by its link in the sidebar, as a maker does: nothing is loaded anew."""
    settle(page)  # A maker sees a page before she leaves it.
    link = page.get_by_test_id("stSidebarNavLink").filter(has_text=title)
    link.evaluate("link => link.click()")  # On a phone the sidebar is folded away.
    heading = {"Photos": "Bring photos of your bundle"}.get(title, title)
    page.get_by_role("heading", name=heading, level=1, exact=True).wait_for()
    settle(page)


def eventually(ask: Callable[[], object], want: object, seconds: float = LONG_MS / 1000) -> None:
    """Wait until ``ask`` answers ``want``; fail with the last answer.

    Raises
    ------
    AssertionError
        If it does not in time.
    """
    end = time.monotonic() + seconds
    while (answer := ask()) != want:
        if time.monotonic() > end:
            raise AssertionError(f"{answer!r} instead of {want!r}")
        time.sleep(0.1)
