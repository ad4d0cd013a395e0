"""How the light changes across each square, told by the square's own cloth.

Whatever is printed on it, a piece of cloth is about as light on its left as on its right: what
differs from one side to the other is mostly the light. One square says little, for prints and
folds differ too; forty say more than planks or a carpet do, and as much across planks as along
them. Each square's noise is what its cells differ by beyond an even slope; where a print makes
them differ, its ground alone may differ less.
"""

from dataclasses import dataclass
from functools import lru_cache
from typing import Final

import numpy as np
from numpy.typing import NDArray

from colorcore.finding.model import Finding
from colorcore.light.places import grid_over, outlines_of
from colorcore.light.sampling import SmallPicture
from colorcore.light.sharpened import sharp_log
from colorcore.light.tone import ToneCurve

Array = NDArray[np.float64]

_CELLS: Final = 4
"""Cells along a square's side: enough to tell an even slope from a large print."""
_POINTS: Final = 12
"""Pixels along a cell's side that are looked at."""
_INNER: Final = 0.88
"""Share of a square's side that counts: cut edges curl, towards the light and away from it."""
_LEAST_SIDE: Final = 24
_USABLE: Final = 0.95
_LEAST_LIGHT: Final = 0.01
"""Linear light below which stray light in the lens evens out what a cloth shows of a slope."""

_PARTS: Final = ((0.05, 0.35), (0.65, 0.95))
"""Shares of a cell's pixels, from its darkest, that may stand for it."""
_STEADIER: Final = 0.85
"""How much less a part must differ from an even slope than the whole."""
_BRIGHT: Final = np.array([0.25, 0.5, 0.25], np.float32)


@dataclass(frozen=True, eq=False)
class Across:
    """Means of the cells of squares: ``xy`` (N, M, 2) picture pixels, ``linear`` (N, M, 3)."""

    xy: Array
    linear: Array


@dataclass(frozen=True, eq=False)
class Slopes:
    """How log light changes over squares along both sides: ``xy`` (N, M, 2) places of
    cells, ``seen`` (N, 2, 3) slopes by sharpened channel, as ``slope_along`` has them, and
    ``left`` (N, L, 3) what the cells differ by beyond them."""

    xy: Array
    seen: Array
    left: Array


NO_SLOPES: Final = Slopes(np.zeros((0, 16, 2)), np.zeros((0, 2, 3)), np.zeros((0, 13, 3)))


def read_across(small: SmallPicture, finding: Finding) -> Across:
    """Return the cells of all squares that show whole and within the camera's scale."""
    outlines = outlines_of(finding)
    whole = np.array([square.visible is None for square in finding.squares], bool)
    outlines = outlines[whole]
    steps = _CELLS * _POINTS
    height, width = small.linear.shape[:2]
    places = np.floor(_grid_within(outlines, steps) * small.scale).astype(np.intp)
    columns, rows = np.moveaxis(places, -1, 0)
    clear = (columns.min(axis=(1, 2)) >= 0) & (columns.max(axis=(1, 2)) < width)
    clear &= (rows.min(axis=(1, 2)) >= 0) & (rows.max(axis=(1, 2)) < height)
    clear &= np.ptp(columns, axis=(1, 2)) >= _LEAST_SIDE
    at = rows[clear] * width + columns[clear]
    usable = small.usable.ravel().take(at).mean(axis=(1, 2)) > _USABLE
    if not usable.any():
        return Across(np.zeros((0, _CELLS**2, 2)), np.zeros((0, _CELLS**2, 3)))
    at = at[usable].reshape(-1, _CELLS, _POINTS, _CELLS, _POINTS).swapaxes(2, 3)
    at = at.reshape(-1, _CELLS**2, _POINTS**2)
    linear = _steadiest(small.linear.reshape(-1, 3).take(at, axis=0))
    bright = linear.min(axis=(1, 2)) > _LEAST_LIGHT
    middles = _grid_within(outlines[clear][usable], _CELLS).reshape(-1, _CELLS**2, 2)
    return Across(middles[bright], linear[bright])


def _steadiest(pixels: NDArray[np.float32]) -> Array:
    """Linear light (N, M, 3) of the cells of squares by their pixels (N, M, P, 3): by all of them,
    or by their darker or lighter part if that differs less from an even slope, as the ground of a
    print does from which its motifs come and go."""
    bright = pixels @ _BRIGHT
    order = np.sort(bright, axis=2)
    weights = [np.ones_like(bright)]
    for low, high in _PARTS:
        first, last = (order[:, :, round(q * order.shape[2]), None] for q in (low, high))
        weights.append(((bright >= first) & (bright <= last)).astype(np.float32))
    # As products of matrices these sums take a third of the time.
    sums = [(weight[:, :, None] @ pixels)[:, :, 0] for weight in weights]
    every = np.stack([s / w.sum(axis=2, keepdims=True) for s, w in zip(sums, weights, strict=True)])
    rest = np.log(np.maximum(every @ _BRIGHT, _LEAST_LIGHT)) @ _contrasts()[1].T
    uneven = np.square(rest).mean(axis=2)
    uneven[0] *= _STEADIER**2
    uneven[every.min(axis=(2, 3)) <= _LEAST_LIGHT] = np.inf
    chosen = np.argmin(uneven, axis=0)
    return np.asarray(every[chosen, np.arange(len(pixels))], dtype=np.float64)


def _grid_within(outlines: Array, steps: int) -> Array:
    """Middles (N, steps, steps, 2) of the cells of squares (N, 4, 2), their rims left out."""
    middle = outlines.mean(axis=1, keepdims=True)
    return grid_over(middle + _INNER * (1 - 1 / steps) * (outlines - middle), steps)


@lru_cache(maxsize=1)
def _contrasts() -> tuple[Array, Array]:
    """Orthonormal slopes (2, M) along both sides of a square's cells, and a base (M - 3, M) of all
    that is neither level nor slope."""
    t = np.arange(_CELLS) - (_CELLS - 1) / 2
    u, v = np.meshgrid(t, t)
    plane = np.stack([np.ones(u.size), u.ravel(), v.ravel()], axis=1)
    whole = np.linalg.qr(plane, mode="complete")[0].T
    return np.asarray(whole[1:3]), np.asarray(whole[3:])


def slopes_of(across: Across, tone: ToneCurve) -> Slopes:
    """Return what squares tell of the light's slope, the tone curve undone."""
    even, rest = _contrasts()
    log = sharp_log(across.linear, tone)
    return Slopes(across.xy, np.asarray(even @ log), np.asarray(rest @ log))


def slope_along(values: Array) -> Array:
    """Slopes (N, 2, P) of functions whose values (N, M, P) at the cells are given."""
    return np.asarray(_contrasts()[0] @ values)
