"""From the sharpened space, light divided out, to linear sRGB: fixed, or fitted to a chart."""

from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]
FloatArray = NDArray[np.floating[Any]]


@dataclass(frozen=True, eq=False)
class CameraFit:
    """``matrix`` (3, T) takes the terms of a colour to linear sRGB: T = 3 the channels
    themselves, T = 6 the root-polynomial terms of degree 2."""

    matrix: Array
    name: str = "fixed"

    def convert(self, sharp: FloatArray) -> FloatArray:
        """Return linear sRGB (..., 3) for sharpened, light-free values (..., 3), same dtype."""
        import cv2

        values = sharp if self.matrix.shape[1] == 3 else root_terms(sharp)
        if values.dtype == np.float32 and values.ndim == 3:
            return np.asarray(cv2.transform(values, self.matrix.astype(np.float32)))
        return np.asarray(values @ self.matrix.T)


def root_terms(values: FloatArray) -> FloatArray:
    """Return the six root-polynomial terms of degree 2 (..., 6): r, g, b, sqrt(rg), sqrt(gb),
    sqrt(rb). They scale with exposure as the channels do.

    Source: Finlayson, Mackiewicz and Hurlbert (2015), Color Correction Using Root-Polynomial
    Regression, IEEE Transactions on Image Processing 24(5), eq. 9. Negative channels count as 0
    under the root.
    """
    r, g, b = np.moveaxis(np.maximum(values, 0), -1, 0)
    roots = np.stack([np.sqrt(r * g), np.sqrt(g * b), np.sqrt(r * b)], axis=-1)
    return np.concatenate([values, roots.astype(values.dtype)], axis=-1)
