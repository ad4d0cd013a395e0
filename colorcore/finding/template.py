"""Squares of known size looked for everywhere: the table straightened, turned a little each way,
and a square's outline held against it at every place.

An outline needs all four sides at once, each seen along its whole length; where a print is as busy
inside as at its edge, only the true place keeps the table out and the print in.
"""

from dataclasses import dataclass
from typing import Any

import cv2
import numpy as np
from numpy.typing import NDArray

from colorcore.finding.evidence import TABLE_WEIGHT
from colorcore.finding.plane import Plane, project

_UNIT = 36
_MOST = 400


@dataclass(frozen=True)
class Window:
    """The part of the plane to search: from (x0, y0) to (x1, y1) in sides of a square."""

    x0: float
    y0: float
    x1: float
    y1: float


def match_squares(
    channels: NDArray[np.float32],
    plane: Plane,
    window: Window,
    degrees: NDArray[np.float64],
    least: float,
    taken: NDArray[np.float64],
    unit: int = _UNIT,
) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Hold a unit square against every place of a window of the plane.

    Parameters
    ----------
    channels
        What the view shows, (h, w, C).
    degrees
        Turns to try.
    least
        The least match to return, 0 to 1.
    taken
        Middles (K, 2) in the plane of squares that are known: none is looked for there.
    unit
        Pixels per side of a square to search at.

    Returns outlines in the view (N, 4, 2), best first, and their matches (N,).
    """
    width = min(1400, round((window.x1 - window.x0) * unit))
    height = min(1400, round((window.y1 - window.y0) * unit))
    middle = np.array([(window.x0 + window.x1) / 2, (window.y0 + window.y1) / 2])
    coarse = _reduced(channels, plane, middle, unit)
    places, matches = [], []
    half = 0.5 * np.array([[-1, -1], [1, -1], [1, 1], [-1, 1]])
    for angle in degrees:
        a = np.radians(angle)
        turn = np.array([[np.cos(a), np.sin(a)], [-np.sin(a), np.cos(a)]])
        into = np.eye(3)
        into[:2, :2] = turn * unit
        into[:2, 2] = np.array([width, height]) / 2 - turn @ middle * unit
        matrix = into @ plane.to_plane
        shift = np.array([[1, 0, -0.5], [0, 1, -0.5], [0, 0, 1.0]])
        flat: Any = cv2.warpPerspective(
            coarse, shift @ matrix @ np.linalg.inv(shift), (width, height),
            flags=cv2.INTER_LINEAR, borderMode=cv2.BORDER_REPLICATE,
        )  # fmt: skip
        white = np.ones(coarse.shape[:2], np.uint8)
        inside: Any = cv2.warpPerspective(
            white, shift @ matrix @ np.linalg.inv(shift), (width, height), flags=cv2.INTER_NEAREST
        )
        match = _outline_match(flat, inside, unit)
        _cross_out(match, project(into, taken) if len(taken) else taken, round(0.72 * unit))
        peak = (match >= least) & (match == cv2.dilate(match, np.ones((9, 9), np.uint8)))
        rows, columns = np.nonzero(peak)
        back = np.asarray(np.linalg.inv(matrix), dtype=np.float64)
        for row, column in zip(rows, columns, strict=True):
            corners = half * unit + np.array([column + 0.5, row + 0.5])
            places.append(project(back, corners))
            matches.append(float(match[row, column]))
    if not places:
        return np.zeros((0, 4, 2)), np.zeros(0)
    order = np.argsort(-np.array(matches), kind="stable")
    order = order[:_MOST]
    return np.array(places)[order], np.array(matches)[order]


def _cross_out(match: NDArray[np.float32], places: NDArray[np.float64], radius: int) -> None:
    for x, y in places:
        cv2.circle(match, (round(float(x)), round(float(y))), radius, 0.0, -1)


def _reduced(
    channels: NDArray[np.float32], plane: Plane, middle: NDArray[np.float64], unit: int
) -> NDArray[np.float32]:
    """Blur the view as far as the search's coarser pixels need."""
    edge = plane.picture(np.stack([middle, middle + np.array([1.0, 0.0])]))
    ratio = float(np.linalg.norm(edge[1] - edge[0])) / unit
    if ratio < 1.3:
        return channels
    return np.asarray(cv2.GaussianBlur(channels, (0, 0), 0.42 * ratio), dtype=np.float32)


def _usual_step(step: NDArray[np.float32], table: NDArray[np.float32]) -> np.float32:
    """Return the size of step that only one in ten places on the table reaches."""
    bare = table[2:-2, 2:-2] > 0.8 * TABLE_WEIGHT
    steps = step[2:-2, 2:-2]
    chosen = steps[bare] if bare.sum() > 400 else steps
    return np.float32(max(0.5, float(np.percentile(chosen[::3], 90))))


def _length(steps: NDArray[np.float32]) -> NDArray[np.float32]:
    """Length (h, w) of steps (h, w, C)."""
    return np.asarray(np.sqrt(np.einsum("ijk,ijk->ij", steps, steps)), dtype=np.float32)


def _outline_match(
    flat: NDArray[np.float32], inside: NDArray[np.uint8], unit: int
) -> NDArray[np.float32]:
    """Return how well a square's outline around every pixel is seen, 0 to 1; sides that are not
    ``inside`` the picture do not count, but two at least must be."""
    half = unit // 2
    upright = np.zeros(flat.shape[:2], np.float32)
    level = np.zeros_like(upright)
    # Averaged along the side to be, grain and weave fade and a straight edge stays.
    tall, broad = cv2.blur(flat, (1, 7)), cv2.blur(flat, (7, 1))
    upright[:, 2:-2] = _length(tall[:, 4:] - tall[:, :-4])
    level[2:-2] = _length(broad[4:] - broad[:-4])
    usual = _usual_step(upright, flat[..., -1])
    # An edge may lie a pixel off its place; widen before asking for one along the whole side.
    across = cv2.dilate(upright / (upright + usual), np.ones((1, 3), np.uint8))
    down = cv2.dilate(level / (level + usual), np.ones((3, 1), np.uint8))
    reach = round(0.9 * unit)
    shown = inside.astype(np.float32)
    constant = cv2.BORDER_CONSTANT
    sides_x = cv2.blur(across * shown, (1, reach), borderType=constant)
    sides_y = cv2.blur(down * shown, (reach, 1), borderType=constant)
    weight_x = cv2.blur(shown, (1, reach), borderType=constant)
    weight_y = cv2.blur(shown, (reach, 1), borderType=constant)
    match = np.zeros_like(upright)
    inner = slice(half, -half)
    sides, weights = [], []
    for along, weight, places in (
        (sides_x, weight_x, (inner, slice(None, -2 * half))),
        (sides_x, weight_x, (inner, slice(2 * half, None))),
        (sides_y, weight_y, (slice(None, -2 * half), inner)),
        (sides_y, weight_y, (slice(2 * half, None), inner)),
    ):
        weights.append(weight[places])
        sides.append(along[places] / np.maximum(weight[places], 0.3))
    total = weights[0] + weights[1] + weights[2] + weights[3]
    mean = sum(s * w for s, w in zip(sides, weights, strict=True)) / np.maximum(total, 1e-6)
    least = np.where(weights[0] > 0.5, sides[0], mean)
    for side, weight in zip(sides[1:], weights[1:], strict=True):
        least = np.minimum(least, np.where(weight > 0.5, side, mean))
    match[inner, inner] = np.where(total > 1.9, 0.6 * mean + 0.4 * least, 0)
    return match
