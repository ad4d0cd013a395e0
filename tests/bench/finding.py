"""How many squares are found, how many outlines are false, how well they fit, and how fast.

    python -m tests.bench.finding --seeds 1000-1019            one line per kind of scene
    python -m tests.bench.finding --speed                      time against bare JPEG decoding
    python -m tests.bench.finding --show FOLDER                also draw the scenes that failed

Scenes of seeds below 1000 served in developing; the table of the README is from 1000 on. A square
counts as found when an outline overlaps it by three quarters (intersection over union); squares of
which less than half is in the picture count neither way.
"""

import argparse
import time
from dataclasses import dataclass, field
from pathlib import Path

import cv2
import numpy as np
from numpy.typing import NDArray

from colorcore.finding import Finding, find_squares
from colorcore.finding.overlay import draw_outlines
from colorcore.photo import photo_from_array
from tests.bench.timing import bare_decoding
from tests.scenes import SCENE_KINDS, make_scene

Quads = NDArray[np.float64]
_SAME = 0.75


@dataclass
class Tally:
    """Counts over the scenes of one kind; ``calls`` pairs each confidence with whether it was
    right; ``misplaced`` counts squares with another address than a person would give."""

    squares: int = 0
    found: int = 0
    false: int = 0
    misplaced: int = 0
    overlaps: list[float] = field(default_factory=list)
    calls: list[tuple[float, bool]] = field(default_factory=list)
    seconds: list[float] = field(default_factory=list)
    failed: list[str] = field(default_factory=list)


def overlap(one: Quads, two: Quads) -> float:
    """Return intersection over union of two convex quads."""
    a, b = one.astype(np.float32), two.astype(np.float32)
    shared, _ = cv2.intersectConvexConvex(a, b)
    return float(shared) / (abs(cv2.contourArea(a)) + abs(cv2.contourArea(b)) - float(shared))


def match(truth: Quads, found: Quads) -> list[tuple[int, int, float]]:
    """Pair true and found quads, best overlap first, each once: (true, found, overlap)."""
    if not len(truth) or not len(found):
        return []
    apart = np.abs(truth.mean(axis=1)[:, None] - found.mean(axis=1)).max(axis=2)
    near = apart < np.ptp(truth, axis=1).max(axis=1)[:, None]
    pairs = [(overlap(truth[i], found[j]), int(i), int(j)) for i, j in np.argwhere(near)]
    done: list[tuple[int, int, float]] = []
    for share, i, j in sorted(pairs, reverse=True):
        if share >= _SAME and all(i != a and j != b for a, b, _ in done):
            done.append((i, j, share))
    return done


def judge(tally: Tally, name: str, truth: object, finding: Finding) -> None:
    """Add one scene to a tally."""
    squares = truth.squares  # type: ignore[attr-defined]
    quads = np.array([s.corners for s in squares]).reshape(-1, 4, 2)
    found = np.array([s.corners for s in finding.squares]).reshape(-1, 4, 2)
    pairs = match(quads, found)
    hit = {i for i, _, _ in pairs}
    optional = {i for i, s in enumerate(squares) if s.cut_off and s.visible_share < 0.5}
    counted = [i for i in range(len(squares)) if i in hit or i not in optional]
    right = {j for _, j, _ in pairs}
    tally.squares += len(counted)
    tally.found += len(hit)
    tally.false += len(found) - len(right)
    tally.overlaps += [share for _, _, share in pairs]
    tally.calls += [(s.confidence, j in right) for j, s in enumerate(finding.squares)]
    if pairs:
        steps = [
            (squares[i].row - finding.squares[j].row, squares[i].column - finding.squares[j].column)
            for i, j, _ in pairs
        ]
        tally.misplaced += len(steps) - max(steps.count(s) for s in set(steps))
    if len(hit) < len(counted) or len(found) > len(right):
        tally.failed.append(f"{name}:{len(hit)}/{len(counted)}+{len(found) - len(right)}")


