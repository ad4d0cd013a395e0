"""Camera raw through rawpy: linear light, so that white paper is reference enough."""

import io
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from colorcore.errors import PhotoError
from colorcore.photo.encoding import Encoding, linear_encoding


def decode_raw(data: bytes, path: Path) -> tuple[NDArray[np.uint16], Encoding, tuple[str, ...]]:
    """Return pixels (H, W, 3) uint16 in linear light, their encoding, and notes.

    The camera's own white balance and its matrix to sRGB primaries are applied, no curve and no
    brightening.

    Raises
    ------
    PhotoError
        If rawpy is not installed, or the file is not a raw picture that it can read.
    """
    try:
        import rawpy
    except ImportError as error:
        raise PhotoError(
            f"{path}: camera raw needs the extra 'raw' (pip install 'bundlestacks[raw]'); "
            "or give a JPEG."
        ) from error
    try:
        with rawpy.imread(io.BytesIO(data)) as raw:
            pixels = raw.postprocess(
                gamma=(1, 1),
                no_auto_bright=True,
                use_camera_wb=True,
                output_color=rawpy.ColorSpace.sRGB,
                output_bps=16,
            )
    except rawpy.LibRawError as error:
        raise PhotoError(
            f"{path}: neither a picture nor a camera raw file that can be opened; "
            "give a JPEG, PNG, TIFF, WebP or HEIC picture."
        ) from error
    return np.asarray(pixels, dtype=np.uint16), linear_encoding(16), ()
