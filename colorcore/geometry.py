"""Four-sided outlines in pixels of the upright picture.

x runs right, y runs down, (0, 0) is the outer corner of the first pixel, so the centre of the
first pixel is (0.5, 0.5). A quad is an array (4, 2) of float64: the corners clockwise from the
square's own top left as it appears in the picture.
"""

from math import hypot
from typing import Any, Final

import numpy as np
from numpy.typing import NDArray

FloatArray = NDArray[np.floating[Any]]
Quad = NDArray[np.float64]
_NEXT: Final = np.array([1, 2, 3, 0])


def area(quad: FloatArray) -> float:
    """Return the area of a polygon (K, 2) in square pixels, positive if it runs clockwise on
    screen (y down)."""
    x, y = np.asarray(quad, dtype=np.float64).T
    return float(0.5 * np.sum(x * np.roll(y, -1) - np.roll(x, -1) * y))


def areas(quads: FloatArray) -> NDArray[np.float64]:
    """Return the areas (N,) of quads (N, 4, 2) in square pixels, whichever way they run."""
    corners = np.asarray(quads, dtype=np.float64)
    # Half the cross product of the diagonals.
    one, two = corners[:, 2] - corners[:, 0], corners[:, 3] - corners[:, 1]
    return np.asarray(np.abs(0.5 * (one[:, 0] * two[:, 1] - one[:, 1] * two[:, 0])))


def side_lengths(quad: FloatArray) -> NDArray[np.float64]:
    """Return the lengths (4,) of top, right, bottom and left side in pixels."""
    corners = np.asarray(quad, dtype=np.float64)
    along = corners[_NEXT] - corners
    return np.asarray(np.hypot(along[:, 0], along[:, 1]))


def mean_side(quad: FloatArray) -> float:
    """Return the mean length of the four sides in pixels."""
    (ax, ay), (bx, by), (cx, cy), (dx, dy) = np.asarray(quad, dtype=np.float64).tolist()
    # Of four corners, plain numbers are worked out in a tenth of the time of arrays.
    return (
        hypot(bx - ax, by - ay)
        + hypot(cx - bx, cy - by)
        + hypot(dx - cx, dy - cy)
        + hypot(ax - dx, ay - dy)
    ) / 4


def holds(quad: FloatArray, points: FloatArray) -> NDArray[np.bool_]:
    """Return which points (..., 2) lie within a convex outline (K, 2), whichever way it runs."""
    corners = np.asarray(quad, dtype=np.float64)
    run = np.roll(corners, -1, axis=0) - corners
    to = np.asarray(points, dtype=np.float64)[..., None, :] - corners
    side = run[:, 0] * to[..., 1] - run[:, 1] * to[..., 0]
    return np.asarray((side >= 0).all(axis=-1) | (side <= 0).all(axis=-1))


def reaches_far(outline: FloatArray, width: int, height: int) -> bool:
    """Return whether an outline (K, 2) reaches further beyond a picture of so many pixels than the
    picture is large: no one can mean that, and drawing it would overflow."""
    points, size = np.asarray(outline, dtype=np.float64), np.array([width, height])
    return bool((points < -size).any() or (points > 2 * size).any())


def center(quad: FloatArray) -> NDArray[np.float64]:
    """Return where the diagonals of a quad cross, (2,): the picture of the square's centre under
    any tilt. Falls back to the mean of the corners if the diagonals are parallel."""
    a, b, c, d = np.asarray(quad, dtype=np.float64)
    u, v = c - a, d - b
    cross = u[0] * v[1] - u[1] * v[0]
    if abs(cross) < 1e-12:
        return np.asarray((a + b + c + d) / 4)
    w = b - a
    return np.asarray(a + u * ((w[0] * v[1] - w[1] * v[0]) / cross))
