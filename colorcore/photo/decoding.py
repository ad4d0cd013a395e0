"""Decoders: from the bytes of one kind of file to upright coded pixels and their encoding."""

import io
import os
import re
from contextlib import suppress
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any, Final

import numpy as np
from numpy.typing import NDArray

from colorcore.errors import PhotoError
from colorcore.photo.encoding import (
    Encoding,
    Pixels,
    UnusableProfileError,
    gamma_encoding,
    profile_encoding,
    srgb_encoding,
)

#: Beyond this many pixels a file that has to be decoded whole before reducing is refused.
MAX_DECODED_PIXELS: Final = 140_000_000
WANTED: Final = "give a JPEG, PNG, TIFF, WebP or HEIC picture"
#: A preview has as many pixels at least: finding takes pictures from that size on as they are.
PREVIEW_PIXELS: Final = 600_000
_ORIENTATION: Final = 0x0112
_BITS: Final = 258
# By what the decoder of JPEG divides the sides of a picture on the way.
_DIVISORS: Final = (1, 2, 4, 8)
_TURNS: Final = {
    3: "ROTATE_180", 6: "ROTATE_90_CLOCKWISE", 7: "ROTATE_180", 8: "ROTATE_90_COUNTERCLOCKWISE",
}  # fmt: skip
_FORMATS: Final = ("PNG", "TIFF", "WEBP")
# One byte to begin with, not "one or more": then the search goes at the speed of memory.
_JPEG_MARKER: Final = re.compile(rb"\xff([^\x00\xd0-\xd7\xff])", re.DOTALL)

Decoded = tuple[Pixels, Encoding, tuple[str, ...]]


