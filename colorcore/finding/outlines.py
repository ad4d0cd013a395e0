"""Four-sided outlines of what stands out from the table."""

from collections.abc import Sequence
from typing import Any

import cv2
import numpy as np
from numpy.typing import NDArray

from colorcore.geometry import Quad

_NEXT, _BEFORE = [1, 2, 3, 0], [3, 0, 1, 2]


def quads_of_contours(contours: Sequence[Any]) -> list[tuple[Quad, float] | None]:
    """Fit four sides to each of several closed contours (K, 1, 2).

    Returns each quad, clockwise from the corner nearest the picture's top left, and how well it
    fits (0 to 1, the overlap of the two areas), or None where it is no four-sided shape.
    """
    inside = [cv2.contourArea(contour) for contour in contours]
    hulls = [np.asarray(cv2.convexHull(contour)) for contour in contours]
    around = [cv2.contourArea(hull) for hull in hulls]
    full = [k for k in range(len(hulls)) if inside[k] >= max(40, 0.72 * around[k])]
    found: list[tuple[Quad, float] | None] = [None] * len(hulls)
    if not full:
        return found
    corners = order(np.array([_four_corners(hulls[k]) for k in full]))
    quads = _fit_sides([hulls[k].reshape(-1, 2) for k in full], corners)
    for k, quad in zip(full, quads, strict=True):
        if quad is not None:
            covered = _overlap(hulls[k], quad)
            total = cv2.contourArea(quad.astype(np.float32)) + around[k] - covered
            fit = (covered - (around[k] - inside[k])) / max(total, 1.0)
            found[k] = quad + 0.5, min(max(fit, 0.0), 1.0)
    return found


def _four_corners(hull: NDArray[np.int32]) -> Quad:
    """Return the four corners of a hull (K, 1, 2), of the smallest box around it if it has other
    than four."""
    reach = cv2.arcLength(hull, True)
    for share in (0.02, 0.03, 0.045, 0.06, 0.08, 0.1):
        polygon = cv2.approxPolyDP(hull, share * reach, True)
        if len(polygon) == 4:
            return polygon.reshape(4, 2).astype(np.float64)
        if len(polygon) < 4:
            break
    return cv2.boxPoints(cv2.minAreaRect(hull)).astype(np.float64)


def _overlap(hull: NDArray[Any], quad: Quad) -> float:
    area, _ = cv2.intersectConvexConvex(hull.astype(np.float32), quad.astype(np.float32))
    return float(area)


def order(corners: NDArray[np.float64]) -> Quad:
    """Return four corners (..., 4, 2) clockwise, first the one that looks like the top left: the
    start is chosen so that the first side points right as well as it can."""
    away = corners - corners.mean(axis=-2, keepdims=True)
    around = np.argsort(np.arctan2(away[..., 1], away[..., 0]), axis=-1)
    ring = np.take_along_axis(corners, around[..., None], axis=-2)
    sides = ring[..., _NEXT, :] - ring
    heading = np.abs(np.arctan2(sides[..., 1], sides[..., 0]))
    turned = (np.argmin(heading, axis=-1)[..., None] + np.arange(4)) % 4
    return np.take_along_axis(ring, turned[..., None], axis=-2)


