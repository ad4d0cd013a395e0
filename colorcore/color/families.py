"""Hue families: the coarse sorting by which a stack is called even or lopsided.

The hue angle is OKLab's, and the limits are those between the families of
``colorcore.color.naming``, some of them joined. Below a chroma of 8 CIELAB units a fabric counts
as neutral (common practice, no source).
"""

import math
from typing import Final

import numpy as np
from numpy.typing import ArrayLike

from colorcore.color.oklab import oklab_from_xyz
from colorcore.color.spaces import xyz_from_lab

NEUTRAL_BELOW: Final = 8.0
_STARTS: Final = (
    (12.0, "red"),
    (42.0, "orange and brown"),
    (78.0, "yellow"),
    (113.0, "green"),
    (177.0, "aqua"),
    (216.0, "blue"),
    (286.0, "purple"),
    (336.0, "pink"),
)
HUE_FAMILIES: Final = ("neutral", *(name for _, name in _STARTS))


def hue_family(lab: ArrayLike) -> str:
    """Return one of ``HUE_FAMILIES`` for CIELAB D65 (3,)."""
    color = np.asarray(lab, dtype=np.float64)
    if math.hypot(color[1], color[2]) < NEUTRAL_BELOW:
        return "neutral"
    ok = oklab_from_xyz(xyz_from_lab(color))
    hue = math.degrees(math.atan2(float(ok[2]), float(ok[1]))) % 360
    return next((name for start, name in reversed(_STARTS) if hue >= start), _STARTS[-1][1])
