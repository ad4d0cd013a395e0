"""Which photos are one and the same picture in two files: the original and a copy that a mail or a
messenger made smaller.

A copy shows the very same thing everywhere, the table between the squares too, and its outlines lie
where the original's do to within a pixel. Other squares laid in the same grid and photographed from
the same place do neither, unless they are of one colour throughout and laid to a hair: so it counts
only where the squares differ enough to tell.
"""

import math
from collections.abc import Sequence
from typing import TYPE_CHECKING, Final

import cv2
import numpy as np
from numpy.typing import NDArray

from colorcore.bundle.model import PhotoRecord
from colorcore.color.spaces import coded8_from_linear
from colorcore.swatch.model import Swatch

if TYPE_CHECKING:
    from colorcore.photo import Photo

Glance = NDArray[np.uint8]
"""A whole photo at a glance: sRGB-coded (48, 48, 3), whatever its shape."""

_SIDE: Final = 48
_READ_AT: Final = 1536
_SAME_LEVEL: Final = 5.0
"""Coded levels (of 255) within which two glances are one everywhere, three by three cells at a
time. Copies reduced to as little as 480 pixels and stored anew stay within 3.2."""
_SAME_SHAPE: Final = 0.01
_SAME_PLACE: Final = 1.0
"""Pixels of the smaller photo within which outlines agree, in the median over all corners. Found
anew in a copy they lie 0.2 to 0.9 off; squares laid anew by hand an eighth of an inch and more."""
_NEAR: Final = 0.25
"""Sides within which two outlines are taken for one square."""
_SAME_COLOR: Final = 5.0
"""CIELAB units within which one square might stand for another unnoticed."""
_LEAST_ODDS: Final = math.log(1e6)
"""By how much a copy must be likelier than other squares of like colours in the same places."""


def glance(photo: "Photo") -> Glance:
    """Return the whole photo at a glance."""
    read = photo.pixels
    if min(photo.width, photo.height) > _READ_AT:
        # A thousand pixels a cell are enough: a large photo is read at a fraction of the cost.
        size = (_READ_AT, _READ_AT)
        read = np.asarray(cv2.resize(read, size, interpolation=cv2.INTER_NEAREST), read.dtype)
    small = cv2.resize(read, (_SIDE, _SIDE), interpolation=cv2.INTER_AREA)
    return coded8_from_linear(photo.linearize(np.asarray(small, read.dtype)))


def copied_pictures(
    squares: Sequence[Sequence[Swatch]],
    photos: Sequence[PhotoRecord],
    glances: Sequence[Glance | None],
) -> dict[int, tuple[int, tuple[tuple[int, int], ...]]]:
    """Return the photos that are a copy of another: index of the copy to that of the original and
    the index pairs of squares (original, copy) that lie at the same place in both.

    Of two sizes the larger is the original, of equal ones the first. A photo without a glance is
    no copy of anything.
    """
    found: dict[int, tuple[int, tuple[tuple[int, int], ...]]] = {}
    order = sorted(range(len(photos)), key=lambda i: (-photos[i].width * photos[i].height, i))
    for n, copy in enumerate(order):
        for original in order[:n]:
            if original in found or not _same_glance(glances[original], glances[copy]):
                continue
            if not _same_shape(photos[original], photos[copy]):
                continue
            pairs = _in_place(squares[original], squares[copy], photos[original], photos[copy])
            if _odds(squares[original], pairs) >= _LEAST_ODDS:
                found[copy] = (original, pairs)
                break
    return found


def _same_glance(one: Glance | None, other: Glance | None) -> bool:
    if one is None or other is None:
        return False
    away = cv2.blur(one.astype(np.float32) - other.astype(np.float32), (3, 3))
    return float(np.abs(away).max()) <= _SAME_LEVEL


def _same_shape(original: PhotoRecord, copy: PhotoRecord) -> bool:
    # Sides are rounded to whole pixels when a picture is made smaller.
    high = copy.width * original.height / original.width
    return abs(copy.height - high) <= 1 + _SAME_SHAPE * copy.height


def _in_place(
    ones: Sequence[Swatch], others: Sequence[Swatch], original: PhotoRecord, copy: PhotoRecord
) -> tuple[tuple[int, int], ...]:
    """Pairs of squares at the same place of the picture, none if their corners do not agree."""
    if not ones or not others:
        return ()
    scale = np.array([copy.width / original.width, copy.height / original.height])
    first = np.array([s.corners for s in ones]) * scale
    second = np.array([s.corners for s in others])
    side = float(np.median(np.linalg.norm(first[:, 1] - first[:, 0], axis=1)))
    far = np.linalg.norm(first.mean(axis=1)[:, None] - second.mean(axis=1)[None], axis=2)
    pairs = [
        (int(i), j)
        for j, i in enumerate(far.argmin(axis=0))
        if far[i, j] < _NEAR * side and far[i].argmin() == j
    ]
    off = [np.linalg.norm(first[i] - second[j], axis=1) for i, j in pairs]
    return tuple(pairs) if pairs and float(np.median(off)) <= _SAME_PLACE else ()


def _odds(ones: Sequence[Swatch], pairs: Sequence[tuple[int, int]]) -> float:
    """Natural logarithm of how unlikely squares drawn from these anew are to have like colours in
    all places of the pairs: 0 if all are of one colour."""
    labs = np.array([s.lab for s in ones]).reshape(-1, 3)
    near = np.linalg.norm(labs[:, None] - labs[None], axis=2) < _SAME_COLOR
    return float(-np.log(near.mean(axis=1))[[i for i, _ in pairs]].sum()) if pairs else 0.0
