"""The cheapest of several runs of the same work, in seconds of the processor.

Other work on the machine lengthens the clock's seconds, hardly the processor's.
"""

import time
from collections.abc import Callable
from typing import TypeVar

T = TypeVar("T")


def timed(work: Callable[[], T], runs: int = 3) -> tuple[float, T]:
    """Return the least seconds of several runs, and what the last gave."""
    seconds = []
    for _ in range(runs):
        began = time.process_time()
        result = work()
        seconds.append(time.process_time() - began)
    return min(seconds), result


def best(work: Callable[[], object], runs: int = 3) -> float:
    """Return the least seconds of several runs."""
    return timed(work, runs)[0]
