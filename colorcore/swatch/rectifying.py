"""Straighten one square of a photo in linear light."""

import math
from dataclasses import dataclass
from functools import lru_cache
from typing import Final

import cv2
import numpy as np
from numpy.typing import NDArray

from colorcore.geometry import Quad, mean_side
from colorcore.photo import Photo
from colorcore.swatch.blocks import BlocksAhead, window_of

PICTURE_SIDE: Final = 192
"""Samples along a side: 19 per inch of a 10-inch square, twice what an eye resolves at 6 ft."""
_MOST_PIXELS_A_SAMPLE: Final = 1.3
#: From pixels as the picture counts them to centres as OpenCV counts them, and back.
_TO_CENTRES: Final = np.array([[1, 0, -0.5], [0, 1, -0.5], [0, 0, 1]])
_FROM_CENTRES: Final = np.array([[1, 0, 0.5], [0, 1, 0.5], [0, 0, 1]])


@dataclass(frozen=True, eq=False)
class Patch:
    """A square straightened.

    ``linear`` float32 (N, N, 3), linear light as the camera gave it; ``shows`` bool (N, N), True
    where the photo shows this square; ``clipped`` bool (N, N), True where a channel is at the top
    of the camera's range or all are at its bottom.
    """

    linear: NDArray[np.float32]
    shows: NDArray[np.bool_]
    clipped: NDArray[np.bool_]


def picture_side(corners: Quad, most: int = PICTURE_SIDE) -> int:
    """Return how many samples a side of the straightened picture gets: ``most``, or fewer if the
    photo itself has fewer pixels there, but at least 16."""
    return min(max(math.floor(mean_side(corners)), 16), most)


def rectify(
    photo: Photo,
    corners: Quad,
    *,
    side: int,
    visible: NDArray[np.float64] | None = None,
    ahead: BlocksAhead | None = None,
) -> Patch:
    """Return the square inside ``corners`` (4, 2) as ``side`` x ``side`` samples.

    All in linear light, so that fine prints blend as light does: where the photo has more pixels
    than samples, whole blocks of pixels are averaged first, down to 0.85 pixels a sample at the
    least; if more than 1.3 are left then, the square is straightened at twice the size and
    averaged in twos. ``visible`` is a polygon (K, 2) outside which ``shows`` is False; ``ahead``
    may know the light of the photo's blocks already.
    """
    window = window_of(photo, corners, side)
    block = window.block
    fine = side * (2 if mean_side(corners) / side / block > _MOST_PIXELS_A_SAMPLE else 1)
    light = (ahead or BlocksAhead(photo)).light(window)
    moved = cv2.warpPerspective(
        light,
        _homography(fine, (corners - (window.x0, window.y0)) / block),
        (fine, fine),
        flags=cv2.INTER_LINEAR | cv2.WARP_INVERSE_MAP,
        borderMode=cv2.BORDER_REPLICATE,
    )
    straight = cv2.cvtColor(moved, cv2.COLOR_RGBA2RGB)
    if fine > side:
        straight = cv2.resize(straight, (side, side), interpolation=cv2.INTER_AREA)
    linear = np.asarray(straight, dtype=np.float32)
    return Patch(
        linear=linear,
        shows=_shows(photo, corners, side, visible),
        clipped=_clipped(linear, photo.scene_linear),
    )


@lru_cache(maxsize=256)
def inner_mask(side: int, margin: float) -> NDArray[np.bool_]:
    """Return bool (side, side), read-only: True further than ``margin`` (a share of the side) from
    the edge, which keeps out pinked teeth, fraying and a slightly wrong outline."""
    inset = round(side * margin)
    mask = np.zeros((side, side), dtype=np.bool_)
    mask[inset : side - inset, inset : side - inset] = True
    mask.flags.writeable = False
    return mask


def away_from_edges(shows: NDArray[np.bool_], margin: float) -> NDArray[np.bool_]:
    """Return where a square (N, N) shows and everything within ``margin`` (a share of the side)
    shows as well: beside what covers it lie that thing's own ragged edge and shadow."""
    reach = 2 * round(shows.shape[0] * margin) + 1
    kernel = np.ones((reach, reach), np.uint8)
    return np.asarray(cv2.erode(shows.view(np.uint8), kernel) > 0)


def _homography(side: int, corners: Quad) -> NDArray[np.float64]:
    """Matrix from sample centres as OpenCV counts them (0 = first centre) to crop centres."""
    square = np.array([[0, 0], [side, 0], [side, side], [0, side]], dtype=np.float32)
    straight = cv2.getPerspectiveTransform(square, corners.astype(np.float32))
    return np.asarray(_TO_CENTRES @ straight @ _FROM_CENTRES, dtype=np.float64)


def _shows(
    photo: Photo, corners: Quad, side: int, visible: NDArray[np.float64] | None
) -> NDArray[np.bool_]:
    """True where a sample's centre lies inside the photo and inside ``visible``."""
    columns, rows = corners.T.tolist()
    inside_photo = (
        min(*columns, *rows) >= 0 and max(columns) <= photo.width and max(rows) <= photo.height
    )
    if inside_photo and visible is None:
        return inner_mask(side, 0.0)
    matrix = _homography(side, corners)
    mask = np.ones((side, side), dtype=np.bool_)
    if visible is not None:
        polygon = np.asarray(visible, dtype=np.float64).reshape(-1, 1, 2) - 0.5
        moved = cv2.perspectiveTransform(polygon, np.linalg.inv(matrix))
        drawn = np.zeros((side, side), dtype=np.uint8)
        cv2.fillPoly(drawn, [np.rint(moved * 16).astype(np.int32)], color=1, shift=4)
        mask &= drawn.astype(np.bool_)
    if not inside_photo:
        grid = np.stack(np.meshgrid(np.arange(side), np.arange(side)), axis=-1)
        places = cv2.perspectiveTransform(grid.reshape(-1, 1, 2).astype(np.float64), matrix)
        places = places.reshape(side, side, 2) + 0.5
        mask &= np.all((places >= 0) & (places <= (photo.width, photo.height)), axis=-1)
    return mask


def _clipped(linear: NDArray[np.float32], scene_linear: bool) -> NDArray[np.bool_]:
    """True at the top of the range in any channel or at its bottom in all.

    One code below the top counts, for JPEG blurs what was clipped; a raw photo's range is known
    to end at 1.0 as well.
    """
    top = 0.999 if scene_linear else 0.985
    bottom = 0.0006
    if linear.max() < top and linear.min() > bottom:
        return np.zeros(linear.shape[:2], dtype=np.bool_)
    below_top = cv2.inRange(linear, (-np.inf,) * 3, (top,) * 3)
    at_bottom = cv2.inRange(linear, (-np.inf,) * 3, (bottom,) * 3)
    return np.asarray((below_top == 0) | (at_bottom > 0))
