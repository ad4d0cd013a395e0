"""How well and how fast photos are taken into the stash: python -m tests.bench.intake

Accuracy: photographs of one piece of cloth, computed from spectra (every surface, with and without
usable paper), found and measured. Speed: a folder of photos added by one process and by all cores,
as a ratio to decoding the same files.
"""

import os
import tempfile
import time
from concurrent.futures import ProcessPoolExecutor
from pathlib import Path

import cv2
import numpy as np

from colorcore.color.difference import ciede2000
from colorcore.photo import open_photo, photo_from_array
from colorcore.stash import Stash
from colorcore.stash.intake import IntakeSettings, add_photos
from colorcore.stash.measuring import Subject, measure_pieces
from tests.scenes import make_scene, save_scene

SCENES = [(kind, seed) for kind in ("one_large", "one_small") for seed in range(20)]
PHOTOS = 12
MEGAPIXELS = 3.0


def accuracy() -> None:
    found, errors = 0, {"with paper": [], "camera's exposure": []}
    for kind, seed in SCENES:
        scene = make_scene(kind, seed, megapixels=0.8)
        pieces = measure_pieces(photo_from_array(scene.pixels, "scene"))
        truth = scene.truth.squares[0]
        outline = np.array(truth.corners, dtype=np.float32)[:, None]
        inside = [
            piece for piece in pieces
            if all(
                cv2.pointPolygonTest(outline, (float(x), float(y)), False) > 0
                for x, y in piece.swatch.corners
            )
        ]  # fmt: skip
        if len(inside) != 1 or len(pieces) != 1:
            print(f"  {kind} {seed}: {len(pieces)} pieces, {len(inside)} of them in the cloth")
        found += len(inside) >= 1
        for piece in inside[:1]:
            name = "camera's exposure" if piece.reference == "none" else "with paper"
            step = abs(piece.swatch.lab[0] - truth.lab[0])
            apart = float(ciede2000(np.array(piece.swatch.lab), np.array(truth.lab)))
            errors[name].append((step, apart))
    print(f"{found} of {len(SCENES)} pieces found")
    for name, values in errors.items():
        table = np.array(values).reshape(-1, 2)
        if len(table):
            median, worst = np.median(table, axis=0), np.quantile(table, 0.95, axis=0)
            print(
                f"  {name}: {len(table)} photos, L* off by {median[0]:.1f} (95 %: {worst[0]:.1f}), "
                f"CIEDE2000 {median[1]:.1f} (95 %: {worst[1]:.1f})"
            )


def speed() -> None:
    with tempfile.TemporaryDirectory() as place:
        paths = []
        for seed in range(PHOTOS):
            paths.append(Path(place) / f"{seed}.jpg")
            save_scene(make_scene("one_large", seed, megapixels=MEGAPIXELS), paths[-1])
        start = time.perf_counter()
        for path in paths:
            open_photo(path)
        floor = time.perf_counter() - start
        settings = IntakeSettings(subject=Subject.PIECE)
        cores = os.cpu_count() or 1
        for name, workers in (("one process", 0), (f"{cores} processes", cores)):
            with Stash(Path(place) / f"{workers}.sqlite") as stash:
                start = time.perf_counter()
                if workers:
                    with ProcessPoolExecutor(workers) as pool:
                        add_photos(stash, paths, settings=settings, executor=pool)
                else:
                    add_photos(stash, paths, settings=settings)
                took = time.perf_counter() - start
            print(
                f"{PHOTOS} photos of {MEGAPIXELS:g} megapixels, {name}: "
                f"{took / PHOTOS:.2f} s each, {took / floor:.1f} times their decoding"
            )


if __name__ == "__main__":
    accuracy()
    speed()
