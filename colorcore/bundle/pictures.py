"""Small pictures inside a bundle file, as data URIs (RFC 2397)."""

import base64
import binascii
from typing import Final

import cv2
import numpy as np
from numpy.typing import NDArray

JPEG_QUALITY: Final = 92
_JPEG: Final = "data:image/jpeg;base64,"
_PNG: Final = "data:image/png;base64,"
_FULL_COLOR: Final = 0x111111
"""Sampling factors 1x1 for all three components: 4:4:4."""
_MOST_SIDE: Final = 4096


def jpeg_uri(picture: NDArray[np.uint8]) -> str:
    """Return sRGB-coded pixels (N, M, 3) as a JPEG without metadata, colour at full detail."""
    options = [cv2.IMWRITE_JPEG_QUALITY, JPEG_QUALITY]
    options += [cv2.IMWRITE_JPEG_SAMPLING_FACTOR, _FULL_COLOR]
    _, data = cv2.imencode(".jpg", cv2.cvtColor(picture, cv2.COLOR_RGB2BGR), options)
    return _JPEG + base64.b64encode(data.tobytes()).decode("ascii")


def mask_uri(mask: NDArray[np.bool_]) -> str:
    """Return a mask (N, M) as a PNG of black (False) and white."""
    _, data = cv2.imencode(".png", mask.astype(np.uint8) * 255)
    return _PNG + base64.b64encode(data.tobytes()).decode("ascii")


def picture_from_uri(uri: str) -> NDArray[np.uint8]:
    """Return the pixels (N, M, 3) of a JPEG data URI.

    Raises
    ------
    ValueError
        If it is none, or its picture is damaged or unreasonably large.
    """
    decoded = _decode(uri, _JPEG, cv2.IMREAD_COLOR)
    return np.asarray(cv2.cvtColor(decoded, cv2.COLOR_BGR2RGB), dtype=np.uint8)


def mask_from_uri(uri: str) -> NDArray[np.bool_]:
    """Return the mask (N, M) of a PNG data URI.

    Raises
    ------
    ValueError
        If it is none, or its picture is damaged or unreasonably large.
    """
    return np.asarray(_decode(uri, _PNG, cv2.IMREAD_GRAYSCALE) >= 128, dtype=np.bool_)


def _decode(uri: str, prefix: str, mode: int) -> NDArray[np.uint8]:
    if not uri.startswith(prefix):
        raise ValueError(f"a text that begins with {prefix}")
    try:
        data = base64.b64decode(uri[len(prefix) :], validate=True)
    except binascii.Error as error:
        raise ValueError("base64 text") from error
    width, height = _size(data, prefix)
    if not 0 < width <= _MOST_SIDE or not 0 < height <= _MOST_SIDE:
        raise ValueError(f"a picture of 1 to {_MOST_SIDE} pixels a side")
    picture = cv2.imdecode(np.frombuffer(data, dtype=np.uint8), mode)
    if picture is None:
        raise ValueError("an undamaged picture")
    return np.asarray(picture, dtype=np.uint8)


def _size(data: bytes, prefix: str) -> tuple[int, int]:
    """Width and height from the header, before anything is unpacked; (0, 0) if there is none.

    PNG: IHDR is the first chunk (ISO/IEC 15948, 11.2.2). JPEG: a frame header SOFn
    (ITU-T T.81, B.2.2).
    """
    if prefix == _PNG:
        if data[:8] != b"\x89PNG\r\n\x1a\n" or len(data) < 24:
            return 0, 0
        return int.from_bytes(data[16:20], "big"), int.from_bytes(data[20:24], "big")
    at = 2
    while data[:2] == b"\xff\xd8" and at + 9 <= len(data) and data[at] == 0xFF:
        marker = data[at + 1]
        if 0xC0 <= marker <= 0xCF and marker not in (0xC4, 0xC8, 0xCC):
            return (
                int.from_bytes(data[at + 7 : at + 9], "big"),
                int.from_bytes(data[at + 5 : at + 7], "big"),
            )
        at += 2 + int.from_bytes(data[at + 2 : at + 4], "big")
    return 0, 0
