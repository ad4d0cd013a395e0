"""How far L* is off behind the published tone curves of cameras; run by hand.

    python -m tests.bench.tone_curves

No picture is rendered: L* 15 to 85 in steps of 10 beside white paper, sent through each of 24
curves (tests/light/published_curves.py) at three exposures, the camera itself left out of the
family that its curve is weighed by. Columns: root mean square of the L* error, and how often it
lies within one and two of the standard deviations given.
"""

from functools import cache

import numpy as np
from numpy.typing import NDArray

from colorcore.color.charts import GREY_RAMP, chart_linear
from colorcore.light.responses import (
    FAMILIES,
    FAMILIES_OF_CAMERAS,
    Family,
    Neutral,
    learn_tone,
)
from colorcore.light.tone import ToneCurve, lightness, luminance
from tests.light.published_curves import NODES, response, weights_of

Array = NDArray[np.float64]

EXPOSURES = (0.2, 0.4, 0.6)
"""Light of a perfect white as a share of what fills the sensor."""
TRUE = np.arange(15.0, 86.0, 10.0)
PAPER = 0.88
REFERENCES = {
    "paper": (PAPER,),
    "paper and grey card": (PAPER, 0.18),
    "chart": tuple(chart_linear()[list(GREY_RAMP)].mean(axis=1)),
}


@cache
def weights(name: str) -> Array:
    """Weights (6,) of our curve nearest to a camera's."""
    return weights_of(name)[0]


def doubt(tone: ToneCurve, seen: Array, paper: float) -> Array:
    """Standard deviation of L* that the curve leaves for light ``seen`` (N,) beside paper."""
    bent = tone.log_slopes(seen) - tone.log_slopes(np.array(paper))
    variance = np.einsum("ij,jk,ik->i", bent, tone.covariance, bent)
    value = lightness(PAPER * tone.undo(seen) / tone.undo(np.array(paper)))
    return np.asarray(np.sqrt(variance * ((value + 16) / 3) ** 2 + tone.misfit_variance(value)))


def correct(
    name: str, reflectances: tuple[float, ...], exposure: float, *, named: bool = True
) -> tuple[Array, Array]:
    """Error and stated doubt (8,) of L* behind a camera's curve, neutrals of the reflectances
    beside it; ``named`` whether its file says that a camera made it."""
    plain, camera, lifted = FAMILIES_OF_CAMERAS if named else FAMILIES
    others = np.array([weights(n) for n in NODES if n != name])
    spread = np.cov(others.T) + 0.05 * np.eye(others.shape[1])
    family = Family(others.mean(axis=0), spread, camera.share)
    neutrals = [
        Neutral(response(name, np.full(3, r) * exposure), np.full(3, np.log(r)), 0.01)
        for r in reflectances
    ]
    tone = learn_tone(neutrals, (plain, family, lifted))
    seen = response(name, luminance(TRUE) * exposure)
    paper = float(response(name, np.array(PAPER * exposure)))
    measured = lightness(PAPER * tone.undo(seen) / tone.undo(np.array(paper)))
    return np.asarray(measured - TRUE), doubt(tone, seen, paper)


def figures(reflectances: tuple[float, ...], *, named: bool) -> tuple[float, float, float]:
    """Root mean square error over all cameras and exposures; share within one and two of what
    is stated."""
    pairs = [correct(n, reflectances, e, named=named) for n in NODES for e in EXPOSURES]
    error = np.concatenate([error for error, _ in pairs])
    score = np.abs(error) / np.concatenate([sd for _, sd in pairs])
    size = float(np.sqrt(np.mean(error**2)))
    return size, float(np.mean(score < 1)), float(np.mean(score < 2))


def main() -> None:
    print("| reference | file names its camera | error of L* | 1 sd | 2 sd |")
    print("|---|---|---|---|---|")
    for words, reflectances in REFERENCES.items():
        for named in (False, True):
            size, one, two = figures(reflectances, named=named)
            print(f"| {words} | {'yes' if named else 'no'} | {size:.1f} | {one:.0%} | {two:.0%} |")


if __name__ == "__main__":
    main()
