"""No reference in the photo: a stated assumption about the light, with little trust.

Three guesses are weighed: the camera balanced its colours well; the lightest thing on the table is
nearly white (Land and McCann's maximum); the squares together are about grey (Buchsbaum 1980). The
level comes from the lightest thing alone, for nothing else ties exposure to reflectance. How the
light differs from place to place is undone before: what lies in a patch of sun is not the lightest.
"""

from dataclasses import replace
from typing import Final

import numpy as np
from numpy.typing import NDArray

from colorcore.light.field import LightField
from colorcore.light.local import LocalLight
from colorcore.light.places import grid_over
from colorcore.light.samples import Samples
from colorcore.light.sampling import SmallPicture
from colorcore.light.sharpened import sharp_log
from colorcore.light.tone import ToneCurve

Array = NDArray[np.float64]

_LIGHTEST_REFLECTANCE: Final = 0.70
_LIGHTEST_SHARE: Final = 0.83
"""Share of the squares, the table counted as one, that are darker than the lightest."""
_LEVEL_SD: Final = 0.25
_OF_FEW: Final = 3.0
"""So many more squares' doubt has each: of one alone nothing tells whether it is light or dark. In
138 rendered photos without a reference the level was 0.8 off (root mean square) for one square."""
_TINT_SD: Final = (0.06, 0.12)
_FEWEST: Final = 3
"""Squares that must lie in the light that most of the picture has, for the others to be left
out."""


def with_any_level(samples: Samples, size: tuple[int, int]) -> Samples:
    """Return samples with one more in the middle of a picture of ``size``, of a level that says
    nothing, so that what they say of the light's shape can be fitted."""
    count = samples.known.shape[0]
    return Samples(
        xy=np.concatenate([samples.xy, np.array([size]) / 2]),
        log=np.concatenate([samples.log, np.zeros((1, 3))]),
        sd=np.append(samples.sd, 0.01),
        material=np.append(samples.material, count).astype(np.intp),
        known=np.concatenate([samples.known, np.zeros((1, 3))]),
        grained=np.append(samples.grained, False),
        bins=np.concatenate([samples.bins, np.zeros((1, 2), np.intp)]),
        slopes=samples.slopes,
    )


def assume_level(
    light: LightField,
    local: LocalLight,
    small: SmallPicture,
    outlines: Array,
    means: Array,
    tone: ToneCurve,
) -> tuple[LightField, Array]:
    """Return the field at the level that squares (N, 4, 2) of mean linear light (N, 3), NaN where
    not seen, and the surface suggest, and the covariance (3, 3) of that log level."""
    seen = np.isfinite(means[:, 0])
    surface = light.samples.grained[light.samples.material]
    samples = light.samples.log[surface] - light.log_light(light.samples.xy[surface])
    table = samples[~local.stepped[: len(samples)]]
    if seen.any():
        calm = seen & ~np.array([bool(local.flags(corners)) for corners in outlines], np.bool_)
        chosen = calm if np.count_nonzero(calm) >= _FEWEST else seen
        places = grid_over(outlines[chosen], 3)[:, 1, 1]
        logs = sharp_log(means[chosen], tone) - light.log_light(places)
    else:
        pixels = small.linear[::8, ::8].reshape(-1, 3).astype(np.float64)
        logs = sharp_log(np.maximum(pixels, 1e-3), tone) - light.log_light(np.array(small.size) / 2)
    candidates = np.concatenate([logs, np.median(table, axis=0)[None]]) if len(table) else logs
    brightness = candidates.mean(axis=1)
    lightest = candidates[brightness >= np.quantile(brightness, _LIGHTEST_SHARE)].mean(axis=0)
    grey = logs.mean(axis=0) - logs.mean()
    # Inverse variances of the three guesses (common practice, no source).
    weights = np.array([1 / 0.10**2, 1 / 0.10**2, 1 / 0.20**2])
    camera = -light.log_light(np.array(small.size) / 2)
    tint = weights[0] * (camera - camera.mean()) + weights[1] * (lightest - lightest.mean())
    tint = (tint + weights[2] * grey) / weights.sum()
    coefficients = light.coefficients.copy()
    coefficients[0] += lightest.mean() - np.log(_LIGHTEST_REFLECTANCE) + tint
    level_sd = _LEVEL_SD * (1 + _OF_FEW / len(logs))
    tint_sd = np.diag(np.square([_TINT_SD[0], _TINT_SD[0], _TINT_SD[1]]))
    return replace(light, coefficients=coefficients), level_sd**2 + tint_sd
