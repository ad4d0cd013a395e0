"""Pictures as text: what a self-contained page carries inside."""

import base64

import cv2
import numpy as np
from numpy.typing import NDArray

from colorcore.color.spaces import LUMINANCE, coded8_from_linear, linear_from_coded
from colorcore.errors import OutputError

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


def encode_picture(picture: Picture, ending: str, quality: int = 90) -> bytes:
    """Return an sRGB-coded picture (h, w, 3) as the content of a bare JPEG or PNG file: pixels
    only, nothing of what a camera writes beside them.

    Raises
    ------
    OutputError
        If ``ending`` is neither ``.jpg``, ``.jpeg`` nor ``.png``.
    """
    kind = ending.lower()
    if kind not in (".jpg", ".jpeg", ".png"):
        raise OutputError(f"A picture is written as .jpg or .png, not as {ending or 'nothing'!r}.")
    options = [] if kind == ".png" else [cv2.IMWRITE_JPEG_QUALITY, quality]
    _, data = cv2.imencode(kind, cv2.cvtColor(picture, cv2.COLOR_RGB2BGR), options)
    return data.tobytes()


def jpeg_uri(picture: Picture | bytes, quality: int = 86) -> str:
    """Return an sRGB-coded picture (h, w, 3), or the content of a JPEG file, as a ``data:``
    address holding a bare JPEG."""
    data = picture if isinstance(picture, bytes) else encode_picture(picture, ".jpg", quality)
    return "data:image/jpeg;base64," + base64.b64encode(data).decode("ascii")


def value_only(picture: Picture) -> Picture:
    """Return an sRGB-coded picture (h, w, 3) as greys of the same luminance, pixel by pixel (the
    luminance row of IEC 61966-2-1): what is left when colour is taken away."""
    linear = np.asarray(linear_from_coded(picture), dtype=np.float32)
    luminance = linear @ LUMINANCE.astype(np.float32)
    return coded8_from_linear(np.repeat(luminance[..., None], 3, axis=2))
