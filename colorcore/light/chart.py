"""Find and read a 24-patch chart, however it lies.

1. Plain blobs of like size are linked to their neighbours; a group of them that fits a lattice
   gives a projective map from rows and columns to the picture. A chart outlined by hand or by
   finding gives the map directly.
2. Every placement of six by four patches on the lattice, each in the four turns and mirrored, is
   compared with the published colours: log seen = level + slope * log known, per channel level,
   common slope, robust, so that a tint, a tone curve and covered patches do not matter.
3. The best placement is taken if it fits well in itself and clearly better than the next.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import product
from typing import Any, Final

import numpy as np
from numpy.typing import NDArray

from colorcore.color.charts import CHART_COLUMNS, CHART_ROWS
from colorcore.light.lattice import lattices, plain_blobs
from colorcore.light.sampling import SmallPicture
from colorcore.photo import Photo

Array = NDArray[np.float64]

ROWS: Final = CHART_ROWS
COLUMNS: Final = CHART_COLUMNS
_MOST_CELLS: Final = 12
_FIT_LIMIT: Final = 0.22
_BETTER: Final = 0.75
_LEAST_PATCHES: Final = 12
_OUTLIER: Final = 0.45
_SQUARISH: Final = 1.2
"""Width to height, of which a chart has 1.5 or its inverse, up to which tilt may have swapped the
longer side."""


@dataclass(frozen=True, eq=False)
class ReadChart:
    """A chart as seen, in the published order.

    ``centers`` (24, 2) picture pixels; ``seen`` (24, 3) mean linear light; ``noise`` (24,) sd of
    log luminance within a patch; ``usable`` (24,) False where covered, out of the picture or at
    the end of the scale; ``outline`` (4, 2) corners of the grid of patches; ``mirrored``.
    """

    centers: Array
    seen: Array
    noise: Array
    usable: NDArray[np.bool_]
    outline: Array
    mirrored: bool
    misfit: float


def read_chart(
    photo: Photo, known: NDArray[np.floating[Any]], outline: NDArray[np.floating[Any]]
) -> ReadChart | None:
    """Read a chart within an outline (4, 2) of its patches or of its whole frame; None if the
    colours there do not fit a chart. ``known`` (24, 3) published linear light."""
    corners = np.asarray(outline, dtype=np.float64)
    best: tuple[float, ReadChart] | None = None
    sides = np.linalg.norm(np.roll(corners, -1, axis=0) - corners, axis=1)
    aspect = float((sides[0] + sides[2]) / max(sides[1] + sides[3], 1e-9))
    shapes = [(ROWS, COLUMNS)] if aspect > 1 / _SQUARISH else []
    shapes += [(COLUMNS, ROWS)] if aspect < _SQUARISH else []
    for inset in (0.0, 0.015, 0.03, 0.045, 0.06, 0.08):
        for rows, columns in shapes:
            border = inset * np.array([4.4 / 6.4, 1.0] if rows > columns else [1.0, 6.4 / 4.4])
            low, high = border[0] * columns, border[1] * rows
            right, bottom = columns + low, rows + high
            unit = np.array([[-low, -high], [right, -high], [right, bottom], [-low, bottom]])
            matrix = _map_of(unit, corners)
            reading = _best_turn(photo, known, matrix, rows, columns)
            if reading is None:
                continue
            # Where the lattice sits right, patches are plain almost to their edges.
            _, noise, _ = _sample_patches(photo, matrix, _lattice(rows, columns), reach=0.39)
            unrest = float(np.mean(np.sort(noise, axis=None)[: len(noise.ravel()) * 3 // 4]))
            if best is None or unrest < best[0]:
                best = (unrest, reading)
    return best[1] if best is not None else None


def _lattice(rows: int, columns: int) -> Array:
    column, row = np.meshgrid(np.arange(columns) + 0.5, np.arange(rows) + 0.5)
    return np.stack([column, row], axis=-1)


def _map_of(unit: Array, corners: Array) -> Array:
    import cv2

    matrix = cv2.getPerspectiveTransform(unit.astype(np.float32), corners.astype(np.float32))
    return np.asarray(matrix, dtype=np.float64)


def _best_turn(
    photo: Photo, known: NDArray[np.floating[Any]], matrix: Array, rows: int, columns: int
) -> ReadChart | None:
    """The best of the four ways (turned, mirrored) in which a lattice of this shape can be read."""
    lattice = _lattice(rows, columns)
    seen, noise, whole = _sample_patches(photo, matrix, lattice)
    readings = []
    for upside_down in (False, True):
        for leftside_right in (False, True):
            order = np.arange(rows * columns).reshape(rows, columns)
            order = order[::-1] if upside_down else order
            order = order[:, ::-1] if leftside_right else order
            mirrored = upside_down != leftside_right
            if rows > columns:
                order, mirrored = order.T, not mirrored
            flat = order.reshape(-1)
            misfit, fits = _compare(seen.reshape(-1, 3)[flat], whole.reshape(-1)[flat], known)
            readings.append((misfit, flat, fits, mirrored))
    readings.sort(key=lambda r: r[0])
    misfit, flat, fits, mirrored = readings[0]
    if misfit > _FIT_LIMIT or misfit > _BETTER * readings[1][0]:
        return None
    corners = np.array([[0, 0], [columns, 0], [columns, rows], [0, rows]], dtype=np.float64)
    return ReadChart(
        centers=_moved(matrix, lattice.reshape(-1, 2)[flat]),
        seen=seen.reshape(-1, 3)[flat],
        noise=noise.reshape(-1)[flat],
        usable=fits,
        outline=_moved(matrix, corners),
        mirrored=mirrored,
        misfit=misfit,
    )


def _moved(matrix: Array, points: Array) -> Array:
    whole = np.column_stack([points, np.ones(len(points))]) @ matrix.T
    return np.asarray(whole[:, :2] / whole[:, 2:])


def _sample_patches(
    photo: Photo, matrix: Array, lattice: Array, *, reach: float = 0.24
) -> tuple[Array, Array, NDArray[np.bool_]]:
    """Mean linear light, noise, and whether a patch is seen whole and within the scale."""
    rows, columns = lattice.shape[:2]
    t = np.linspace(-reach, reach, 9)
    offsets = np.stack(np.meshgrid(t, t), axis=-1).reshape(-1, 2)
    points = (lattice[:, :, None, :] + offsets).reshape(-1, 2)
    x, y = np.floor(_moved(matrix, points)).astype(np.intp).T
    inside = (x >= 0) & (y >= 0) & (x < photo.width) & (y < photo.height)
    coded = photo.pixels[np.clip(y, 0, photo.height - 1), np.clip(x, 0, photo.width - 1)]
    top = np.iinfo(coded.dtype).max
    good = inside & (coded.max(axis=1) < top - top // 128) & (coded.max(axis=1) > 0.01 * top)
    shape = (rows, columns, offsets.shape[0])
    linear = photo.linearize(coded[None])[0].astype(np.float64).reshape(*shape, 3)
    seen = linear.mean(axis=2)
    luminance = np.maximum(linear @ np.array([0.25, 0.5, 0.25]), 1e-4)
    noise = luminance.std(axis=2) / luminance.mean(axis=2)
    whole = (good.reshape(shape).mean(axis=2) > 0.95) & (noise < 0.25)
    return seen, noise, whole


def _compare(
    seen: Array, whole: NDArray[np.bool_], known: NDArray[np.floating[Any]]
) -> tuple[float, NDArray[np.bool_]]:
    """Misfit of colours (24, 3) against the published ones, and which patches (24,) fit."""
    if np.count_nonzero(whole) < _LEAST_PATCHES:
        return np.inf, whole
    target = np.log(np.maximum(seen, 1e-3))
    x = np.log(np.maximum(np.asarray(known, dtype=np.float64), 6e-3))
    weight = whole.astype(np.float64)
    off = np.zeros(len(seen))
    slope = np.ones(3)
    for _ in range(4):
        total = weight.sum()
        mean_x = (weight[:, None] * x).sum(axis=0) / total
        mean_y = (weight[:, None] * target).sum(axis=0) / total
        dx, dy = x - mean_x, target - mean_y
        both = (weight[:, None] * dx * dx).sum(axis=0)
        own = (weight[:, None] * dx * dy).sum(axis=0)
        # Mostly common; a channel that hardly sees the light has a curve of its own.
        slope = (own + own.sum()) / (both + both.sum())
        off = np.sqrt(np.mean((dy - slope * dx) ** 2, axis=1))
        scale = float(np.median(off[whole])) * 1.5 + 1e-3
        weight = whole / (1 + (off / (2 * scale)) ** 2) ** 2
    if not (slope.min() > 0.35 and slope.max() < 2.2):
        return np.inf, whole
    best = np.sort(off[whole])[: max(_LEAST_PATCHES, round(0.7 * np.count_nonzero(whole)))]
    return float(np.sqrt(np.mean(best**2))), whole & (off < _OUTLIER)


def find_chart(
    photo: Photo,
    small: SmallPicture,
    known: NDArray[np.floating[Any]],
    squares: Sequence[NDArray[np.floating[Any]]],
) -> ReadChart | None:
    """Look for a chart in the whole picture. Blobs that fill one of the found ``squares``, each
    (4, 2) in picture pixels, are squares and no patches."""
    import cv2

    # The green third shows every patch's edge against the frame.
    green = np.clip(small.linear[..., 1], 0, 1)
    centers, sides = plain_blobs((np.asarray(cv2.sqrt(green)) * 255).astype(np.uint8))
    if len(squares) and len(centers):
        quads = np.stack([np.asarray(q, dtype=np.float64) for q in squares]) * small.scale
        middles = quads.mean(axis=1)
        lengths = np.linalg.norm(quads[:, 1] - quads[:, 0], axis=1)
        gap = np.linalg.norm(centers[:, None] - middles[None], axis=2)
        fills = (gap < 0.3 * lengths) & (sides[:, None] > 0.5 * lengths)
        centers, sides = centers[~fills.any(axis=1)], sides[~fills.any(axis=1)]
    best: ReadChart | None = None
    for matrix, across, down in lattices(centers, sides):
        if across > _MOST_CELLS or down > _MOST_CELLS:
            continue
        full = np.diag([1 / small.scale, 1 / small.scale, 1.0]) @ matrix
        for rows, columns in ((ROWS, COLUMNS), (COLUMNS, ROWS)):
            tops = range(min(0, down - rows), max(0, down - rows) + 1)
            lefts = range(min(0, across - columns), max(0, across - columns) + 1)
            for top, left in product(tops, lefts):
                moved = full @ np.array([[1.0, 0, left], [0, 1.0, top], [0, 0, 1.0]])
                reading = _best_turn(photo, known, moved, rows, columns)
                if reading is not None and (best is None or reading.misfit < best.misfit):
                    best = reading
    return best
