"""Where in a picture file the photo lies, if a plain frame was put around it.

Screenshots have bars above and below, prints that are shared a white rim, and a photo that was
made to fit another shape bands at two sides. No camera saw them: such a line of pixels is of one
colour, where a table's has grain and noise, and it ends all along one line.
"""

from typing import Any, Final, TypeVar

import numpy as np
from numpy.typing import NDArray

from colorcore.color.spaces import lab_from_linear, linear_from_coded
from colorcore.photo.encoding import Pixels

Box = tuple[int, int, int, int]
T = TypeVar("T", bound=np.generic)

_FLAT: Final = 2 / 255
"""How far a frame's channels may be from its colour, of all that can be coded."""
_OTHER: Final = 6 / 255
"""From how far off a pixel is certainly none of the frame's."""
_OUTERMOST: Final = 0.98
"""Share of the outermost line that must be of one colour."""
_FRAME: Final = 0.5
"""The same of every line of the frame, for signs and words may stand in it."""
_ENDS: Final = 0.97
"""Share of its length along which a frame must end at one line: squares that lie in a row on a
blank page end it between their gaps alone."""
_ONE_COLOR: Final = np.array([10.0, 16.0, 16.0], dtype=np.float32)
_COLORS_OF_A_TABLE: Final = 2
_TABLE: Final = 0.47
"""How far L*, a* and b* may lie from a colour of the table, how many of those it has (checks have
two), and what share must lie so near: 0.5 (gingham, else 0.7) to 1.0 in photos, 0.3 to 0.4 on pages
of squares."""
_AS_WIDE: Final = 0.05
_SAME_COLORS: Final = 0.7
"""How much longer than wide one square may be, and the share of colours that its rim and its middle
have in common: 0.73 and more in 192 rendered squares; in 46 photos of squares cut to as long as
wide 0.7 in the median."""
_LOWEST: Final = np.array([0, 96, 96], dtype=np.float32)
_BIN: Final = 12
_BINS: Final = 16
"""What is added to L*, a* and b* and how many units and bins of each are counted."""
_SMEARED: Final = 16
"""Pixels from its end that JPEG may smear into a frame: a block of its coarser colours."""
_LEAST: Final = 0.004
_MOST: Final = 0.75
"""Least and largest share of a picture's side that a frame takes, the largest at both ends."""
_LINES: Final = 64


