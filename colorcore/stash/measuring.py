"""Measure what a photo for the stash shows: several squares, or pieces of any other form."""

from dataclasses import dataclass, replace
from enum import StrEnum
from typing import Final

import numpy as np
from numpy.typing import NDArray

from colorcore.color.spaces import lab_from_linear
from colorcore.errors import StashError
from colorcore.finding import Finding, FoundSquare, find_squares
from colorcore.geometry import Quad, area, side_lengths
from colorcore.light import Calibration, Reference, undo_light
from colorcore.photo import Photo
from colorcore.stash.pieces import FoundPiece, Pieces, find_pieces, region_piece
from colorcore.swatch import Swatch, measure_square

_PAPER_LONG_SIDE: Final = 11.35
"""Inches: US Letter is 11 (ANSI/ASME Y14.1), A4 11.7 long (ISO 216); 3 % off either."""
_PAPER_SHAPE: Final = (11 / 8.5, 2**0.5)
_LONGEST_PAPER: Final = 2.2
_LEAST_PAPER: Final = 0.004
"""Share of the picture: a sheet of letter paper in a photo of 15 by 12 feet."""
_PAPER_OFF: Final = 0.1
"""A photo taken at a slant shortens one side."""
_GUESSED_INCHES: Final = 10.0
_SURE: Final = 0.5
_LONGEST_SQUARE: Final = 1.2
_LEAST_COVER: Final = 0.4
_LEAST_APART: Final = 6
_LEAST_GAP: Final = 0.02
"""Share of a square's side that shows of the table between neighbours: seams show as less."""
_LEAST_LOOKS: Final = 5
_OTHER_LOOK: Final = 8.0
"""CIELAB units between two fabrics; the light that falls off across one print makes less."""
_LOOKED_AT: Final = 800
_LIGHTER: Final = 0.2
"""Log luminance by which paper is lighter than cloth beside it, if it is to be told from it."""
_CAMERA_SD: Final = (10.0, 5.0, 6.0)
"""Half a stop of exposure at mid value, and an automatic white balance (our own estimate)."""


class Subject(StrEnum):
    """What photos for the stash show; ``EDGES`` a stack of folded cloth, seen from its folds."""

    ANY = "any"
    SQUARES = "squares"
    PIECE = "piece"
    EDGES = "edges"
    FAT_QUARTER = "fat-quarter"
    SPOOL = "spool"


@dataclass(frozen=True, eq=False)
class MeasuredPiece:
    """One piece: what it is, what was measured, what its colour rests on and how far to trust.

    ``squares`` that it could be instead of one piece, 0 if it does not look like squares.
    """

    subject: Subject
    swatch: Swatch
    reference: str
    trust: str
    squares: int = 0


def measure_pieces(
    photo: Photo,
    *,
    subject: Subject = Subject.ANY,
    square_inches: float = 10.0,
    piece_inches: float | None = None,
    white: tuple[float, float] | None = None,
    region: tuple[float, float, float, float] | None = None,
) -> tuple[MeasuredPiece, ...]:
    """Return every piece in a photo, in reading order.

    With ``Subject.ANY`` two squares or more make it a photo of squares; anything else counts as
    pieces. Of a piece a square inside it is measured, with the photo's light undone; its scale
    follows from ``piece_inches``, else to about a tenth from a sheet of letter paper in the photo,
    else it is not known (flag ``no-scale``).

    Raises
    ------
    StashError
        If the region lies outside the photo or is too small, or squares were said and none are
        found.
    ColorError
        If ``white`` does not lie on anything plain.
    """
    if region is not None:
        return _measure_region(photo, region, subject, piece_inches, white)
    seen = _find(photo, subject)
    filled = seen.pieces[0].fills
    if subject in (Subject.SQUARES, Subject.ANY):
        finding = find_squares(photo, square_inches=square_inches)
        squares = [s for s in finding.squares if s.confidence >= _SURE]
        # A plaid that fills the picture is full of squares that are none.
        real = _lie_apart(photo, squares) if filled else _cover(squares, seen.pieces)
        sure = len(squares) > 1 and _squarish(squares) and real
        if sure or (subject is Subject.SQUARES and squares):
            finding = replace(finding, squares=tuple(squares))
            return _measure_squares(photo, finding, square_inches, white)
        if subject is Subject.SQUARES:
            raise StashError(
                f"{photo.name}: no squares were found; lay them with a finger's width between "
                "them, or say that it shows one piece."
            )
    found = _measure_found(photo, seen, subject, piece_inches, white)
    if subject is Subject.ANY and filled and len(found) == 1:
        return (replace(found[0], squares=_count_squares(squares)),)
    return found


