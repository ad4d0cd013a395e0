"""Which references are found by themselves, and what is taken for one that is none.

    python -m tests.bench.references --seeds 1700-1701                a line per kind of reference
    python -m tests.bench.references --seeds 1700 --lights side mixed  in other light
    python -m tests.bench.references --show FOLDER                    also draw what went wrong

Squares are found first, as in the tool itself. A reference counts as found where the middle of an
outline of its kind lies within it; one that lies on none is false. ``off`` are scenes that have
one false reference or more, with the L* error (median) that came of it.
"""

import argparse
from collections.abc import Iterator
from dataclasses import dataclass, field
from pathlib import Path

import cv2
import numpy as np
from numpy.typing import NDArray

from colorcore.finding import find_squares
from colorcore.geometry import holds
from colorcore.light import Calibration, undo_light
from colorcore.measuring import measure_photo
from colorcore.photo import Photo, photo_from_array
from tests.scenes import SCENE_KINDS, make_scene
from tests.scenes.truth import Truth

REFERENCES = ("none", "paper", "paper+grey", "chart")
KINDS = {"paper": "paper", "grey card": "grey", "chart": "chart"}


@dataclass
class Tally:
    """Counts over scenes with the same references on the table."""

    there: dict[str, int] = field(default_factory=dict)
    found: dict[str, int] = field(default_factory=dict)
    false: dict[str, int] = field(default_factory=dict)
    scenes: int = 0
    off: list[str] = field(default_factory=list)


def judge(truth: Truth, calibration: Calibration, tally: Tally) -> list[NDArray[np.float64]]:
    """Count what was found and return the outlines of what is no reference."""
    wrong = []
    hit = set()
    for reference in calibration.references:
        kind = KINDS.get(reference.kind)
        if kind is None or not reference.found:
            continue
        middle = reference.outline.mean(axis=0)[None]
        on = [
            k
            for k, true in enumerate(truth.references)
            if true.kind == kind and holds(true.corners, middle).any()
        ]
        if on:
            hit.update(on)
        else:
            tally.false[kind] = tally.false.get(kind, 0) + 1
            wrong.append(reference.outline)
    for k, true in enumerate(truth.references):
        tally.there[true.kind] = tally.there.get(true.kind, 0) + 1
        tally.found[true.kind] = tally.found.get(true.kind, 0) + (k in hit)
    return wrong


def lightness_error(photo: Photo, truth: Truth) -> float:
    """Return the median error of L* over the squares that were found."""
    errors = []
    for swatch in measure_photo(photo, alone=True).squares:
        middle = np.mean(swatch.corners, axis=0)[None]
        for square in truth.squares:
            if holds(square.corners, middle).any():
                errors.append(abs(swatch.lab[0] - square.lab[0]))
    return float(np.median(errors)) if errors else float("nan")


def seeds_of(text: str) -> range:
    """Return the seeds that ``1700-1709`` or ``1700`` names."""
    first, _, last = text.partition("-")
    return range(int(first), int(last or first) + 1)


def scenes(given: argparse.Namespace, reference: str) -> Iterator[tuple[str, Photo, Truth]]:
    """Render the scenes in turn."""
    for kind in given.kinds:
        for light in given.lights:
            for seed in seeds_of(given.seeds):
                scene = make_scene(
                    kind, seed, megapixels=given.megapixels, light=light, reference=reference
                )
                name = f"{kind} {seed} {light}"
                yield name, photo_from_array(scene.pixels, name), scene.truth


def draw(photo: Photo, outlines: list[NDArray[np.float64]], path: Path) -> None:
    """Draw the photo, reduced, with outlines of what is no reference."""
    small, scale = photo.small(1200)
    drawn = cv2.cvtColor(small, cv2.COLOR_RGB2BGR)
    for outline in outlines:
        cv2.polylines(drawn, [np.rint(outline * scale).astype(np.int32)], True, (0, 0, 255), 3)
    path.parent.mkdir(parents=True, exist_ok=True)
    cv2.imwrite(str(path), drawn)


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--seeds", default="1700")
    parser.add_argument("--kinds", nargs="+", default=list(SCENE_KINDS))
    parser.add_argument("--lights", nargs="+", default=["even"])
    parser.add_argument("--references", nargs="+", default=list(REFERENCES))
    parser.add_argument("--megapixels", type=float, default=2.0)
    parser.add_argument("--show", type=Path)
    given = parser.parse_args()
    print("| on the table | scenes | paper | grey card | chart | false | scenes off |")
    print("|---|---|---|---|---|---|---|")
    wrong: list[str] = []
    for reference in given.references:
        tally = Tally()
        for name, photo, truth in scenes(given, reference):
            tally.scenes += 1
            false = judge(truth, undo_light(photo, find_squares(photo)), tally)
            if false:
                tally.off.append(name)
                error = lightness_error(photo, truth)
                wrong.append(f"- {reference}: {name}, L* {error:.1f} off")
                if given.show:
                    draw(photo, false, given.show / f"{reference}-{name}.png".replace(" ", "-"))
        counts = [
            f"{tally.found.get(kind, 0)} of {tally.there[kind]}" if kind in tally.there else ""
            for kind in KINDS.values()
        ]
        false_ones = ", ".join(f"{count} {kind}" for kind, count in tally.false.items()) or "0"
        cells = [reference, str(tally.scenes), *counts, false_ones, str(len(tally.off))]
        print("| " + " | ".join(cells) + " |", flush=True)
    print("\n" + "\n".join(wrong))


if __name__ == "__main__":
    main()
