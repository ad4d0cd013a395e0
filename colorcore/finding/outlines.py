"""Four-sided outlines of what stands out from the table."""

from typing import Any

import cv2
import numpy as np
from numpy.typing import NDArray

from colorcore.geometry import Quad

_NEXT, _BEFORE = [1, 2, 3, 0], [3, 0, 1, 2]


def quad_of_contour(contour: Any) -> tuple[Quad, float] | None:
    """Fit four sides to a closed contour (K, 1, 2).

    Returns the quad, clockwise from the corner nearest the picture's top left, and how well it
    fits (0 to 1, the overlap of the two areas), or None if it is no four-sided shape.
    """
    inside = cv2.contourArea(contour)
    hull: Any = cv2.convexHull(contour)
    around = cv2.contourArea(hull)
    if inside < 40 or inside < 0.72 * around:
        return None
    reach = cv2.arcLength(hull, True)
    corners = None
    for share in (0.02, 0.03, 0.045, 0.06, 0.08, 0.1):
        polygon = cv2.approxPolyDP(hull, share * reach, True)
        if len(polygon) == 4:
            corners = polygon.reshape(4, 2).astype(np.float64)
            break
        if len(polygon) < 4:
            break
    if corners is None:
        corners = cv2.boxPoints(cv2.minAreaRect(hull)).astype(np.float64)
    quad = _fit_sides(hull.reshape(-1, 2).astype(np.float64), order(corners))
    if quad is None:
        return None
    covered = _overlap(hull, quad)
    spill = around - covered
    total = cv2.contourArea(quad.astype(np.float32)) + spill
    fit = (covered - (around - inside)) / max(total, 1.0)
    return quad + 0.5, float(np.clip(fit, 0, 1))


def _overlap(hull: NDArray[Any], quad: Quad) -> float:
    area, _ = cv2.intersectConvexConvex(hull.astype(np.float32), quad.astype(np.float32))
    return float(area)


def order(corners: NDArray[np.float64]) -> Quad:
    """Return four corners clockwise, first the one that looks like the top left: the start is
    chosen so that the first side points right as well as it can."""
    middle = corners.mean(axis=0)
    angle = np.arctan2(corners[:, 1] - middle[1], corners[:, 0] - middle[0])
    ring = corners[np.argsort(angle)]
    sides = ring[_NEXT] - ring
    heading = np.arctan2(sides[:, 1], sides[:, 0])
    first = int(np.argmin(np.abs(heading)))
    return ring[[(first + k) % 4 for k in range(4)]]


def _fit_sides(points: NDArray[np.float64], corners: Quad) -> Quad | None:
    """Replace each side by a line through the contour's long straight runs along it."""
    start, stop = points, np.concatenate([points[1:], points[:1]])
    runs = stop - start
    length = np.sqrt((runs * runs).sum(axis=1))
    if length.min() <= 0:
        kept = length > 0
        start, stop, runs, length = start[kept], stop[kept], runs[kept], length[kept]
    middle = (start + stop) / 2
    side = corners[_NEXT] - corners
    reach = np.sqrt((side * side).sum(axis=1))
    along = side / np.maximum(reach, 1e-9)[:, None]
    normal = np.stack([along[:, 1], -along[:, 0]], axis=1)
    straight = np.abs(runs @ along.T) > 0.94 * length[:, None]
    near = np.abs(middle @ normal.T - (corners * normal).sum(axis=1)) < 0.06 * reach + 1
    weight = np.where(straight & near, length[:, None], 0.0)
    rough = weight.sum(axis=0) < 0.25 * reach
    if rough.any():
        weight[:, rough] = np.where(near, length[:, None], 0.0)[:, rough]
    total = weight.sum(axis=0)
    if total.min() <= 0:
        return None
    # Each run is a segment: its two ends carry its slope, its weight its length.
    mean = (weight.T @ middle) / total[:, None]
    t = [ends @ along.T - (mean * along).sum(axis=1) for ends in (start, stop)]
    o = [ends @ normal.T - (mean * normal).sum(axis=1) for ends in (start, stop)]
    bend = (weight * (t[0] * o[0] + t[1] * o[1])).sum(axis=0)
    slope = bend / np.maximum((weight * (t[0] ** 2 + t[1] ** 2)).sum(axis=0), 1e-9)
    slope = np.where(np.abs(slope) > 0.2, 0.0, slope)
    quad = _cross(mean, along + slope[:, None] * normal)
    far = np.abs(quad - corners).max() > 0.35 * np.ptp(corners, axis=0).max()
    return corners if far or not np.all(np.isfinite(quad)) else quad


