"""The picture as finding looks at it: about a megapixel, in CIELAB, with its noise."""

from dataclasses import dataclass, field
from functools import cached_property
from typing import Any, Protocol

import cv2
import numpy as np
from numpy.typing import NDArray

_PIXELS = 850_000
# Reducing by a whole number is many times faster: taken if it leaves so many pixels.
_DARK, _USUAL, _MOST_EXPOSED = 140, 225, 3.5
"""The code that the brightest two hundredth of a picture stays below if it is dark, what it is
otherwise, and by what codes are multiplied at most."""
_FEWEST, _MOST = 600_000, 1_050_000


class Picture(Protocol):
    """What finding needs of a photo."""

    @property
    def width(self) -> int:
        """Pixels across."""

    @property
    def height(self) -> int:
        """Pixels down."""

    @property
    def pixels(self) -> NDArray[Any]:
        """Coded RGB (H, W, 3), uint8 or uint16, upright; they may have to be waited for."""

    def small(self, max_side: int) -> tuple[NDArray[np.uint8], float]:
        """Return the picture reduced, sRGB-coded, and its pixels per picture pixel."""


@dataclass(frozen=True, eq=False)
class View:
    """A reduced picture.

    ``rgb`` (h, w, 3) uint8; ``lab`` (h, w, 3) float32 CIELAB, lightly smoothed; ``scale`` its
    pixels per pixel of the picture; ``noise`` one standard deviation of L* from pixel to pixel.
    """

    rgb: NDArray[np.uint8] = field(repr=False)
    lab: NDArray[np.float32] = field(repr=False)
    scale: float
    noise: float

    @property
    def height(self) -> int:
        """Rows of the reduced picture."""
        return int(self.rgb.shape[0])

    @cached_property
    def tones(self) -> NDArray[np.float64]:
        """L* (3,) that 5 %, 60 % and 99.5 % of the picture stay below."""
        return np.asarray(np.percentile(self.lab[::6, ::6, 0], [5, 60, 99.5]))

    @property
    def width(self) -> int:
        """Columns of the reduced picture."""
        return int(self.rgb.shape[1])


def get_ready() -> None:
    """Have OpenCV make its tables of CIELAB, once in a process.

    It takes ten times as long as converting a view, but no photo: time that there is while the
    first one is decoded. Without it the first view takes that time.
    """
    cv2.cvtColor(np.zeros((1, 1, 3), np.float32), cv2.COLOR_RGB2Lab)


def make_view(photo: Picture) -> View:
    """Reduce a photo to about a megapixel and convert it to CIELAB."""
    pixels = photo.height * photo.width
    number = _whole_number(pixels) or max(1.0, (pixels / _PIXELS) ** 0.5)
    rgb, scale = photo.small(max(1, round(max(photo.height, photo.width) / number)))
    exposure = _exposure(rgb)
    coded = np.multiply(rgb, np.float32(exposure / 255), dtype=np.float32)
    if exposure > 1:
        np.minimum(coded, np.float32(1), out=coded)
    lab = cv2.cvtColor(coded, cv2.COLOR_RGB2Lab)
    # Every ninth row says enough of the noise.
    lightness = np.ascontiguousarray(lab[::9, :, 0])
    # The median absolute second difference is blind to edges and shading (Immerkaer 1996 has the
    # same idea with a mean); for white noise its standard deviation is sqrt(6) times the noise.
    bend = np.abs(lightness[:, 2:] - 2 * lightness[:, 1:-1] + lightness[:, :-2])
    noise = float(np.median(bend)) / 0.6745 / 6**0.5 if bend.size else 0.0
    smooth = cv2.GaussianBlur(lab, (0, 0), 0.8)
    return View(rgb, np.asarray(smooth, dtype=np.float32), scale, max(noise, 0.05))


def _exposure(rgb: NDArray[np.uint8]) -> float:
    """By what the codes of a dark picture (h, w, 3) are multiplied so that its brightest parts are
    as bright as those of others: colours that lie close together because light was short are as
    far apart as they are otherwise."""
    brightest = float(np.percentile(rgb[::6, ::6].max(axis=2), 99.5))
    return 1.0 if brightest >= _DARK else min(_USUAL / max(brightest, 1.0), _MOST_EXPOSED)


def _whole_number(pixels: int) -> int | None:
    """Return the whole number by which the sides of a picture of so many ``pixels`` are reduced,
    None if there is none."""
    least = int(np.ceil((pixels / _MOST) ** 0.5))
    # The powers of two are those that a decoder reduces by itself.
    for number in (8, 4, least):
        if number >= least > 1 and pixels / number**2 > _FEWEST:
            return number
    return None
