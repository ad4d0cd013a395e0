"""Glare on a square: the mirror image of a lamp or window, soft and without colour of its own.

Glare adds the same white light to every ink, so it shows in what should be darkest: wherever one
looks closely at a print without glare, some dark ink is near, and where glare lies, nothing is
dark any more. Unlike a white flower it has no edge.
"""

from functools import cache, lru_cache
from typing import Any, Final

import cv2
import numpy as np
from numpy.typing import NDArray

from colorcore.ordering import median, quantiles

_GRID: Final = 48
_BLOCK: Final = 4
_LEAST_LIGHT: Final = 0.06
_LEAST_NEUTRAL: Final = 0.55
_LEAST_FIT: Final = 0.9
_LEFT_OUT_FROM: Final = 0.05
"""Added light from which a place is left out, as a share of the square's own darkest."""
_LEFT_OUT_LIMITS: Final = (0.002, 0.012)
_EDGE: Final = 0.15
_KEPT: Final = 0.15
"""Share of a square that is measured whatever lies on it: where the glare is weakest."""


def find_glare(linear: NDArray[np.float32], mask: NDArray[np.bool_]) -> NDArray[np.bool_] | None:
    """Return where glare lies in a straightened square (N, N), True for glare, or None.

    ``linear`` (N, N, 3) is linear light, 1 = white; only samples in ``mask`` (N, N) count.

    1. The darkest value of each channel in each small block; less its lower quartile over the
       square it is the light that the block has more than others.
    2. That must be strong, and equal in all channels, as white ink also is.
    3. It must follow a soft spot (a Gaussian), and no edge may run through it: a block on the
       spot's slope spans no more light and dark than the slope itself adds.
    """
    small = np.asarray(cv2.resize(linear, (_GRID, _GRID), interpolation=cv2.INTER_AREA))
    darkest, shown = _blocks(small), _shown_blocks(mask.tobytes(), len(mask))
    if np.count_nonzero(shown) < 0.5 * shown.size:
        return None
    base = quantiles(darkest[shown], 0.25)[0]
    more = np.where(shown[..., None], darkest - base, 0.0)
    white = more.min(axis=2)
    peak = float(white.max())
    if peak < _LEAST_LIGHT:
        return None
    top = np.unravel_index(int(np.argmax(white)), white.shape)
    if peak < _LEAST_NEUTRAL * float(more[top].max()):
        return None
    spot = _soft_spot(np.maximum(white, 0.0))
    if spot is None or _fit(white[shown], spot[shown]) < _LEAST_FIT:
        return None
    if _has_edge(_span(small), spot, shown):
        return None
    size = (linear.shape[1], linear.shape[0])
    added = cv2.resize(spot.astype(np.float32), size, interpolation=cv2.INTER_LINEAR)
    limit = float(np.clip(_LEFT_OUT_FROM * base.mean(), *_LEFT_OUT_LIMITS))
    limit = max(limit, float(np.quantile(np.asarray(added)[mask], _KEPT)))
    return np.asarray(added > limit)


def _blocks(small: NDArray[Any]) -> NDArray[np.float64]:
    """Darkest value (12, 12, 3) of each block of a reduced square (48, 48, 3)."""
    corner = np.ones((_BLOCK, _BLOCK), np.uint8)
    darkest = np.asarray(cv2.erode(small, corner, anchor=(0, 0)))
    return darkest[::_BLOCK, ::_BLOCK].astype(np.float64)


@lru_cache(maxsize=64)
def _shown_blocks(mask: bytes, side: int) -> NDArray[np.bool_]:
    """Which blocks (12, 12) of a square (side, side) lie in the mask: mostly the same."""
    shown = np.frombuffer(mask, dtype=np.uint8).reshape(side, side)
    whole = cv2.resize(shown * np.uint8(255), (_GRID, _GRID), interpolation=cv2.INTER_AREA)
    least = np.asarray(cv2.erode(whole, np.ones((_BLOCK, _BLOCK), np.uint8), anchor=(0, 0)))
    blocks = np.asarray(least[::_BLOCK, ::_BLOCK] > 252)
    blocks.flags.writeable = False
    return blocks


def _span(small: NDArray[Any]) -> NDArray[np.float64]:
    """How far light and dark lie apart (12, 12) in the channel where they do least, in each block
    and just around it."""
    around = np.ones((_BLOCK + 3, _BLOCK + 3), np.uint8)
    span = cv2.dilate(small, around) - cv2.erode(small, around)
    middle = slice(_BLOCK // 2, None, _BLOCK)
    return np.asarray(span[middle, middle].min(axis=2), dtype=np.float64)


def _soft_spot(white: NDArray[np.float64]) -> NDArray[np.float64] | None:
    """The Gaussian spot (R, C) with the moments of what stands out in ``white`` (R, C)."""
    terms = _terms(*white.shape)
    flat = white.ravel()
    total, *sums = (terms @ np.maximum(flat - 0.15 * flat.max(), 0.0)).tolist()
    x, y, xx, xy, yy = (each / total for each in sums)
    # A Gaussian cut off at 0.15 of its height keeps about half of its variance.
    wide, high, cross = 1.9 * (xx - x * x), 1.9 * (yy - y * y), 1.9 * (xy - x * y)
    size = wide * high - cross * cross
    if size < 0.05:
        return None
    a, b, c = high / size, -cross / size, wide / size
    constant = a * x * x + 2 * b * x * y + c * y * y
    far = np.array([constant, -2 * (a * x + b * y), -2 * (b * x + c * y), a, 2 * b, c]) @ terms
    shape = np.exp(-far / 2)
    return np.asarray(shape * (float(shape @ flat) / float(shape @ shape))).reshape(white.shape)


@cache
def _terms(rows: int, columns: int) -> NDArray[np.float64]:
    """1, x, y, x squared, xy and y squared (6, R * C) of the places of a grid, row by row."""
    y, x = np.divmod(np.arange(rows * columns, dtype=np.float64), columns)
    terms = np.stack([np.ones_like(x), x, y, x * x, x * y, y * y])
    terms.flags.writeable = False
    return terms


def _fit(white: NDArray[np.float64], spot: NDArray[np.float64]) -> float:
    """Share of the variance of ``white`` (K,) that the spot (K,) explains."""
    rest, off = white - spot, white - median(white)
    rest -= median(rest)
    return 1.0 - float(rest @ rest) / float(off @ off)


def _has_edge(
    span: NDArray[np.float64], spot: NDArray[np.float64], shown: NDArray[np.bool_]
) -> bool:
    """Whether blocks on the spot's slope span clearly more than print and slope explain."""
    down, across = np.gradient(spot)
    slope = np.hypot(down, across)
    steep = shown & (slope > 0.5 * slope.max())
    calm = shown & (spot < 0.1 * spot.max())
    if not steep.any() or not calm.any():
        return True
    print_span = float(np.percentile(span[calm], 90))
    extra = span[steep] - print_span - 1.6 * slope[steep]
    return float(np.percentile(extra, 85)) > _EDGE * float(spot.max())
