"""Linear light of a photo in blocks of pixels, as squares are straightened from it.

Where a photo has more pixels than a straightened square has samples, whole blocks of pixels are
averaged first. All blocks of one size lie on one grid, so that of many squares they can be worked
out together, in a thread beside other work, to the same values as one by one.
"""

import math
from collections.abc import Iterable
from concurrent.futures import Executor, Future
from dataclasses import dataclass, field
from typing import Final

import cv2
import numpy as np
from numpy.typing import NDArray

from colorcore.geometry import Quad, mean_side
from colorcore.photo import Photo

_LEAST_PIXELS_A_SAMPLE: Final = 0.85
_MOST_WASTE: Final = 2.0
"""How much larger than the windows of its squares a part of the photo may be that is worked out as
a whole."""
_MOST_BLOCKS: Final = 6_000_000
"""96 MB; beyond, squares are read one by one."""
_ROWS: Final = 32
"""Rows of blocks at a time: their pixels' light stays near the core."""


@dataclass(frozen=True)
class Window:
    """The part of a photo, from (x0, y0) up to (x1, y1), that holds a square, in blocks of
    ``block`` pixels a side: whole ones of the photo's grid, wherever it is large enough."""

    x0: int
    y0: int
    x1: int
    y1: int
    block: int

    @property
    def rows(self) -> int:
        """How many whole blocks it is high."""
        return (self.y1 - self.y0) // self.block

    @property
    def columns(self) -> int:
        """How many whole blocks it is wide."""
        return (self.x1 - self.x0) // self.block

    @property
    def blocks(self) -> int:
        """How many whole blocks it holds."""
        return self.rows * self.columns

    @property
    def on_grid(self) -> bool:
        """Whether it consists of whole blocks of the photo's grid."""
        return not any(edge % self.block for edge in (self.x0, self.y0, self.x1, self.y1))


def window_of(photo: Photo, corners: Quad, side: int) -> Window:
    """Return the window for a square of ``corners`` (4, 2) that gets ``side`` samples a side:
    blocks as large as leave 0.85 pixels a sample, and one more around; at least one pixel."""
    block = max(1, int(mean_side(corners) / side / _LEAST_PIXELS_A_SAMPLE))
    columns, rows = corners.T.tolist()
    # By plain numbers: of four corners arrays take longer to ask for than to work out.
    x0, x1 = _between(columns, block, photo.width)
    y0, y1 = _between(rows, block, photo.height)
    return Window(x0, y0, x1, y1, block)


def _between(places: list[float], block: int, end: int) -> tuple[int, int]:
    """From where to where the places and a block more reach along a side of ``end`` pixels."""
    low, high = math.floor(min(places)) - block, math.ceil(max(places)) + block
    first = max(0, min(low // block * block, end - block))
    needed = -(-(min(high, end) - first) // block)
    whole = max(1, min(needed, (end - first) // block))
    return first, min(first + whole * block, end)


@dataclass(frozen=True, eq=False)
class BlocksAhead:
    """Light of a photo, of which some parts are worked out beforehand."""

    photo: Photo
    _parts: "dict[int, tuple[Window, Future[NDArray[np.float32]]]]" = field(default_factory=dict)

    def light(self, window: Window) -> NDArray[np.float32]:
        """Return linear light (h, w, 4) of the window's blocks; the fourth channel is there
        because four are moved in half the time of three."""
        part, coming = self._parts.get(window.block, (None, None))
        if part is None or coming is None or not _holds(part, window):
            return _light(self.photo, window)
        block = window.block
        rows = slice((window.y0 - part.y0) // block, (window.y1 - part.y0) // block)
        columns = slice((window.x0 - part.x0) // block, (window.x1 - part.x0) // block)
        return coming.result()[rows, columns]


def begin_blocks(photo: Photo, windows: Iterable[Window], pool: Executor) -> BlocksAhead:
    """Let a thread of ``pool`` work out the light of all these windows, where they lie close
    enough together for that to be worth while."""
    sizes: dict[int, list[Window]] = {}
    for window in windows:
        if window.on_grid and window.block > 1:
            sizes.setdefault(window.block, []).append(window)
    parts = {}
    for block, some in sizes.items():
        whole = Window(
            min(w.x0 for w in some),
            min(w.y0 for w in some),
            max(w.x1 for w in some),
            max(w.y1 for w in some),
            block,
        )
        if whole.blocks <= min(_MOST_BLOCKS, _MOST_WASTE * sum(w.blocks for w in some)):
            # Made here: what a thread of its own asks for stays with it when it is freed.
            light = np.empty((whole.rows, whole.columns, 4), dtype=np.float32)
            parts[block] = whole, pool.submit(_fill_by_bands, light, photo, whole)
    return BlocksAhead(photo, parts)


def _holds(part: Window, window: Window) -> bool:
    inside = part.x0 <= window.x0 and part.y0 <= window.y0
    return window.on_grid and inside and window.x1 <= part.x1 and window.y1 <= part.y1


def _light(photo: Photo, window: Window) -> NDArray[np.float32]:
    blocks = photo.linear_blocks(window.x0, window.y0, window.x1, window.y1, window.block)
    return np.asarray(cv2.cvtColor(blocks, cv2.COLOR_RGB2RGBA), dtype=np.float32)


def _fill_by_bands(light: NDArray[np.float32], photo: Photo, window: Window) -> NDArray[np.float32]:
    block = window.block
    for top in range(0, window.rows, _ROWS):
        bottom = min(top + _ROWS, window.rows)
        band = photo.linear_blocks(
            window.x0, window.y0 + top * block, window.x1, window.y0 + bottom * block, block
        )
        cv2.cvtColor(band, cv2.COLOR_RGB2RGBA, dst=light[top:bottom])
    return light
