"""Start the pages: on this computer alone, unless the maker asks for more."""

import contextlib
import ctypes
import os
import socket
import sys
import threading
import time
from importlib import import_module
from pathlib import Path
from typing import Final

from app.terminal import say
from colorcore.errors import OutputError

MAIN_SCRIPT: Final = Path(__file__).with_name("main.py")
FIRST_PORT: Final = 8600
SHOWN_AFTER_SECONDS: Final = 3.0
MOST_HEAPS: Final = 2
#: From this size on pictures get room of their own, which goes back to the system with them.
OWN_ROOM_BYTES: Final = 2**20
#: glibc's ``malloc.h``.
_M_TRIM_THRESHOLD: Final = -1
_M_MMAP_THRESHOLD: Final = -3
_M_ARENA_MAX: Final = -8
#: How the pages learn where projects and stash are kept: they run in this same process.
PROJECTS_VARIABLE: Final = "BUNDLESTACKS_PROJECTS"
STASH_VARIABLE: Final = "BUNDLESTACKS_STASH"


def serve(
    *,
    port: int = 0,
    shared: bool = False,
    open_browser: bool = True,
    projects: Path | None = None,
    stash: Path | None = None,
) -> None:
    """Serve the pages until they are stopped.

    Parameters
    ----------
    port : int
        0 for the first free one from ``FIRST_PORT`` on.
    shared : bool
        Answer to the whole network instead of this computer alone.

    Raises
    ------
    OutputError
        If the port is taken or cannot be.
    """
    host = "0.0.0.0" if shared else "127.0.0.1"
    port = _port(host, port)
    for variable, path in ((PROJECTS_VARIABLE, projects), (STASH_VARIABLE, stash)):
        if path is not None:
            os.environ[variable] = str(path.absolute())
    hold_little_memory()
    say(f"Bundle Stacks: http://127.0.0.1:{port}")
    if shared:
        say(
            f"On your network: http://{_own_address()}:{port}. Whoever is on this network can see "
            "and change your projects; stop it when you are done."
        )
    say("Stop it with Ctrl-C; everything is kept.")
    # Into a file or a pipe the lines would wait until the end otherwise.
    sys.stdout.flush()

    from streamlit.web.cli import main as streamlit

    options = {
        "server.port": port,
        "server.address": host,
        "server.headless": str(not open_browser).lower(),
        "browser.serverAddress": "127.0.0.1",
    }
    if shared:
        options["server.allowedHosts"] = "*"
    flags = [f"--{name}={value}" for name, value in options.items()]
    threading.Thread(target=_get_ready, daemon=True).start()
    streamlit(["run", str(MAIN_SCRIPT), *flags], standalone_mode=False)


def hold_little_memory() -> None:
    """Have what was freed go back to the system, where the C library is glibc.

    By itself it gives every thread a heap of its own, and each run of a page is a thread: what one
    has freed the others cannot use, and it stays with the process. And once a picture of a quilt
    has been freed, it takes pictures of up to that size from the heaps as well, where small things
    that stay keep them from being given back.
    """
    with contextlib.suppress(OSError, TypeError, AttributeError):
        library = ctypes.CDLL(None)
        library.mallopt(_M_ARENA_MAX, MOST_HEAPS)
        library.mallopt(_M_MMAP_THRESHOLD, OWN_ROOM_BYTES)
        library.mallopt(_M_TRIM_THRESHOLD, OWN_ROOM_BYTES)


def _get_ready() -> None:
    """Import what pages need while the browser is still loading: first what the first page takes,
    then, when that has been shown, what the work with a photo takes."""
    from streamlit import runtime

    while not runtime.exists():
        time.sleep(0.05)
    import_module("app.web.frame")
    time.sleep(SHOWN_AFTER_SECONDS)
    for name in ("colorcore.measuring", "colorcore.stacking", "app.web.steps"):
        import_module(name)


def _port(host: str, port: int) -> int:
    if not 0 <= port <= 65535:
        raise OutputError(f"--port {port}: a port lies between 1 and 65535.")
    for candidate in [port] if port else range(FIRST_PORT, FIRST_PORT + 100):
        with socket.socket(socket.AF_INET, socket.SOCK_STREAM) as trial:
            trial.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
            try:
                trial.bind((host, candidate))
            except OSError:
                continue
            return candidate
    raise OutputError(f"--port {port}: it is taken; leave it out, or choose another.")


def _own_address() -> str:
    """This computer's address on its network; no packet is sent to find it."""
    with socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as trial:
        try:
            trial.connect(("192.0.2.1", 9))
            return str(trial.getsockname()[0])
        except OSError:
            return "127.0.0.1"
