"""From the sharpened space, light divided out, to linear sRGB: fixed, or fitted to a chart.

Three mappings stand for choice: the fixed matrix, a matrix fitted to the chart, and the
root-polynomial of degree 2, each tested on the patches left out of its fit one by one. The simpler
one stays unless the richer is clearly better there, so more terms never make it worse.
"""

from dataclasses import dataclass
from typing import Any, Final

import numpy as np
from numpy.typing import NDArray

from colorcore.color.difference import ciede2000
from colorcore.color.spaces import lab_from_linear
from colorcore.light.sharpened import LINEAR_FROM_SHARP

_CLEARLY: Final = 0.95
_LEAST_PATCHES: Final = {"matrix": 9, "root-polynomial": 16}

Array = NDArray[np.float64]
FloatArray = NDArray[np.floating[Any]]


@dataclass(frozen=True, eq=False)
class CameraFit:
    """``matrix`` (3, T) takes the terms of a colour to linear sRGB: T = 3 the channels
    themselves, T = 6 the root-polynomial terms of degree 2. ``residual`` (3,) the root mean
    square of L*, a*, b* over left-out patches and ``difference`` their median CIEDE2000, or None
    for the fixed matrix untested."""

    matrix: Array
    name: str = "fixed"
    residual: Array | None = None
    difference: float | None = None

    def convert(self, sharp: FloatArray) -> FloatArray:
        """Return linear sRGB (..., 3) for sharpened, light-free values (..., 3), same dtype."""
        import cv2

        if sharp.dtype == np.float32 and sharp.ndim == 3:
            values = sharp if self.matrix.shape[1] == 3 else _root_terms_of_picture(sharp)
            return np.asarray(cv2.transform(values, self.matrix.astype(np.float32)))
        values = sharp if self.matrix.shape[1] == 3 else root_terms(sharp)
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


def _root_terms_of_picture(values: FloatArray) -> FloatArray:
    """The same for a picture (N, M, 3) of float32."""
    import cv2

    planes = cv2.split(values)
    # The root of a product is the product of roots where nothing is below 0.
    r, g, b = (cv2.sqrt(np.maximum(plane, 0)) for plane in planes)
    return np.asarray(cv2.merge([*planes, r * g, g * b, r * b]))


FIXED: Final = CameraFit(LINEAR_FROM_SHARP)


def fit_camera(sharp: Array, known: Array) -> CameraFit:
    """Return the mapping that suits a chart best.

    ``sharp`` (N, 3) are its patches with light and tone curve undone, ``known`` (N, 3) their
    published linear light.
    """
    chosen = _tested("fixed", LINEAR_FROM_SHARP, sharp @ LINEAR_FROM_SHARP.T, known)
    rich = np.asarray(root_terms(sharp), dtype=np.float64)
    for name, terms in (("matrix", sharp), ("root-polynomial", rich)):
        if len(sharp) < _LEAST_PATCHES[name]:
            break
        matrix, left_out = _least_squares(terms, known)
        fit = _tested(name, matrix, left_out, known)
        if _mean_difference(left_out, known) < _CLEARLY * chosen[1]:
            chosen = fit
    return chosen[0]


def _least_squares(terms: Array, known: Array) -> tuple[Array, Array]:
    """Matrix (3, T) that fits best, each patch weighed as lightness weighs its error; and what a
    fit without it makes of each patch (N, 3), from its leverage (Cook and Weisberg 1982, Residuals
    and Influence in Regression, eq. 2.1.9)."""
    weight = 1 / np.cbrt(np.maximum(known.mean(axis=1), 0.01)) ** 2
    # A trace of the fixed matrix keeps terms apart that few patches tell apart.
    start = np.zeros((3, terms.shape[1]))
    start[:, :3] = LINEAR_FROM_SHARP
    weighted = terms * weight[:, None]
    normal = weighted.T @ weighted
    ridge = 1e-4 * np.trace(normal) / len(normal) * np.eye(len(normal))
    spread = np.linalg.solve(normal + ridge, weighted.T)
    left = (known - terms @ start.T) * weight[:, None]
    matrix = start + (spread @ left).T
    leverage = np.einsum("nt,tn->n", weighted, spread)
    off = (known - terms @ matrix.T) / np.maximum(1 - leverage, 1e-6)[:, None]
    return np.asarray(matrix), np.asarray(known - off)


def _tested(name: str, matrix: Array, predicted: Array, known: Array) -> tuple[CameraFit, float]:
    off = np.asarray(lab_from_linear(predicted)) - np.asarray(lab_from_linear(known))
    residual = np.sqrt(np.median(off**2, axis=0)) * 1.4826
    difference = ciede2000(lab_from_linear(predicted), lab_from_linear(known))
    fit = CameraFit(matrix, name, residual, float(np.median(difference)))
    return fit, float(np.mean(difference))


def _mean_difference(predicted: Array, known: Array) -> float:
    return float(np.mean(ciede2000(lab_from_linear(predicted), lab_from_linear(known))))
