"""How true the colours are, by reference, light and tone curve; run by hand.

    python -m tests.bench.color_accuracy [--seeds 4] [--first 1000]

Every scene is rendered from spectra through a published camera; the outlines are given, so that
the table tells of the light alone. Columns: median and 95th percentile of the L* error, median
CIEDE2000, Kendall's tau of value, pairs more than 2 L* apart in the wrong order (per thousand
such pairs), and how often the true L* lies within one and two of the standard deviations given
(an honest 68 and 95 in 100), over all and row by row; a last table gathers that by tone curve.
Seeds from 1000 up are for verifying; those below were used in setting constants.
"""

import argparse
import os
import time
from collections.abc import Iterator
from dataclasses import dataclass, replace
from itertools import chain
from typing import Any, Final

import cv2
import numpy as np
from numpy.typing import NDArray

from colorcore.color.difference import ciede2000
from colorcore.color.spaces import lab_from_linear
from colorcore.finding.model import Finding, FoundSquare, FoundThing
from colorcore.light import Calibration, undo_light
from colorcore.photo import Photo, photo_from_array
from colorcore.photo.encoding import linear_encoding
from tests.scenes import make_scene
from tests.scenes.truth import Truth

Array = NDArray[np.float64]

REFERENCES: Final = ("none", "paper", "paper+grey", "chart", "raw paper")
LIGHTS: Final = ("even", "warm", "side", "mixed")
TONES: Final = ("srgb", "srgb, named", "phone", "phone, named")
"""Named: the same pictures, but the file tells which camera took it, as a phone's does."""
SURFACES: Final = ("gaps_white_table", "gaps_board", "gaps_wood", "gaps_mat", "gaps_carpet")
CAMERAS: Final = ("nikon", "sigma")


@dataclass(frozen=True)
class Score:
    """What one photo's squares measured: (S, 3) measured, true and doubt; trust grade."""

    measured: Array
    true: Array
    doubt: Array
    trust: str


def render(kind: str, seed: int, *, raw: bool = False, **options: Any) -> tuple[Photo, Truth]:
    """Return a rendered photo and its truth."""
    scene = make_scene(kind, seed, **options)
    if raw:
        pixels = scene.linear_camera()
        photo = Photo(kind, f"{kind} {seed}", pixels, linear_encoding(16), scene_linear=True)
        return photo, scene.truth
    return photo_from_array(scene.pixels, kind), scene.truth


def finding_of(truth: Truth, *, references: bool = True) -> Finding:
    """Return what a perfect finder would have found."""
    squares = tuple(
        FoundSquare(s.corners, s.row, s.column, 1.0) for s in truth.squares if s.visible_share > 0.9
    )
    kinds = {"paper": "sheet", "grey": "sheet", "chart": "chart"}
    things = tuple(
        FoundThing(kinds.get(r.kind, "other"), r.corners) for r in truth.references if references
    )
    scale = 400 / max(truth.width, truth.height)
    surface = np.ones((round(truth.height * scale), round(truth.width * scale)), np.uint8)
    for outline in [s.corners for s in truth.squares] + [r.corners for r in truth.references]:
        cv2.fillPoly(surface, [np.round(outline * scale).astype(np.int32)], 0)
    return Finding(squares, (), things, surface.astype(bool), scale)


def straighten(photo: Photo, corners: Array, side: int = 72, inset: float = 0.03) -> Array:
    """Return linear light (side, side, 3) of a square and the corners that it was taken from."""
    middle = corners.mean(axis=0)
    inner = middle + (corners - middle) * (1 - 2 * inset)
    low = np.floor(inner.min(axis=0)).astype(int) - 2
    high = np.ceil(inner.max(axis=0)).astype(int) + 2
    low = np.maximum(low, 0)
    patch = photo.linear(int(low[0]), int(low[1]), int(high[0]), int(high[1]))
    fine = 3 * side
    target = np.array([[0, 0], [fine, 0], [fine, fine], [0, fine]], np.float32)
    matrix = cv2.getPerspectiveTransform((inner - low).astype(np.float32), target)
    warped = cv2.warpPerspective(patch, matrix, (fine, fine), flags=cv2.INTER_LINEAR)
    return np.asarray(cv2.resize(warped, (side, side), interpolation=cv2.INTER_AREA)), inner


def score(photo: Photo, truth: Truth, calibration: Calibration, finding: Finding) -> Score:
    """Measure every square and set it beside the truth."""
    true = {(s.row, s.column): s.lab for s in truth.squares}
    measured, doubts, wanted = [], [], []
    for square in finding.squares:
        patch, inner = straighten(photo, square.corners)
        even = calibration.apply(patch, inner)
        lab = np.asarray(lab_from_linear(even.reshape(-1, 3).mean(axis=0, dtype=np.float64)))
        measured.append(lab)
        doubts.append(calibration.lab_sd(square.corners, lab))
        wanted.append(true[square.row, square.column])
    return Score(
        np.array(measured),
        np.array(wanted),
        np.array(doubts),
        calibration.trust,
    )


