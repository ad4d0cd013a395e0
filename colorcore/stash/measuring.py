"""Measure what a photo for the stash shows: several squares, or pieces of any other form."""

from dataclasses import dataclass, replace
from enum import StrEnum
from typing import Final

import numpy as np
from numpy.typing import NDArray

from colorcore.errors import StashError
from colorcore.finding import Finding, FoundSquare, find_squares
from colorcore.geometry import Quad, mean_side
from colorcore.light import Calibration, Reference, undo_light
from colorcore.photo import Photo
from colorcore.stash.papers import (
    could_be_real,
    find_cut_paper,
    find_papers,
    paper_scale,
    unlike_paper,
)
from colorcore.stash.pieces import FoundPiece, Pieces, find_pieces, region_piece
from colorcore.stash.squares import are_squarish, count_squares, cover_pieces, lie_apart
from colorcore.swatch import Swatch, measure_square

_GUESSED_INCHES: Final = 10.0
_SURE: Final = 0.5
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
        real = lie_apart(photo, squares) if filled else cover_pieces(squares, seen.pieces)
        sure = len(squares) > 1 and are_squarish(squares) and real
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
        return (replace(found[0], squares=count_squares(squares)),)
    return found


def _find(
    photo: Photo, subject: Subject, leave_out: tuple[NDArray[np.float64], ...] = ()
) -> Pieces:
    return find_pieces(
        photo,
        leave_out=leave_out,
        spools=subject is Subject.SPOOL,
        edges=subject is Subject.EDGES,
    )


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
    papers = find_papers(photo, first, white) or find_cut_paper(photo, first)
    seen = _without(photo, first, papers, subject)
    if seen is None and len(papers) > 1:
        # White cloth beside white paper: what has paper's shape is the paper.
        papers = (min(papers, key=unlike_paper),)
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
        r for r in find_papers(photo, seen, white) if not _holds(r.outline, seen.pieces[0].corners)
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
    known = white is not None or any(could_be_real(r, photo) for r in calibration.references)
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
    side = mean_side(square.corners)
    per_inch = piece.length / piece_inches if piece_inches else paper_scale(calibration.references)
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


def _as_finding(seen: Pieces) -> Finding:
    squares = tuple(
        FoundSquare(piece.outline, n // 26, n % 26, 0.6 if piece.fills else 0.8)
        for n, piece in enumerate(seen.pieces)
    )
    return Finding(squares, (), (), seen.table, seen.scale)


def _holds(outline: np.ndarray[tuple[int, ...], np.dtype[np.float64]], corners: object) -> bool:
    import cv2

    middle = np.asarray(corners, dtype=np.float64).mean(axis=0)
    polygon = np.asarray(outline, dtype=np.float32).reshape(-1, 1, 2)
    return bool(cv2.pointPolygonTest(polygon, (float(middle[0]), float(middle[1])), False) >= 0)
