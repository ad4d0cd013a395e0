"""The fabric that the pieces are sewn to."""

from dataclasses import dataclass, field
from typing import Final

import numpy as np
from numpy.typing import NDArray

_UNSURE_FROM: Final = 4.0
"""One standard deviation of L*: with more, what is soft could as well hold or melt (the limits of
these lie 10 L* apart)."""


@dataclass(frozen=True, eq=False)
class Background:
    """The fabric that the pieces are sewn to.

    ``label`` as the maker gave it; ``lab`` its reads-as CIELAB and ``lab_sd``; ``picture`` an
    sRGB-coded uint8 array (N, M, 3) at ``pixels_per_inch`` for a print, None for a plain colour.
    Where it lies among squares, ``photo`` is their photo's place in the bundle and ``order_sd`` one
    standard deviation of L* against them, for what moves the whole photo cancels; else None.
    """

    label: str
    lab: tuple[float, float, float]
    lab_sd: tuple[float, float, float] = (0.0, 0.0, 0.0)
    picture: NDArray[np.uint8] | None = field(default=None, repr=False)
    pixels_per_inch: float = 0.0
    order_sd: float | None = None
    photo: int | None = None

    @property
    def doubt(self) -> str:
        """What to do where its value is known so little that what holds beside it is a guess; ""
        where it is known well enough, or lies in one light with the squares."""
        if self.order_sd is not None or self.lab_sd[0] < _UNSURE_FROM:
            return ""
        return (
            f"The value of the background, {self.label}, is known to ± {self.lab_sd[0]:.0f} L* "
            "alone, so what holds and what melts beside it may be another: photograph its cloth "
            "with white paper and a grey card beside it, and look at it by eye."
        )