def summary(scores: list[Score]) -> dict[str, float]:
    """Return the figures of a table's row."""
    error = np.concatenate([np.abs(s.measured - s.true) for s in scores])
    doubt = np.concatenate([s.doubt for s in scores])
    difference = np.concatenate([ciede2000(s.measured, s.true) for s in scores])
    apart = wrong = concordant = pairs = 0
    for s in scores:
        i, j = np.triu_indices(len(s.true), 1)
        true = s.true[i, 0] - s.true[j, 0]
        seen = s.measured[i, 0] - s.measured[j, 0]
        apart += int(np.sum(np.abs(true) > 2))
        wrong += int(np.sum((np.abs(true) > 2) & (true * seen < 0)))
        clear = np.abs(true) > 1e-9
        concordant += int(np.sum(np.sign(true[clear]) * np.sign(seen[clear])))
        pairs += int(np.sum(clear))
    within = error / doubt
    return {
        "L median": float(np.median(error[:, 0])),
        "L p95": float(np.percentile(error[:, 0], 95)),
        "dE00": float(np.median(difference)),
        "tau": concordant / max(pairs, 1),
        "wrong": 1000 * wrong / max(apart, 1),
        "1 sd": float(np.mean(within[:, 0] < 1)),
        "2 sd": float(np.mean(within[:, 0] < 2)),
        "ab 1 sd": float(np.mean(within[:, 1:] < 1)),
        "ab 2 sd": float(np.mean(within[:, 1:] < 2)),
        "sd": float(np.median(doubt[:, 0])),
    }


def scenes(reference: str, light: str, tone: str, seeds: range) -> Iterator[tuple[Photo, Truth]]:
    """Yield a photo of each seed; surfaces, cameras and chart settings take turns."""
    raw = reference.startswith("raw ")
    curve, _, named = tone.partition(", ")
    for seed in seeds:
        options: dict[str, Any] = {
            "megapixels": 3.0, "light": light, "tone": curve,
            "reference": reference.removeprefix("raw "), "camera": CAMERAS[seed // 5 % 2],
        }  # fmt: skip
        photo, truth = render(SURFACES[seed % len(SURFACES)], seed, raw=raw, **options)
        yield (replace(photo, camera="a phone") if named else photo), truth


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--seeds", type=int, default=4)
    parser.add_argument("--first", type=int, default=1000)
    parser.add_argument("--references", nargs="*", default=REFERENCES)
    parser.add_argument("--lights", nargs="*", default=LIGHTS)
    parser.add_argument("--tones", nargs="*", default=TONES)
    chosen = parser.parse_args()
    everything: dict[str, list[Score]] = {}
    names = (
        "L median", "L p95", "dE00", "tau", "wrong", "1 sd", "2 sd", "ab 1 sd", "ab 2 sd", "sd",
    )  # fmt: skip
    print("| reference | light | tone | " + " | ".join(names) + " | trust |")
    print("|---|---|---|" + "---|" * (len(names) + 1))
    seeds = range(chosen.first, chosen.first + chosen.seeds)
    for reference in chosen.references:
        # A chart tells the curve, whatever the file says.
        tones = [t for t in chosen.tones if reference != "chart" or not t.endswith(", named")]
        tones = ["linear"] if reference.startswith("raw") else tones
        for tone in tones:
            for light in chosen.lights:
                curve = "srgb" if tone == "linear" else tone
                scores = []
                for photo, truth in scenes(reference, light, curve, seeds):
                    finding = finding_of(truth)
                    calibration = undo_light(photo, finding)
                    scores.append(score(photo, truth, calibration, finding))
                everything.setdefault(tone, []).extend(scores)
                figures = summary(scores)
                row = " | ".join(f"{figures[n]:.{3 if n == 'tau' else 2}f}" for n in names)
                trust = "".join(s.trust for s in scores)
                print(f"| {reference} | {light} | {tone} | {row} | {trust} |", flush=True)
    for tone, scores in (*everything.items(), ("all", list(chain(*everything.values())))):
        figures = summary(scores)
        row = " | ".join(f"{figures[n]:.{3 if n == 'tau' else 2}f}" for n in names)
        print(f"| all | all | {tone} | {row} | |")


if __name__ == "__main__":
    os.environ.setdefault("OMP_NUM_THREADS", "1")
    cv2.setNumThreads(1)
    start = time.perf_counter()
    main()
    print(f"{time.perf_counter() - start:.0f} s")
