"""What a tablecloth has woven into it: checks that look like squares laid out all over the picture.

Checks have the same size, clear sides, and lie in rows and columns, as squares do. But they are
alike, and go on to the picture's edge, whatever lies among them: their colour shows there again and
again. Squares cut off by the edge show there, too, but in a colour each.
"""

import cv2
import numpy as np
from numpy.typing import NDArray

from colorcore.finding import choose
from colorcore.finding.evidence import grid_within
from colorcore.finding.scene import Scene, see
from colorcore.finding.surface import EVENLY, pixels_within
from colorcore.geometry import areas

Quads = NDArray[np.float64]

# Of fewer outlines nothing is said.
_LEAST = 4
# The picture's edge is as deep as it is from one check to the next of its colour, but from the
# first to the second share of its shorter side; every so many pixels of it are plenty.
_SHALLOW, _DEEP, _EVERY = 0.05, 0.2, 4
# So many pixels are the outermost of the picture.
_OUTERMOST = 3
# So many sides of a check it is to the next of its colour, and more: squares are laid closer.
_NEXT = 1.35
# Colours are the same within this, or this share of the step around the outline; a check is so much
# unlike what lies around it.
_SAME, _NEARER, _STEP = 8.0, 0.4, 3.5
# By so much the colours of checks of one weave are further from their median at most.
_AS_BUSY = 4.0
# A check's colour shows along so much of so many of the four edges; so many others have it.
_SHOWS, _EDGES, _ALIKE = 0.02, 3, 0.2
# Of all outlines so many are such: what is laid on the cloth holds some others.
_MOST = 0.6
# Beside a check, so far (in its sides) the cloth shows what else it has.
_AROUND = 2.2
# What is larger than so many checks, but holds fewer of them than this, lies on top of them.
_LARGER, _HOLDS, _FOUR_SIDED = 2.0, 0.15, 0.85


def are_woven(scene: Scene, quads: Quads) -> NDArray[np.bool_]:
    """Return which outlines (N, 4, 2) are checks of the table, none if most of them are not."""
    none = np.zeros(len(quads), bool)
    if len(quads) < _LEAST:
        return none
    within = _colors(scene, grid_within(quads, 0.2, 6))
    own = np.median(within, axis=1)
    # Of one weave they are as plain, or as busy, as one another.
    busy = np.median(_apart(within, own[:, None]), axis=1)
    alike = (_apart(own[:, None], own) < _SAME) & (np.abs(busy[:, None] - busy) < _AS_BUSY)
    np.fill_diagonal(alike, False)
    woven = alike.sum(axis=1) >= max(2.0, _ALIKE * (len(quads) - 1))
    if woven.mean() < _MOST:
        return none
    middle = quads.mean(axis=1, keepdims=True)
    around = middle + 1.3 * (quads - middle)
    around = np.concatenate([around, (around + np.roll(around, -1, axis=1)) / 2], axis=1)
    step = np.median(_apart(_colors(scene, around), own[:, None]), axis=1)
    woven &= step > _STEP
    far = np.where(alike, np.linalg.norm(middle - middle[:, 0], axis=2), np.inf).min(axis=1)
    if woven.mean() < _MOST or float(np.median(far / choose.sides(quads))) < _NEXT:
        return none
    side = min(scene.size)
    deep = round(min(max(float(np.median(far)), _SHALLOW * side, 3), _DEEP * side))
    near = np.minimum(_SAME, _NEARER * step)[:, None]
    shown = [
        (_apart(own[:, None], edge) < near).mean(axis=1) > _SHOWS for edge in _edges(scene, deep)
    ]
    woven &= np.sum(shown, axis=0) >= _EDGES
    # Laid near the edge of a plain table, squares show along it, but never up to it.
    woven &= (
        _apart(own[:, None], np.concatenate(_edges(scene, _OUTERMOST))).min(axis=1) < near[:, 0]
    )
    return woven if woven.mean() >= _MOST else none


def look_past(scene: Scene, checks: Quads, shapes: Quads, fits: NDArray[np.float64]) -> Scene:
    """Look again at a table that has ``checks`` (N, 4, 2), with all that shows of its pattern for
    the table; ``shapes`` (M, 4, 2) with their ``fits`` (M,) stand out, some of them on top."""
    rim = np.zeros(scene.size, np.uint8)
    middle = checks.mean(axis=1, keepdims=True)
    for quad in middle + _AROUND * (checks - middle):
        cv2.fillConvexPoly(rim, np.round(quad).astype(np.int32), 1)
    own = np.zeros(scene.size, np.uint8)
    for quad in checks:
        cv2.fillConvexPoly(own, np.round(quad).astype(np.int32), 1)
    size = areas(shapes)
    large = (fits > _FOUR_SIDED) & (size > _LARGER * float(np.median(areas(checks))))
    for quad in shapes[large & (size < own.size / 2)]:
        part, inside = pixels_within(scene.size, quad, 1.0)
        if float(own[part][inside].mean()) < _HOLDS:
            rim[part][inside] = 0
    return see(scene.view, rim > 0)


def _colors(scene: Scene, spots: NDArray[np.floating]) -> NDArray[np.float32]:
    """Return the colours (..., 3) at places (..., 2), lightness counting half."""
    height, width = scene.size
    column = np.clip(spots[..., 0].astype(np.int32), 0, width - 1)
    row = np.clip(spots[..., 1].astype(np.int32), 0, height - 1)
    return np.asarray(scene.surface.flat[row, column] * EVENLY)


def _edges(scene: Scene, deep: int) -> list[NDArray[np.float32]]:
    """Return colours (K, 3) along each edge of the picture, ``deep`` pixels of it, lightness
    counting half."""
    flat = scene.surface.flat[:: _EVERY // 2]
    upright = scene.surface.flat[:, :: _EVERY // 2]
    parts = (
        upright[:deep:_EVERY], upright[-deep::_EVERY], flat[:, :deep:_EVERY], flat[:, -deep::_EVERY]
    )  # fmt: skip
    return [part.reshape(-1, 3) * EVENLY for part in parts]


def _apart(one: NDArray[np.float32], other: NDArray[np.float32]) -> NDArray[np.float32]:
    return np.asarray(np.linalg.norm(one - other, axis=-1))