def photo_within(pixels: Pixels, pixels_a_pixel: int = 1) -> Box | None:
    """Return where the photo lies in a picture (H, W, 3) with a plain frame around it or bands at
    some of its sides, as (x0, y0, x1, y1) in pixels of the picture, or None without one.

    ``pixels_a_pixel``: how many of the file's pixels to a side each of these stands for.
    """
    smeared = -(-_SMEARED // pixels_a_pixel)
    depths = [_depth(turned) for turned in _each_way(pixels)]
    if not any(depths):
        return None
    ends = [
        _end(turned, depth, before, after, smeared) if depth else 0
        for turned, depth, (before, after) in zip(
            _each_way(pixels), depths, _beside(depths), strict=True
        )
    ]
    top, bottom, left, right = ends
    height, width = pixels.shape[:2]
    if not any(ends) or top + bottom > _MOST * height or left + right > _MOST * width:
        return None
    box = left, top, width - right, height - bottom
    color = np.median(pixels[0] if top or bottom else pixels[:, 0], axis=0)
    inside = pixels[top : height - bottom, left : width - right]
    if not _shows_a_table(pixels, box) or _crossed(inside, color):
        return None
    return None if all(ends) and _is_one_square(inside) else box


def cut(pixels: NDArray[T], box: Box) -> NDArray[T]:
    """Return what lies within a box of a picture (H, W, 3), as a picture of its own."""
    x0, y0, x1, y1 = box
    return np.ascontiguousarray(pixels[y0:y1, x0:x1])


def _each_way(pixels: Pixels) -> tuple[Pixels, ...]:
    """The picture seen with its top, bottom, left and right edge first."""
    across = pixels.swapaxes(0, 1)
    return pixels, pixels[::-1], across, across[::-1]


def _beside(depths: list[int]) -> list[tuple[int, int]]:
    """The frame's depth at both ends of each side's lines."""
    top, bottom, left, right = depths
    return [(left, right), (left, right), (top, bottom), (top, bottom)]


def _depth(pixels: Pixels) -> int:
    """How many lines of pixels from the first on are of its colour; 0 if it is of several, or for
    fewer than a frame has."""
    color = np.median(pixels[0], axis=0)
    if _like(pixels[:1], color, _FLAT).mean() < _OUTERMOST:
        return 0
    depth, most = 1, int(_MOST * len(pixels))
    while depth < most:
        shares = _like(pixels[depth : min(depth + _LINES, most)], color, _FLAT).mean(axis=1)
        ended = np.flatnonzero(shares < _FRAME)
        if len(ended):
            depth += int(ended[0])
            return depth if depth >= max(2, _LEAST * len(pixels)) else 0
        depth += len(shares)
    return 0


def _end(pixels: Pixels, depth: int, before: int, after: int, smeared: int) -> int:
    """The first line of the photo behind a frame of about that ``depth``, which may begin so much
    further on as is ``smeared``; 0 unless it begins there all along its lines, but for their
    ends."""
    color = np.median(pixels[0], axis=0)
    lines = pixels[depth - 1 : depth + smeared + 2, before : pixels.shape[1] - after or None]
    if not lines.size or (~_like(lines, color, _OTHER)).any(axis=0).mean() < _ENDS:
        return 0
    steps = np.abs(np.diff(lines.astype(np.float32), axis=0)).mean(axis=(1, 2))
    # A pixel that stands for several may hold both.
    return depth + int(np.argmax(steps)) + (smeared < _SMEARED)


def _shows_a_table(pixels: Pixels, box: Box) -> bool:
    """Whether what lies along the inside of a frame is much of one colour, or two, as a table is:
    on a page of squares that touch one another the fabrics change from square to square."""
    x0, y0, x1, y1 = box
    deep = max(3, min(x1 - x0, y1 - y0) // 40)
    step = max(1, (x1 - x0 + y1 - y0) // 800)
    parts = [
        pixels[y0 : y0 + deep, x0:x1:step],
        pixels[y1 - deep : y1, x0:x1:step],
        pixels[y0:y1:step, x0 : x0 + deep],
        pixels[y0:y1:step, x1 - deep : x1],
    ]
    rim = np.concatenate([part.reshape(-1, 3) for part in parts])
    lab = rest = _lab(rim)
    for _ in range(_COLORS_OF_A_TABLE):
        if len(rest):
            off = np.abs(rest - np.median(rest, axis=0)) / _ONE_COLOR
            rest = rest[(off > 1).any(axis=1)]
    return bool(1 - len(rest) / len(lab) >= _TABLE)


def _crossed(pixels: Pixels, color: NDArray[np.floating[Any]]) -> bool:
    """Whether lines of a frame's ``color`` go through what lies within it, from side to side: the
    gaps of a page of squares."""
    across, down = 0.0, np.zeros(pixels.shape[1])
    # Some lines at a time: the whole would take eight times the picture's memory.
    for top in range(0, len(pixels), _LINES):
        like = _like(pixels[top : top + _LINES], color, _OTHER)
        across = max(across, float(like.mean(axis=1).max()))
        down += like.sum(axis=0)
    return max(across, float(down.max()) / len(pixels)) >= _OUTERMOST


def _is_one_square(pixels: Pixels) -> bool:
    """Whether what lies within a frame (H, W, 3) is as long as wide and has the same colours in its
    middle as along its rim: one square of cloth, on a page or in a scanner, fills it."""
    height, width = pixels.shape[:2]
    if abs(height - width) > _AS_WIDE * width:
        return False
    step = max(1, (height + width) // 800)
    # JPEG smears the frame into it.
    out = min(_SMEARED, width // 12)
    deep = out + max(3, width // 40)
    middle = np.zeros((height, width), bool)
    middle[height // 5 : height - height // 5, width // 5 : width - width // 5] = True
    rim = np.zeros((height, width), bool)
    rim[out:-out, out:-out] = True
    rim[deep:-deep, deep:-deep] = False
    shares = [_colors(pixels[::step, ::step][part[::step, ::step]]) for part in (rim, middle)]
    return bool(np.minimum(*shares).sum() > _SAME_COLORS)


def _colors(pixels: Pixels) -> NDArray[np.float64]:
    """How large a share of pixels (N, 3) has which colours, those nearest a bin counting half."""
    bins = (_lab(pixels) + _LOWEST) / _BIN
    counts, _ = np.histogramdd(bins, bins=_BINS, range=[(0, _BINS)] * 3)
    for axis in range(3):
        beside = np.roll(counts, 1, axis) + np.roll(counts, -1, axis)
        counts = counts / 2 + beside / 4
    return np.asarray(counts / max(counts.sum(), 1))


def _lab(pixels: Pixels) -> NDArray[np.floating[Any]]:
    """CIELAB (N, 3) of coded pixels (N, 3), near enough for any encoding."""
    coded = pixels.astype(np.float32) / np.float32(np.iinfo(pixels.dtype).max)
    return lab_from_linear(linear_from_coded(coded))


def _like(lines: Pixels, color: NDArray[np.floating[Any]], within: float) -> NDArray[np.bool_]:
    """Which pixels (K, W) of lines (K, W, 3) are of a colour (3,), within so much of what can be
    coded."""
    within *= np.iinfo(lines.dtype).max
    off = np.abs(lines.astype(np.float32) - color.astype(np.float32))
    return np.asarray((off <= within).all(axis=2))
