"""CMC(l:c) colour difference, the textile trade's own.

Source: ISO 105-J03:2009; F. J. J. Clarke, R. McDonald and B. Rigg, 'Modification to the JPC79
colour-difference formula', Journal of the Society of Dyers and Colourists 100 (1984), 128-132.

Valid for small differences between flat dyed samples; the first colour is the standard, so the
formula is not symmetric. l:c is 2:1 for whether a match is acceptable, 1:1 for whether a
difference can be seen.
"""

import math
from typing import Final

import numpy as np
from numpy.typing import ArrayLike

from colorcore.color.planes import FloatArray, Planes, compare

_COS_35, _SIN_35 = math.cos(math.radians(35)), math.sin(math.radians(35))
_COS_168, _SIN_168 = math.cos(math.radians(168)), math.sin(math.radians(168))
_EDGE_164: Final = (math.cos(math.radians(164)), math.sin(math.radians(164)))
_EDGE_345: Final = (math.cos(math.radians(345)), math.sin(math.radians(345)))


def cmc(standard: ArrayLike, sample: ArrayLike, l: float = 2.0, c: float = 1.0) -> FloatArray:  # noqa: E741
    """Return the CMC(l:c) difference (...) of CIELAB D65 arrays (..., 3) that broadcast.

    NaN in gives NaN out. float32 stays float32.
    """

    def formula(one: Planes, two: Planes) -> FloatArray:
        return _formula(one, two, l, c)

    return compare(formula, standard, sample)


def _formula(one: Planes, two: Planes, weight_l: float, weight_c: float) -> FloatArray:
    l1, a1, b1 = one
    l2, a2, b2 = two
    square1 = a1 * a1 + b1 * b1
    c1 = np.sqrt(square1)
    inverse = 1 / np.where(c1 == 0, 1, c1)
    cos_h = np.where(c1 == 0, 1, a1 * inverse)
    sin_h = b1 * inverse

    # From 164 to 345 degrees, ends included: left of the one edge and right of the other, an arc
    # of 181 degrees, so either will do.
    low = (sin_h * _EDGE_164[0] - cos_h * _EDGE_164[1] >= 0) | (
        sin_h * _EDGE_345[0] - cos_h * _EDGE_345[1] <= 0
    )
    t = np.where(
        low,
        0.56 + 0.2 * np.abs(cos_h * _COS_168 - sin_h * _SIN_168),
        0.36 + 0.4 * np.abs(cos_h * _COS_35 - sin_h * _SIN_35),
    )
    fourth = square1 * square1
    f = np.sqrt(fourth / (fourth + 1900))

    scale_l = np.where(l1 < 16, 0.511, 0.040975 * l1 / (1 + 0.01765 * np.maximum(l1, 16)))
    scale_c = 0.0638 * c1 / (1 + 0.0131 * c1) + 0.638
    scale_h = scale_c * (f * t + (1 - f))

    delta_l = (l2 - l1) / (weight_l * scale_l)
    delta_c = np.sqrt(a2 * a2 + b2 * b2) - c1
    chroma_square = delta_c * delta_c
    a = a2 - a1
    b = b2 - b1
    hue_square = np.maximum(a * a + b * b - chroma_square, 0)
    return np.asarray(
        np.sqrt(
            delta_l * delta_l
            + chroma_square / (weight_c * scale_c) ** 2
            + hue_square / (scale_h * scale_h)
        )
    )
