"""From a picture file to a Photo; every way it can fail said in one sentence.

What a file is, is told by its first bytes, never by its name.
"""

import hashlib
import io
import warnings
from collections.abc import Iterator
from concurrent.futures import Executor, Future, ThreadPoolExecutor
from contextlib import contextmanager, suppress
from pathlib import Path
from typing import Final

import numpy as np

from colorcore.errors import PhotoError
from colorcore.photo.ahead import PhotoAhead
from colorcore.photo.camera import camera_of
from colorcore.photo.decoding import Jpeg, decode_inks, decode_with_pillow, megapixels, read_jpeg
from colorcore.photo.encoding import Encoding, Pixels
from colorcore.photo.framing import Box, cut, photo_within
from colorcore.photo.model import Photo

#: Pictures with more pixels are reduced while decoding, to bound the memory (3 bytes a pixel).
MAX_PIXELS: Final = 64_000_000
MAX_BYTES: Final = 600_000_000
MIN_SIDE: Final = 64
_HEIF_BRANDS: Final = {
    b"heic", b"heix", b"heim", b"heis", b"hevc", b"hevx", b"mif1", b"msf1", b"mif2",
}  # fmt: skip


def open_photo(path: str | Path, *, max_pixels: int = MAX_PIXELS) -> Photo:
    """Open a picture file, upright, with the way to linear light that its colour profile gives.

    Parameters
    ----------
    path : str or Path
        JPEG, PNG, TIFF (8 or 16 bit), WebP, HEIC/HEIF, or camera raw where rawpy is installed.
    max_pixels : int
        Larger pictures are reduced, and a note says so: in linear light, but for JPEG, whose
        decoder averages coded values, some two to a side: finer than any print that a photo of
        many squares shows.

    Raises
    ------
    PhotoError
        If there is no such file, or it is empty, too large, truncated or not a picture.
    """
    path = Path(path)
    return photo_from_bytes(_read(path), path, max_pixels=max_pixels)


def photo_from_bytes(data: bytes, path: str | Path, *, max_pixels: int = MAX_PIXELS) -> Photo:
    """Open a picture file that is in memory; ``path`` only stands for it in messages.

    Raises
    ------
    PhotoError
        As ``open_photo``.
    """
    with ThreadPoolExecutor(1) as pool:
        return _begin(data, Path(path), max_pixels, pool).whole()


def begin_opening(path: str | Path, pool: Executor) -> PhotoAhead:
    """Open a picture file so far that it can be looked at; a thread of ``pool`` decodes the rest,
    of a kind of file that can be decoded small. Do not call it in a thread of a pool that has no
    other.

    Raises
    ------
    PhotoError
        As ``open_photo``, but for what shows in the pixels of a JPEG alone: asking for them tells.
    """
    path = Path(path)
    return _begin(_read(path), path, MAX_PIXELS, pool)


def _begin(data: bytes, path: Path, max_pixels: int, pool: Executor) -> PhotoAhead:
    if not data:
        raise PhotoError(f"{path}: the file is empty; copy the photo again.")
    if data[:3] == b"\xff\xd8\xff":
        with _decoding(path), _unwarned():
            jpeg = read_jpeg(data, path, max_pixels)
        if jpeg is not None:
            return _begin_jpeg(data, path, jpeg, max_pixels, pool)
    with _decoding(path), _unwarned():
        opened = _decode(data, path)
    photo = _finish(data, path, opened, max_pixels)
    whole: Future[Photo] = Future()
    whole.set_result(photo)
    return PhotoAhead(photo.width, photo.height, photo.encoding, None, whole)


def _begin_jpeg(data: bytes, path: Path, jpeg: Jpeg, max_pixels: int, pool: Executor) -> PhotoAhead:
    _check_size(*jpeg.size, path)
    divisor = jpeg.preview_divisor
    looked: Future[Box | None] | None = None if divisor is None else Future()

    def decode() -> Photo:
        with _decoding(path):
            opened = jpeg.pixels(), jpeg.encoding, jpeg.notes, False
        return _finish(data, path, opened, max_pixels, looked)

    whole = pool.submit(decode)
    width, height = jpeg.size
    if divisor is None or looked is None:
        # Only its pixels show whether a frame is left out.
        with suppress(PhotoError):
            width, height = whole.result().width, whole.result().height
        return PhotoAhead(width, height, jpeg.encoding, None, whole)
    within = None
    try:
        with _decoding(path):
            preview = jpeg.preview()
        small = None if preview is None else photo_within(preview, divisor)
        if preview is not None and small is not None:
            preview = cut(preview, small)
            x0, y0, x1, y1 = (divisor * place for place in small)
            within = x0, y0, min(x1, width), min(y1, height)
            width, height = within[2] - x0, within[3] - y0
    finally:
        # The other thread waits for it.
        looked.set_result(within)
    return PhotoAhead(width, height, jpeg.encoding, preview, whole)


