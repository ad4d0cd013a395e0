"""Places within a square as it lies in the picture."""

from functools import lru_cache
from typing import Any

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]
FloatArray = NDArray[np.floating[Any]]


def grid_over(corners: FloatArray, steps: int) -> Array:
    """Return places (steps, steps, 2) in the picture, spread evenly over a square seen as the
    outline ``corners`` (4, 2), from edge to edge."""
    import cv2

    unit = np.array([[0, 0], [1, 0], [1, 1], [0, 1]], np.float32)
    matrix = cv2.getPerspectiveTransform(unit, np.asarray(corners, np.float32))
    moved = cv2.perspectiveTransform(_unit_grid(steps), np.asarray(matrix, np.float64))
    return np.asarray(moved, dtype=np.float64).reshape(steps, steps, 2)


@lru_cache(maxsize=16)
def _unit_grid(steps: int) -> Array:
    """Places (steps * steps, 1, 2) spread evenly over a square of side 1."""
    t = np.linspace(0, 1, steps)
    points = np.stack(np.meshgrid(t, t), axis=-1).reshape(-1, 1, 2)
    points.flags.writeable = False
    return points
