"""How many broken files a run tries, from which seed, and how much memory they take.

``BUNDLESTACKS_TIMES=28 BUNDLESTACKS_FIRST=100 pytest tests/hardening -n 2`` tries 28 times as many
cases, other ones than the usual run does.
"""

import contextlib
import os
from pathlib import Path

TIMES = int(os.environ.get("BUNDLESTACKS_TIMES", "1"))
FIRST = int(os.environ.get("BUNDLESTACKS_FIRST", "0"))


def forget_peak() -> None:
    """Let the kernel count the peak of this program's memory anew, where it can do that."""
    with contextlib.suppress(OSError):
        Path("/proc/self/clear_refs").write_text("5")


def peak_megabytes() -> float:
    """The most memory of this program since its peak was forgotten; 0 where nobody tells."""
    with contextlib.suppress(OSError):
        for line in Path("/proc/self/status").read_text().splitlines():
            if line.startswith("VmHWM:"):
                return int(line.split()[1]) / 1024
    return 0.0
