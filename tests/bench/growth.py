"""How time and memory grow with the work, against floors of the same run, and what a plain script
does on the same photos. All of it takes half an hour on two busy cores.

    OPENBLAS_NUM_THREADS=1 python -m tests.bench.growth [--quick]

Times are those of all cores together (process time), so that a busy machine changes them little;
only the gain from a second core goes by the clock. Floors: the bare decoding of the JPEG
(``cv2.imdecode``) and one NumPy pass over its pixels; for the stash, one NumPy pass of the bare
CIEDE2000 formula. The plain script finds edges, contours and four-sided shapes with OpenCV and
takes the mean of scikit-image's ``rgb2lab`` inside, as a competent person would write it in an
afternoon. The exponent is that of the power law fitted to a column: 1 is growth in step with the
work. Photos beyond 12 megapixels are enlarged from one of 12, with noise as a camera has it.
"""

import argparse
import multiprocessing
import os
import resource
import subprocess
import sys
import tempfile
import time
from concurrent.futures import ProcessPoolExecutor
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import cv2
import numpy as np
from numpy.typing import NDArray

from colorcore.errors import FindingError
from colorcore.measuring import measure_photo
from colorcore.photo import open_photo
from colorcore.stash import Stash
from colorcore.substitutes.nearest import nearest
from tests.bench.nearest import bare_formula, fill_stash, make_shelf
from tests.bench.timing import bare_decoding, best
from tests.scenes import make_scene, save_scene

NEAREST = 20
QUERY = np.array([45.0, 20.0, -30.0])
# The kernel's own count for one program: what its parent used before it started it is not in.
TELL_PEAK = """
import sys
from colorcore.measuring import measure_photos
measure_photos([sys.argv[1]])
for line in open("/proc/self/status"):
    if line.startswith("VmHWM"):
        print(int(line.split()[1]) / 1024)
"""


@dataclass(frozen=True)
class Row:
    """One size of work: floors, plain script and ours in core seconds; peak memory in MB."""

    size: float
    decode: float
    numpy_pass: float
    plain: float
    ours: float
    memory: float


def plain_script(path: Path) -> list[tuple[NDArray[np.float64], NDArray[np.float64]]]:
    """Corners (4, 2) and mean CIELAB of every four-sided shape, as a plain script finds them."""
    from skimage.color import rgb2lab

    picture = cv2.cvtColor(np.asarray(cv2.imread(str(path))), cv2.COLOR_BGR2RGB)
    grey = cv2.GaussianBlur(cv2.cvtColor(picture, cv2.COLOR_RGB2GRAY), (5, 5), 0)
    edges = cv2.dilate(cv2.Canny(grey, 50, 150), np.ones((3, 3), np.uint8))
    outlines, _ = cv2.findContours(edges, cv2.RETR_EXTERNAL, cv2.CHAIN_APPROX_SIMPLE)
    lab = rgb2lab(picture)
    least = picture.shape[0] * picture.shape[1] / 1000
    found = []
    for outline in outlines:
        shape = cv2.approxPolyDP(outline, 0.03 * cv2.arcLength(outline, True), True)
        if len(shape) == 4 and cv2.contourArea(shape) > least and cv2.isContourConvex(shape):
            x, y, width, height = cv2.boundingRect(shape)
            mask = np.zeros((height, width), np.uint8)
            cv2.fillConvexPoly(mask, shape - [x, y], (1,))
            inside = lab[y : y + height, x : x + width][mask > 0]
            found.append((shape[:, 0].astype(float), inside.mean(axis=0)))
    return found


def peak_memory(path: Path) -> float:
    """Peak resident memory in MB of a process of its own that finds and measures a photo."""
    done = subprocess.run(
        [sys.executable, "-c", TELL_PEAK, str(path)], capture_output=True, text=True, check=True
    )
    return float(done.stdout)


def measure_row(size: float, path: Path, runs: int) -> Row:
    """Time one photo in every way."""
    pixels = np.asarray(cv2.imread(str(path)))
    return Row(
        size=size,
        decode=bare_decoding(path.read_bytes(), 2 * runs).cores,
        numpy_pass=best(lambda: pixels.mean(), runs),
        plain=best(lambda: plain_script(path), 1 if pixels.size > 6e7 else runs),
        ours=best(lambda: measure_photo(open_photo(path), alone=True), runs),
        memory=peak_memory(path),
    )


def exponent(sizes: list[float], values: list[float]) -> float:
    """Of the power law through the points, by least squares in logarithms."""
    return float(np.polyfit(np.log(sizes), np.log(values), 1)[0])


