"""Whether what looks like squares in a photo for the stash is squares, or parts of one print."""

from typing import Final

import numpy as np
from numpy.typing import NDArray

from colorcore.color.spaces import lab_from_linear
from colorcore.finding import FoundSquare
from colorcore.geometry import Quad, area, side_lengths
from colorcore.photo import Photo
from colorcore.stash.pieces import FoundPiece

_LONGEST_SQUARE: Final = 1.2
_LEAST_COVER: Final = 0.4
_LEAST_APART: Final = 6
_LEAST_GAP: Final = 0.02
"""Share of a square's side that shows of the table between neighbours: seams show as less."""
_LEAST_LOOKS: Final = 5
_OTHER_LOOK: Final = 8.0
"""CIELAB units between two fabrics; the light that falls off across one print makes less."""
_LOOKED_AT: Final = 800


def count_squares(squares: list[FoundSquare]) -> int:
    """Return how many squares edge to edge a picture full of cloth could be, 0 if it is not."""
    rows, columns = {s.row for s in squares}, {s.column for s in squares}
    sure = len(rows) > 1 and len(columns) > 1 and are_squarish(squares)
    return len(squares) if sure else 0


def are_squarish(squares: list[FoundSquare]) -> bool:
    """Return whether outlines are squares and not folded pieces, in a photo from above."""
    sides = np.array([side_lengths(square.corners) for square in squares])
    across, down = sides[:, [0, 2]].mean(axis=1), sides[:, [1, 3]].mean(axis=1)
    return float(np.median(np.maximum(across, down) / np.minimum(across, down))) < _LONGEST_SQUARE


def cover_pieces(squares: list[FoundSquare], pieces: tuple[FoundPiece, ...]) -> bool:
    """Return whether squares are what the pieces are, and not parts of a print on one of them."""
    largest = max(abs(area(piece.outline)) for piece in pieces)
    return sum(abs(area(square.corners)) for square in squares) > _LEAST_COVER * largest


def lie_apart(photo: Photo, squares: list[FoundSquare]) -> bool:
    """Return whether squares in a picture that seems full of cloth lie on a table that shows
    between them: whole, apart from their neighbours, and of many fabrics. A print of squares is cut
    off by the picture's edges, and the checks of most have few colours."""
    if len(squares) < _LEAST_APART:
        return False
    points = np.concatenate([square.corners for square in squares])
    if np.any(points < 0) or np.any(points > (photo.width, photo.height)):
        return False
    at = {(s.row, s.column): s.corners for s in squares}
    gaps = [
        np.linalg.norm(here[[one, two]].mean(axis=0) - at[there][[four, three]].mean(axis=0))
        for (row, column), here in at.items()
        for there, one, two, three, four in (
            ((row, column + 1), 1, 2, 3, 0), ((row + 1, column), 3, 2, 1, 0)
        )
        if there in at
    ]  # fmt: skip
    side = float(np.mean([side_lengths(corners) for corners in at.values()]))
    if not gaps or float(np.median(gaps)) < _LEAST_GAP * side:
        return False
    return _count_looks(photo, [s.corners for s in squares]) >= _LEAST_LOOKS


def _count_looks(photo: Photo, outlines: list[Quad]) -> int:
    """How many colours outlines have that are clearly apart."""
    import cv2

    linear, scale = photo.small_linear(_LOOKED_AT)
    looks: list[NDArray[np.float64]] = []
    for corners in outlines:
        mask = np.zeros(linear.shape[:2], np.uint8)
        middle = corners.mean(axis=0)
        inside = (middle + 0.8 * (corners - middle)) * scale
        cv2.fillConvexPoly(mask, np.rint(inside).astype(np.int32), color=1)
        mean = np.maximum(cv2.mean(linear, mask)[:3], 0)
        lab = np.asarray(lab_from_linear(mean), dtype=np.float64)
        if all(np.linalg.norm(lab - other) > _OTHER_LOOK for other in looks):
            looks.append(lab)
    return len(looks)
