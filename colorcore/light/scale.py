"""How large the squares are beside a sheet of paper: what tells fives that are taken for tens."""

from collections.abc import Sequence
from typing import Final

import cv2
import numpy as np
from numpy.typing import NDArray

from colorcore.geometry import Quad, center
from colorcore.light.model import Reference

_SHEET_SIDE: Final = 9.75
"""Side in inches of a square as large as a sheet: letter (8.5 x 11) 9.67, A4 9.83."""
_LONGER: Final = (1.23, 1.49)
"""How many times as long as wide a sheet may seem: letter is 1.29, A4 1.41, half a letter 1.55."""
_EDGE: Final = 4.0
"""Pixels from the picture's edge; a sheet that comes nearer may be cut off by it."""
_NEAREST: Final = 9
_PRECUTS: Final = (2.5, 5.0, 10.0)
_NEAR: Final = 1.2
"""Within this factor the paper's size, and the outlines, leave a precut's side open."""
_FAR: Final = 1.6


def side_beside_paper(
    references: Sequence[Reference], squares: Sequence[Quad], size: tuple[int, int]
) -> float | None:
    """Return the squares' side in inches if the white paper is a sheet of letter or A4; None if
    there is none of that form in full view.

    Parameters
    ----------
    squares : sequence of (4, 2)
        Outlines in pixels of the upright picture.
    size : (width, height)
        Of the picture in pixels.
    """
    sides = [_beside(r.outline, squares, size) for r in references if r.kind == "paper"]
    return next((side for side in sides if side is not None), None)


def other_precut(side: float, nominal: float) -> float | None:
    """Return the side in inches of the precut that squares of ``side`` inches are, where that is
    far from the ``nominal`` side; else None."""
    for precut in _PRECUTS:
        is_near = 1 / _NEAR <= side / precut <= _NEAR
        if is_near and max(precut / nominal, nominal / precut) >= _FAR:
            return precut
    return None


def _beside(
    sheet: NDArray[np.float64], squares: Sequence[Quad], size: tuple[int, int]
) -> float | None:
    if len(sheet) != 4 or not len(squares):
        return None
    if sheet.min() < _EDGE or np.any(sheet > np.array(size) - _EDGE):
        return None
    middle = center(sheet)
    near = sorted(squares, key=lambda quad: float(np.hypot(*(center(quad) - middle))))[:_NEAREST]
    unit = np.array([[0, 0], [1, 0], [1, 1], [0, 1]], dtype=np.float32)
    found = []
    for quad in near:
        # In units of this square's side, whatever the camera's angle.
        plane = cv2.getPerspectiveTransform(np.asarray(quad, dtype=np.float32), unit)
        there = cv2.perspectiveTransform(np.asarray(sheet, dtype=np.float32)[None], plane)[0]
        lengths = np.linalg.norm(there - np.roll(there, -1, axis=0), axis=1)
        found.append(sorted((lengths[0] + lengths[2], lengths[1] + lengths[3])))
    short, long = np.median(np.array(found) / 2, axis=0)
    if not np.isfinite(long) or short <= 0 or not _LONGER[0] <= long / short <= _LONGER[1]:
        return None
    return float(_SHEET_SIDE / np.sqrt(short * long))
