"""From the sharpened space, light divided out, to linear sRGB: fixed, or fitted to a chart.

Three mappings stand for choice: the fixed matrix, a matrix fitted to the chart, and the
root-polynomial of degree 2, each tested on the patches left out of its fit one by one. The
root-polynomial takes the matrix's place if it is better there. The fixed matrix is hard to beat
there, for the camera's maker fitted his own to these very patches; it stays only if the fit is so
much worse that the chart must be dirty or misread. On the 99 colours of CIE 224:2017, seen by two
published cameras in six lights, that leaves 1.6 CIEDE2000 in the median where strict choice leaves
1.75 and the fixed matrix 3.1.
"""

from dataclasses import dataclass
from typing import Any, Final

import numpy as np
from numpy.typing import NDArray

from colorcore.color.difference import ciede2000
from colorcore.color.spaces import lab_from_linear
from colorcore.light.sharpened import LINEAR_FROM_SHARP, SHARP_FROM_LINEAR

_MISREAD: Final = 1.5
_AS_PUBLISHED: Final = 0.4
"""Mean CIEDE2000 by which one chart differs from the published values anyway: 'BabelColor Average'
from the older edition by 0.44 in the median."""
_RIDGE: Final = 1e-5
"""A trace of the fixed matrix that keeps terms apart which few patches tell apart; ten times as
much takes the roots their use."""
_GREY_CHROMA: Final = 5.0
# The camera's colours, each set to its light by a matrix: root mean square of L*, a*, b* over inks,
# divided by 1 + C*/10, over six published cameras (Nikon D5100 and Sigma SD Merrill of Darrodi et
# al. 2015; Canon 600D, Nokia N900, Sony NEX-5N and Olympus E-PL2 of Jiang et al. 2013) under D65,
# D50, A, FL2, FL11 and a white LED. Single pairs lie between 0.2 (Canon, D65) and 2.7 (Sigma, A).
FLOOR: Final = (0.1, 0.5, 0.5)
PER_CHROMA: Final = (0.01, 0.05, 0.05)
_LEAST_PATCHES: Final = {"matrix": 9, "root-polynomial": 16}

Array = NDArray[np.float64]
FloatArray = NDArray[np.floating[Any]]


@dataclass(frozen=True, eq=False)
class CameraFit:
    """``matrix`` (3, T) takes the terms of a colour to linear sRGB: T = 3 the channels
    themselves, T = 6 the root-polynomial terms of degree 2. ``residual`` (3,) the root mean
    square of L*, a*, b* over left-out patches, ``difference`` their median CIEDE2000 and
    ``mean_difference`` its mean, or None for the fixed matrix untested."""

    matrix: Array
    name: str = "fixed"
    residual: Array | None = None
    difference: float | None = None
    mean_difference: float = np.inf

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
    fixed = _tested("fixed", LINEAR_FROM_SHARP, sharp @ LINEAR_FROM_SHARP.T, known)
    rich = np.asarray(root_terms(sharp), dtype=np.float64)
    fitted = None
    for name, terms in (("matrix", sharp), ("root-polynomial", rich)):
        if len(sharp) < _LEAST_PATCHES[name]:
            break
        matrix, left_out = _least_squares(terms, known)
        fit = _tested(name, matrix, left_out, known)
        if fitted is None or fit.mean_difference < fitted.mean_difference:
            fitted = fit
    if fitted is None or fixed.mean_difference < _AS_PUBLISHED:
        return fixed
    if fitted.mean_difference > _MISREAD * fixed.mean_difference:
        return fixed
    return fitted


def chart_misfit(sharp: Array, known: Array) -> float:
    """How badly published values (N, 3) suit patches (N, 3), a common level and tint allowed for:
    the sum of squares of what is left of L*, a*, b*, over the variances that cameras set to their
    light leave. Neutrals weigh most, for no camera mixes them."""
    lab = np.asarray(lab_from_linear(known), dtype=np.float64)
    chroma = np.hypot(lab[:, 1], lab[:, 2])
    grey = chroma < _GREY_CHROMA
    white = known @ SHARP_FROM_LINEAR.T
    grey &= (sharp > 0).all(axis=1) & (white > 0).all(axis=1)
    gain = np.exp(np.mean(np.log(white[grey] / sharp[grey]), axis=0)) if grey.any() else 1.0
    off = np.asarray(lab_from_linear(sharp * gain @ LINEAR_FROM_SHARP.T)) - lab
    sd = np.array([0.5, *FLOOR[1:]]) + np.multiply.outer(chroma, PER_CHROMA)
    return float(np.sum((off / sd) ** 2))


def _least_squares(terms: Array, known: Array) -> tuple[Array, Array]:
    """Matrix (3, T) that fits best, each patch weighed as lightness weighs its error; and what a
    fit without it makes of each patch (N, 3), from its leverage (Cook and Weisberg 1982, Residuals
    and Influence in Regression, eq. 2.1.9)."""
    weight = 1 / np.cbrt(np.maximum(known.mean(axis=1), 0.01)) ** 2
    start = np.zeros((3, terms.shape[1]))
    start[:, :3] = LINEAR_FROM_SHARP
    weighted = terms * weight[:, None]
    normal = weighted.T @ weighted
    ridge = _RIDGE * np.trace(normal) / len(normal) * np.eye(len(normal))
    spread = np.linalg.solve(normal + ridge, weighted.T)
    left = (known - terms @ start.T) * weight[:, None]
    matrix = start + (spread @ left).T
    leverage = np.einsum("nt,tn->n", weighted, spread)
    off = (known - terms @ matrix.T) / np.maximum(1 - leverage, 1e-6)[:, None]
    return np.asarray(matrix), np.asarray(known - off)


def _tested(name: str, matrix: Array, predicted: Array, known: Array) -> CameraFit:
    off = np.asarray(lab_from_linear(predicted)) - np.asarray(lab_from_linear(known))
    residual = np.sqrt(np.median(off**2, axis=0)) * 1.4826
    difference = ciede2000(lab_from_linear(predicted), lab_from_linear(known))
    middle, mean = float(np.median(difference)), float(np.mean(difference))
    return CameraFit(matrix, name, residual, middle, mean)
