"""The camera's tone curve: from what a photo claims as linear light to what fell on the sensor.

The curve is described in lightness, where cameras' curves are gentle: with u = L*(seen) and
0..100 between black and the coded white::

    L*(true) = u - sum_k a_k sin(k pi u / 100) - a_0 (1 - u / 100)^6

k = 1 lifts or lowers the middle, k = 2 adds contrast, higher k refine, a_0 lifts the black alone.
The weights a have a prior (cameras differ, but not wildly) and are learned from neutrals of known
reflectance; what remains open stays in their covariance. Without evidence nothing is undone and
the prior is the doubt.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property
from typing import Any, Final

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]
FloatArray = NDArray[np.floating[Any]]

_TABLE: Final = 1024
_FINE: Final = 65536
_PRIOR_SD: Final = (1.5, 10.5, 3.5, 1.5, 1.0, 0.7)
"""Of a_0 and a_1 to a_5, in L* units (common practice, no source)."""
_GENTLEST: Final = 0.15
"""The least slope of L*(true) over L*(seen): the curve stays monotone."""


@dataclass(frozen=True, eq=False)
class ToneCurve:
    """``weights`` (6,): a_0, then a_1 to a_5; ``covariance`` (6, 6) of them."""

    weights: Array
    covariance: Array

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
        true = u - _shapes(u) @ self.weights
        # A fitted curve may turn back where nothing held it: it goes on gently instead.
        rise = np.maximum(np.diff(true), _GENTLEST * np.diff(u))
        true = 100 - np.append(np.cumsum(rise[::-1])[::-1], 0.0)
        return nodes, np.maximum(luminance(np.maximum(true, 0.0)), 0.0)

    @cached_property
    def _fine(self) -> NDArray[np.float32]:
        """True light for even steps of the root of seen light, 0 to 1."""
        nodes, values = self._table
        return np.interp(np.linspace(0, 1, _FINE) ** 2, nodes, values).astype(np.float32)

    def log_slopes(self, linear: FloatArray) -> Array:
        """Change (..., 6) of the log of true light by each weight, for seen light (...)."""
        u = lightness(np.clip(np.asarray(linear, np.float64), 1e-4, 1.0))
        true = np.maximum(u - _shapes(u) @ self.weights, 1.0)
        per_lightness = np.where(true > 8, 3 / (true + 16), 1 / true)
        return np.asarray(-_shapes(u) * per_lightness[..., None])


def prior_covariance() -> Array:
    """Covariance (6, 6) of the weights of an unknown camera."""
    return np.diag(np.square(_PRIOR_SD))


UNKNOWN_TONE: Final = ToneCurve(np.zeros(6), prior_covariance())
LINEAR_TONE: Final = ToneCurve(np.zeros(6), np.zeros((6, 6)))


def lightness(linear: FloatArray) -> Array:
    """L* of luminance 0 to 1 (CIE 015:2018)."""
    y = np.asarray(linear, dtype=np.float64)
    return np.where(y > (6 / 29) ** 3, 116 * np.cbrt(y) - 16, y * (29 / 3) ** 3)


def luminance(value: FloatArray) -> Array:
    """Luminance of L*."""
    f = (np.asarray(value, dtype=np.float64) + 16) / 116
    return np.where(f > 6 / 29, f**3, (f - 4 / 29) * 3 * (6 / 29) ** 2)


def _shapes(u: Array) -> Array:
    """The six shapes (..., 6) at lightness u (...)."""
    k = np.arange(1, 6)
    waves = np.sin(np.pi * u[..., None] * k / 100)
    return np.concatenate([((1 - u / 100) ** 6)[..., None], waves], axis=-1)


@dataclass(frozen=True, eq=False)
class Neutral:
    """A neutral of known reflectance: ``seen`` (3,) linear light; ``log_true`` the log of its
    reflectance plus the log of the light there relative to the other neutrals; ``sd`` of that."""

    seen: Array
    log_true: Array
    sd: float


def learn_tone(neutrals: Sequence[Neutral]) -> ToneCurve:
    """Return the curve that makes neutrals keep their ratios, given the prior.

    Each channel has its own level, so a tint of the light does not matter. Gauss-Newton; fewer
    than two usable neutrals teach nothing.
    """
    usable = [n for n in neutrals if np.all(n.seen > 5e-4) and np.median(n.seen) < 0.985]
    if len(usable) < 2:
        return UNKNOWN_TONE
    seen = np.stack([n.seen for n in usable])
    target = np.stack([np.broadcast_to(n.log_true, 3) for n in usable])
    # The channels of one neutral share its doubt: three readings are worth one and a half.
    sd = np.repeat([n.sd * np.sqrt(2) for n in usable], 3)
    level = np.tile(np.eye(3), (len(usable), 1))
    prior = np.zeros((9, 9))
    prior[:6, :6] = np.linalg.inv(prior_covariance())
    prior[6:, 6:] = np.eye(3) * 1e-6
    state = np.zeros(9)
    for _ in range(12):
        curve = ToneCurve(state[:6], prior_covariance())
        model = np.log(np.maximum(curve.undo(seen), 1e-5)) - state[6:]
        slopes = np.hstack([curve.log_slopes(seen).reshape(-1, 6), -level]) / sd[:, None]
        left = (target - model).reshape(-1) / sd
        normal = slopes.T @ slopes + prior
        step = np.linalg.solve(normal, slopes.T @ left - prior @ state)
        state = state + np.clip(step, -6, 6)
        if np.max(np.abs(step)) < 1e-4:
            break
    covariance = np.asarray(np.linalg.inv(normal)[:6, :6], dtype=np.float64)
    return ToneCurve(state[:6], covariance)
