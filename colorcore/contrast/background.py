"""The fabric that the pieces are sewn to."""

from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray


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
