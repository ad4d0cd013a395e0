"""Which tone curves cameras have, and which one the neutrals in a photo speak for.

Three families stand for choice, each a normal distribution of the weights of ``tone.ToneCurve``:

- *plain*: what the file claims is what fell on the sensor, as in a scan;
- *camera*: the pictures that cameras with interchangeable lenses and compact cameras store. Mean
  and covariance are those of 24 published curves, measured by comparing each camera's own JPEG with
  its raw file (presets of darktable's module "base curve", src/iop/basecurve.c; the curves and the
  derivation are in tests/light/published_curves.py). Beside white paper such a picture shows light
  middle tones some 5 L* too light and darks some 8 L* too dark;
- *lifted*: a phone's processing, which brightens shadows and middles, by how much differs from
  phone to phone and scene to scene (common practice, no source: no measured set is published).

Neutrals of known reflectance weigh the families by how well each foretold them (Bayes factor by
Laplace's approximation; MacKay 1992, Bayesian Interpolation, Neural Computation 4, 415-447).
White paper alone tells nothing of it. A file that names its camera is most likely not plain, so
the mean curve is undone; otherwise nothing is, and the doubt is what the other families would have
done.
"""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Final

import numpy as np
from numpy.typing import NDArray

from colorcore.light.tone import WEIGHTS, ToneCurve, lightness, luminance, shapes_at

Array = NDArray[np.float64]

_ROUNDS: Final = 12
_MOST_STEP: Final = 6.0
_LEAST_VALUE: Final = 0.5
_LEVELS: Final = 3
_FULL: Final = 0.991
"""Seen light from which a picture is full: a coded 254 of 255."""


@dataclass(frozen=True, eq=False)
class Family:
    """Curves with weights of mean (6,) and covariance (6, 6), and how common they are."""

    mean: Array
    covariance: Array
    share: float


PLAIN: Final = Family(np.zeros(WEIGHTS), np.diag(np.square([0.5, 1.0, 0.7, 0.5, 0.4, 1.0])), 0.4)
"""Plain but for what rounding, stray light and a maker's touch leave: one L* unit."""
CAMERA: Final = Family(
    np.array([-3.0, 12.9, -7.5, 0.8, -1.2, 13.1]),
    np.array(
        [
            [13.57, 10.45, -0.85, 1.06, -0.04, 11.39],
            [10.45, 18.03, -1.96, 2.23, -0.30, 21.51],
            [-0.85, -1.96, 0.72, -0.41, 0.20, -3.87],
            [1.06, 2.23, -0.41, 0.52, -0.13, 3.76],
            [-0.04, -0.30, 0.20, -0.13, 0.18, -0.77],
            [11.39, 21.51, -3.87, 3.76, -0.77, 37.07],
        ]
    )
    + 0.05 * np.eye(WEIGHTS),
    0.3,
)
LIFTED: Final = Family(
    np.array([0.0, 9.0, 0.0, 0.0, 0.0, 0.0]),
    np.diag(np.square([2.0, 6.0, 3.5, 1.5, 1.0, 4.0])),
    0.3,
)
FAMILIES: Final = (PLAIN, CAMERA, LIFTED)
"""For a file that does not tell which camera took it: as likely as not a scan, a picture made
otherwise, or a photo whose history a messenger took away (no source)."""
FAMILIES_OF_CAMERAS: Final = tuple(
    replace(family, share=share) for family, share in zip(FAMILIES, (0.1, 0.45, 0.45), strict=True)
)
"""For a file that names its camera: few photos are developed plain (no source)."""


@dataclass(frozen=True, eq=False)
class Neutral:
    """A neutral of known reflectance: ``seen`` (3,) linear light; ``log_true`` the log of its
    reflectance plus the log of the light there relative to the other neutrals; ``sd`` of that."""

    seen: Array
    log_true: Array
    sd: float


def tone_unlearned(families: Sequence[Family] = FAMILIES) -> ToneCurve:
    """Return what can be said of the curve without any neutral but the one that sets the level."""
    return _mixture(
        [f.mean for f in families],
        [f.covariance for f in families],
        np.array([f.share for f in families]),
    )


