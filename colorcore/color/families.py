"""Hue families: the coarse sorting by which a stack is called even or lopsided.

The hue angle is OKLab's, and the limits are those between the families of
``colorcore.color.naming``, some of them joined. Below a chroma of 8 CIELAB units a fabric counts
as neutral (common practice, no source).
"""

from typing import Final

import numpy as np
from numpy.typing import ArrayLike, NDArray

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
    return HUE_FAMILIES[int(hue_families(lab))]


def hue_families(lab: ArrayLike) -> NDArray[np.int64]:
    """Return places in ``HUE_FAMILIES`` (...) for CIELAB D65 (..., 3)."""
    color = np.asarray(lab, dtype=np.float64)
    ok = oklab_from_xyz(xyz_from_lab(color))
    hue = np.degrees(np.arctan2(ok[..., 2], ok[..., 1])) % 360
    # What comes before the first family belongs to the last.
    place = (np.searchsorted([start for start, _ in _STARTS], hue, side="right") - 1) % len(_STARTS)
    neutral = np.hypot(color[..., 1], color[..., 2]) < NEUTRAL_BELOW
    return np.where(neutral, 0, place + 1).astype(np.int64)
