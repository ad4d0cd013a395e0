"""Relative luminance and its ratio between two colours.

Source: W3C, Web Content Accessibility Guidelines 2.2, definitions of 'relative luminance' and
'contrast ratio'. Made for text on self-luminous screens; for cloth it is a second opinion. The
0.05 stands for stray light, so black on black is 1 and white on black is 21.
"""

import numpy as np
from numpy.typing import ArrayLike

from colorcore.color.planes import FloatArray
from colorcore.color.spaces import xyz_from_lab


def relative_luminance(lab: ArrayLike) -> FloatArray:
    """Return Y (...), 0 to 1 for black to white, of CIELAB D65 (..., 3)."""
    return xyz_from_lab(lab)[..., 1]


def luminance_ratio(lab1: ArrayLike, lab2: ArrayLike) -> FloatArray:
    """Return the ratio (...), 1 to 21 between black and white, of CIELAB D65 arrays (..., 3).

    Symmetric; the arrays broadcast. Luminance below black counts as black.
    """
    first = np.maximum(relative_luminance(lab1), 0) + 0.05
    second = np.maximum(relative_luminance(lab2), 0) + 0.05
    return np.asarray(np.maximum(first, second) / np.minimum(first, second))