def _cross(spots: NDArray[np.float64], directions: NDArray[np.float64]) -> Quad:
    """Return where each of four lines, through ``spots`` (4, 2) in ``directions`` (4, 2), meets
    the one before it; NaN where they run side by side."""
    p, u = spots[_BEFORE], directions[_BEFORE]
    v, w = directions, spots - p
    turn = u[:, 0] * v[:, 1] - u[:, 1] * v[:, 0]
    turn = np.where(np.abs(turn) < 1e-9, np.nan, turn)
    return np.asarray(p + u * ((w[:, 0] * v[:, 1] - w[:, 1] * v[:, 0]) / turn)[:, None])


def outlines_of_mask(
    table: NDArray[np.bool_],
    opening: int,
    smallest: float,
    known: list[tuple[Quad, float]],
) -> list[tuple[Quad, float]]:
    """Return the four-sided shapes among the parts of the picture that are not table, but for
    those that are ``known`` from another mask and fit well there.

    ``opening`` (pixels) cuts bridges thinner than it and drops lines of a mat; ``smallest`` is
    the least area in square pixels.
    """
    standing: Any = (~table).astype(np.uint8)
    if opening > 1:
        brush = cv2.getStructuringElement(cv2.MORPH_RECT, (opening, opening))
        standing = cv2.morphologyEx(standing, cv2.MORPH_OPEN, brush)
    contours, _ = cv2.findContours(standing, cv2.RETR_EXTERNAL, cv2.CHAIN_APPROX_NONE)
    sharp = np.array([quad for quad, fit in known if fit > 0.95]).reshape(-1, 4, 2)
    boxes = np.concatenate([sharp.min(axis=1), sharp.max(axis=1)], axis=1)
    found = []
    for contour in contours:
        if cv2.contourArea(contour) < smallest:
            continue
        x, y, width, height = cv2.boundingRect(contour)
        box = np.array([x, y, x + width, y + height])
        if len(boxes) and np.abs(boxes - box).max(axis=1).min() < 0.03 * max(width, height):
            continue
        shape = quad_of_contour(contour)
        if shape is not None:
            found.append(shape)
    if not found:
        return found
    proper = has_corners(np.array([quad for quad, _ in found]))
    return [shape for shape, good in zip(found, proper, strict=True) if good]


def has_corners(quads: NDArray[np.float64]) -> NDArray[np.bool_]:
    """Return which of the quads (N, 4, 2) could be rectangles seen at up to 30 degrees of tilt."""
    run = quads[:, _NEXT] - quads
    side = np.sqrt((run * run).sum(axis=2))
    ratio = side[:, :2] / np.maximum(side[:, 2:], 1e-6)
    u = run / np.maximum(side, 1e-6)[..., None]
    v = np.roll(u, -1, axis=1)
    turn = u[..., 0] * v[..., 1] - u[..., 1] * v[..., 0]
    fair = (ratio < 1.6).all(axis=1) & (ratio > 1 / 1.6).all(axis=1)
    return np.asarray((side.min(axis=1) >= 6) & fair & (turn > 0.8).all(axis=1))


def aspects(quads: NDArray[np.float64]) -> NDArray[np.float64]:
    """Return how long the longer sides of quads (N, 4, 2) are over the shorter (N,), at least 1."""
    length = np.linalg.norm(quads[:, _NEXT] - quads, axis=2)
    wide, high = length[:, 0] + length[:, 2], length[:, 1] + length[:, 3]
    return np.asarray(np.maximum(wide, high) / np.maximum(np.minimum(wide, high), 1e-6))
