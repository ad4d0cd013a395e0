"""The space in which light is divided out, channel by channel."""

from typing import Final

import numpy as np
from numpy.typing import NDArray

from colorcore.color.spaces import BRADFORD, XYZ_FROM_LINEAR
from colorcore.light.tone import ToneCurve

Array = NDArray[np.float64]

_LEAST_LIGHT: Final = 1e-4


def _sharpened() -> Array:
    matrix = BRADFORD @ XYZ_FROM_LINEAR
    return np.asarray(matrix / matrix.sum(axis=1, keepdims=True))


SHARP_FROM_LINEAR: Final = _sharpened()
"""Linear sRGB to the sharpened cone space in which light is divided out (Bradford; Lam 1985),
rows summing to 1 so that white stays white. Channel by channel division is truer there than in
sRGB, whose channels mix the camera's own."""
LINEAR_FROM_SHARP: Final = np.asarray(np.linalg.inv(SHARP_FROM_LINEAR), dtype=np.float64)


LIGHTNESS: Final = np.array([0.25, 0.65, 0.10])
"""Weights (3,) of the sharpened channels that make up lightness."""


def sharp_log(linear: Array, tone: ToneCurve) -> Array:
    """Log (..., 3) of sharpened channels of linear light (..., 3), the tone curve undone."""
    sharp = tone.undo(linear) @ SHARP_FROM_LINEAR.T
    return np.asarray(np.log(np.maximum(sharp, _LEAST_LIGHT)))
