"""Pictures as text: what a self-contained page carries inside."""

import base64

import cv2
import numpy as np
from numpy.typing import NDArray

from colorcore.color.spaces import coded8_from_linear, linear_from_coded, linear_from_lab

Picture = NDArray[np.uint8]


def shrink(picture: Picture, max_side: int) -> Picture:
    """Return ``picture`` (h, w, 3) sRGB-coded, area-averaged in linear light so that neither side
    is longer than ``max_side``; as it is if it already fits."""
    height, width = picture.shape[:2]
    scale = max_side / max(height, width)
    if scale >= 1:
        return picture
    size = (max(1, round(width * scale)), max(1, round(height * scale)))
    linear = np.asarray(linear_from_coded(picture), dtype=np.float32)
    return coded8_from_linear(cv2.resize(linear, size, interpolation=cv2.INTER_AREA))


def jpeg_uri(picture: Picture, quality: int = 86) -> str:
    """Return an sRGB-coded picture (h, w, 3) as a ``data:`` address holding a bare JPEG: pixels
    only, nothing of what a camera writes beside them."""
    done, data = cv2.imencode(
        ".jpg", cv2.cvtColor(picture, cv2.COLOR_RGB2BGR), [cv2.IMWRITE_JPEG_QUALITY, quality]
    )
    if not done:
        raise ValueError(f"no JPEG can be made of a picture of shape {picture.shape}")
    return "data:image/jpeg;base64," + base64.b64encode(data.tobytes()).decode("ascii")


def css_color(lab: tuple[float, float, float]) -> str:
    """Return the nearest sRGB colour of a CIELAB (D65) colour as ``#rrggbb``."""
    red, green, blue = coded8_from_linear(linear_from_lab(np.asarray(lab)))
    return f"#{red:02x}{green:02x}{blue:02x}"
