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
from colorcore.light.places import grid_over, outlines_of
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
    whole = [i for i, square in enumerate(finding.squares) if square.visible is None]
    if len(whole) < 2:
        return []
    corners = outlines_of(finding)[whole]
    logs, clear = _log_values(small, corners, tone)
    indices, corners = np.array(whole)[clear], corners[clear]
    middles = logs.mean(axis=1)
    about = logs - middles[:, None]
    brightness = about @ np.array([0.25, 0.5, 0.25])
    printed = brightness.std(axis=1) >= _LEAST_SPREAD
    if np.count_nonzero(printed) < 2:
        return []
    about, brightness = about[printed], brightness[printed]
    kinds = (brightness, about[..., 0] - about[..., 1], about[..., 2] - about[..., 1])
    signatures = np.concatenate([_quantiles(kind) for kind in kinds], axis=1)
    means = middles[printed] - light.log_light(corners[printed].mean(axis=1))
    return _group(signatures, means, [int(i) for i in indices[printed]])


def _quantiles(values: Array) -> Array:
    """The values (N, 12) that shares of each row (N, K) lie below, to the nearest sample."""
    order = np.sort(values, axis=1)
    return np.asarray(order[:, np.round(_QUANTILES * (values.shape[1] - 1)).astype(np.intp)])


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


def _log_values(
    small: SmallPicture, corners: NDArray[np.float64], tone: ToneCurve
) -> tuple[Array, NDArray[np.bool_]]:
    """Log of sharpened light (M, K, 3) over the inner part of squares (N, 4, 2), of those (N,)
    that are large enough, within the picture and within the camera's scale."""
    middle = corners.mean(axis=1, keepdims=True)
    inner = middle + 0.86 * (corners - middle)
    points = grid_over(inner, _STEPS).reshape(len(corners), -1, 2) * small.scale
    height, width = small.linear.shape[:2]
    columns, rows = np.moveaxis(np.floor(points).astype(np.intp), -1, 0)
    clear = (columns.min(axis=1) >= 0) & (columns.max(axis=1) < width)
    clear &= (rows.min(axis=1) >= 0) & (rows.max(axis=1) < height)
    clear &= np.ptp(columns, axis=1) >= _STEPS // 2
    columns, rows = np.clip(columns, 0, width - 1), np.clip(rows, 0, height - 1)
    clear &= small.usable[rows, columns].mean(axis=1) > 0.9
    values = small.linear[rows[clear], columns[clear]]
    sharp = tone.undo(values) @ SHARP_FROM_LINEAR.astype(np.float32).T
    return np.asarray(np.log(np.maximum(sharp, _LEAST_LIGHT)), dtype=np.float64), clear
