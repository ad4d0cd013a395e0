"""The table straightened: a plane in which every square has side 1 and stands upright."""

from dataclasses import dataclass, field

import cv2
import numpy as np
from numpy.typing import NDArray

from colorcore.ordering import median

# What a table's sizes grow by from the middle of the picture to its edge, as a share: the usual
# (30 degrees of tilt give 0.34), and how far the size of one square is known at best.
_USUAL_LEAN, _LEAST_NOISE = 0.2, 0.01
# How far the growth along the diagonal of one outline is known, as a logarithm.
_GROWTH_NOISE = 0.03


@dataclass(frozen=True, eq=False)
class Plane:
    """``to_plane`` (3, 3) maps pixels to the table in units of a square's side, ``to_picture``
    back."""

    to_plane: NDArray[np.float64] = field(repr=False)
    to_picture: NDArray[np.float64] = field(repr=False)

    def straighten(self, points: NDArray[np.float64]) -> NDArray[np.float64]:
        """Map points (..., 2) from the picture to the plane."""
        return project(self.to_plane, points)

    def picture(self, points: NDArray[np.float64]) -> NDArray[np.float64]:
        """Map points (..., 2) from the plane to the picture."""
        return project(self.to_picture, points)


def project(matrix: NDArray[np.float64], points: NDArray[np.float64]) -> NDArray[np.float64]:
    """Send points (..., 2) through a homography (3, 3)."""
    flat = np.asarray(points, dtype=np.float64).reshape(-1, 1, 2)
    if not len(flat):
        return np.zeros(np.shape(points))
    sent = np.asarray(cv2.perspectiveTransform(flat, matrix), dtype=np.float64)
    return sent.reshape(np.shape(points))


def fit_plane(
    quads: NDArray[np.float64], weight: NDArray[np.float64], size: tuple[int, int]
) -> Plane:
    """Fit the plane in which ``quads`` (N, 4, 2) are unit squares as well as can be.

    Under a homography with denominator w, linear in x and y, areas shrink by w cubed: the cube root
    of the squares' areas is linear in their place, which gives w; so does, less well, where the
    diagonals of each cross. What is left is affine. ``size`` is the picture's (height, width).
    """
    height, width = size
    shift = np.array([width / 2, height / 2])
    unit = max(height, width) / 2
    local = (quads - shift) / unit
    middle = local.mean(axis=1)
    x, y = local[..., 0], local[..., 1]
    area = np.abs(0.5 * np.sum(x * np.roll(y, -1, 1) - np.roll(x, -1, 1) * y, axis=1))
    root = np.cbrt(np.maximum(area, 1e-12))
    terms = np.column_stack([np.ones(len(middle)), middle])
    diagonal, growth = _growth(local)
    w = weight / max(float(weight.sum()), 1e-9)
    scale = float(median(root))
    solution = np.array([scale, 0.0, 0.0])
    for _ in range(6):
        off = root - terms @ solution
        robust = w / (1 + (off / (0.03 * scale)) ** 2)
        # What the sizes scatter by says how far they can be trusted to tell the lean: squares in
        # one row or column say little of the direction across it.
        noise = max(_LEAST_NOISE, 1.4826 * float(median(np.abs(off))) / scale)
        prior = (noise / _USUAL_LEAN) ** 2 / len(quads) if len(quads) > 2 else 1e-1
        normal = (terms * robust[:, None]).T @ terms + np.diag([1e-12, prior, prior])
        known = (terms * robust[:, None]).T @ root
        grown = root[:, None] * growth
        off_growth = grown - diagonal @ solution[1:]
        say = w[:, None] * (noise / _GROWTH_NOISE) ** 2 / (1 + (off_growth / (0.1 * scale)) ** 2)
        normal[1:, 1:] += np.einsum("nd,ndi,ndj->ij", say, diagonal, diagonal)
        known[1:] += np.einsum("nd,ndi->i", say * grown, diagonal)
        solution = np.linalg.solve(normal, known)
    lean = np.clip(solution[1:] / max(float(solution[0]), 1e-9), -0.6, 0.6)
    tilt = np.array([[1.0, 0, 0], [0, 1, 0], [lean[0], lean[1], 1]])
    # lean describes how sizes grow across the picture, so the inverse tilt evens them out.
    even = project(np.asarray(np.linalg.inv(_towards(tilt))), local)
    across = (even[:, 1] - even[:, 0] + even[:, 2] - even[:, 3]) / 2
    down = (even[:, 3] - even[:, 0] + even[:, 2] - even[:, 1]) / 2
    lengths = np.linalg.norm(across, axis=1), np.linalg.norm(down, axis=1)
    slender = abs(float(median(np.log(lengths[0] / np.maximum(lengths[1], 1e-9))))) > 0.3
    # Long bands come turned alike; a quarter turn would take length for width.
    u = (median(across), median(down)) if slender else _middle(across, down, w)
    frame = np.column_stack(u)
    affine = np.eye(3)
    affine[:2, :2] = np.linalg.inv(frame)
    normalise = np.array([[1, 0, -shift[0]], [0, 1, -shift[1]], [0, 0, unit]]) / unit
    matrix = affine @ np.linalg.inv(_towards(tilt)) @ normalise
    return Plane(matrix, np.asarray(np.linalg.inv(matrix)))


def _growth(
    quads: NDArray[np.float64],
) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Return the two diagonals (N, 2, 2) of ``quads`` (N, 4, 2), and by how much lengths grow along
    each (N, 2), as a logarithm: the middle of a square seen aslant lies nearer to its far end."""
    start, stop = quads[:, :2], quads[:, 2:]
    diagonal = stop - start
    one, two = diagonal[:, 0], diagonal[:, 1]
    turn = one[:, 0] * two[:, 1] - one[:, 1] * two[:, 0]
    turn = np.where(np.abs(turn) < 1e-12, 1e-12, turn)
    apart = start[:, 1] - start[:, 0]
    crossing = np.stack(
        [
            (apart[:, 0] * two[:, 1] - apart[:, 1] * two[:, 0]) / turn,
            (apart[:, 0] * one[:, 1] - apart[:, 1] * one[:, 0]) / turn,
        ],
        axis=1,
    )
    share = np.clip(crossing, 0.2, 0.8)
    return diagonal, np.log((1 - share) / share)


def _towards(tilt: NDArray[np.float64]) -> NDArray[np.float64]:
    """Return the homography from an even plane to a picture whose sizes grow as ``tilt`` says."""
    inverse = np.eye(3)
    inverse[2, :2] = -tilt[2, :2]
    return inverse


def _middle(
    across: NDArray[np.float64], down: NDArray[np.float64], weight: NDArray[np.float64]
) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Return the usual side vectors, after turning each square by quarter turns to agree."""
    angle = np.arctan2(across[:, 1], across[:, 0])
    turn = np.angle(np.sum(weight * np.exp(4j * angle))) / 4
    turn = (turn + np.pi / 4) % (np.pi / 2) - np.pi / 4
    quarter = np.round((angle - turn) / (np.pi / 2)).astype(int) % 4
    ring = np.stack([across, down, -across, -down], axis=1)
    k = np.arange(len(across))
    u, v = ring[k, (-quarter) % 4], ring[k, (1 - quarter) % 4]
    return median(u), median(v)
