"""Which camera took a picture, as its file tells."""

import io
import warnings
from typing import Any, Final

# Tags of Exif (CIPA DC-008-2019, tables 3 and 8).
_MAKE: Final = 0x010F
_MODEL: Final = 0x0110
_EXIF: Final = 0x8769
_EXPOSURE_TIME: Final = 0x829A
_LONGEST: Final = 80


def camera_of(data: bytes) -> str:
    """Return maker and model of the camera behind the bytes of a picture file, or an empty string.

    A file counts as photographed if it tells an exposure time, which scanners and drawing programs
    do not write. HEIC without a word about it is ``a phone``: hardly anything else makes it.
    """
    try:
        with warnings.catch_warnings():
            warnings.simplefilter("ignore")
            return _camera(data)
    except Exception:
        # Damaged metadata must not cost the picture.
        return ""


def _camera(data: bytes) -> str:
    from PIL import Image

    is_heif = data[4:8] == b"ftyp"
    exif: Any = Image.Exif()
    if is_heif:
        import pillow_heif

        exif.load(pillow_heif.open_heif(io.BytesIO(data)).info.get("exif") or b"")
    else:
        exif = Image.open(io.BytesIO(data), formats=("JPEG", "PNG", "TIFF", "WEBP")).getexif()
    if _EXPOSURE_TIME not in exif.get_ifd(_EXIF):
        return "a phone" if is_heif else ""
    words = [str(exif.get(tag, "")).strip("\0 ") for tag in (_MAKE, _MODEL)]
    return " ".join(word for word in words if word)[:_LONGEST] or "a camera"
