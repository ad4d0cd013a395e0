"""How grainy a surface is: what its cells differ by, however it is lit."""

from typing import Final

import numpy as np
from numpy.typing import NDArray

from colorcore.light.sampling import neighbours

LEAST_PAIRS: Final = 20
"""Neighbours that it takes to tell what cells differ by."""


def usual_grain(bins: NDArray[np.intp], lightness: NDArray[np.float64]) -> float:
    """Standard deviation of what differs from cell to cell in log lightness (S,), the cells lying
    in columns and rows ``bins`` (S, 2). Patches of light that fill half the picture differ only
    along their edges, and so do not pass for grain."""
    if not lightness.size:
        return 0.0
    ones, others = neighbours(bins, np.ones(lightness.size, np.bool_))
    whole = float(np.median(np.abs(lightness)))
    if ones.size <= LEAST_PAIRS:
        return 1.4826 * whole
    return 1.4826 * min(whole, float(np.median(np.abs(lightness[ones] - lightness[others]))) / 1.41)
