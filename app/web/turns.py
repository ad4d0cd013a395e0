"""Long work takes turns: what many sessions ask for at once is not all begun at once."""

import threading
from collections.abc import Iterator
from contextlib import contextmanager


class Turns:
    """So much long work at once and no more; who comes later waits.

    All that runs holds its pictures in memory, and Python lets one thread go on at a time: begun
    together, everything takes as long as the whole and all of it lies in memory.

    Parameters
    ----------
    at_once : int
        How many threads may work at a time.
    """

    def __init__(self, at_once: int) -> None:
        self._free = threading.Semaphore(at_once)
        self._mine = threading.local()

    @contextmanager
    def take(self) -> Iterator[None]:
        """Wait for a turn and hold it; work within work has the turn already.

        Nobody may wait for a turn while holding a lock that the work of others waits for.
        """
        if getattr(self._mine, "holds", False):
            yield
            return
        with self._free:
            self._mine.holds = True
            try:
                yield
            finally:
                self._mine.holds = False
