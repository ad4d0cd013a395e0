"""Parts of a mask that hang together."""

import cv2
import numpy as np
from numpy.typing import NDArray


def largest_part(mask: NDArray[np.bool_], across: int) -> NDArray[np.bool_]:
    """Return the largest part (h, w) of a mask (h, w) that hangs together over lines narrower than
    ``across`` pixels, an odd number, and those lines with it; all False if the mask is empty."""
    brush = np.ones((across, across), np.uint8)
    closed = cv2.morphologyEx(mask.view(np.uint8), cv2.MORPH_CLOSE, brush)
    count, parts, stats, _ = cv2.connectedComponentsWithStats(closed, connectivity=8)
    if count < 2:
        return np.zeros(mask.shape, bool)
    return np.asarray(parts == 1 + int(np.argmax(stats[1:, cv2.CC_STAT_AREA])))
