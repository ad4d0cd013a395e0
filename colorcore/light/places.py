"""Places within a square as it lies in the picture."""

from functools import lru_cache
from typing import Any

import numpy as np
from numpy.typing import NDArray

from colorcore.finding.model import Finding

Array = NDArray[np.float64]
FloatArray = NDArray[np.floating[Any]]


def outlines_of(finding: Finding) -> Array:
    """Outlines (N, 4, 2) of all squares found."""
    corners = [np.asarray(square.corners, dtype=np.float64) for square in finding.squares]
    return np.stack(corners) if corners else np.zeros((0, 4, 2))


def box_round(outline: FloatArray) -> Array:
    """Return the upright or turned rectangle (4, 2) around an outline (K, 2), which may be a
    contour of many points."""
    import cv2

    return np.asarray(cv2.boxPoints(cv2.minAreaRect(outline.astype(np.float32))), np.float64)


def grid_over(corners: FloatArray, steps: int) -> Array:
    """Return places (..., steps, steps, 2) in the picture, spread evenly over squares seen as the
    outlines ``corners`` (..., 4, 2), from edge to edge.

    Source: Heckbert (1989), Fundamentals of Texture Mapping and Image Warping, section 2.2.3 (the
    projective map of the unit square onto a quadrilateral). An outline without area, which has no
    such map, is spread over as if it were seen without perspective.
    """
    outlines = np.asarray(corners, dtype=np.float64)
    first, second, third, fourth = np.moveaxis(outlines, -2, 0)
    skew = first - second + third - fourth
    right, down = second - third, fourth - third
    area = _cross(right, down)
    flat = np.abs(area) < 1e-9
    area = np.where(flat, 1.0, area)
    across = np.where(flat, 0.0, _cross(skew, down) / area)[..., None]
    along = np.where(flat, 0.0, _cross(right, skew) / area)[..., None]
    # Rows of the map: what u, v and 1 of the unit square give x, y and the depth.
    to_x = np.stack([second - first + across * second, fourth - first + along * fourth, first], -2)
    depth = np.stack([across, along, np.ones_like(across)], -2)
    unit = _unit_grid(steps)
    places = (unit @ to_x) / (unit @ depth)
    return np.asarray(places.reshape(*outlines.shape[:-2], steps, steps, 2))


def _cross(one: Array, other: Array) -> Array:
    return np.asarray(one[..., 0] * other[..., 1] - one[..., 1] * other[..., 0])


@lru_cache(maxsize=16)
def _unit_grid(steps: int) -> Array:
    """Places u, v and 1 (steps * steps, 3), spread evenly over a square of side 1."""
    t = np.linspace(0, 1, steps)
    u, v = np.meshgrid(t, t)
    points = np.stack([u.ravel(), v.ravel(), np.ones(steps * steps)], axis=1)
    points.flags.writeable = False
    return points