def _fit_sides(hulls: Sequence[NDArray[Any]], corners: Quad) -> list[Quad | None]:
    """Replace each side of quads (N, 4, 2) by a line through the long straight runs along it of
    their hulls (K, 2): None where a side has none at all."""
    start = np.zeros((len(hulls), max(len(hull) for hull in hulls), 2))
    stop = np.zeros_like(start)
    for k, hull in enumerate(hulls):
        # What is left over has no length, and so no weight.
        start[k, : len(hull)], stop[k, : len(hull)] = hull, np.roll(hull, -1, axis=0)
    runs = stop - start
    length = np.sqrt((runs * runs).sum(axis=-1))
    middle = (start + stop) / 2
    side = corners[:, _NEXT] - corners
    reach = np.sqrt((side * side).sum(axis=-1))
    along = side / np.maximum(reach, 1e-9)[..., None]
    normal = np.stack([along[..., 1], -along[..., 0]], axis=-1)
    # From here on: hulls, runs, sides.
    across = normal.swapaxes(1, 2)
    straight = np.abs(runs @ along.swapaxes(1, 2)) > 0.94 * length[..., None]
    off = np.abs(middle @ across - (corners * normal).sum(axis=-1)[:, None])
    near = np.where(off < (0.06 * reach + 1)[:, None], length[..., None], 0.0)
    weight = np.where(straight, near, 0.0)
    rough = weight.sum(axis=1) < 0.25 * reach
    weight = np.where(rough[:, None], near, weight)
    total = weight.sum(axis=1)
    share = np.maximum(total, 1e-9)
    # Each run is a segment: its two ends carry its slope, its weight its length.
    mean = (weight.swapaxes(1, 2) @ middle) / share[..., None]
    bend, stretch = 0.0, 0.0
    for ends in (start, stop):
        t = ends @ along.swapaxes(1, 2) - (mean * along).sum(axis=-1)[:, None]
        o = ends @ across - (mean * normal).sum(axis=-1)[:, None]
        bend = bend + (weight * (t * o)).sum(axis=1)
        stretch = stretch + (weight * (t * t)).sum(axis=1)
    slope = bend / np.maximum(stretch, 1e-9)
    slope = np.where(np.abs(slope) > 0.2, 0.0, slope)
    quads = _cross(mean, along + slope[..., None] * normal)
    apart = np.abs(quads - corners).max(axis=(1, 2))
    far = ~(apart <= 0.35 * np.ptp(corners, axis=1).max(axis=1))
    quads = np.where(far[:, None, None], corners, quads)
    sided = total.min(axis=1) > 0
    return [quad if has else None for quad, has in zip(quads, sided, strict=True)]


def _cross(spots: NDArray[np.float64], directions: NDArray[np.float64]) -> Quad:
    """Return where each of four lines, through ``spots`` (N, 4, 2) in ``directions`` (N, 4, 2),
    meets the one before it; NaN where they run side by side."""
    p, u = spots[:, _BEFORE], directions[:, _BEFORE]
    v, w = directions, spots - p
    turn = u[..., 0] * v[..., 1] - u[..., 1] * v[..., 0]
    turn = np.where(np.abs(turn) < 1e-9, np.nan, turn)
    run_on = (w[..., 0] * v[..., 1] - w[..., 1] * v[..., 0]) / turn
    return np.asarray(p + u * run_on[..., None])


def contours_of_mask(table: NDArray[np.bool_], opening: int) -> Sequence[Any]:
    """Return the outer contours (K, 1, 2) of the parts of the picture that are not ``table`` (h,
    w). ``opening`` (pixels) cuts bridges thinner than it and drops lines of a mat."""
    brush = cv2.getStructuringElement(cv2.MORPH_RECT, (opening, opening))
    standing = cv2.morphologyEx((~table).view(np.uint8), cv2.MORPH_OPEN, brush)
    contours, _ = cv2.findContours(standing, cv2.RETR_EXTERNAL, cv2.CHAIN_APPROX_NONE)
    return contours


def shapes_of_contours(
    contours: Sequence[Any], smallest: float, known: list[tuple[Quad, float]]
) -> list[tuple[Quad, float]]:
    """Return the four-sided shapes among contours (K, 1, 2), and how well each fits, but for those
    that are ``known`` from another mask and fit well there. ``smallest`` is the least area in
    square pixels."""
    sharp = np.array([quad for quad, fit in known if fit > 0.95]).reshape(-1, 4, 2)
    boxes = np.concatenate([sharp.min(axis=1), sharp.max(axis=1)], axis=1)
    # No outline of so many steps holds more than a circle of as many diagonal ones does.
    least = np.sqrt(2 * np.pi * smallest)
    large = [c for c in contours if len(c) >= least and cv2.contourArea(c) >= smallest]
    rest = np.array([cv2.boundingRect(contour) for contour in large]).reshape(-1, 4)
    size = rest[:, 2:].max(axis=1, initial=0)
    rest[:, 2:] += rest[:, :2]
    apart = np.abs(boxes - rest[:, None]).max(axis=2).min(axis=1, initial=np.inf)
    fresh = np.flatnonzero(apart >= 0.03 * size)
    found = [shape for shape in quads_of_contours([large[k] for k in fresh]) if shape is not None]
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
