"""The textile grey scale for change in colour: how far a substitute looks from the original.

Source: ISO 105-A02:1993, table of the nine-step scale: each grade is a pair of greys a stated
number of CIELAB units apart. The standard judges by eye, halfway between pairs going to the
nearer; here the boundary lies halfway between neighbouring steps, and a difference exactly on it
takes the better grade.

Valid for flat dyed samples; the steps are in CIELAB 1976 units.
"""

from itertools import pairwise
from typing import Final

import numpy as np
from numpy.typing import ArrayLike

from colorcore.color.delta_e_76 import delta_e_76

GREY_SCALE: Final[tuple[tuple[str, float], ...]] = (
    ("5", 0.0),
    ("4-5", 0.8),
    ("4", 1.7),
    ("3-4", 2.5),
    ("3", 3.4),
    ("2-3", 4.8),
    ("2", 6.8),
    ("1-2", 9.6),
    ("1", 13.6),
)
"""Grade and its step in CIELAB units, ISO 105-A02:1993."""

BOUNDARIES: Final[tuple[float, ...]] = tuple(
    (better + worse) / 2 for (_, better), (_, worse) in pairwise(GREY_SCALE)
)
"""Largest difference that still gets each grade but the last: 0.4, 1.25, 2.1, and so on."""


def grade_from_difference(difference: float) -> str:
    """Return the grade, '5' (none) to '1' (great), of a CIELAB 1976 difference.

    Raises
    ------
    ValueError
        If the difference is negative or not a number.
    """
    if not difference >= 0:
        raise ValueError(f"a colour difference is 0 or more, not {difference}")
    return GREY_SCALE[int(np.searchsorted(np.array(BOUNDARIES) + 1e-9, difference))][0]


def grade(lab1: ArrayLike, lab2: ArrayLike) -> str:
    """Return the grade of two CIELAB D65 colours (3,)."""
    return grade_from_difference(float(delta_e_76(lab1, lab2)))