def show(title: str, rows: list[Row]) -> None:
    """Print a table with times as ratios to the decoding."""
    print(f"\n| {title} | decoding ms | NumPy pass | plain script | ours | peak MB |")
    print("|---|---|---|---|---|---|")
    for row in rows:
        print(
            f"| {row.size:g} | {1000 * row.decode:.0f} | {row.numpy_pass / row.decode:.2f} "
            f"| {row.plain / row.decode:.1f} | {row.ours / row.decode:.1f} | {row.memory:.0f} |"
        )
    sizes = [row.size for row in rows]
    columns = ("decode", "numpy_pass", "plain", "ours", "memory")
    powers = [exponent(sizes, [getattr(row, name) for row in rows]) for name in columns]
    print("| exponent | " + " | ".join(f"{power:.2f}" for power in powers) + " |", flush=True)


def by_pixels(folder: Path, megapixels: tuple[float, ...], runs: int) -> list[Row]:
    """One photo of 42 squares in several sizes."""
    scene = make_scene("gaps_wood", 2100, megapixels=min(12.0, max(megapixels)), rows=6, columns=7)
    rng = np.random.default_rng(0)
    rows = []
    for size in megapixels:
        path = folder / f"{size:g}.jpg"
        height, width = scene.pixels.shape[:2]
        scale = float(np.sqrt(size * 1e6 / (height * width)))
        way = cv2.INTER_AREA if scale < 1 else cv2.INTER_CUBIC
        wanted = (round(width * scale), round(height * scale))
        picture = np.asarray(cv2.resize(scene.pixels, wanted, interpolation=way), np.uint8)
        if scale > 1:
            grain = rng.normal(0, 2, (1000, 1000, 3)).astype(np.int8)
            tiles = (picture.shape[0] // 1000 + 1, picture.shape[1] // 1000 + 1, 1)
            noise = np.tile(grain, tiles)[: picture.shape[0], : picture.shape[1]]
            picture = np.asarray(cv2.add(picture, noise, dtype=cv2.CV_8U), np.uint8)
        cv2.imwrite(
            str(path), cv2.cvtColor(picture, cv2.COLOR_RGB2BGR), [cv2.IMWRITE_JPEG_QUALITY, 92]
        )
        rows.append(measure_row(size, path, runs))
    return rows


def by_squares(folder: Path, layouts: tuple[tuple[int, int], ...], runs: int) -> list[Row]:
    """Photos of 3 megapixels with more and more squares."""
    rows = []
    for down, across in layouts:
        path = folder / f"{down}x{across}.jpg"
        kind = "one_large" if down * across == 1 else "gaps_board"
        layout: dict[str, Any] = {"rows": down, "columns": across}
        layout = {} if kind == "one_large" else layout
        save_scene(make_scene(kind, 2200, megapixels=3, **layout), path)
        rows.append(measure_row(down * across, path, runs))
    return rows


def ready(cores: list[int]) -> None:
    """What a worker does first, as the command's workers do, and keep to these ``cores``."""
    cv2.setNumThreads(1)
    os.sched_setaffinity(0, cores)


def measure_one(path: Path) -> None:
    """What a worker does with a photo."""
    measure_photo(open_photo(path), threads=1)


def by_photos(folder: Path, counts: tuple[int, ...]) -> None:
    """Many photos on one core and on two, one process a core as the command has them."""
    paths = [folder / f"many{n}.jpg" for n in range(4)]
    for n, path in enumerate(paths):
        save_scene(make_scene("gaps_board", 2300 + n, megapixels=3), path)
    print("\n| photos | one core s | two cores s | gain by the clock | core seconds of two |")
    print("|---|---|---|---|---|")
    alone_all, both_all = [], []
    for count in counts:
        links = []
        for n in range(count):
            link = folder / f"{count}-{n}.jpg"
            os.link(paths[n % 4], link)
            links.append(link)
        clocks, cores = zip(*(_on_cores(links, number) for number in (1, 2)), strict=True)
        alone_all.append(clocks[0])
        both_all.append(clocks[1])
        print(
            f"| {count} | {clocks[0]:.1f} | {clocks[1]:.1f} | {clocks[0] / clocks[1]:.2f} "
            f"| {cores[1] / cores[0]:.2f} of one's |",
            flush=True,
        )
    sizes = [float(count) for count in counts]
    print(f"| exponent | {exponent(sizes, alone_all):.2f} | {exponent(sizes, both_all):.2f} | | |")


def _on_cores(links: list[Path], number: int) -> tuple[float, float]:
    """Seconds by the clock and of the cores for photos measured one by one in warm processes, one
    a core."""
    spawn = multiprocessing.get_context("spawn")
    cores = sorted(os.sched_getaffinity(0))[:number]
    before = _children_seconds()
    with ProcessPoolExecutor(
        number, mp_context=spawn, initializer=ready, initargs=(cores,)
    ) as pool:
        list(pool.map(measure_one, [links[0]] * number))
        began = time.perf_counter()
        list(pool.map(measure_one, links))
        clock = time.perf_counter() - began
    return clock, _children_seconds() - before


def _children_seconds() -> float:
    used = resource.getrusage(resource.RUSAGE_CHILDREN)
    return used.ru_utime + used.ru_stime


def by_entries(folder: Path, sizes: tuple[int, ...]) -> None:
    """The nearest of a stash, in memory and read from its file."""
    print("\n| stash entries | NumPy pass ms | the 20 nearest | read from the file and found |")
    print("|---|---|---|---|")
    floors, finds, reads = [], [], []
    for size in sizes:
        labs = make_shelf(size)
        again = max(1, 20_000 // size)
        floor = best(lambda: [bare_formula(labs, QUERY) for _ in range(again)], 5) / again  # noqa: B023
        find = best(lambda: [nearest(labs, QUERY, NEAREST) for _ in range(again)], 5) / again  # noqa: B023
        with Stash(folder / f"shelf{size}.sqlite") as stash:
            fill_stash(stash, labs)
            read = best(lambda: nearest(stash.colors()[1], QUERY, NEAREST), 2)
        floors.append(floor)
        finds.append(find)
        reads.append(read)
        print(f"| {size:,} | {1e3 * floor:.2f} | {find / floor:.2f} | {read / floor:.1f} |")
    whole = [float(size) for size in sizes]
    powers = [exponent(whole, column) for column in (floors, finds, reads)]
    print("| exponent | " + " | ".join(f"{power:.2f}" for power in powers) + " |", flush=True)


def compare_accuracy(folder: Path, seeds: range) -> None:
    """What the plain script and ours find and measure on the same photos."""
    kinds = ("gaps_board", "gaps_wood", "gaps_mat", "gaps_carpet", "side_light", "touching")
    ours: list[float] = []
    plain: list[float] = []
    total = 0
    for kind in kinds:
        for seed in seeds:
            scene = make_scene(kind, seed, megapixels=2)
            path = folder / f"{kind}{seed}.png"
            save_scene(scene, path)
            truth = [(s.corners.mean(axis=0), float(s.lab[0])) for s in scene.truth.squares]
            total += len(truth)
            plain += _errors(truth, [(c.mean(axis=0), float(v[0])) for c, v in plain_script(path)])
            try:
                swatches = measure_photo(open_photo(path)).squares
            except FindingError:
                continue
            ours += _errors(truth, [(np.mean(s.corners, axis=0), s.lab[0]) for s in swatches])
    print("\n| | found % | median L* error |\n|---|---|---|")
    for name, errors in (("plain script", plain), ("ours", ours)):
        median = np.median(errors) if errors else np.nan
        print(f"| {name} | {100 * len(errors) / total:.1f} | {median:.2f} |", flush=True)


Places = list[tuple[NDArray[np.float64], float]]


def _errors(truth: Places, found: Places) -> list[float]:
    """L* errors of what was found within an eighth of the squares' distance of a true square."""
    centers = np.array([c for c, _ in truth])
    apart = np.linalg.norm(centers[:, None] - centers, axis=2)
    near = np.min(apart[apart > 0]) / 8 if len(truth) > 1 else 50.0
    errors = []
    for center, lightness in truth:
        offs = [float(np.linalg.norm(np.asarray(at) - center)) for at, _ in found]
        if offs and min(offs) < near:
            errors.append(abs(found[int(np.argmin(offs))][1] - lightness))
    return errors


def main() -> None:
    """Print all tables."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--quick", action="store_true", help="small sizes only")
    quick = parser.parse_args().quick
    began = time.perf_counter()
    runs = 1 if quick else 3
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        show("megapixels", by_pixels(folder, (1, 3) if quick else (1, 3, 6, 12, 25, 50), runs))
        grids = ((1, 1), (1, 2), (3, 4), (6, 7), (9, 10))
        show("squares", by_squares(folder, grids[1:3] if quick else grids, runs))
        by_photos(folder, (2, 4) if quick else (1, 10, 50, 200))
        by_entries(folder, (100, 1000) if quick else (100, 1000, 10_000, 100_000, 1_000_000))
        compare_accuracy(folder, range(3000, 3001 if quick else 3003))
    print(f"\n{(time.perf_counter() - began) / 60:.0f} minutes, {os.cpu_count()} cores")


if __name__ == "__main__":
    main()
