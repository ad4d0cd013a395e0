"""Fit the weights by which finding judges outlines, on rendered scenes and quick drawings.

    python -m tests.bench.finding_fit --seeds 500-504            show what would change
    python -m tests.bench.finding_fit --seeds 500-504 --write    and write it into the code

Finding is run on every scene, and on pictures that hold no squares, and each outline that it judges
on the way is kept with what it knew of it. An outline is right if it overlaps a square by 0.93
(intersection over union) and wrong below 0.85; between the two it says nothing. Two logistic models
are fitted with a ridge that pulls towards the weights in use: of an outline alone (``choose.py``;
sheets of paper are left out, since alone they are as good as squares) and in company
(``context.py``, which builds on the first). What is judged depends on the weights, so run it twice;
and run the benchmark on other seeds.
"""

import argparse
import re
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from pathlib import Path
from unittest.mock import patch

import cv2
import numpy as np
from numpy.typing import NDArray

from colorcore.finding import choose, context, find_squares, scene
from colorcore.photo import photo_from_array
from tests.bench.finding import overlap
from tests.finding.drawn import SURFACES, draw_surface, make_drawing
from tests.scenes import SCENE_KINDS, make_scene

Floats = NDArray[np.float64]
_RIGHT, _WRONG = 0.93, 0.85
# How strongly the ridge holds the weights of outlines alone and in company.
_RIDGE_ALONE, _RIDGE_TOGETHER = 3.0, 1.5
# Kinds whose squares cover one another, or are none.
_CLOSE = {"shingled", "strips"}


@dataclass
class Samples:
    """What was known of outlines (rows of ``known``), and whether each is ``right``."""

    known: list[Floats] = field(default_factory=list)
    right: list[NDArray[np.bool_]] = field(default_factory=list)

    def add(self, known: Floats, right: NDArray[np.bool_], chosen: NDArray[np.bool_]) -> None:
        """Keep the ``chosen`` rows."""
        self.known.append(known[chosen])
        self.right.append(right[chosen])


@contextmanager
def _listening(heard: list[tuple[bool, Floats, Floats]]) -> Iterator[None]:
    """While it lasts, keep (in company, outlines in the picture, what is known) of all judged."""
    alone, together = scene.evidence, context.context

    def hear_alone(at: scene.Scene, quads: Floats) -> Floats:
        known = alone(at, quads)
        heard.append((False, quads / at.view.scale, known))
        return known

    def hear_together(at: scene.Scene, company: context.Company, quads: Floats) -> Floats:
        known = together(at, company, quads)
        heard.append((True, quads / at.view.scale, known))
        return known

    with (
        patch.object(scene, "evidence", hear_alone),
        patch.object(context, "context", hear_together),
    ):
        yield


def gather(
    pixels: NDArray[np.uint8], squares: Floats, sheets: list[Floats], one: Samples, two: Samples
) -> None:
    """Run finding on ``pixels`` and add what it judged: to ``one`` alone, to ``two`` in company."""
    heard: list[tuple[bool, Floats, Floats]] = []
    with _listening(heard):
        find_squares(photo_from_array(pixels))
    own = len(choose.WEIGHTS) - 1
    for together, quads, known in heard:
        if not len(quads):
            continue
        share = np.array([_best(quad, squares) for quad in quads])
        paper = np.array([_best(quad, np.array(sheets)) > 0.5 for quad in quads], bool)
        told, right = (share > _RIGHT) | (share < _WRONG), share > _RIGHT
        one.add(known[:, -own:], right, told & ~paper)
        if together:
            two.add(known, right, told)


def _best(quad: Floats, others: Floats) -> float:
    if not len(others):
        return 0.0
    near = np.abs(others.mean(axis=1) - quad.mean(axis=0)).max(axis=1)
    return max(overlap(quad, others[k]) for k in np.argsort(near)[:2])


