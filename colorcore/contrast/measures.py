"""How far a colour stands off from the one beside it, in numbers and in one word."""

import math
from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import ArrayLike, NDArray

HOLDS: Final = "holds"
SOFT: Final = "soft"
MELTS: Final = "melts"
VERDICTS: Final = (HOLDS, SOFT, MELTS)


@dataclass(frozen=True, kw_only=True)
class Thresholds:
    """Where contrast ends, as difference in L* between neighbours.

    ``holds`` from this difference on a piece holds; below ``melts`` it melts; between them it is
    soft. The defaults of 20 and 10 are common practice, no source. ``viewing_inches`` is the
    distance from which pieces are judged: 72 in, across a small room (common practice, no source).

    Raises
    ------
    ValueError
        If not 0 <= melts <= holds <= 100, or the distance is not above 0 and finite.
    """

    holds: float = 20.0
    melts: float = 10.0
    viewing_inches: float = 72.0

    def __post_init__(self) -> None:
        if not 0 <= self.melts <= self.holds <= 100:
            raise ValueError(
                "thresholds must satisfy 0 <= melts <= holds <= 100, "
                f"not melts {self.melts}, holds {self.holds}"
            )
        if not (math.isfinite(self.viewing_inches) and self.viewing_inches > 0):
            raise ValueError(f"viewing_inches must be above 0, not {self.viewing_inches}")

    def verdict(self, delta_l: float) -> str:
        """Return ``holds``, ``soft`` or ``melts`` for a difference in L* of either sign."""
        step = abs(delta_l)
        return HOLDS if step >= self.holds else MELTS if step < self.melts else SOFT


@dataclass(frozen=True, eq=False)
class Contrast:
    """Differences of (...) pairs of colours.

    ``delta_l`` first less second in L* units, signed; ``delta_e`` CIEDE2000; ``ratio`` the
    luminance ratio of WCAG 2.2, 1 to 21. All are defined for flat samples without texture: of
    prints they compare what the prints read as.
    """

    delta_l: NDArray[np.float64]
    delta_e: NDArray[np.float64]
    ratio: NDArray[np.float64]


def contrast(first: ArrayLike, second: ArrayLike) -> Contrast:
    """Return how CIELAB colours (..., 3) differ from others that they broadcast with."""
    from colorcore.color.difference import ciede2000, luminance_ratio

    one = np.asarray(first, dtype=np.float64)
    two = np.asarray(second, dtype=np.float64)
    return Contrast(
        delta_l=one[..., 0] - two[..., 0],
        delta_e=np.asarray(ciede2000(one, two), dtype=np.float64),
        ratio=np.asarray(luminance_ratio(one, two), dtype=np.float64),
    )
