"""How true the values are from photo to square, nothing given: squares, references, light and
shadows found by the program itself, by kind of scene.

    python -m tests.bench.end_to_end --seeds 1601-1604 [--kinds KIND...] [--megapixels 2]

``color_accuracy`` gives the outlines and asks how true colour can be; this asks what a maker gets.
``flagged`` counts squares with a flag of shadow, sun, glare or clipping, ``off`` those more than
5 L* off, ``unsaid`` those of them that no flag, no trust D and no doubt of a third of the error
tells. Squares that are not found are not counted: see ``finding``. Kendall's tau of value is the
median over scenes.
"""

import argparse
from collections.abc import Sequence
from concurrent.futures import ProcessPoolExecutor
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.stats import kendalltau

from colorcore.errors import BundleError
from colorcore.measuring import MeasuredPhoto, measure_photo
from colorcore.photo import photo_from_array
from tests.bench.finding import match
from tests.bench.references import seeds_of
from tests.scenes import SCENE_KINDS, make_scene
from tests.scenes.truth import SquareTruth

OFF = 5.0
SAYING = {"shadow", "sunlit", "glare", "clipped"}
HEAD = """\
| kind | squares | L* median | 95th | tau | in 1, 2 sd | grades | flagged | off | unsaid |
|---|---|---|---|---|---|---|---|---|---|"""


@dataclass(frozen=True)
class Outcome:
    """One scene: its ``name``, how it was graded, Kendall's ``tau`` between true and measured L*
    (NaN for one square), errors of L* (N,) with their stated standard deviations, and whether each
    square is said to be lit otherwise (N,)."""

    name: str
    trust: str
    tau: float
    errors: NDArray[np.float64]
    doubts: NDArray[np.float64]
    said: NDArray[np.bool_]

    @property
    def off(self) -> NDArray[np.bool_]:
        """Which squares (N,) are far off."""
        return self.errors > OFF

    @property
    def unsaid(self) -> int:
        """How many are far off and nothing says so."""
        told = self.said | (self.errors < 3 * self.doubts) | (self.trust == "D")
        return int(np.count_nonzero(self.off & ~told))


def run(kind: str, seed: int, megapixels: float) -> Outcome | None:
    """Render a scene and measure it; None where no squares are found."""
    scene = make_scene(kind, seed, megapixels=megapixels)
    try:
        measured = measure_photo(
            photo_from_array(scene.pixels), square_inches=scene.truth.side_inches, alone=True
        )
    except BundleError:
        return None
    return judge(f"{kind} {seed}", measured, scene.truth.squares)


def judge(name: str, measured: MeasuredPhoto, truth: Sequence[SquareTruth]) -> Outcome:
    """Return how far what was measured is from the truth, square by square."""
    true = np.array([square.corners for square in truth])
    found = np.array([swatch.corners for swatch in measured.squares])
    pairs = match(true, found)
    swatches = [measured.squares[j] for _, j, _ in pairs]
    values = np.array([s.lab[0] for s in swatches])
    true_values = np.array([truth[i].lab[0] for i, _, _ in pairs])
    return Outcome(
        name,
        measured.record.trust,
        float(kendalltau(true_values, values).statistic) if len(pairs) > 1 else np.nan,
        np.abs(values - true_values),
        np.array([s.lab_sd[0] for s in swatches]),
        np.array([bool(SAYING & set(s.flags)) for s in swatches], bool),
    )


def line(kind: str, outcomes: list[Outcome]) -> str:
    """Return one line of the table."""
    errors = np.concatenate([one.errors for one in outcomes])
    doubts = np.concatenate([one.doubts for one in outcomes])
    if not len(errors):
        return f"| {kind} | 0 | | | | | | | | |"
    within = [100 * np.mean(errors < times * doubts) for times in (1, 2)]
    off = sum(int(one.off.sum()) for one in outcomes)
    flagged = sum(int(one.said.sum()) for one in outcomes)
    grades = "".join(sorted(one.trust for one in outcomes))
    taus = [one.tau for one in outcomes if np.isfinite(one.tau)]
    tau = f"{np.median(taus):.3f}" if taus else ""
    return (
        f"| {kind} | {len(errors)} | {np.median(errors):.2f} | {np.percentile(errors, 95):.1f} "
        f"| {tau} | {within[0]:.0f}, {within[1]:.0f} | {grades} | {flagged} | {off} "
        f"| {sum(one.unsaid for one in outcomes)} |"
    )


def main() -> None:
    """Print the table."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--seeds", default="1601")
    parser.add_argument("--kinds", nargs="+", default=list(SCENE_KINDS))
    parser.add_argument("--megapixels", type=float, default=2.0)
    parser.add_argument("--processes", type=int, default=2)
    given = parser.parse_args()
    seeds = seeds_of(given.seeds)
    print(HEAD)
    everything: list[Outcome] = []
    with ProcessPoolExecutor(given.processes) as pool:
        coming = {
            kind: [pool.submit(run, kind, seed, given.megapixels) for seed in seeds]
            for kind in given.kinds
        }
        for kind, futures in coming.items():
            outcomes = [one for future in futures if (one := future.result()) is not None]
            everything += outcomes
            if outcomes:
                print(line(kind, outcomes), flush=True)
    if everything:
        print(line("all", everything))
    print("\n" + "\n".join(f"{one.name}: {one.unsaid} unsaid" for one in everything if one.unsaid))


if __name__ == "__main__":
    main()