def fit_logistic(
    known: Floats, right: NDArray[np.bool_], start: Floats, ridge: float, balanced: bool
) -> Floats:
    """Return an intercept and a weight per column of ``known`` (N, F), by Newton's steps.

    ``ridge`` holds the weights, for columns of unit spread, near ``start``; ``balanced`` gives
    right and wrong outlines the same say.
    """
    middle, spread = known.mean(axis=0), known.std(axis=0) + 1e-3
    terms = np.column_stack([np.ones(len(known)), (known - middle) / spread])
    old = np.concatenate([[start[0] + start[1:] @ middle], start[1:] * spread])
    share = float(right.mean())
    say = np.where(right, 0.5 / share, 0.5 / (1 - share)) if balanced else np.ones(len(right))
    hold = ridge * np.eye(len(old))
    hold[0, 0] = 1e-3
    new = old.copy()
    for _ in range(60):
        chance = 1 / (1 + np.exp(-np.clip(terms @ new, -40, 40)))
        slope = terms.T @ (say * (chance - right)) + hold @ (new - old)
        bend = (terms * (say * chance * (1 - chance))[:, None]).T @ terms + hold
        new = new - 0.7 * np.linalg.solve(bend, slope)
    weights = new[1:] / spread
    return np.concatenate([[new[0] - weights @ middle], weights])


def _tell(name: str, known: Floats, right: NDArray[np.bool_], weights: Floats) -> None:
    chance = 1 / (1 + np.exp(-np.clip(known @ weights[1:] + weights[0], -40, 40)))
    loss = -np.log(np.where(right, chance, 1 - chance) + 1e-9).mean()
    false, missed = int(((chance > 0.5) & ~right).sum()), int(((chance < 0.5) & right).sum())
    sure = chance > 0.9
    print(
        f"{name}: {len(right)} outlines, {100 * right.mean():.1f} % right; loss {loss:.4f}, "
        f"false {false}, missed {missed}; of {sure.sum()} called 90 % sure "
        f"{100 * right[sure].mean():.2f} % right"
    )


def write_weights(module: str, weights: Floats) -> None:
    """Put weights into the source of ``colorcore.finding.MODULE``, one to a line."""
    path = Path(str(choose.__file__)).with_name(f"{module}.py")
    lines = "".join(f"        {w:.3f},\n" for w in weights)
    source, count = re.subn(
        r"WEIGHTS = np\.array\(\n    \[\n.*?    \]\n\)",
        f"WEIGHTS = np.array(\n    [\n{lines}    ]\n)",
        path.read_text(),
        flags=re.DOTALL,
    )
    if count != 1:
        raise ValueError(f"{path} holds {count} tables of weights; one is needed")
    path.write_text(source)


def _drawings(count: int) -> Iterator[tuple[NDArray[np.uint8], Floats]]:
    """Quick drawings that differ from the rendered scenes."""
    for seed in range(count):
        rng = np.random.default_rng(seed)
        tone = (None, None, (226, 242), (12, 34))[int(rng.integers(4))]
        gap = (0.0, rng.uniform(0.03, 0.06), *rng.uniform(0.05, 0.3, 4))[int(rng.integers(6))]
        drawing = make_drawing(
            1000 + seed,
            surface=str(rng.choice(list(SURFACES))),
            rows=int(rng.integers(3, 6)),
            columns=int(rng.integers(3, 7)),
            gap=float(gap),
            jitter=min(0.02, 0.3 * gap + 0.003),
            lean=min(float(rng.uniform(0.5, 6)), 40 * gap + 0.4),
            turn=float(rng.uniform(-20, 20)),
            tilt=float(rng.uniform(0, 20)),
            missing=int(rng.integers(0, 5)),
            light=float(rng.uniform(0, 0.6)),
            tone=tone,
            width=1000,
            height=750,
        )
        yield drawing.pixels, drawing.quads