def _count_squares(squares: list[FoundSquare]) -> int:
    """How many squares edge to edge a picture that is full of cloth could be, 0 if it is not."""
    rows, columns = {s.row for s in squares}, {s.column for s in squares}
    sure = len(rows) > 1 and len(columns) > 1 and _squarish(squares)
    return len(squares) if sure else 0


def _find(
    photo: Photo, subject: Subject, leave_out: tuple[NDArray[np.float64], ...] = ()
) -> Pieces:
    return find_pieces(
        photo,
        leave_out=leave_out,
        spools=subject is Subject.SPOOL,
        edges=subject is Subject.EDGES,
    )


def _squarish(squares: list[FoundSquare]) -> bool:
    """Whether outlines are squares and not folded pieces: a photo from above shows them so."""
    sides = np.array([side_lengths(square.corners) for square in squares])
    across, down = sides[:, [0, 2]].mean(axis=1), sides[:, [1, 3]].mean(axis=1)
    return float(np.median(np.maximum(across, down) / np.minimum(across, down))) < _LONGEST_SQUARE


def _cover(squares: list[FoundSquare], pieces: tuple[FoundPiece, ...]) -> bool:
    """Whether squares are what the pieces are, and not parts of a print on one of them."""
    largest = max(abs(area(piece.outline)) for piece in pieces)
    return sum(abs(area(square.corners)) for square in squares) > _LEAST_COVER * largest


def _lie_apart(photo: Photo, squares: list[FoundSquare]) -> bool:
    """Whether squares in a picture that seems full of cloth lie on a table that shows between
    them: whole, apart from their neighbours, and of many fabrics. A print of squares is cut off
    by the picture's edges, and the checks of most have few colours."""
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


def _measure_squares(
    photo: Photo, finding: Finding, square_inches: float, white: tuple[float, float] | None
) -> tuple[MeasuredPiece, ...]:
    calibration = undo_light(photo, finding, white=white)
    return tuple(
        MeasuredPiece(
            Subject.SQUARES,
            measure_square(photo, calibration, found, side_inches=square_inches),
            calibration.reference,
            calibration.trust,
        )
        for found in finding.squares
    )


def _measure_found(
    photo: Photo,
    first: Pieces,
    subject: Subject,
    piece_inches: float | None,
    white: tuple[float, float] | None,
) -> tuple[MeasuredPiece, ...]:
    papers = _papers(photo, first, white) or _cut_paper(photo, first)
    seen = _without(photo, first, papers, subject)
    if seen is None and len(papers) > 1:
        # White cloth beside white paper: what has paper's shape is the paper.
        papers = (min(papers, key=_unlike_paper),)
        seen = _without(photo, first, papers, subject)
    if seen is None:
        # White cloth by itself looks like paper, but it is all there is.
        seen, papers = first, ()
    return _measure(photo, seen, subject, piece_inches, white, papers)


def _without(
    photo: Photo, first: Pieces, papers: tuple[Reference, ...], subject: Subject
) -> Pieces | None:
    """Pieces that are no reference, or None if there were some and none is left."""
    if not papers:
        return first
    leave_out = tuple(r.outline for r in papers)
    seen = _find(photo, subject, leave_out)
    gone = seen.pieces[0].fills and not first.pieces[0].fills
    return None if gone else seen


def _measure_region(
    photo: Photo,
    region: tuple[float, float, float, float],
    subject: Subject,
    piece_inches: float | None,
    white: tuple[float, float] | None,
) -> tuple[MeasuredPiece, ...]:
    x0, y0, x1, y1 = region
    if not (0 <= x0 < x1 <= photo.width and 0 <= y0 < y1 <= photo.height):
        raise StashError(
            f"{photo.name}: the region {x0:g},{y0:g},{x1:g},{y1:g} does not lie within the picture "
            f"of {photo.width} x {photo.height} pixels; give left, top, right, bottom."
        )
    if min(x1 - x0, y1 - y0) < 16:
        raise StashError(f"{photo.name}: the region is too small; make it 16 pixels or more.")
    table = find_pieces(photo)
    seen = Pieces((region_piece(photo, region),), table.table, table.scale)
    papers = tuple(
        r for r in _papers(photo, seen, white) if not _holds(r.outline, seen.pieces[0].corners)
    )
    return _measure(photo, seen, subject, piece_inches, white, papers)


