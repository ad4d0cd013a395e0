"""What can be a grey card, of the plain grey things that nobody pointed to."""

from typing import Any, Final

import numpy as np
from numpy.typing import NDArray

from colorcore.color.spaces import LUMINANCE
from colorcore.finding.model import Finding
from colorcore.geometry import mean_side
from colorcore.light.paper import Sheet, stands_out
from colorcore.light.places import box_round
from colorcore.light.sampling import SmallPicture
from colorcore.photo import Photo

_LONGEST_CARD: Final = 2.2
"""Longer to shorter side: cards have 1.25 to 1.6 (common practice, no source), and a tilt."""
_FROM_EDGE: Final = 0.005
_CARD_STANDS_OUT: Final = 0.16
"""Log light between a card and what lies around it: floor tiles differ by 0.13 from one another, 32
of 34 cards by 0.18 and more."""
_STRAIGHTENED: Final = (32, 240)
_RULED: Final = 2.4
"""Pixels a side at which a card is looked at for lines; how many times what noise lets them the
means of its rows and columns differ if it is ruled: 1.0 to 2.0 of 47 cards and sheets, 2.9 to 8.7
of 16 gridded rulers (rendered, 2 and 8 megapixels)."""


def is_card(photo: Photo, small: SmallPicture, finding: Finding, sheet: Sheet) -> bool:
    """Whether a plain grey thing that nobody pointed to can be a card: no sleeve, no tile of the
    table, no clear ruler. One that is none bends all values, one that is passed over costs little.
    """
    return (
        _is_shaped_like_one(sheet, small.size)
        and stands_out(small, finding, sheet, _CARD_STANDS_OUT)
        and not is_ruled(photo, sheet.outline)
    )


def _is_shaped_like_one(sheet: Sheet, size: tuple[int, int]) -> bool:
    """Whether a region is hardly longer than cards are, and lies wholly in the picture: a grey
    sleeve is long, and reaches in from beyond the edge."""
    import cv2

    _, sides, _ = cv2.minAreaRect(sheet.outline.astype(np.float32))
    if max(sides) > _LONGEST_CARD * min(sides):
        return False
    inside = _FROM_EDGE * max(size)
    low, high = sheet.outline.min(axis=0), sheet.outline.max(axis=0)
    return bool((low > inside).all() and (high < np.array(size) - inside).all())


def is_ruled(photo: Photo, outline: NDArray[np.floating[Any]]) -> bool:
    """Whether lines run both ways across what lies in an outline (K, 2), as on a gridded ruler:
    the means of its rows and columns differ by more than the noise of as many pixels lets them."""
    import cv2

    box = box_round(outline)
    side = int(np.clip(mean_side(box), *_STRAIGHTENED))
    low = np.maximum(np.floor(box.min(axis=0)).astype(int) - 1, 0)
    high = np.ceil(box.max(axis=0)).astype(int) + 1
    linear = photo.linear(int(low[0]), int(low[1]), int(high[0]), int(high[1]))
    square = np.array([[0, 0], [side, 0], [side, side], [0, side]], np.float32)
    matrix = cv2.getPerspectiveTransform((box - low).astype(np.float32), square)
    luminance = cv2.transform(linear, LUMINANCE[None].astype(np.float32))
    straight = np.asarray(cv2.warpPerspective(luminance, matrix, (side, side)))
    rim = side // 8
    log = np.log(np.maximum(straight[rim:-rim, rim:-rim], 1e-4))
    log -= cv2.GaussianBlur(log, (0, 0), side / 16)
    noise = max(float(log.std()), 1e-6) / np.sqrt(len(log))
    across, down = (float(log.mean(axis=axis).std()) for axis in (0, 1))
    return bool(min(across, down) > _RULED * noise)