def _without_squares(count: int) -> Iterator[NDArray[np.uint8]]:
    """Pictures without squares: photographs that scikit-image carries (skimage.data), parts of
    them, and drawings of round and many-sided things on tables."""
    from skimage import data

    for name in ("coins", "hubble_deep_field", "immunohistochemistry", "coffee", "chelsea", "moon",
                 "astronaut", "camera", "page", "text"):  # fmt: skip
        picture = np.asarray(getattr(data, name)())
        colored = picture if picture.ndim == 3 else np.dstack([picture] * 3)
        height, width = colored.shape[:2]
        yield np.ascontiguousarray(colored[..., :3])
        yield np.ascontiguousarray(colored[: height * 3 // 4, : width * 3 // 4, :3])
        yield np.ascontiguousarray(colored[height // 4 :, width // 4 :, :3])
    for seed in range(count):
        rng = np.random.default_rng(seed)
        kind = str(rng.choice(list(SURFACES)))
        table = np.clip(draw_surface(rng, kind, 600, 800), 0, 255)
        sides, reach = int(rng.choice([3, 5, 6, 8, 60])), float(rng.uniform(25, 60))
        for row in range(int(rng.integers(1, 5))):
            for column in range(int(rng.integers(1, 6))):
                angle = rng.uniform(0, 6.3) + np.arange(sides) * 2 * np.pi / sides
                ring = reach * rng.uniform(0.9, 1.1) * np.array([np.cos(angle), np.sin(angle)]).T
                ring += np.array([100 + 150 * column, 90 + 140 * row]) + rng.normal(0, 6, 2)
                color = rng.uniform(10, 250, 3).tolist()
                cv2.fillPoly(table, [np.round(ring).astype(np.int32)], color)
        blurred = cv2.GaussianBlur(table, (0, 0), 0.8) + rng.normal(0, 2, table.shape)
        yield np.clip(blurred, 0, 255).astype(np.uint8)


def main() -> None:
    """Fit, tell, and write if asked to."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--seeds", default="500-504", help="first-last")
    parser.add_argument("--kinds", default=",".join(k for k in SCENE_KINDS if k not in _CLOSE))
    parser.add_argument("--drawings", type=int, default=90)
    parser.add_argument("--write", action="store_true", help="write the weights into the code")
    args = parser.parse_args()
    one, two = Samples(), Samples()
    first, last = (int(n) for n in args.seeds.split("-"))
    for kind in args.kinds.split(","):
        for seed in range(first, last + 1):
            made = make_scene(kind, seed, megapixels=1.5)
            squares = np.array([s.corners for s in made.truth.squares]).reshape(-1, 4, 2)
            sheets = [np.asarray(r.corners) for r in made.truth.references]
            gather(made.pixels, squares, sheets, one, two)
    for pixels, quads in _drawings(args.drawings):
        gather(pixels, quads, [], one, two)
    for pixels in _without_squares(args.drawings):
        gather(pixels, np.zeros((0, 4, 2)), [], one, two)
    known, right = np.concatenate(one.known), np.concatenate(one.right)
    _tell("alone, before", known, right, choose.WEIGHTS)
    alone = fit_logistic(known, right, choose.WEIGHTS, _RIDGE_ALONE, balanced=True)
    _tell("alone, after", known, right, alone)
    known, right = np.concatenate(two.known), np.concatenate(two.right)
    _tell("in company, before", known, right, context.WEIGHTS)
    # The first column is what the outline alone is worth: by the new weights.
    own = known[:, -(len(alone) - 1) :]
    known = np.column_stack([choose.logit(own @ alone[1:] + alone[0]), known[:, 1:]])
    together = fit_logistic(known, right, context.WEIGHTS, _RIDGE_TOGETHER, balanced=False)
    _tell("in company, after", known, right, together)
    if args.write:
        write_weights("choose", alone)
        write_weights("context", together)


if __name__ == "__main__":
    main()