def learn_tone(neutrals: Sequence[Neutral], families: Sequence[Family] = FAMILIES) -> ToneCurve:
    """Return the curve that makes neutrals keep their ratios, as far as they tell.

    Each channel has its own level, so a tint of the light does not matter. Fewer than two usable
    neutrals teach nothing. The first of the ``families`` is the plain one.
    """
    usable = [n for n in neutrals if np.all(n.seen > 5e-4) and n.seen.min() < _FULL]
    if len(usable) < 2:
        return tone_unlearned(families)
    seen = np.stack([n.seen for n in usable])
    target = np.stack([np.broadcast_to(n.log_true, 3) for n in usable])
    # The channels of one neutral share its doubt: three readings are worth one and a half.
    sd = np.repeat([n.sd * np.sqrt(2) for n in usable], _LEVELS)
    sd[seen.ravel() >= _FULL] = np.inf
    fits = [_fit(family, seen, target, sd) for family in families]
    merit = np.array([fit.log_merit for fit in fits])
    shares = np.exp(merit - merit.max())
    return _mixture(
        [fit.weights for fit in fits], [fit.covariance for fit in fits], shares / shares.sum()
    )


def _mixture(means: Sequence[Array], covariances: Sequence[Array], shares: Array) -> ToneCurve:
    """The curve to undo, and the covariance of the whole mixture about it. Where plain is the most
    probable, nothing more is undone than that family asks; else the mean of all is."""
    if shares[0] == shares.max():
        weights = means[0]
    else:
        weights = np.sum([s * m for s, m in zip(shares, means, strict=True)], axis=0)
    covariance = np.zeros((WEIGHTS, WEIGHTS))
    for share, mean, own in zip(shares, means, covariances, strict=True):
        covariance += share * (own + np.outer(mean - weights, mean - weights))
    return ToneCurve(weights, covariance, bent=float(1 - shares[0]))


LINEAR_TONE: Final = ToneCurve(np.zeros(WEIGHTS), np.zeros((WEIGHTS, WEIGHTS)))


@dataclass(frozen=True, eq=False)
class _Fit:
    weights: Array
    covariance: Array
    log_merit: float


def _fit(family: Family, seen: Array, target: Array, sd: Array) -> _Fit:
    """The family's most probable curve for neutrals, by Gauss and Newton, and its evidence."""
    level = np.tile(np.eye(_LEVELS), (len(seen), 1))
    size = WEIGHTS + _LEVELS
    prior = np.zeros((size, size))
    prior[:WEIGHTS, :WEIGHTS] = np.linalg.inv(family.covariance)
    prior[WEIGHTS:, WEIGHTS:] = np.eye(_LEVELS) * 1e-6
    start = np.append(family.mean, np.zeros(_LEVELS))
    state = start.copy()
    u = lightness(seen.ravel())
    shapes = shapes_at(u)
    for _ in range(_ROUNDS):
        # Its own level, which the curve leaves open, each channel has anyway.
        value = np.maximum(u - shapes @ state[:WEIGHTS], _LEAST_VALUE)
        model = np.log(luminance(value)).reshape(-1, _LEVELS) - state[WEIGHTS:]
        steps = -shapes * np.where(value > 8, 3 / (value + 16), 1 / value)[:, None]
        slopes = np.hstack([steps, -level]) / sd[:, None]
        left = (target - model).reshape(-1) / sd
        normal = slopes.T @ slopes + prior
        step = np.linalg.solve(normal, slopes.T @ left - prior @ (state - start))
        state = state + np.clip(step, -_MOST_STEP, _MOST_STEP)
        if np.max(np.abs(step)) < 1e-4:
            break
    away = state - start
    misfit = float(left @ left + away @ prior @ away)
    occam = np.linalg.slogdet(prior)[1] - np.linalg.slogdet(normal)[1]
    covariance = np.asarray(np.linalg.inv(normal)[:WEIGHTS, :WEIGHTS], dtype=np.float64)
    return _Fit(state[:WEIGHTS], covariance, float(np.log(family.share) + 0.5 * (occam - misfit)))
