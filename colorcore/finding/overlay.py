"""The photo with every outline drawn on it, for people to check.

A found square has a solid double line and its address; a doubtful one a dashed line, its address
and a question mark; what is not a square a dotted line and its name. So nothing hangs on colour.
"""

import math
from collections.abc import Mapping
from itertools import pairwise
from typing import Any

import cv2
import numpy as np
from numpy.typing import NDArray

from colorcore.finding.model import Finding, FoundSquare
from colorcore.finding.view import Picture

THING_WORDS = {"sheet": "paper or card", "chart": "colour chart", "other": "not a square"}

_INK = (20, 20, 20)
_PAPER = (255, 255, 255)
_FOUND = (0, 92, 230)
_DOUBT = (196, 64, 0)
_THING = (96, 96, 96)
_FONT = cv2.FONT_HERSHEY_SIMPLEX


def draw_outlines(
    photo: Picture,
    finding: Finding,
    *,
    max_side: int = 2000,
    names: Mapping[str, str] | None = None,
) -> NDArray[np.uint8]:
    """Return the photo (h, w, 3), sRGB-coded uint8, at most ``max_side`` pixels a side, with
    squares, doubtful squares and other things outlined and labelled: with their addresses, or
    with what ``names`` gives by these."""
    called = names or {}
    small, scale = photo.small(max_side)
    canvas = np.ascontiguousarray(small).copy()
    line = max(1, round(max(canvas.shape[:2]) / 700))
    for thing in finding.things:
        outline = np.asarray(thing.outline) * scale
        _stroke(canvas, outline, _THING, line, dash=(1.5, 2.5))
        words = THING_WORDS.get(thing.kind, THING_WORDS["other"])
        _label(canvas, words, outline.mean(axis=0), _width(outline) * 0.9, _THING, 16 * line)
    for square in finding.doubtful:
        _square(canvas, square, scale, line, _DOUBT, (6, 4), f"{square.address}?")
    for square in finding.squares:
        _square(
            canvas, square, scale, line, _FOUND, None, called.get(square.address, square.address)
        )
    return canvas


def _square(
    canvas: NDArray[np.uint8],
    square: FoundSquare,
    scale: float,
    line: int,
    color: tuple[int, int, int],
    dash: tuple[float, float] | None,
    words: str,
) -> None:
    whole = np.asarray(square.corners) * scale
    shown = whole if square.visible is None else np.asarray(square.visible) * scale
    _stroke(canvas, shown, color, line, dash)
    # The label sits towards the square's own top left, so that its print stays to be seen.
    place = 0.62 * shown[0] + 0.38 * shown[len(shown) // 2]
    room = min(_width(shown), 2.2 * math.sqrt(abs(cv2.contourArea(shown.astype(np.float32)))))
    _label(canvas, words, place, 0.32 * room, color, 14 * line)


def _width(outline: NDArray[Any]) -> float:
    low, high = outline.min(axis=0), outline.max(axis=0)
    return float(min(high[0] - low[0], 1.6 * (high[1] - low[1])))


def _stroke(
    canvas: NDArray[np.uint8],
    outline: NDArray[Any],
    color: tuple[int, int, int],
    line: int,
    dash: tuple[float, float] | None,
) -> None:
    """Draw a closed line with a pale rim, so that it shows on any print; ``dash`` is the length of
    dash and gap in line widths."""
    closed = np.vstack([outline, outline[:1]])
    for width, ink in ((3 * line, _PAPER), (line + line // 2, color)):
        for a, b in pairwise(closed):
            for start, stop in _dashes(a, b, dash, 2.0 * line):
                cv2.line(canvas, _fixed(start), _fixed(stop), ink, width, cv2.LINE_AA, 4)


def _dashes(
    a: NDArray[Any], b: NDArray[Any], dash: tuple[float, float] | None, unit: float
) -> list[tuple[NDArray[Any], NDArray[Any]]]:
    length = float(np.linalg.norm(b - a))
    if dash is None or length <= 0:
        return [(a, b)]
    period = (dash[0] + dash[1]) * unit
    count = max(1, round(length / period))
    share = dash[0] / (dash[0] + dash[1])
    return [(a + (b - a) * k / count, a + (b - a) * (k + share) / count) for k in range(count)]


def _fixed(point: NDArray[Any]) -> tuple[int, int]:
    # Four fractional bits; a pixel's middle is at a half in our coordinates, at 0 in OpenCV's.
    x, y = np.round((np.asarray(point) - 0.5) * 16).astype(int)
    return int(x), int(y)


def _label(
    canvas: NDArray[np.uint8],
    words: str,
    middle: NDArray[Any],
    room: float,
    color: tuple[int, int, int],
    tallest: int,
) -> None:
    """Write words on a pale plate with a coloured rim, as large as ``room`` (pixels across)
    allows, at most ``tallest`` pixels high."""
    (width, height), _ = cv2.getTextSize(words, _FONT, 1.0, 2)
    size = min(room / max(width, 1), tallest / max(height, 1))
    size = max(size, 9 / height)
    stroke = max(1, round(2.2 * size))
    (width, height), below = cv2.getTextSize(words, _FONT, size, stroke)
    x, y = round(float(middle[0]) - width / 2), round(float(middle[1]) + height / 2)
    x = min(max(x, 4), max(4, canvas.shape[1] - width - 4))
    y = min(max(y, height + 4), max(height + 4, canvas.shape[0] - below - 4))
    pad = max(2, height // 3)
    corner, opposite = (x - pad, y - height - pad), (x + width + pad, y + pad)
    cv2.rectangle(canvas, corner, opposite, _PAPER, -1)
    cv2.rectangle(canvas, corner, opposite, color, max(1, stroke // 2), cv2.LINE_AA)
    cv2.putText(canvas, words, (x, y), _FONT, size, _INK, stroke, cv2.LINE_AA)
