"""The camera's tone curve: from what a photo claims as linear light to what fell on the sensor."""

from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]
FloatArray = NDArray[np.floating[Any]]

_TABLE = 1024


@dataclass(frozen=True, eq=False)
class ToneCurve:
    """A monotone curve through knots in log light: ``log_seen`` (K,) rising, ``log_true`` (K,).

    Beyond the knots the curve goes on with slope 1, so that ratios stay what they are. Without
    knots it does nothing. ``doubt`` (K,) is one standard deviation of ``log_true``.
    """

    log_seen: Array
    log_true: Array
    doubt: Array

    @property
    def does_nothing(self) -> bool:
        """Whether the curve is the identity."""
        return self.log_seen.size == 0

    def undo(self, linear: FloatArray) -> FloatArray:
        """Return light (...) proportional to what fell on the sensor; negative values and NaN
        pass in proportion to the dark end."""
        if self.does_nothing:
            return linear
        nodes = np.exp(self.log_seen)
        gain = np.exp(self.log_true - self.log_seen)
        dense = np.linspace(0.0, 1.0, _TABLE) ** 2 * nodes[-1]
        table = np.interp(np.log(np.maximum(dense, 1e-9)), self.log_seen, np.log(gain))
        factor = np.interp(linear, dense, np.exp(table))
        return np.asarray(linear * factor, dtype=linear.dtype)


NO_TONE_CURVE = ToneCurve(np.zeros(0), np.zeros(0), np.zeros(0))
