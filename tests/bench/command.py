"""What the command line costs beyond its work: start, imports, memory.

Run by hand: ``python -m tests.bench.command [megapixels]``. Times are the best of several runs of
a whole process; the floor is the bare decoding of the same JPEG, measured in the same run.
"""

import json
import os
import subprocess
import sys
import tempfile
import time
from pathlib import Path

from tests.bench.timing import bare_decoding
from tests.scenes import make_scene, save_scene

RUNS = 5
ROOT = Path(__file__).parents[2]
# The kernel's own count for this program alone: what a parent used before it started it is not in.
AND_TELL_PEAK = """
import sys
if sys.argv[1] == "run":
    from app.cli import main
    code = main(sys.argv[2:])
else:
    code = exec(sys.argv[2])
for line in open("/proc/self/status"):
    if line.startswith("VmHWM"):
        print(line.split()[1], file=sys.stderr)
raise SystemExit(code)
"""


def main() -> None:
    """Print the table."""
    megapixels = float(sys.argv[1]) if len(sys.argv) > 1 else 12.0
    with tempfile.TemporaryDirectory() as folder:
        photo, bundle = Path(folder, "table.jpg"), Path(folder, "bundle.json")
        save_scene(make_scene("gaps_board", 1, megapixels=megapixels, rows=6, columns=7), photo)
        floor = bare_decoding(photo.read_bytes(), 2 * RUNS).clock
        measure = ["run", "measure", str(photo), "--out", str(bundle), "--quiet"]
        rows = [
            ("bare decoding (floor)", floor, 0.0),
            ("bare interpreter", *_best(["do", "pass"])),
            ("imports of measure", *_best(["do", "import colorcore.measuring"])),
            ("bundlestacks --version", *_best(["run", "--version"])),
            ("bundlestacks measure", *_best(measure)),
        ]
        squares = len(json.loads(bundle.read_text("utf-8"))["squares"])
        out = str(Path(folder, "out"))
        stack = ["run", "stack", str(bundle), "--background", "#f4efe6", "--out", out]
        if squares >= 42:
            rows.append((
                "bundlestacks stack bundle.json",
                *_best([*stack, "--pattern", "gatepost-stars", "--quiet"]),
            ))  # fmt: skip
    print(f"{megapixels:g} megapixels, {squares} squares, {os.cpu_count()} cores, best of {RUNS}")
    print(f"{'':32}{'s':>8}{'x floor':>9}{'peak MB':>9}")
    for words, seconds, memory in rows:
        peak = f"{memory:9.0f}" if memory else ""
        print(f"{words:32}{seconds:8.2f}{seconds / floor:9.1f}{peak}")


def _best(words: list[str]) -> tuple[float, float]:
    """Return the least seconds of whole processes and the peak memory of one, in MB."""
    times, peaks = [], []
    for _ in range(RUNS):
        start = time.perf_counter()
        done = subprocess.run(
            [sys.executable, "-c", AND_TELL_PEAK, *words],
            cwd=ROOT,
            stdout=subprocess.DEVNULL,
            stderr=subprocess.PIPE,
            text=True,
            check=True,
        )
        times.append(time.perf_counter() - start)
        peaks.append(int(done.stderr.split()[-1]) / 1024)
    return min(times), max(peaks)


if __name__ == "__main__":
    main()
