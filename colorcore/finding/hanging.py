"""Squares that hang over the edge of a mat: together they stand out from the table as one thing.

Its rim shows the squares as much as the mat, so neither the picture's edge nor the rim of that
thing says what the mat looks like. But every square has its colours in one place, and the mat has
one colour that goes on through all gaps: what holds together all over the thing is the mat.
"""

import cv2
import numpy as np
from numpy.typing import NDArray

from colorcore.finding.parts import largest_part
from colorcore.finding.scene import RIM_PIXELS, Scene, see
from colorcore.finding.surface import EVENLY

# Colours are told apart in steps of this (CIELAB units, lightness halved), and so many of the
# commonest are tried; what is so near to one is of it.
_STEP, _TRIED, _NEAR = 4.0, 10, 5.0
# Lines of a mat are thinner than this many pixels.
_LINES = 7
# The box around what holds together is so much of that around the thing, where squares have a
# quarter at most.
_ALL_OVER = 0.45


def look_past_mat(scene: Scene, thing: NDArray[np.bool_]) -> Scene | None:
    """Look again at what lies in the picture, with the mat that shows between the squares for table
    as well as the table itself; ``thing`` (h, w) is True where the mat and all on it lies. None if
    no one colour goes on all over it."""
    mat = _all_over(scene, thing & ~scene.table)
    if mat is None or mat.sum() < RIM_PIXELS:
        return None
    return see(scene.view, mat, scene.table | ~thing)


def _all_over(scene: Scene, standing: NDArray[np.bool_]) -> NDArray[np.bool_] | None:
    """Return where the colour shows (h, w) that holds together all over what is ``standing``
    (h, w), or None."""
    flat = scene.surface.flat * EVENLY
    spots = flat[::2, ::2][standing[::2, ::2]]
    if not len(spots):
        return None
    whole = _room(standing.astype(np.uint8))
    steps, count = np.unique(np.round(spots / _STEP), axis=0, return_counts=True)
    best, most = None, _ALL_OVER
    for color in steps[np.argsort(-count, kind="stable")[:_TRIED]] * np.float32(_STEP):
        near = standing & (np.linalg.norm(flat - color, axis=2) < _NEAR)
        part = largest_part(near, _LINES)
        share = _room(part.view(np.uint8)) / whole if part.any() else 0.0
        if share > most:
            best, most = near & part, share
    return best


def _room(mask: NDArray[np.uint8]) -> float:
    """Return the area of the smallest box around a mask (h, w)."""
    spots = cv2.findNonZero(mask)
    (_, (wide, high), _) = cv2.minAreaRect(spots)
    return float(wide * high)
