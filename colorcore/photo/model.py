"""A photo as everything behind the loader sees it."""

from collections.abc import Iterable
from dataclasses import dataclass, field
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from colorcore.color.spaces import coded8_from_linear
from colorcore.photo.encoding import Encoding, Pixels, srgb_encoding


@dataclass(frozen=True, eq=False)
class Photo:
    """An upright picture with the way from its coded values to linear light.

    Attributes
    ----------
    name : str
        The file's name without folders, for messages.
    sha256 : str
        Of the file's bytes: the key for everything cached about it.
    pixels : uint8 or uint16 array (H, W, 3)
        Coded RGB in the file's own encoding.
    encoding : Encoding
        How ``pixels`` become linear light.
    scene_linear : bool
        True for camera raw: no tone curve lies between the light and the values.
    notes : tuple of str
        Sentences on what had to be assumed or reduced while opening.
    camera : str
        Maker and model of the camera that took it, as the file tells; empty where it tells none.
    preview : uint8 array (h, w, 3), optional
        The same picture as its decoder reduces it, in coded values, by a whole number.

    Raises
    ------
    ValueError
        If ``pixels`` is no array (H, W, 3) of uint8 or uint16.
    """

    name: str
    sha256: str
    pixels: Pixels = field(repr=False)
    encoding: Encoding
    scene_linear: bool = False
    notes: tuple[str, ...] = ()
    camera: str = ""
    preview: NDArray[np.uint8] | None = field(default=None, repr=False)

    def __post_init__(self) -> None:
        if self.pixels.ndim != 3 or self.pixels.shape[2] != 3 or not self.pixels.size:
            raise ValueError(f"a photo needs pixels (H, W, 3), not {self.pixels.shape}")
        if self.pixels.dtype not in (np.uint8, np.uint16):
            raise ValueError(f"a photo needs uint8 or uint16 pixels, not {self.pixels.dtype}")

    def whole(self) -> "Photo":
        """Return the photo itself: nothing of it has to be waited for, as of a ``PhotoAhead``."""
        return self

    @property
    def width(self) -> int:
        """Pixels across."""
        return int(self.pixels.shape[1])

    @property
    def height(self) -> int:
        """Pixels down."""
        return int(self.pixels.shape[0])

    def linearize(self, coded: Pixels) -> NDArray[np.float32]:
        """Return linear light float32 (..., 3), sRGB primaries, D65 white, 1.0 = coded white, for
        values coded like ``pixels``; wide-gamut photos may leave 0 to 1."""
        return self.encoding.linearize(coded)

    def linear(self, x0: int, y0: int, x1: int, y1: int) -> NDArray[np.float32]:
        """Return linear light (h, w, 3) of the pixels from (x0, y0) up to, not with, (x1, y1);
        the box is cut at the picture's edge."""
        rows, columns = slice(max(y0, 0), max(y1, 0)), slice(max(x0, 0), max(x1, 0))
        return self.linearize(np.ascontiguousarray(self.pixels[rows, columns]))

    def linear_blocks(self, x0: int, y0: int, x1: int, y1: int, block: int) -> NDArray[np.float32]:
        """Return the mean linear light (h, w, 3) of blocks of ``block`` pixels a side in a box
        that lies within the picture, h and w being its sides in blocks, rounded down, at least
        1: where a side is not of whole blocks, they are a little larger."""
        box = self.pixels[y0:y1, x0:x1]
        if block == 1:
            return self.linearize(box)
        size = (max(1, (x1 - x0) // block), max(1, (y1 - y0) // block))
        return self.encoding.linearize_reduced(box, size)

    def clipped(self, x0: int, y0: int, x1: int, y1: int) -> NDArray[np.bool_]:
        """Return a mask (h, w), True where any channel of the box is coded at its very top, or
        all are at zero: there the camera cannot tell."""
        rows, columns = slice(max(y0, 0), max(y1, 0)), slice(max(x0, 0), max(x1, 0))
        box = self.pixels[rows, columns]
        top = np.iinfo(self.pixels.dtype).max
        # Encoders ring by a level or two around the limit.
        near = top - top // 128
        return np.asarray((box >= near).any(axis=2) | (box <= top // 255).all(axis=2))

    def small(self, max_side: int) -> tuple[NDArray[np.uint8], float]:
        """Return the picture reduced by area to at most ``max_side`` pixels a side, sRGB-coded
        uint8 (h, w, 3), and the pixels of the small picture per pixel of the photo. For looking
        and finding: coded values are averaged; use ``small_linear`` to measure."""
        sources = (self.pixels,) if self.preview is None else (self.preview, self.pixels)
        return reduced_to(max_side, (self.width, self.height), sources, self.encoding)

    def small_linear(self, max_side: int) -> tuple[NDArray[np.float32], float]:
        """Return the picture reduced to at most ``max_side`` pixels a side with pixels averaged
        in linear light, float32 (h, w, 3), and the pixels of it per pixel of the photo."""
        import cv2

        scale = min(1.0, max_side / max(self.width, self.height))
        if scale == 1.0:
            return self.linear(0, 0, self.width, self.height), 1.0
        out_w, out_h = max(1, round(self.width * scale)), max(1, round(self.height * scale))
        out = np.empty((out_h, out_w, 3), dtype=np.float32)
        # Bands of whole output rows keep the float copy of a large photo small.
        edges = np.linspace(0, out_h, max(1, self.height // 512) + 1).astype(int)
        for top, bottom in pairwise(edges):
            y0, y1 = (round(v * self.height / out_h) for v in (top, bottom))
            band = self.linear(0, y0, self.width, y1)
            out[top:bottom] = cv2.resize(
                band, (out_w, int(bottom - top)), interpolation=cv2.INTER_AREA
            )
        return out, scale


def reduced_to(
    max_side: int, whole: tuple[int, int], sources: Iterable[Pixels], encoding: Encoding
) -> tuple[NDArray[np.uint8], float]:
    """Reduce the picture that is ``whole`` (width, height) pixels large as ``Photo.small`` does,
    from the first of ``sources``, coded as ``encoding`` says, that is large enough."""
    import cv2

    scale = min(1.0, max_side / max(whole))
    width, height = (max(1, round(side * scale)) for side in whole)
    source = next(p for p in sources if p.shape[0] >= height and p.shape[1] >= width)
    if source.shape[1] < whole[0] and max(source.shape[0] - height, source.shape[1] - width) == 1:
        # A last block that the picture does not fill makes a row or column too many.
        source = np.ascontiguousarray(source[:height, :width])
    reduced = _by_whole_pixels(source, (width, height))
    if (reduced.shape[1], reduced.shape[0]) != (width, height):
        reduced = np.asarray(
            cv2.resize(reduced, (width, height), interpolation=cv2.INTER_AREA),
            dtype=reduced.dtype,
        )
    if reduced.dtype == np.uint8 and encoding.is_srgb:
        return np.asarray(reduced, dtype=np.uint8), scale
    return coded8_from_linear(encoding.linearize(np.asarray(reduced))), scale


def _by_whole_pixels(pixels: Pixels, size: tuple[int, int]) -> Pixels:
    """Return pixels (H, W, 3) reduced by area by whole numbers as far towards ``size`` (width,
    height) as that goes: many times faster than by fractions. Of a large picture a last row or
    column that is left over is dropped, which moves nothing by a pixel of the result."""
    import cv2

    while True:
        height, width = pixels.shape[:2]
        for step in (2, 3):
            wide, high = width // step, height // step
            over = width % step + height % step
            if wide >= size[0] and high >= size[1] and (not over or min(wide, high) > 700):
                whole = pixels[: high * step, : wide * step]
                reduced = cv2.resize(whole, (wide, high), interpolation=cv2.INTER_AREA)
                pixels = np.asarray(reduced, dtype=pixels.dtype)
                break
        else:
            return pixels


def photo_from_array(pixels: Pixels, name: str = "picture") -> Photo:
    """Return a Photo of sRGB-coded pixels (H, W, 3), uint8 or uint16."""
    import hashlib

    depth = 8 * pixels.dtype.itemsize
    digest = hashlib.sha256(np.ascontiguousarray(pixels).tobytes()).hexdigest()
    return Photo(name, digest, pixels, srgb_encoding(depth))
