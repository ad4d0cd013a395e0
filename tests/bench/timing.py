"""The cheapest of several runs of the same work, in seconds of the processor.

Other work on the machine lengthens the clock's seconds, hardly the processor's.
"""

import subprocess
import sys
import time
from collections.abc import Callable
from dataclasses import dataclass
from typing import Final, TypeVar

T = TypeVar("T")

_BARE_DECODING: Final = """
import sys, time
import cv2
import numpy as np

data = np.frombuffer(sys.stdin.buffer.read(), dtype=np.uint8)
clock, cores = [], []
for _ in range(int(sys.argv[1])):
    start, busy = time.perf_counter(), time.process_time()
    cv2.imdecode(data, cv2.IMREAD_COLOR)
    clock.append(time.perf_counter() - start)
    cores.append(time.process_time() - busy)
print(min(clock), min(cores))
"""


@dataclass(frozen=True)
class Cost:
    """Seconds by the clock, and of all cores together."""

    clock: float
    cores: float


def bare_decoding(jpeg: bytes, runs: int = 10) -> Cost:
    """Return the least of several runs of ``cv2.imdecode`` on a JPEG's bytes, in a process that
    does nothing else: one that has freed much memory decodes into that, in 0.7 of the time."""
    done = subprocess.run(
        [sys.executable, "-c", _BARE_DECODING, str(runs)],
        input=jpeg,
        stdout=subprocess.PIPE,
        check=True,
    )
    clock, cores = (float(word) for word in done.stdout.split())
    return Cost(clock, cores)


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