def run_kind(kind: str, seeds: range, megapixels: float, show: Path | None) -> Tally:
    """Find the squares of one kind of scene."""
    tally = Tally()
    for seed in seeds:
        scene = make_scene(kind, seed, megapixels=megapixels)
        photo = photo_from_array(scene.pixels)
        start = time.process_time()
        finding = find_squares(photo, square_inches=scene.truth.side_inches)
        tally.seconds.append(time.process_time() - start)
        before = len(tally.failed)
        judge(tally, str(seed), scene.truth, finding)
        if show is not None and len(tally.failed) > before:
            picture = draw_outlines(photo, finding, max_side=1200)
            cv2.imwrite(str(show / f"{kind}-{seed}.png"), picture[..., ::-1])
    return tally


def report(name: str, tally: Tally) -> str:
    """Return one line of the table."""
    shares = tally.overlaps or [0.0]
    total = max(tally.squares, 1)
    return (
        f"| {name:18s} | {tally.squares:6d} | {100 * tally.found / total:6.2f} | "
        f"{100 * tally.false / total:5.2f} | {np.mean(shares):.3f} | "
        f"{np.percentile(shares, 5):.3f} | {tally.misplaced:4d} | "
        f"{1000 * np.median(tally.seconds):5.0f} | {' '.join(tally.failed[:6])}"
    )


def calibration(tally: Tally) -> list[str]:
    """Return how often outlines called so sure are right."""
    sure = np.array([c for c, _ in tally.calls])
    right = np.array([r for _, r in tally.calls])
    lines = []
    for low, high in ((0.5, 0.7), (0.7, 0.9), (0.9, 0.99), (0.99, 1.01)):
        chosen = (sure >= low) & (sure < high)
        if chosen.any():
            lines.append(
                f"sure {low:.2f} to {min(high, 1):.2f}: {chosen.sum():5d} outlines, "
                f"{100 * right[chosen].mean():.1f} % right"
            )
    return lines


def speed() -> None:
    """Print the time of finding against bare decoding of the same JPEG."""
    print("| megapixels | decode ms | find ms | ratio |\n|---|---|---|---|")
    cv2.setNumThreads(1)
    for megapixels in (1.0, 3.0, 12.0, 24.0, 50.0):
        scene = make_scene("gaps_board", 1000, megapixels=megapixels, rows=6, columns=7)
        photo = photo_from_array(scene.pixels)
        decode = bare_decoding(scene.jpeg, 5).cores
        find = _best(lambda p=photo: find_squares(p))
        print(
            f"| {megapixels:.0f} | {1000 * decode:.0f} | {1000 * find:.0f} | {find / decode:.2f} |",
            flush=True,
        )


def _best(work: object, times: int = 5) -> float:
    taken = []
    for _ in range(times):
        start = time.process_time()
        work()  # type: ignore[operator]
        taken.append(time.process_time() - start)
    return min(taken)


def main() -> None:
    """Print the table."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--seeds", default="1000-1019", help="first-last")
    parser.add_argument("--kinds", default=",".join(SCENE_KINDS))
    parser.add_argument("--megapixels", type=float, default=1.5)
    parser.add_argument("--show", type=Path, help="folder for pictures of scenes that failed")
    parser.add_argument("--speed", action="store_true")
    args = parser.parse_args()
    if args.speed:
        speed()
        return
    if args.show:
        args.show.mkdir(parents=True, exist_ok=True)
    first, last = (int(n) for n in args.seeds.split("-"))
    head = "kind", "squares", "found %", "false %", "IoU", "IoU 5 %", "address", "ms"
    print("| " + " | ".join(head) + " | failed")
    print("|---" * len(head) + "|")
    whole = Tally()
    for kind in args.kinds.split(","):
        tally = run_kind(kind, range(first, last + 1), args.megapixels, args.show)
        print(report(kind, tally), flush=True)
        for name in ("squares", "found", "false", "misplaced"):
            setattr(whole, name, getattr(whole, name) + getattr(tally, name))
        whole.overlaps += tally.overlaps
        whole.calls += tally.calls
        whole.seconds += tally.seconds
    print(report("all", whole))
    print("\n".join(calibration(whole)))


if __name__ == "__main__":
    main()
