"""How long measuring takes, step by step, against the bare decoding of the same JPEG.

    OPENBLAS_NUM_THREADS=1 python -m tests.bench.measuring [PHOTO.jpg]

One thread for the algebra library is what the command itself asks for.
Without a photo, a 12-megapixel one of 42 squares is rendered. Times are the best of several runs;
the floor is ``cv2.imdecode`` of the file's bytes in a process of its own. The cold run starts one
as well: ``bundlestacks measure PHOTO --out FILE``.
"""

import argparse
import os
import resource
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path
from typing import TypeVar

from colorcore.bundle import Bundle, group_fabrics, write_bundle
from colorcore.finding import find_squares
from colorcore.light import undo_light
from colorcore.measuring import MeasuredPhoto, measure_photo, measure_photos
from colorcore.photo import begin_opening, open_photo
from colorcore.swatch import measure_squares
from tests.bench.command import AND_TELL_PEAK
from tests.bench.timing import Cost, bare_decoding
from tests.scenes import make_scene, save_scene

T = TypeVar("T")


def best(runs: int, step: Callable[[], T]) -> tuple[Cost, T]:
    """Return the least of several runs, and what the last gave."""
    clock, cores = [], []
    for _ in range(runs):
        start, busy = time.perf_counter(), time.process_time()
        result = step()
        clock.append(time.perf_counter() - start)
        cores.append(time.process_time() - busy)
    return Cost(min(clock), min(cores)), result


def warm(path: Path, runs: int, folder: Path) -> None:
    jpeg = path.read_bytes()
    measure_photos([path])
    floor = bare_decoding(jpeg, 2 * runs)
    opening, photo = best(runs, lambda: open_photo(path))
    finding_time, finding = best(runs, lambda: find_squares(photo))
    light, calibration = best(runs, lambda: undo_light(photo, finding))
    measuring, squares = best(
        runs,
        lambda: measure_squares(
            photo, calibration, finding.squares, side_inches=10.0, threads=os.cpu_count() or 1
        ),
    )
    grouping, grouped = best(runs, lambda: group_fabrics(squares))
    bundle = Bundle(grouped, ())
    writing, _ = best(runs, lambda: write_bundle(bundle, folder / "bundle.json"))
    without_groups, _ = best(runs, lambda: find_and_measure(path))
    whole, _ = best(runs, lambda: measure_photos([path]))
    print(
        f"{path.name}: {photo.width} x {photo.height} pixels, "
        f"{len(jpeg) / 2**20:.1f} MB, {len(squares)} squares, {os.cpu_count()} cores\n"
    )
    print("| warm step | ms | times the bare decoding | the same by the cores' time |")
    print("|---|---|---|---|")
    rows = (
        ("bare decoding (floor)", floor), ("open", opening), ("find", finding_time),
        ("undo the light", light), ("measure the squares", measuring),
        ("same-fabric groups", grouping), ("write the bundle", writing),
        ("found and measured, as a whole", without_groups), ("photo to bundle, as a whole", whole),
    )  # fmt: skip
    for name, cost in rows:
        by_clock, by_cores = cost.clock / floor.clock, cost.cores / floor.cores
        print(f"| {name} | {cost.clock * 1e3:.0f} | {by_clock:.2f} | {by_cores:.2f} |")


def find_and_measure(path: Path) -> MeasuredPhoto:
    """What is done with every photo, the decoding overlapped."""
    with ThreadPoolExecutor(1) as pool:
        return measure_photo(begin_opening(path, pool), alone=True)


def cold(path: Path, runs: int, folder: Path) -> None:
    measure = ["run", "measure", str(path), "--out", str(folder / "cold.json"), "--quiet"]
    start, _ = best_process(["do", "pass"], runs)
    loaded, _ = best_process(["do", "import app.cli, colorcore.measuring"], runs)
    whole, memory = best_process(measure, runs)
    print("\n| cold process | core seconds |\n|---|---|")
    print(f"| bare interpreter (floor) | {start:.2f} |")
    print(f"| imports beyond it | {loaded - start:.2f} |")
    print(f"| bundlestacks measure | {whole:.2f} |")
    print(f"\nPeak memory of bundlestacks measure: {memory:.0f} MB")


def best_process(words: list[str], runs: int) -> tuple[float, float]:
    """Least core seconds of a process of its own, and its peak memory in MB as it tells itself:
    what the system says of a child counts what its parent held when it was forked."""
    seconds, peaks = [], []
    for _ in range(runs):
        used = resource.getrusage(resource.RUSAGE_CHILDREN)
        done = subprocess.run(
            [sys.executable, "-c", AND_TELL_PEAK, *words],
            stdout=subprocess.DEVNULL,
            stderr=subprocess.PIPE,
            text=True,
            check=True,
        )
        now = resource.getrusage(resource.RUSAGE_CHILDREN)
        seconds.append(now.ru_utime + now.ru_stime - used.ru_utime - used.ru_stime)
        peaks.append(int(done.stderr.split()[-1]) / 1024)
    return min(seconds), max(peaks)


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("photo", nargs="?", type=Path)
    parser.add_argument("--runs", type=int, default=5)
    given = parser.parse_args()
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        path = given.photo
        if path is None:
            path = folder / "rendered.jpg"
            save_scene(make_scene("gaps_wood", 2, megapixels=12.0, rows=6, columns=7), path)
        warm(path, given.runs, folder)
        cold(path, given.runs, folder)


if __name__ == "__main__":
    main()
