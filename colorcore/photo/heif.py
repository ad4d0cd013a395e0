"""HEIC and HEIF, which phones make by default."""

import io
from pathlib import Path
from typing import Any

import numpy as np

from colorcore.photo.decoding import Decoded, refuse_huge, rgb_array, rgb_encoding
from colorcore.photo.encoding import (
    Encoding,
    UnusableProfileError,
    coded_points_encoding,
    srgb_encoding,
)


def decode_heif(data: bytes, path: Path) -> Decoded:
    """Return upright pixels of a HEIC or HEIF file; of several pictures the main one.

    Raises
    ------
    PhotoError
        If it has too many pixels.
    """
    import pillow_heif

    picture = pillow_heif.open_heif(io.BytesIO(data), convert_hdr_to_8bit=True)
    refuse_huge(picture.size, path)
    notes: tuple[str, ...] = ()
    info = dict(picture.info)
    if info.get("icc_profile"):
        encoding, notes = rgb_encoding(info, 8)
    else:
        encoding, notes = _heif_code_points(info.get("nclx_profile"))
    # The library turns the picture upright while decoding, as the file's own boxes say.
    if picture.mode == "RGB":
        # By way of Pillow the picture would be copied three times.
        return np.ascontiguousarray(np.asarray(picture)), encoding, notes
    pixels, alpha_notes = rgb_array(picture.to_pillow())
    return pixels, encoding, notes + alpha_notes


def _heif_code_points(profile: dict[str, Any] | None) -> tuple[Encoding, tuple[str, ...]]:
    if not profile:
        return srgb_encoding(8), ()
    # 2 means 'unspecified' in ITU-T H.273.
    primaries = int(profile.get("color_primaries", 1))
    curve = int(profile.get("transfer_characteristics", 13))
    primaries, curve = (1 if primaries == 2 else primaries), (13 if curve == 2 else curve)
    try:
        return coded_points_encoding(8, primaries, curve), ()
    except UnusableProfileError:
        note = "its high-dynamic-range colours are read as ordinary ones: turn HDR off and retake"
        return srgb_encoding(8), (note,)
