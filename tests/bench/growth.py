"""How time and memory grow with the work, against floors of the same run, and what a plain script
does on the same photos.

    python -m tests.bench.growth [--quick]

Floors: the bare decoding of the JPEG (``cv2.imdecode``) and one NumPy pass over its pixels. The
plain script finds edges, contours and four-sided shapes with OpenCV and takes the mean of
scikit-image's ``rgb2lab`` inside, as a competent person would write it in an afternoon. The
exponent is that of the power law fitted to a column: 1 is growth in step with the work.
"""

import argparse
import os
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable
from concurrent.futures import ProcessPoolExecutor
from dataclasses import dataclass
from pathlib import Path

import cv2
import numpy as np
from numpy.typing import NDArray

from colorcore.measuring import measure_photo, measure_photos
from colorcore.photo import open_photo
from tests.scenes import Scene, make_scene, save_scene


@dataclass(frozen=True)
class Row:
    """One size of work: what it is, floors and ours in seconds, peak memory in MB."""

    size: float
    decode: float
    numpy_pass: float
    plain: float
    ours: float
    memory: float


def best(call: Callable[[], object], runs: int = 3) -> float:
    """Seconds of the quickest of several calls."""
    times = []
    for _ in range(runs):
        began = time.perf_counter()
        call()
        times.append(time.perf_counter() - began)
    return min(times)


def plain_script(path: Path) -> list[tuple[NDArray[np.float64], NDArray[np.float64]]]:
    """Corners (4, 2) and mean CIELAB of every four-sided shape, as a plain script finds them."""
    from skimage.color import rgb2lab

    picture = cv2.cvtColor(cv2.imread(str(path)), cv2.COLOR_BGR2RGB)
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
            cv2.fillConvexPoly(mask, shape - [x, y], 1)
            inside = lab[y : y + height, x : x + width][mask > 0]
            found.append((shape[:, 0].astype(float), inside.mean(axis=0)))
    return found


def peak_memory(path: Path) -> float:
    """Peak resident memory in MB of a process of its own that finds and measures a photo."""
    program = (
        "import resource, sys\n"
        "from colorcore.measuring import measure_photos\n"
        "measure_photos([sys.argv[1]])\n"
        "print(resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024)\n"
    )
    done = subprocess.run(
        [sys.executable, "-c", program, str(path)], capture_output=True, text=True, check=True
    )
    return float(done.stdout)


def measure_row(size: float, path: Path, runs: int) -> Row:
    """Time one photo in every way."""
    data = np.frombuffer(path.read_bytes(), np.uint8)
    pixels = cv2.imdecode(data, cv2.IMREAD_COLOR)
    return Row(
        size=size,
        decode=best(lambda: cv2.imdecode(data, cv2.IMREAD_COLOR), runs),
        numpy_pass=best(lambda: pixels.mean(), runs),
        plain=best(lambda: plain_script(path), runs),
        ours=best(lambda: measure_photo(open_photo(path)), runs),
        memory=peak_memory(path),
    )


def exponent(sizes: list[float], values: list[float]) -> float:
    """Of the power law through the points, by least squares in logarithms."""
    return float(np.polyfit(np.log(sizes), np.log(values), 1)[0])


def show(title: str, rows: list[Row]) -> None:
    """Print a table with times as ratios to the decoding."""
    print(f"\n{title:>14} {'decode ms':>10} {'numpy':>6} {'plain':>6} {'ours':>6} {'peak MB':>8}")
    for row in rows:
        print(
            f"{row.size:>14g} {1000 * row.decode:>10.0f} {row.numpy_pass / row.decode:>6.2f} "
            f"{row.plain / row.decode:>6.2f} {row.ours / row.decode:>6.2f} {row.memory:>8.0f}"
        )
    sizes = [row.size for row in rows]
    print(f"exponent of ours: {exponent(sizes, [row.ours for row in rows]):.2f}")


def by_pixels(folder: Path, megapixels: tuple[float, ...], runs: int) -> list[Row]:
    """One photo of 42 squares in several sizes."""
    rows = []
    for size in megapixels:
        path = folder / f"{size:g}.jpg"
        save_scene(make_scene("gaps_wood", 2100, megapixels=size, rows=6, columns=7), path)
        rows.append(measure_row(size, path, runs))
    return rows


