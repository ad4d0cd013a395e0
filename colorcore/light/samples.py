"""What the light over the table is fitted to."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from colorcore.light.slopes import NO_SLOPES, Slopes

Array = NDArray[np.float64]


@dataclass(frozen=True, eq=False)
class Samples:
    """What the field is fitted to.

    ``xy`` (S, 2) in picture pixels; ``log`` (S, 3) natural logarithm of sharpened light; ``sd``
    (S,) its noise; ``material`` (S,) index of what was seen there; ``known`` (K, 3) the log of
    each material's true light, NaN where unknown; ``grained`` (K,) whether it may have grain, and
    ``bins`` (S, 2) column and row of the sample's cell, along and across the grain. ``slopes`` are
    what squares tell of how the light changes.
    """

    xy: Array
    log: Array
    sd: Array
    material: NDArray[np.intp]
    known: Array
    grained: NDArray[np.bool_]
    bins: NDArray[np.intp]
    slopes: Slopes = NO_SLOPES

    def __len__(self) -> int:
        return int(self.xy.shape[0])

    @property
    def known_materials(self) -> NDArray[np.bool_]:
        """Which materials (K,) have a known colour."""
        return np.asarray(np.isfinite(self.known).all(axis=1), dtype=np.bool_)

    @property
    def have_level(self) -> bool:
        """Whether any sample is of a known material."""
        return bool(len(self)) and bool(self.known_materials[self.material].any())
