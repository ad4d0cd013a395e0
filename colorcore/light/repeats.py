"""Squares of one print that lie in several places: what differs between them is the light.

A print is recognised by how its light and dark parts and its tints are spread about their own
mean, which no smooth light changes. Plain fabrics say nothing that way and are left out: two
greys under different light look like one.
"""

from typing import Final

import numpy as np
from numpy.typing import NDArray

from colorcore.finding.model import Finding
from colorcore.light.field import LightField
from colorcore.light.places import grid_over
from colorcore.light.sampling import SmallPicture
from colorcore.light.sharpened import SHARP_FROM_LINEAR
from colorcore.light.tone import ToneCurve

Array = NDArray[np.float64]

_STEPS: Final = 26
_QUANTILES: Final = np.linspace(0.06, 0.94, 12)
_LEAST_LIGHT: Final = 2e-4
_LEAST_SPREAD: Final = 0.10
_LIKE: Final = 0.16
_LEVEL_APART: Final = 0.30
_TINT_APART: Final = 0.08


def find_repeats(
    small: SmallPicture, finding: Finding, light: LightField, tone: ToneCurve
) -> list[tuple[int, ...]]:
    """Return groups of indices into ``finding.squares`` that show the same print, given roughly
    the light over the table."""
    signatures: list[Array] = []
    means: list[Array] = []
    indices: list[int] = []
    for index, square in enumerate(finding.squares):
        if square.visible is not None:
            continue
        logs = _log_values(small, square.corners, tone)
        if logs is None:
            continue
        middle = logs.mean(axis=0)
        about = logs - middle
        brightness = about @ np.array([0.25, 0.5, 0.25])
        if brightness.std() < _LEAST_SPREAD:
            continue
        tints = about[:, [0, 2]] - about[:, 1:2]
        parts = [np.quantile(brightness, _QUANTILES)]
        parts += [np.quantile(tints[:, k], _QUANTILES) for k in range(2)]
        signatures.append(np.concatenate(parts))
        means.append(middle - light.log_light(square.corners.mean(axis=0)))
        indices.append(index)
    if len(indices) < 2:
        return []
    return _group(np.array(signatures), np.array(means), indices)


def _group(signatures: Array, means: Array, indices: list[int]) -> list[tuple[int, ...]]:
    """Join pairs that are alike; each square goes with those that are like the group's first."""
    size = np.sqrt(np.mean(signatures**2, axis=1))
    apart = np.sqrt(np.mean((signatures[:, None] - signatures[None]) ** 2, axis=2))
    alike = apart < _LIKE * np.minimum(size[:, None], size[None])
    step = means[:, None] - means[None]
    alike &= np.abs(step @ np.array([0.25, 0.5, 0.25])) < _LEVEL_APART
    tint = step[..., [0, 2]] - step[..., 1:2]
    alike &= np.abs(tint).max(axis=-1) < _TINT_APART
    groups = []
    free = np.ones(len(indices), bool)
    for i in range(len(indices)):
        members = np.flatnonzero(alike[i] & free)
        if free[i] and len(members) > 1:
            groups.append(tuple(indices[m] for m in members))
            free[members] = False
    return groups


def _log_values(small: SmallPicture, corners: NDArray[np.float64], tone: ToneCurve) -> Array | None:
    """Log of sharpened light (N, 3) over a square's inner part, None if it is too small."""
    inner = corners.mean(axis=0) + 0.86 * (corners - corners.mean(axis=0))
    points = grid_over(inner, _STEPS).reshape(-1, 2) * small.scale
    height, width = small.linear.shape[:2]
    columns, rows = np.floor(points).astype(np.intp).T
    if columns.min() < 0 or rows.min() < 0 or columns.max() >= width or rows.max() >= height:
        return None
    if np.ptp(columns) < _STEPS // 2 or not small.usable[rows, columns].mean() > 0.9:
        return None
    values = tone.undo(small.linear[rows, columns].astype(np.float64)) @ SHARP_FROM_LINEAR.T
    return np.asarray(np.log(np.maximum(values, _LEAST_LIGHT)))