def _read(path: Path) -> bytes:
    try:
        size = path.stat().st_size
        if path.is_dir():
            raise PhotoError(f"{path}: this is a folder; name the photos in it.")
        if size > MAX_BYTES:
            raise PhotoError(
                f"{path}: {size / 1e6:.0f} MB is more than the {MAX_BYTES / 1e6:.0f} MB that a "
                "photo may have; save it smaller, as a JPEG say."
            )
        return path.read_bytes()
    except FileNotFoundError as error:
        raise PhotoError(f"{path}: no such file; check the name and the folder.") from error
    except (OSError, ValueError) as error:
        reason = getattr(error, "strerror", None) or "the name cannot be used"
        raise PhotoError(f"{path}: cannot be read ({reason}); check name and rights.") from error


_Opened = tuple[Pixels, Encoding, tuple[str, ...], bool]


@contextmanager
def _decoding(path: Path) -> Iterator[None]:
    """Say in one sentence whatever a decoder raises."""
    try:
        yield
    except PhotoError:
        raise
    except MemoryError as error:
        raise PhotoError(
            f"{path}: too large for this machine's memory; save it smaller."
        ) from error
    except Exception as error:
        # Decoders fail on damaged files in more ways than their documents name.
        raise PhotoError(
            f"{path}: the picture is damaged or cut short; copy or export it again."
        ) from error


@contextmanager
def _unwarned() -> Iterator[None]:
    """Keep decoders quiet: odd metadata and large pictures are judged here, not by them."""
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        yield


def _decode(data: bytes, path: Path) -> _Opened:
    """Decode anything but a JPEG of colours."""
    if data[:3] == b"\xff\xd8\xff":
        return (*decode_inks(data, path), False)
    if data[4:8] == b"ftyp" and data[8:12] in _HEIF_BRANDS:
        from colorcore.photo.heif import decode_heif

        return (*decode_heif(data, path), False)
    if _is_raw(data):
        return _decode_raw(data, path)
    return (*decode_with_pillow(data, path), False)


def _finish(
    data: bytes,
    path: Path,
    opened: _Opened,
    max_pixels: int,
    looked: "Future[Box | None] | None" = None,
) -> Photo:
    """Make a photo of what a decoder gave; what a preview's look for a frame says, ``looked`` may
    tell, which is waited for."""
    pixels, encoding, notes, scene_linear = opened
    _check_size(pixels.shape[1], pixels.shape[0], path)
    pixels, reduction = _reduce(pixels, encoding, max_pixels)
    if not scene_linear:
        within = photo_within(pixels) if looked is None else looked.result()
        if within is not None and min(np.subtract(within[2:], within[:2])) >= MIN_SIDE:
            pixels = cut(pixels, within)
            reduction = (
                *reduction,
                "a plain frame around the photo was left out: what lay at "
                f"{within[0]},{within[1]} of the picture is its top left corner now",
            )
    return Photo(
        name=path.name,
        sha256=hashlib.sha256(data).hexdigest(),
        pixels=np.ascontiguousarray(pixels),
        encoding=encoding,
        scene_linear=scene_linear,
        notes=(*notes, *reduction),
        camera=camera_of(data),
    )


def _check_size(width: int, height: int, path: Path) -> None:
    if min(width, height) < MIN_SIDE:
        raise PhotoError(
            f"{path}: the picture is only {width} x {height} pixels; "
            f"give a photo of at least {MIN_SIDE} pixels a side."
        )


def _is_raw(data: bytes) -> bool:
    """Tell raw files by their makers' marks; many are TIFF files that no TIFF reader can show."""
    head = data[:16]
    if head[:4] in (b"IIRO", b"IIRS", b"MMOR", b"IIU\x00", b"FOVb", b"\x00MRM"):
        return True
    if head[:8] == b"FUJIFILM" or head[4:12] == b"ftypcrx " or head[8:10] == b"CR":
        return True
    if head[:4] in (b"II*\x00", b"MM\x00*"):
        from PIL import TiffImagePlugin

        try:
            tags = TiffImagePlugin.TiffImageFile(io.BytesIO(data)).tag_v2
        except Exception:
            # A TIFF head that no TIFF reader understands may still be a camera's.
            return True
        dng_version, color_filter, sub_files, compression = 50706, 33421, 330, 34713
        makers = dng_version in tags or color_filter in tags or tags.get(259) == compression
        return bool(makers or (sub_files in tags and tags.get(254) == 1))
    return False


def _decode_raw(data: bytes, path: Path) -> _Opened:
    from colorcore.photo.raw import decode_raw

    pixels, encoding, notes = decode_raw(data, path)
    return pixels, encoding, notes, True


def _reduce(pixels: Pixels, encoding: Encoding, max_pixels: int) -> tuple[Pixels, tuple[str, ...]]:
    height, width = pixels.shape[:2]
    if height * width <= max_pixels:
        return pixels, ()
    scale = (max_pixels / (height * width)) ** 0.5
    size = (max(1, int(width * scale)), max(1, int(height * scale)))
    note = f"reduced from {megapixels((width, height))} megapixels"
    return encoding.reduce(pixels, size), (note,)
