"""Fabrics beside each other at one scale, on the background that they would be sewn to."""

from collections.abc import Sequence
from typing import Final

import cv2
import numpy as np
from numpy.typing import NDArray

from colorcore.color.spaces import coded8_from_linear, linear_from_coded, linear_from_lab
from colorcore.contrast import Background
from colorcore.sheets.pictures import Picture
from colorcore.swatch import Swatch

PIXELS_PER_INCH: Final = 40
MOST_INCHES: Final = 6.0
RIM: Final = 0.04
"""Share of a side at each edge that is not shown: pinked teeth, and table between them."""
_MAT_INCHES: Final = 0.5
_RULER_INCHES: Final = 0.3


def side_by_side(
    swatches: Sequence[Swatch],
    background: Background,
    *,
    pixels_per_inch: int = PIXELS_PER_INCH,
    most_inches: float = MOST_INCHES,
) -> Picture:
    """Return a picture (h, w, 3), sRGB-coded, of fabrics side by side with the background around
    and between them and a ruler beneath, its ticks an inch apart.

    Of every fabric the same number of inches is shown, as many as the smallest has and at most
    ``most_inches``, so that prints compare at their true relative scale.
    """
    inches = min(most_inches, *(s.side_inches * (1 - 2 * RIM) for s in swatches))
    side = max(8, round(inches * pixels_per_inch))
    mat = round(_MAT_INCHES * pixels_per_inch)
    ruler = round(_RULER_INCHES * pixels_per_inch)
    height = side + 2 * mat
    width = len(swatches) * (side + mat) + mat
    linear = _ground(background, height, width, pixels_per_inch)
    for n, swatch in enumerate(swatches):
        left = mat + n * (side + mat)
        linear[mat : mat + side, left : left + side] = cloth(swatch, inches, side)
    picture = np.full((height + ruler, width, 3), 255, np.uint8)
    picture[:height] = coded8_from_linear(linear)
    for inch in range(int(width / pixels_per_inch) + 1):
        x = min(round(inch * pixels_per_inch), width - 1)
        picture[height : height + (ruler if inch % 5 == 0 else ruler // 2), x : x + 2] = 0
    return picture


def cloth(swatch: Swatch, inches: float, side: int) -> NDArray[np.float32]:
    """Return the middle ``inches`` of a swatch as linear light (side, side, 3)."""
    picture = swatch.picture
    whole = picture.shape[0]
    wanted = float(np.clip(inches / swatch.side_inches, 0.02, 1.0)) * whole
    margin = (whole - wanted) / 2
    scale = side / wanted
    linear = np.asarray(linear_from_coded(picture), dtype=np.float32)
    if scale < 1:
        start, stop = round(margin), round(whole - margin)
        return np.asarray(
            cv2.resize(linear[start:stop, start:stop], (side, side), interpolation=cv2.INTER_AREA)
        )
    matrix = np.array([[scale, 0, (0.5 - margin) * scale - 0.5]] * 2, dtype=np.float64)
    matrix[1] = (0, scale, matrix[0, 2])
    return np.asarray(
        cv2.warpAffine(
            linear, matrix, (side, side), flags=cv2.INTER_LINEAR, borderMode=cv2.BORDER_REFLECT
        )
    )


def _ground(
    background: Background, height: int, width: int, pixels_per_inch: int
) -> NDArray[np.float32]:
    """The background fabric (height, width, 3), its print at scale and repeated by mirroring."""
    plain = np.asarray(linear_from_lab(np.array(background.lab)), dtype=np.float32)
    if background.picture is None or background.pixels_per_inch <= 0:
        return np.broadcast_to(plain, (height, width, 3)).copy()
    linear = np.asarray(linear_from_coded(background.picture), dtype=np.float32)
    scale = pixels_per_inch / background.pixels_per_inch
    size = (max(1, round(linear.shape[1] * scale)), max(1, round(linear.shape[0] * scale)))
    way = cv2.INTER_AREA if scale < 1 else cv2.INTER_LINEAR
    printed = np.asarray(cv2.resize(linear, size, interpolation=way))
    rows, columns = _mirrored(printed.shape[0], height), _mirrored(printed.shape[1], width)
    return np.asarray(printed[rows[:, None], columns[None]])


def _mirrored(length: int, wanted: int) -> NDArray[np.intp]:
    there_and_back = np.concatenate([np.arange(length), np.arange(length)[::-1]])
    return np.resize(there_and_back, wanted).astype(np.intp)
