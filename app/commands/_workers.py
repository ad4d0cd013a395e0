"""Processes that measure photos beside each other."""

import multiprocessing
import os
import signal
import time
from collections.abc import Iterator
from concurrent.futures import Executor
from contextlib import contextmanager
from multiprocessing.process import BaseProcess

PHOTOS_FOR_PROCESSES = 4
"""From so many photos on, starting more processes costs less than it saves."""
PATIENCE_SECONDS = 20.0


@contextmanager
def workers(photos: int, processes: int | None = None) -> Iterator[Executor | None]:
    """Give so many ``processes`` (one a core if None) for many photos and none for few; if the work
    is stopped, they end with the photos that they have in hand."""
    wanted = processes or os.cpu_count() or 1
    if photos < PHOTOS_FOR_PROCESSES or wanted < 2:
        yield None
        return
    from concurrent.futures import ProcessPoolExecutor

    # A forked copy of a program that runs threads may hang; a spawned one starts clean.
    pool = ProcessPoolExecutor(
        min(wanted, photos),
        mp_context=multiprocessing.get_context("spawn"),
        initializer=_become_worker,
    )
    try:
        yield pool
    except BaseException:
        # Ending them by force would break the pool, which tells that with a traceback of its own.
        pool.shutdown(wait=False, cancel_futures=True)
        _end(multiprocessing.active_children())
        raise
    finally:
        pool.shutdown()


def _end(children: list[BaseProcess]) -> None:
    """Wait until processes have ended, but not longer than photos take."""
    last = time.monotonic() + PATIENCE_SECONDS
    for child in children:
        child.join(max(0.0, last - time.monotonic()))
        if child.is_alive():
            child.kill()


def _become_worker() -> None:
    """Leave signals to the parent, and the other cores to the other workers."""
    import cv2

    cv2.setNumThreads(1)
    signal.signal(signal.SIGINT, signal.SIG_IGN)
    signal.signal(signal.SIGTERM, signal.SIG_DFL)
