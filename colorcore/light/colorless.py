"""Photos that hold no colours: turned grey, as quilters do to see values."""

from typing import Final

import numpy as np

from colorcore.photo import Photo

_LOOKED_AT: Final = (50, 400)
"""Pixels along the longer side that are looked at, about: few show most photos to be in colour."""
_STEPS: Final = 1
"""Of 255, by which channels may part where there is no colour, by rounding. A camera's own noise,
let alone its white balance, parts them by more somewhere, even over white cloth on white."""

GREY_NOTE: Final = (
    "The photo is grey: it tells values, not colours, and strong colours turn lighter or darker on "
    "the way to grey. Take it in colour."
)


def is_grey(photo: Photo) -> bool:
    """Whether red, green and blue are the same all over a photo."""
    top = np.iinfo(photo.pixels.dtype).max
    for count in _LOOKED_AT:
        step = max(1, max(photo.width, photo.height) // count)
        pixels = photo.pixels[::step, ::step].astype(np.int32)
        apart = pixels.max(axis=2) - pixels.min(axis=2)
        if apart.max() * 255 > _STEPS * top:
            return False
    return True
