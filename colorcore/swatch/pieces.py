"""The values of the pieces that a square is cut into."""

from functools import lru_cache
from typing import Final

import cv2
import numpy as np
from numpy.typing import NDArray

from colorcore.color.spaces import lab_from_linear

_LEAST_SHOWN: Final = 0.5


def piece_values(
    linear: NDArray[np.float32],
    shows: NDArray[np.bool_],
    side_inches: float,
    piece_inches: float,
) -> NDArray[np.float64]:
    """Return reads-as CIELAB (K, 3) of pieces ``piece_inches`` a side, row by row, as they are
    cut from a square: as many as fit side by side, the cut-off strip left at right and bottom.

    ``linear`` (N, N, 3) is the square straightened, linear light undone from the photo's, of which
    ``shows`` (N, N) is True where it may count. A piece of which less than half does is left out,
    so K may be smaller than the number of pieces, or 0; the same when the square is smaller than a
    piece.
    """
    light = piece_light(linear, shows, side_inches, piece_inches)
    return np.asarray(lab_from_linear(light), dtype=np.float64)


def piece_light(
    linear: NDArray[np.float32],
    shows: NDArray[np.bool_],
    side_inches: float,
    piece_inches: float,
) -> NDArray[np.float64]:
    """Return the mean linear light (K, 3) of the same pieces."""
    along = int(side_inches / piece_inches + 1e-6)
    if along < 1:
        return np.zeros((0, 3))
    side = linear.shape[0]
    edges, within = _cuts(side, along, piece_inches / side_inches)
    counts = shows.view(np.uint8)
    light = cv2.copyTo(linear, counts).reshape(side, side * 3)
    rows = (within @ light).reshape(along, side, 3)
    sums = (within @ rows).astype(np.float64)
    shown = (within @ counts.astype(np.float32) @ within.T).astype(np.float64)
    top, bottom = edges[:-1, None], edges[1:, None]
    left, right = edges[None, :-1], edges[None, 1:]
    whole = (bottom - top) * (right - left)
    enough = (shown >= _LEAST_SHOWN * whole) & (shown > 0)
    return np.asarray(sums[enough] / shown[enough][:, None])


@lru_cache(maxsize=64)
def _cuts(side: int, along: int, share: float) -> tuple[NDArray[np.intp], NDArray[np.float32]]:
    """Where pieces of a share of the side end (along + 1,), in samples, and which samples each
    takes (along, side): sums over pieces are products with that from both sides."""
    edges = np.rint(np.arange(along + 1) * share * side).astype(np.intp)
    place = np.arange(side)
    within = ((place >= edges[:-1, None]) & (place < edges[1:, None])).astype(np.float32)
    edges.flags.writeable = within.flags.writeable = False
    return edges, within
