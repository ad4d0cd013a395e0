"""Places within a square as it lies in the picture."""

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
    t = np.linspace(0, 1, steps)
    u, v = np.meshgrid(t, t)
    points = np.stack([u, v], axis=-1).reshape(-1, 1, 2)
    moved = cv2.perspectiveTransform(points, np.asarray(matrix, np.float64))
    return np.asarray(moved, dtype=np.float64).reshape(steps, steps, 2)