def _measure(
    photo: Photo,
    seen: Pieces,
    subject: Subject,
    piece_inches: float | None,
    white: tuple[float, float] | None,
    papers: tuple[Reference, ...],
) -> tuple[MeasuredPiece, ...]:
    finding = _as_finding(seen)
    calibration = (
        undo_light(photo, finding, white=white)
        if white is not None or not papers
        else undo_light(photo, finding, references=papers)
    )
    kind = Subject.PIECE if subject is Subject.ANY else subject
    known = white is not None or any(_could_be(r, photo) for r in calibration.references)
    return tuple(
        MeasuredPiece(
            kind,
            _measured(
                photo,
                calibration,
                replace(square, corners=piece.corners),
                piece,
                piece_inches,
                guess=not known,
            ),
            calibration.reference if known else "none",
            calibration.trust if known else "D",
        )
        for square, piece in zip(finding.squares, seen.pieces, strict=True)
    )


def _measured(
    photo: Photo,
    calibration: Calibration,
    square: FoundSquare,
    piece: FoundPiece,
    piece_inches: float | None,
    *,
    guess: bool,
) -> Swatch:
    side = float(np.mean(side_lengths(square.corners)))
    per_inch = piece.length / piece_inches if piece_inches else _paper_scale(calibration.references)
    inches = side / per_inch if per_inch else _GUESSED_INCHES
    swatch = measure_square(
        photo,
        _CameraLight() if guess else calibration,
        square,
        side_inches=float(np.clip(inches, 0.1, 1000.0)),
    )
    return swatch if per_inch else replace(swatch, flags=(*swatch.flags, "no-scale"))


class _CameraLight:
    """One piece says nothing of the light, so the camera's own exposure and white balance are the
    best guess, with the doubt that they leave."""

    def prepare(self, outlines: list[Quad]) -> None:
        pass

    def apply(self, linear: NDArray[np.float32], corners: Quad) -> NDArray[np.float32]:
        return linear

    def lab_sd(self, corners: NDArray[np.float64], lab: NDArray[np.float64]) -> NDArray[np.float64]:
        return np.full_like(lab, _CAMERA_SD)

    def order_sd(
        self, corners: NDArray[np.float64], lab: NDArray[np.float64]
    ) -> NDArray[np.float64]:
        return np.full_like(lab[..., 0], _CAMERA_SD[0])

    def flags(self, corners: Quad) -> tuple[str, ...]:
        return ("no-reference",)


def _papers(photo: Photo, seen: Pieces, white: tuple[float, float] | None) -> tuple[Reference, ...]:
    """What the light can be read from, found before anything counts as cloth."""
    table = Finding((), (), (), seen.table, seen.scale)
    found = undo_light(photo, table, white=white).references
    return tuple(r for r in found if white or _could_be(r, photo))


def _could_be(reference: Reference, photo: Photo) -> bool:
    """Whether a reference could be what it was taken for: a plain light fold in a stack is far too
    long for a sheet of paper, a smooth spot of the table too small, and a light square is woven."""
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
    whole = _length(reference) <= _LONGEST_PAPER or (cut_off and not across)
    return whole and float(np.prod(_sides(reference))) >= _LEAST_PAPER * float(np.prod(size))


def _cut_paper(photo: Photo, seen: Pieces) -> tuple[Reference, ...]:
    """A sheet of paper that reaches out of the picture, beside pieces that do not: plain, neutral,
    and lighter than all of them."""
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


def _as_finding(seen: Pieces) -> Finding:
    squares = tuple(
        FoundSquare(piece.outline, n // 26, n % 26, 0.6 if piece.fills else 0.8)
        for n, piece in enumerate(seen.pieces)
    )
    return Finding(squares, (), (), seen.table, seen.scale)


def _paper_scale(references: tuple[Reference, ...]) -> float | None:
    """Pixels per inch from a whole sheet of letter paper, None if there is none."""
    for reference in references:
        if reference.kind == "paper" and _unlike_paper(reference) <= _PAPER_OFF:
            return max(_sides(reference)) / _PAPER_LONG_SIDE
    return None


def _unlike_paper(reference: Reference) -> float:
    """How far a sheet's length over width lies from that of letter paper, 1.29 to 1.41."""
    return float(abs(np.clip(_length(reference), *_PAPER_SHAPE) - _length(reference)))


def _length(reference: Reference) -> float:
    """Length over width."""
    return max(_sides(reference)) / max(min(_sides(reference)), 1e-6)


def _sides(reference: Reference) -> tuple[float, float]:
    import cv2

    _, sides, _ = cv2.minAreaRect(np.asarray(reference.outline, dtype=np.float32))
    return float(sides[0]), float(sides[1])


def _holds(outline: np.ndarray[tuple[int, ...], np.dtype[np.float64]], corners: object) -> bool:
    import cv2

    middle = np.asarray(corners, dtype=np.float64).mean(axis=0)
    polygon = np.asarray(outline, dtype=np.float32).reshape(-1, 1, 2)
    return bool(cv2.pointPolygonTest(polygon, (float(middle[0]), float(middle[1])), False) >= 0)
