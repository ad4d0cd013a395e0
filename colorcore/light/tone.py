"""The camera's tone curve: from what a photo claims as linear light to what fell on the sensor.

The curve is described in lightness, where cameras' curves are gentle: with v = L*(seen) / 100, from
black to the coded white::

    L*(true) = 100 v - a_0 (1 - v)^6 - sum_k a_k sin(k pi v) - a_5 v^6        k = 1 to 4

k = 1 lifts or lowers the middle, k = 2 adds contrast, higher k refine; a_0 lifts the black alone,
and a_5 is the shoulder, which holds back the brightest light. The level is a matter of exposure and
is set by the references: the coded white counts as 1 after undoing as before. These six shapes
follow the published curves of cameras (``responses``) within 0.4 L* units (root mean square).
"""

from dataclasses import dataclass
from functools import cached_property
from typing import Any, Final

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]
FloatArray = NDArray[np.floating[Any]]

WEIGHTS: Final = 6
_TABLE: Final = 1024
_FINE: Final = 65536
_GENTLEST: Final = 0.1
"""The least slope of L*(true) over L*(seen): the curve stays monotone. Published curves (see
``responses``) are gentlest in their shadows, with a slope of 0.2."""


@dataclass(frozen=True, eq=False)
class ToneCurve:
    """``weights`` (6,): a_0, then a_1 to a_5; ``covariance`` (6, 6) of them; ``bent`` how probable
    it is, 0 to 1, that the camera had a curve at all."""

    weights: Array
    covariance: Array
    bent: float = 0.0

    @property
    def does_nothing(self) -> bool:
        """Whether the curve is the identity."""
        return not bool(np.any(self.weights))

    def undo(self, linear: FloatArray) -> FloatArray:
        """Return light (...), same dtype, proportional to what fell on the sensor; 1 stays 1.
        Negative values and those above 1 pass as they are; so does NaN."""
        if self.does_nothing:
            return linear
        if linear.dtype == np.float32 and linear.ndim == 3 and linear.size:
            return self._undo_picture(linear)
        nodes, values = self._table
        within = np.interp(linear, nodes, values)
        outside = (linear < 0) | (linear > 1)
        return np.asarray(np.where(outside, linear, within), dtype=linear.dtype)

    def _undo_picture(self, linear: FloatArray) -> FloatArray:
        """The same for a picture, read off a table so fine that nothing need be interpolated."""
        inside = np.sqrt(np.clip(linear, 0, 1))
        inside *= np.float32(_FINE - 1)
        inside += np.float32(0.5)
        outside = not (linear.min() >= 0 and linear.max() <= 1)
        if outside:
            np.nan_to_num(inside, copy=False)
        light = self._fine.take(inside.astype(np.uint16))
        if outside:
            np.copyto(light, linear, where=~((linear >= 0) & (linear <= 1)))
        return light

    def seen(self, true: FloatArray) -> Array:
        """Return the light (...) that a photo claims for true light (...): the way back."""
        nodes, values = self._table
        light = np.asarray(true, dtype=np.float64)
        return np.where(light > 1, light, np.interp(light, values, nodes))

    @cached_property
    def _table(self) -> tuple[Array, Array]:
        nodes = np.linspace(0.0, 1.0, _TABLE) ** 2
        u = lightness(nodes)
        true = u - shapes_at(u) @ self.weights
        # A fitted curve may turn back where nothing held it: it goes on gently instead.
        rise = np.maximum(np.diff(true), _GENTLEST * np.diff(u))
        true = true[-1] - np.append(np.cumsum(rise[::-1])[::-1], 0.0)
        values = np.maximum(luminance(np.maximum(true, 0.0)), 0.0)
        return nodes, values / values[-1]

    @cached_property
    def _fine(self) -> NDArray[np.float32]:
        """True light for even steps of the root of seen light, 0 to 1."""
        nodes, values = self._table
        return np.interp(np.linspace(0, 1, _FINE) ** 2, nodes, values).astype(np.float32)

    def misfit_variance(self, value: FloatArray) -> Array:
        """Variance of L* at measured L* ``value`` (...) that no weights account for: published
        cameras, each corrected by its own grey ramp, keep 0.6 L* units, below the ramp more."""
        return np.asarray(self.bent * (0.6 + 0.12 * np.maximum(0.0, 25 - value)) ** 2)

    def log_slopes(self, linear: FloatArray) -> Array:
        """Change (..., 6) of the log of true light by each weight, for seen light (...), but for
        what is common to all levels."""
        u = lightness(np.clip(np.asarray(linear, np.float64), 1e-4, 1.0))
        true = np.maximum(u - shapes_at(u) @ self.weights, 1.0)
        per_lightness = np.where(true > 8, 3 / (true + 16), 1 / true)
        return np.asarray(-shapes_at(u) * per_lightness[..., None])


def lightness(linear: FloatArray) -> Array:
    """L* of luminance 0 to 1 (CIE 015:2018)."""
    y = np.asarray(linear, dtype=np.float64)
    return np.where(y > (6 / 29) ** 3, 116 * np.cbrt(y) - 16, y * (29 / 3) ** 3)


def luminance(value: FloatArray) -> Array:
    """Luminance of L*."""
    f = (np.asarray(value, dtype=np.float64) + 16) / 116
    return np.where(f > 6 / 29, f**3, (f - 4 / 29) * 3 * (6 / 29) ** 2)


def shapes_at(u: Array) -> Array:
    """The six shapes (..., 6) at lightness u (...)."""
    v = u[..., None] / 100
    waves = np.sin(np.pi * v * np.arange(1, WEIGHTS - 1))
    return np.concatenate([(1 - v) ** 6, waves, v**6], axis=-1)
