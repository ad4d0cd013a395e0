"""The CIELAB 1976 difference, ISO/CIE 11664-4:2019 eq 9: the straight distance.

The unit in which the textile grey scale is defined. Valid for flat samples; it overstates
differences between saturated colours.
"""

import numpy as np
from numpy.typing import ArrayLike

from colorcore.color.planes import FloatArray, Planes, compare


def delta_e_76(lab1: ArrayLike, lab2: ArrayLike) -> FloatArray:
    """Return the distance (...) of CIELAB arrays (..., 3) that broadcast."""
    return compare(_formula, lab1, lab2)


def _formula(one: Planes, two: Planes) -> FloatArray:
    total = (two[0] - one[0]) ** 2
    total += (two[1] - one[1]) ** 2
    total += (two[2] - one[2]) ** 2
    return np.asarray(np.sqrt(total))
