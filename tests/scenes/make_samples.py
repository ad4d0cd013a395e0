"""``python -m tests.scenes.make_samples`` renders the pictures of ``sample_images`` anew.

Two invented bundles on a shop demonstrator's tables: Ferrymoor, seen three times, and
Kettlebarrow, enough of both for a pattern that takes two bundles.
"""

from pathlib import Path
from typing import Any

from tests.scenes.kinds import make_scene
from tests.scenes.scene import save_scene

FOLDER = Path(__file__).parents[2] / "sample_images"
FERRYMOOR, KETTLEBARROW = 56, 49
BUNDLE: dict[str, Any] = {"copies": 0.12, "bundle_size": 42, "quality": 86, "turn": 0.8}

SAMPLES: dict[str, dict[str, Any]] = {
    "ferrymoor-on-wood.jpg": {
        "kind": "gaps_wood",
        "seed": 43,
        "megapixels": 10.0,
        "light": "side",
        "rows": 6,
        "columns": 7,
        "gap": 0.12,
        "bundle": FERRYMOOR,
        **BUNDLE,
    },
    "ferrymoor-touching.jpg": {
        "kind": "touching",
        "seed": 6,
        "megapixels": 8.0,
        "rows": 6,
        "columns": 7,
        "surface": "board",
        "reference": "paper+grey",
        "bundle": FERRYMOOR,
        **BUNDLE,
        "theme": "mixed",
    },
    "ferrymoor-on-mat.jpg": {
        "kind": "gaps_mat",
        "seed": 9,
        "megapixels": 6.0,
        "light": "mixed",
        "rows": 4,
        "columns": 5,
        "gap": 0.2,
        "reference": "chart",
        "tone": "phone",
        "bundle": FERRYMOOR,
        **BUNDLE,
        "first": 22,
    },
    "kettlebarrow-on-board.heic": {
        "kind": "gaps_board",
        "seed": 11,
        "megapixels": 8.0,
        "rows": 6,
        "columns": 7,
        "gap": 0.1,
        "profile": "display-p3",
        "bundle": KETTLEBARROW,
        **BUNDLE,
    },
}


def main() -> None:
    for name, choices in SAMPLES.items():
        rest = dict(choices)
        scene = make_scene(rest.pop("kind"), rest.pop("seed"), **rest)
        save_scene(scene, FOLDER / name)
        size = (FOLDER / name).stat().st_size / 1e6
        print(f"{name}: {len(scene.truth.squares)} squares, {size:.1f} MB")


if __name__ == "__main__":
    main()
