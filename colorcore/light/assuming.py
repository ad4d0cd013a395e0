"""No reference in the photo: a stated assumption about the light, with little trust.

Three guesses are weighed: the camera balanced its colours well; the lightest thing on the table is
nearly white (Land and McCann's maximum); the squares together are about grey (Buchsbaum 1980). The
level comes from the lightest thing alone, for nothing else ties exposure to reflectance.
"""

from typing import Final

import numpy as np
from numpy.typing import NDArray

from colorcore.finding.model import Finding
from colorcore.light.gathering import square_means
from colorcore.light.places import grid_over, outlines_of
from colorcore.light.samples import Samples
from colorcore.light.sampling import SmallPicture
from colorcore.light.sharpened import SHARP_FROM_LINEAR, sharp_log
from colorcore.light.tone import ToneCurve

Array = NDArray[np.float64]

_LIGHTEST_REFLECTANCE: Final = 0.70
_LEVEL_SD: Final = 0.25
_TINT_SD: Final = (0.06, 0.12)


def assume_level(
    small: SmallPicture, finding: Finding, samples: Samples, tone: ToneCurve
) -> tuple[Samples, Array]:
    """Return samples with one of an assumed level added, and the covariance (3, 3) of that level.

    Without any surface the light counts as even.
    """
    outlines = outlines_of(finding)
    means = square_means(small, outlines)
    seen = np.isfinite(means[:, 0])
    if seen.any():
        logs = sharp_log(means[seen], tone)
        middle = grid_over(outlines[seen], 3)[:, 1, 1].mean(axis=0)
    else:
        pixels = small.linear[::8, ::8].reshape(-1, 3).astype(np.float64)
        logs = sharp_log(np.maximum(pixels, 1e-3), tone)
        middle = np.array(small.size) / 2
    brightness = logs.mean(axis=1)
    candidates = np.concatenate([logs, samples.log]) if len(samples) else logs
    light = candidates.mean(axis=1)
    lightest = candidates[light >= np.quantile(light, 0.97)].mean(axis=0)
    grey = logs.mean(axis=0) - brightness.mean()
    bright_tint = lightest - lightest.mean()
    camera_tint = np.zeros(3)
    # Inverse variances of the three guesses (common practice, no source).
    weights = np.array([1 / 0.10**2, 1 / 0.10**2, 1 / 0.20**2])
    tint = (weights[0] * camera_tint + weights[1] * bright_tint + weights[2] * grey) / weights.sum()
    log_light = lightest.mean() - np.log(_LIGHTEST_REFLECTANCE) + tint
    white = np.log(SHARP_FROM_LINEAR.sum(axis=1))
    count = samples.known.shape[0]
    grown = Samples(
        xy=np.concatenate([samples.xy, middle[None]]),
        log=np.concatenate([samples.log, log_light[None]]),
        sd=np.append(samples.sd, 0.01),
        material=np.append(samples.material, count).astype(np.intp),
        known=np.concatenate([samples.known, white[None]]),
        grained=np.append(samples.grained, False),
        bins=np.concatenate([samples.bins, np.zeros((1, 2), np.intp)]),
        slopes=samples.slopes,
    )
    tint_sd = np.diag(np.square([_TINT_SD[0], _TINT_SD[0], _TINT_SD[1]]))
    return grown, np.full((3, 3), _LEVEL_SD**2) + tint_sd