@dataclass(frozen=True, eq=False)
class Jpeg:
    """A JPEG of which the head has been read: all that is known before its pixels are decoded.

    ``size`` (width, height) is that of its upright pixels; ``preview_divisor`` how many of them to
    a side go into one of its preview's, None where it has no preview.
    """

    size: tuple[int, int]
    encoding: Encoding
    notes: tuple[str, ...]
    preview_divisor: int | None
    _data: bytes = field(repr=False)
    _path: Path
    _orientation: int
    _divisor: int

    def pixels(self) -> NDArray[np.uint8]:
        """Decode the upright pixels (H, W, 3).

        Raises
        ------
        PhotoError
            If they are damaged.
        """
        pixels = self._decode(self._divisor)
        if pixels is None:
            raise PhotoError(f"{self._path}: the picture is damaged; copy or export it again.")
        return pixels

    def preview(self) -> NDArray[np.uint8] | None:
        """Decode the preview (h, w, 3), upright: the decoder itself averages its blocks, in less
        than half the time that all pixels take. None without one, or where it is damaged."""
        if self.preview_divisor is None:
            return None
        return self._decode(self._divisor * self.preview_divisor)

    def _decode(self, divisor: int) -> NDArray[np.uint8] | None:
        import cv2

        kind = f"IMREAD_REDUCED_COLOR_{divisor}" if divisor > 1 else "IMREAD_COLOR_RGB"
        flags = getattr(cv2, kind) | cv2.IMREAD_IGNORE_ORIENTATION
        smaller = divisor // self._divisor
        lying = self.size[::-1] if self._orientation > 4 else self.size
        width, height = (-(-side // smaller) for side in lying)
        pixels = np.empty((height, width, 3), dtype=np.uint8)
        decoded = _decode_into(pixels, self._data, flags)
        if decoded is None:
            return None
        if divisor > 1:
            decoded = cv2.cvtColor(decoded, cv2.COLOR_BGR2RGB)
        return np.asarray(_upright(decoded, self._orientation), dtype=np.uint8)


def _decode_into(pixels: NDArray[np.uint8], data: bytes, flags: int) -> Any:
    """Decode a file's bytes, into ``pixels`` where their shape fits; None where they are damaged.

    OpenCV's decoder of bytes makes an array of its own and copies it. Its reader of files fills
    memory of NumPy's, which comes in large pages: 12 megapixels take 0.7 of the time. So the bytes
    are given to it as a file that lies in memory, where the system has such files.
    """
    import cv2

    if hasattr(os, "memfd_create"):
        file = os.memfd_create("photo")
        try:
            # What may not be written as a file can still be decoded.
            with suppress(cv2.error, OSError):
                whole = os.write(file, data) == len(data)
                path = f"/proc/self/fd/{file}"
                decoded: Any = cv2.imread(path, pixels, flags) if whole else None
                if decoded is not None:
                    return decoded
        finally:
            os.close(file)
    return cv2.imdecode(np.frombuffer(data, np.uint8), flags)


def read_jpeg(data: bytes, path: Path, max_pixels: int) -> Jpeg | None:
    """Read the head of a JPEG, to be reduced while decoding if it has more than ``max_pixels``;
    None for printing inks, which ``decode_inks`` brings to colours.

    Raises
    ------
    PhotoError
        If it is cut short, or too large even when reduced.
    """
    from PIL.JpegImagePlugin import JpegImageFile

    if not _jpeg_is_whole(data):
        raise PhotoError(f"{path}: the picture is cut short; copy it from the camera again.")
    header = JpegImageFile(io.BytesIO(data))
    if header.mode == "CMYK":
        return None
    for divisor in _DIVISORS:
        # The decoder rounds up.
        width, height = (-(-side // divisor) for side in header.size)
        if width * height <= max_pixels:
            break
    else:
        raise _too_large(header.size, path)
    notes: tuple[str, ...] = ()
    if divisor > 1:
        notes = (f"decoded at 1/{divisor} of its {megapixels(header.size)} megapixels",)
    encoding, profile_notes = rgb_encoding(header.info, 8)
    orientation = _orientation(header)
    return Jpeg(
        size=(height, width) if orientation >= 5 else (width, height),
        encoding=encoding,
        notes=notes + profile_notes,
        preview_divisor=_preview_divisor(width * height, divisor, header.info),
        _data=data,
        _path=path,
        _orientation=orientation,
        _divisor=divisor,
    )


def _preview_divisor(pixels: int, divisor: int, info: dict[Any, Any]) -> int | None:
    """Return by what to divide the sides of a picture of so many ``pixels``, itself reduced by
    ``divisor``, for its preview; None where decoding it again would gain little."""
    if info.get("progressive"):
        # All scans must be read for the smallest picture, too.
        return None
    fitting = (d for d in (8, 4) if d * divisor in _DIVISORS and pixels >= PREVIEW_PIXELS * d**2)
    return next(fitting, None)


def decode_inks(data: bytes, path: Path) -> Decoded:
    """Return upright pixels of a JPEG of printing inks.

    Raises
    ------
    PhotoError
        If it is too large.
    """
    from PIL.JpegImagePlugin import JpegImageFile

    header = JpegImageFile(io.BytesIO(data))
    refuse_huge(header.size, path)
    return _from_pillow(header, path)


def _jpeg_is_whole(data: bytes) -> bool:
    """Follow the segments to the end-of-image marker: a thumbnail's own does not count."""
    at, in_scan = 2, False
    while True:
        found = _JPEG_MARKER.search(data, at)
        if found is None or (not in_scan and found.start() - at > 65535):
            return False
        marker = found.group(1)[0]
        if marker == 0xD9:
            return True
        if marker in (0x01, 0xD8):
            at = found.end()
            continue
        at = found.end() + int.from_bytes(data[found.end() : found.end() + 2], "big")
        if at > len(data):
            return False
        in_scan = in_scan or marker == 0xDA


def decode_with_pillow(data: bytes, path: Path) -> Decoded:
    """Return upright pixels of a PNG, TIFF or WebP.

    Raises
    ------
    PhotoError
        If it is none of these, too large, or of a precision that cannot be read.
    """
    from PIL import Image, UnidentifiedImageError

    try:
        image = Image.open(io.BytesIO(data), formats=_FORMATS)
    except UnidentifiedImageError as error:
        raise PhotoError(f"{path}: not a picture that can be opened; {WANTED}.") from error
    except Image.DecompressionBombError as error:
        raise PhotoError(f"{path}: more pixels than can be held; save it smaller.") from error
    refuse_huge(image.size, path)
    if _is_16_bit(image):
        return _decode_16_bit(data, image, path)
    return _from_pillow(image, path)


def _is_16_bit(image: Any) -> bool:
    if image.format == "PNG":
        return bool(image.tile and any("16" in str(part) for part in image.tile[0][3:]))
    if image.format == "TIFF":
        bits_per_sample = image.tag_v2.get(_BITS, (8,))
        return int(max(bits_per_sample)) > 8
    return False


def _png_is_whole(data: bytes) -> bool:
    """Follow the chunks to the last one: none is longer than what is left of the file."""
    at = len(b"\x89PNG\r\n\x1a\n")
    while at + 12 <= len(data):
        if data[at + 4 : at + 8] == b"IEND":
            return True
        at += 12 + int.from_bytes(data[at : at + 4], "big")
    return False


def _decode_16_bit(data: bytes, image: Any, path: Path) -> Decoded:
    import cv2

    # A reader makes room for what a head promises before it sees that it is not there: for 50 KB
    # that promised 3 GB, 3 GB.
    if image.format == "PNG" and not _png_is_whole(data):
        raise PhotoError(f"{path}: the picture is cut short; copy or export it again.")
    decoded = None
    if image.format == "PNG" or max(image.tag_v2[_BITS]) == 16:
        decoded = cv2.imdecode(np.frombuffer(data, np.uint8), cv2.IMREAD_UNCHANGED)
    if decoded is None or decoded.dtype != np.uint16:
        raise PhotoError(f"{path}: save the picture with 8 or 16 bits a channel, please.")
    values = np.asarray(decoded, dtype=np.uint16)
    encoding, notes = rgb_encoding(image.info, 16)
    if values.ndim == 2:
        pixels = np.repeat(values[..., None], 3, axis=2)
    else:
        pixels = values[..., 2::-1]
        if values.shape[2] == 4:
            pixels, alpha_notes = _over_white(pixels, values[..., 3])
            notes += alpha_notes
    # The TIFF reader behind this has turned the picture already; PNG's has not.
    orientation = 1 if image.format == "TIFF" else _orientation(image)
    return _upright(np.asarray(pixels, np.uint16), orientation), encoding, notes


def _from_pillow(image: Any, path: Path) -> Decoded:
    from PIL import ImageOps

    notes: tuple[str, ...] = ()
    if getattr(image, "n_frames", 1) > 1:
        notes = ("the first of several pictures in the file was taken",)
    info = dict(image.info)
    if image.mode in ("CMYK", "LAB", "YCbCr"):
        pixels, encoding, converted = _convert_managed(image, info)
        return pixels, encoding, notes + converted
    if image.mode in ("F", "I") or image.mode.startswith("I;"):
        raise PhotoError(f"{path}: save the picture with 8 or 16 bits a channel, please.")
    image.load()
    # In its place: of a large picture every copy counts.
    ImageOps.exif_transpose(image, in_place=True)
    pixels, alpha_notes = rgb_array(image)
    encoding, profile_notes = rgb_encoding(info, 8)
    if encoding.name == "profile by tables":
        pixels, encoding, profile_notes = _convert_managed(image.convert("RGB"), info)
    return pixels, encoding, notes + alpha_notes + profile_notes


def _convert_managed(image: Any, info: dict[str, Any]) -> Decoded:
    """Let the colour management library bring the pixels to sRGB where curves and a matrix do
    not describe the file."""
    from PIL import ImageCms, ImageOps

    upright: Any = ImageOps.exif_transpose(image)
    notes: tuple[str, ...] = ()
    profile = info.get("icc_profile")
    if profile:
        try:
            source = ImageCms.ImageCmsProfile(io.BytesIO(profile))
            upright = ImageCms.profileToProfile(
                upright,
                source,
                ImageCms.createProfile("sRGB"),
                renderingIntent=ImageCms.Intent.RELATIVE_COLORIMETRIC,
                outputMode="RGB",
            )
        except (ImageCms.PyCMSError, OSError):
            notes = ("its damaged colour profile was not used",)
    elif image.mode == "CMYK":
        notes = ("printing inks without a profile: its colours are only approximate",)
    pixels = np.asarray(upright.convert("RGB"), dtype=np.uint8)
    return pixels, srgb_encoding(8), notes


def rgb_array(image: Any) -> tuple[NDArray[np.uint8], tuple[str, ...]]:
    """Return pixels (H, W, 3) of a Pillow image in any 8-bit mode, over white where transparent."""
    transparent = image.mode in ("RGBA", "LA", "PA", "La", "RGBa") or "transparency" in image.info
    if not transparent:
        plain = image if image.mode == "RGB" else image.convert("RGB")
        return np.asarray(plain, dtype=np.uint8), ()
    values = np.asarray(image.convert("RGBA"), dtype=np.uint8)
    pixels, notes = _over_white(values[..., :3], values[..., 3])
    return np.asarray(pixels, dtype=np.uint8), notes


def _over_white(pixels: Pixels, alpha: Pixels) -> tuple[Pixels, tuple[str, ...]]:
    top = int(np.iinfo(alpha.dtype).max)
    if alpha.min() == top:
        return pixels, ()
    share = (alpha.astype(np.float32) / top)[..., None]
    mixed = np.rint(pixels * share + top * (1 - share)).astype(pixels.dtype)
    return mixed, ("its transparent parts were taken as white",)


def rgb_encoding(info: dict[Any, Any], depth: int) -> tuple[Encoding, tuple[str, ...]]:
    """Return what the colour profile or gamma among a Pillow image's ``info`` says, and notes."""
    profile = info.get("icc_profile")
    if profile:
        try:
            return profile_encoding(profile, depth), ()
        except UnusableProfileError:
            if profile[16:20] == b"RGB " and b"A2B0" in profile[:2600] and depth == 8:
                plain = srgb_encoding(8)
                return Encoding(plain.table, None, "profile by tables"), ()
            return srgb_encoding(depth), ("its colour profile could not be used; taken as sRGB",)
    gamma = info.get("gamma")
    if gamma and "srgb" not in info and 0.2 < gamma < 1.5 and abs(gamma - 0.45455) > 0.02:
        return gamma_encoding(depth, 1 / gamma), ()
    return srgb_encoding(depth), ()


def _orientation(image: Any) -> int:
    try:
        told = int(image.getexif().get(_ORIENTATION, 1))
    except Exception:
        # Damaged EXIF data must not cost the picture.
        return 1
    return told if 1 <= told <= 8 else 1


def _upright(pixels: Pixels, orientation: int) -> Pixels:
    """Turn coded pixels as EXIF orientation 1 to 8 (CIPA DC-008, clause 4.6.5) asks."""
    import cv2

    if orientation == 1:
        return pixels
    turned: Any = np.ascontiguousarray(pixels)
    if orientation in (5, 7):
        turned = cv2.transpose(turned)
    if orientation in _TURNS:
        turned = cv2.rotate(turned, getattr(cv2, _TURNS[orientation]))
    if orientation in (2, 4):
        turned = cv2.flip(turned, 1 if orientation == 2 else 0)
    return np.asarray(turned, dtype=pixels.dtype)


def refuse_huge(size: tuple[int, int], path: Path) -> None:
    """Raise PhotoError if (width, height) is more than may be decoded whole."""
    if size[0] * size[1] > MAX_DECODED_PIXELS:
        raise _too_large(size, path)


def _too_large(size: tuple[int, int], path: Path) -> PhotoError:
    return PhotoError(
        f"{path}: {megapixels(size)} megapixels are more than can be held; save it smaller."
    )


def megapixels(size: tuple[int, int]) -> str:
    """Return (width, height) as whole megapixels in figures."""
    return f"{size[0] * size[1] / 1e6:.0f}"
