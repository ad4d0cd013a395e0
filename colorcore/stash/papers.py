"""White paper in a photo for the stash: what the light is read from, and what gives the scale."""

from typing import Final

import numpy as np

from colorcore.finding import Finding
from colorcore.light import Reference, undo_light
from colorcore.photo import Photo
from colorcore.stash.pieces import FoundPiece, Pieces

_LONG_SIDE: Final = 11.35
"""Inches: US Letter is 11 (ANSI/ASME Y14.1), A4 11.7 long (ISO 216); 3 % off either."""
_SHAPE: Final = (11 / 8.5, 2**0.5)
_LONGEST: Final = 2.2
_LEAST: Final = 0.004
"""Share of the picture: a sheet of letter paper in a photo of 15 by 12 feet."""
_OFF: Final = 0.1
"""A photo taken at a slant shortens one side."""
_LIGHTER: Final = 0.2
"""Log luminance by which paper is lighter than cloth beside it, if it is to be told from it."""


def find_papers(
    photo: Photo, seen: Pieces, white: tuple[float, float] | None
) -> tuple[Reference, ...]:
    """Return what the light can be read from, found before anything counts as cloth; ``white`` is
    a place on the paper, or None.

    Raises
    ------
    ColorError
        If ``white`` does not lie on anything plain.
    """
    table = Finding((), (), (), seen.table, seen.scale)
    found = undo_light(photo, table, white=white).references
    return tuple(r for r in found if white or could_be_real(r, photo))


def could_be_real(reference: Reference, photo: Photo) -> bool:
    """Return whether a reference could be what it was taken for: a plain light fold in a stack is
    far too long for a sheet of paper, a smooth spot of the table too small, and a light square is
    woven."""
    from colorcore.light.paper import is_woven_square, look_at
    from colorcore.light.sampling import reduce_photo

    if reference.kind not in ("paper", "grey card"):
        return True
    sheet = look_at(reduce_photo(photo), reference.outline)
    if sheet is not None and is_woven_square(sheet):
        return False
    if reference.kind != "paper":
        return True
    size = np.array([photo.width, photo.height])
    low, high = reference.outline.min(axis=0), reference.outline.max(axis=0)
    cut_off = bool(np.any(low < 0.01 * size) or np.any(high > 0.99 * size))
    across = bool(np.any(high - low > 0.9 * size))
    whole = _length(reference) <= _LONGEST or (cut_off and not across)
    return whole and float(np.prod(_sides(reference))) >= _LEAST * float(np.prod(size))


def find_cut_paper(photo: Photo, seen: Pieces) -> tuple[Reference, ...]:
    """Return a sheet of paper that reaches out of the picture, beside pieces that do not: plain,
    neutral, and lighter than all of them."""
    from colorcore.light.paper import is_plain, look_at
    from colorcore.light.sampling import reduce_photo

    small = reduce_photo(photo)
    sheets = [look_at(small, piece.edge) for piece in seen.pieces]
    levels = [-np.inf if sheet is None else sheet.level for sheet in sheets]
    order = np.argsort(levels)[::-1]
    if len(order) < 2 or levels[order[0]] - levels[order[1]] < _LIGHTER:
        return ()
    sheet, piece = sheets[order[0]], seen.pieces[order[0]]
    if sheet is None or not is_plain(sheet) or not _reaches_out(piece, photo):
        return ()
    if any(_reaches_out(other, photo) for other in seen.pieces if other is not piece):
        return ()
    return (Reference(kind="paper", outline=piece.edge, found=True),)


def _reaches_out(piece: FoundPiece, photo: Photo) -> bool:
    margin = 0.01 * max(photo.width, photo.height)
    low, high = piece.edge.min(axis=0), piece.edge.max(axis=0)
    size = np.array([photo.width, photo.height])
    return bool(np.any(low < margin) or np.any(high > size - margin))


def paper_scale(references: tuple[Reference, ...]) -> float | None:
    """Return pixels per inch from a whole sheet of letter paper, None if there is none."""
    for reference in references:
        if reference.kind == "paper" and unlike_paper(reference) <= _OFF:
            return max(_sides(reference)) / _LONG_SIDE
    return None


def unlike_paper(reference: Reference) -> float:
    """Return how far a sheet's length over width lies from that of letter paper, 1.29 to 1.41."""
    return float(abs(np.clip(_length(reference), *_SHAPE) - _length(reference)))


def _length(reference: Reference) -> float:
    """Length over width."""
    return max(_sides(reference)) / max(min(_sides(reference)), 1e-6)


def _sides(reference: Reference) -> tuple[float, float]:
    import cv2

    _, sides, _ = cv2.minAreaRect(np.asarray(reference.outline, dtype=np.float32))
    return float(sides[0]), float(sides[1])
