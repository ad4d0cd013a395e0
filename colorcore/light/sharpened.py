"""The space in which light is divided out, channel by channel."""

from typing import Final

import numpy as np
from numpy.typing import NDArray

from colorcore.color.spaces import XYZ_FROM_LINEAR

Array = NDArray[np.float64]

_BRADFORD: Final = np.array(
    [[0.8951, 0.2664, -0.1614], [-0.7502, 1.7135, 0.0367], [0.0389, -0.0685, 1.0296]]
)


def _sharpened() -> Array:
    matrix = _BRADFORD @ XYZ_FROM_LINEAR
    return np.asarray(matrix / matrix.sum(axis=1, keepdims=True))


SHARP_FROM_LINEAR: Final = _sharpened()
"""Linear sRGB to the sharpened cone space in which light is divided out (Bradford; Lam 1985),
rows summing to 1 so that white stays white. Channel by channel division is truer there than in
sRGB, whose channels mix the camera's own."""
LINEAR_FROM_SHARP: Final = np.asarray(np.linalg.inv(SHARP_FROM_LINEAR), dtype=np.float64)