def by_squares(folder: Path, layouts: tuple[tuple[int, int], ...], runs: int) -> list[Row]:
    """Photos of 3 megapixels with more and more squares."""
    rows = []
    for down, across in layouts:
        path = folder / f"{down}x{across}.jpg"
        save_scene(make_scene("gaps_board", 2200, megapixels=3, rows=down, columns=across), path)
        rows.append(measure_row(down * across, path, runs))
    return rows


def by_photos(folder: Path, counts: tuple[int, ...]) -> None:
    """Many photos in turn and on two cores."""
    scenes: list[Scene] = [make_scene("gaps_board", 2300 + n, megapixels=3) for n in range(4)]
    paths = [folder / f"many{n}.jpg" for n in range(4)]
    for scene, path in zip(scenes, paths, strict=True):
        save_scene(scene, path)
    print(f"\n{'photos':>14} {'one core s':>11} {'two cores s':>12} {'gain':>6}")
    for count in counts:
        # Links have names of their own, so that every file is opened anew.
        links = []
        for n in range(count):
            link = folder / f"{count}-{n}.jpg"
            os.link(paths[n % 4], link)
            links.append(link)
        alone = best(lambda links=links: [measure_photos([link]) for link in links], 1)
        with ProcessPoolExecutor(2) as pool:
            list(pool.map(measure_photos, [[links[0]]] * 4))
            both = best(
                lambda links=links, pool=pool: list(
                    pool.map(measure_photos, [[link] for link in links])
                ),
                1,
            )
        print(f"{count:>14} {alone:>11.1f} {both:>12.1f} {alone / both:>6.2f}")


def compare_accuracy(folder: Path, seeds: range) -> None:
    """What the plain script and ours find and measure on the same photos."""
    kinds = ("gaps_board", "gaps_wood", "gaps_mat", "gaps_carpet", "side_light", "touching")
    print(f"\n{'':>14} {'found %':>8} {'median L* error':>16}")
    ours, plain, total = [], [], 0
    for kind in kinds:
        for seed in seeds:
            scene = make_scene(kind, seed, megapixels=2)
            path = folder / f"{kind}{seed}.png"
            save_scene(scene, path)
            truth = [(s.corners.mean(axis=0), s.lab[0]) for s in scene.truth.squares]
            total += len(truth)
            swatches = measure_photo(open_photo(path)).squares
            ours += _errors(truth, [(np.mean(s.corners, axis=0), s.lab[0]) for s in swatches])
            plain += _errors(truth, [(c.mean(axis=0), v[0]) for c, v in plain_script(path)])
    for name, errors in (("plain script", plain), ("ours", ours)):
        share = 100 * len(errors) / total
        print(f"{name:>14} {share:>8.1f} {np.median(errors) if errors else np.nan:>16.2f}")


def _errors(truth: list, found: list) -> list[float]:
    """L* errors of what was found within an eighth of the squares' distance of a true square."""
    centers = np.array([c for c, _ in truth])
    apart = np.linalg.norm(centers[:, None] - centers, axis=2)
    near = np.min(apart[apart > 0]) / 8 if len(truth) > 1 else 50.0
    errors = []
    for center, lightness in truth:
        offs = [np.linalg.norm(np.asarray(at) - center) for at, _ in found]
        if offs and min(offs) < near:
            errors.append(abs(found[int(np.argmin(offs))][1] - lightness))
    return errors


def main() -> None:
    """Print all tables."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--quick", action="store_true", help="small sizes only")
    quick = parser.parse_args().quick
    runs = 2 if quick else 5
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        show("megapixels", by_pixels(folder, (1, 3, 12) if quick else (1, 3, 6, 12, 25, 50), runs))
        grids = ((1, 2), (3, 4), (6, 7), (9, 10))
        show("squares", by_squares(folder, grids[:3] if quick else grids, runs))
        by_photos(folder, (4,) if quick else (1, 10, 50, 200))
        compare_accuracy(folder, range(3000, 3001 if quick else 3003))


if __name__ == "__main__":
    main()
