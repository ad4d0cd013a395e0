"""A server of our own and a browser to drive it with, for tests."""

import contextlib
import os
import re
import shutil
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
LONG_MS = 120_000


def chromium() -> str | None:
    """Where the system's Chromium is, or None."""
    return shutil.which("chromium") or shutil.which("chromium-browser")


@contextlib.contextmanager
def serving(folder: Path) -> Iterator[str]:
    """Serve the pages with projects and stash in ``folder``; give the address."""
    command = [sys.executable, "-m", "app", "app", "--no-open"]
    command += ["--projects", str(folder / "projects.sqlite"), "--stash", str(folder / "s.sqlite")]
    log = (folder / "app.log").open("w+", encoding="utf-8")
    environment = {**os.environ, "PYTHONWARNINGS": "default", "HOME": str(folder)}
    process = subprocess.Popen(command, stdout=log, stderr=log, env=environment)
    try:
        yield _address(folder / "app.log", process)
    finally:
        process.terminate()
        process.wait(20)
        log.close()


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


def settle(page: Any) -> None:
    """Wait until the page has nothing more to do."""
    page.wait_for_timeout(400)
    page.wait_for_function(
        "() => !document.querySelector('[data-testid=stStatusWidget], [data-testid=stSpinner]')",
        timeout=LONG_MS,
    )
    page.wait_for_timeout(300)


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
