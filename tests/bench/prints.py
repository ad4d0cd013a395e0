"""How well copies are recognised and prints are measured, on rendered photos of known prints.

    python -m tests.bench.prints [--seeds 3] [--first 2000] [--cache FOLDER]

The squares are found and measured as in real use, four in ten of them copies. Columns: pairs of
one fabric that are there, how many of the pairs that were said to be one fabric are (precision),
how many of those that are were said to be (recall); then, over squares that do not read as solids,
the share whose print scale lies within a factor of 1.5 and of 2 of the distance from motif to
motif that the print was drawn with.
"""

import argparse
from collections.abc import Iterator
from itertools import combinations
from pathlib import Path

import numpy as np

from colorcore.bundle import group_fabrics
from colorcore.errors import FindingError
from colorcore.measuring import measure_photo
from colorcore.photo import open_photo, photo_from_array
from colorcore.swatch import Swatch
from tests.scenes import Truth, make_scene, read_truth, save_scene
from tests.scenes.truth import SquareTruth

KINDS = ("gaps_board", "gaps_wood", "gaps_mat", "gaps_white_table", "gaps_cloth", "side_light",
         "white_on_white", "black_on_black")  # fmt: skip
Pairs = list[tuple[SquareTruth, Swatch]]


def scenes(kind: str, seeds: range, cache: Path | None) -> Iterator[Pairs]:
    for seed in seeds:
        photo, truth = None, None
        path = cache / f"{kind}-{seed}-copies.jpg" if cache else None
        if path and path.exists():
            photo, truth = open_photo(path), read_truth(path.with_suffix(".json"))
        else:
            scene = make_scene(kind, seed, copies=0.4)
            photo, truth = photo_from_array(scene.pixels), scene.truth
            if path:
                save_scene(scene, path)
        try:
            measured = measure_photo(photo, square_inches=truth.side_inches)
        except FindingError as error:
            print(f"{kind} {seed}: {error}")
            continue
        yield matched(group_fabrics(measured.squares), truth)


def matched(squares: tuple[Swatch, ...], truth: Truth) -> Pairs:
    middles = np.array([np.mean(s.corners, axis=0) for s in squares])
    pairs = []
    for true in truth.squares:
        far = np.linalg.norm(middles - true.corners.mean(axis=0), axis=1)
        if far.min() < 0.2 * truth.pixels_per_inch * truth.side_inches:
            pairs.append((true, squares[int(far.argmin())]))
    return pairs


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--seeds", type=int, default=3)
    parser.add_argument("--first", type=int, default=2000)
    parser.add_argument("--cache", type=Path)
    given = parser.parse_args()
    seeds = range(given.first, given.first + given.seeds)
    print("| scenes | pairs | precision | recall | scale within 1.5 | within 2 |")
    print("|---|---|---|---|---|---|")
    whole = np.zeros(3, dtype=int)
    ratios: dict[str, list[float]] = {}
    for kind in KINDS:
        count = np.zeros(3, dtype=int)
        here: list[float] = []
        for pairs in scenes(kind, seeds, given.cache):
            count += agreement(pairs)
            for true, swatch in pairs:
                if true.scale_inches and swatch.print_scale_inches:
                    ratio = float(np.log(swatch.print_scale_inches / true.scale_inches))
                    here.append(abs(ratio))
                    ratios.setdefault(true.family, []).append(ratio)
        whole += count
        print(row(kind, count, here))
    print(row("all", whole, [abs(r) for group in ratios.values() for r in group]))
    print("\n| print | squares | median measured / drawn | within 2 |\n|---|---|---|---|")
    for family, group in sorted(ratios.items()):
        near = np.mean(np.abs(group) < np.log(2))
        print(f"| {family} | {len(group)} | {np.exp(np.median(group)):.2f} | {near:.0%} |")


def agreement(pairs: Pairs) -> np.ndarray:
    """Pairs rightly joined, wrongly joined, missed."""
    right = wrong = missed = 0
    for (one, first), (other, second) in combinations(pairs, 2):
        same, said = one.fabric == other.fabric, first.fabric == second.fabric
        right += same and said
        wrong += said and not same
        missed += same and not said
    return np.array([right, wrong, missed])


def row(name: str, count: np.ndarray, ratios: list[float]) -> str:
    right, wrong, missed = (int(v) for v in count)
    near = [f"{np.mean(np.array(ratios) < np.log(f)):.0%}" if ratios else "-" for f in (1.5, 2)]
    return (
        f"| {name} | {right + missed} | {right / max(right + wrong, 1):.3f} "
        f"| {right / max(right + missed, 1):.3f} | {near[0]} | {near[1]} |"
    )


if __name__ == "__main__":
    main()
