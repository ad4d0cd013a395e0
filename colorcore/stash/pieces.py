"""Find pieces of cloth or thread that are no precut squares: a fat quarter, the folded edge of
yardage, a spool, or cloth that fills the picture.

The way:

1. What runs around the picture's edge is the table; its colours are the few into which the edge's
   pixels fall (k-means).
2. What differs from all colours of the table by more than a threshold of its own (Otsu) is
   something; graph cuts (Rother, Kolmogorov and Blake 2004) trim it along edges.
3. A stack of folded edges is parted into its fabrics (``bands.py``) where one was announced.
   Each connected thing with the straight outline of a piece is one; many things of one colour are
   the motifs of a print. If no piece is found, one fills the picture.
4. Of each the largest upright square that lies within is what is measured, drawn in from its
   edges, where folds, labels and shadows are.
"""

from dataclasses import dataclass
from typing import Final

import cv2
import numpy as np
from numpy.typing import NDArray

from colorcore.color.spaces import coded8_from_linear, lab_from_linear
from colorcore.geometry import Quad
from colorcore.photo import Photo
from colorcore.stash.bands import split_bands

_SIDE: Final = 400
_RING: Final = 0.035
_TABLE_COLORS: Final = 4
_LEAST_OF_SIDE: Final = 0.08
_LEAST_DIFFERENT: Final = (4.5, 9.0)
"""CIELAB units off the table's colours, on a smooth and on a grained table, that are something."""
_ABOVE_GRAIN: Final = 1.8
_SURELY_DIFFERENT: Final = 12.0
"""However far other things are off: one vivid cloth must not hide a muted one."""
_LEAST_AREA: Final = 0.008
_LEAST_RECTANGULAR: Final = 0.7
"""Share of the rectangle around a piece that it fills: a circle has 0.785, a flower about 0.6."""
_LEAST_SPOOL: Final = 0.5
_MANY: Final = 5
_ONE_COLOR: Final = 6.0
_DRAW_IN: Final = 0.12
_SPOOL_DRAW_IN: Final = 0.25
_FILL_SHARE: Final = 0.6


@dataclass(frozen=True, eq=False)
class FoundPiece:
    """``corners`` (4, 2) of the square to be measured, ``outline`` (4, 2) of the rectangle around
    the whole piece and ``edge`` (K, 2) its own outline, in pixels of the upright photo; ``length``
    of the piece's longer side in pixels; ``fills`` whether it fills the picture."""

    corners: Quad
    outline: Quad
    edge: NDArray[np.float64]
    length: float
    fills: bool


@dataclass(frozen=True, eq=False)
class Pieces:
    """Pieces in reading order, and where the table shows: a mask (h, w), True for the table, at
    ``scale`` pixels of it per pixel of the photo."""

    pieces: tuple[FoundPiece, ...]
    table: NDArray[np.bool_]
    scale: float


def find_pieces(
    photo: Photo,
    *,
    leave_out: tuple[NDArray[np.float64], ...] = (),
    spools: bool = False,
    edges: bool = False,
) -> Pieces:
    """Return the pieces in a photo, at least one.

    ``leave_out`` are outlines (K, 2) of things that are no pieces, such as the white paper;
    ``spools`` draws in more, as wound thread curves away from the light; ``edges`` says that a
    piece may be a stack of folded fabrics, which is parted into them.
    """
    linear, scale = photo.small_linear(_SIDE)
    linear = np.asarray(cv2.GaussianBlur(linear, (0, 0), 1.2), dtype=np.float32)
    lab = np.asarray(lab_from_linear(np.maximum(linear, 0)), dtype=np.float32)
    other = _outlines_mask(lab.shape[:2], leave_out, scale)
    mask = _trimmed(linear, _different(lab, _table_colors(lab, other), other), other)
    found = _pieces_of(mask, lab, scale, spools, edges)
    if edges and (not found or any(_spans(piece, photo) for piece in found)):
        found = _parted(np.ones(mask.shape, np.bool_) & ~other, lab, scale)
    if not found:
        return Pieces((_whole(photo),), np.zeros(lab.shape[:2], np.bool_), scale)
    return Pieces(found, ~(cv2.dilate(mask.astype(np.uint8), np.ones((5, 5))) > 0) & ~other, scale)


def region_piece(photo: Photo, box: tuple[float, float, float, float]) -> FoundPiece:
    """Return the largest square in the middle of a box (x0, y0, x1, y1) given by hand."""
    x0, y0, x1, y1 = box
    corners = _square((x0 + x1) / 2, (y0 + y1) / 2, min(x1 - x0, y1 - y0) / 2)
    outline = np.array([[x0, y0], [x1, y0], [x1, y1], [x0, y1]], dtype=np.float64)
    return FoundPiece(corners, outline, outline, max(x1 - x0, y1 - y0), False)


def _whole(photo: Photo) -> FoundPiece:
    wide, high = float(photo.width), float(photo.height)
    corners = _square(wide / 2, high / 2, _FILL_SHARE * min(wide, high) / 2)
    outline = np.array([[0, 0], [wide, 0], [wide, high], [0, high]])
    return FoundPiece(corners, outline, outline, max(wide, high), True)


def _square(x: float, y: float, half: float) -> Quad:
    return np.array([[x - half, y - half], [x + half, y - half],
                     [x + half, y + half], [x - half, y + half]])  # fmt: skip


def _outlines_mask(
    shape: tuple[int, ...], outlines: tuple[NDArray[np.float64], ...], scale: float
) -> NDArray[np.bool_]:
    mask = np.zeros(shape, np.uint8)
    for outline in outlines:
        cv2.fillPoly(mask, [np.rint(outline * scale).astype(np.int32)], color=1)
    return np.asarray(cv2.dilate(mask, np.ones((7, 7), np.uint8)) > 0)


def _ring(shape: tuple[int, ...]) -> NDArray[np.bool_]:
    width = max(3, round(_RING * min(shape)))
    ring = np.ones(shape, np.bool_)
    ring[width:-width, width:-width] = False
    return ring


def _table_colors(lab: NDArray[np.float32], other: NDArray[np.bool_]) -> NDArray[np.float32]:
    """Colours (K, 3) into which the pixels along the picture's edge fall, but those of a piece
    that reaches out of the picture: the table shows on three sides at least."""
    ring = _ring(lab.shape[:2]) & ~other
    if np.count_nonzero(ring) < 8 * _TABLE_COLORS:
        ring = _ring(lab.shape[:2])
    samples, sides = lab[ring], _side_of(lab.shape[:2])[ring]
    stop = (cv2.TERM_CRITERIA_EPS + cv2.TERM_CRITERIA_MAX_ITER, 20, 0.5)
    cv2.setRNGSeed(1)
    _, labels, centers = cv2.kmeans(
        samples,
        _TABLE_COLORS,
        np.zeros((len(samples), 1), np.int32),
        stop,
        2,
        cv2.KMEANS_PP_CENTERS,
    )
    joined = labels.ravel().astype(np.intp) * 4 + sides
    counts = np.bincount(joined, minlength=4 * _TABLE_COLORS).reshape(_TABLE_COLORS, 4)
    share = counts / np.maximum(counts.sum(axis=0), 1)
    kept = centers[np.count_nonzero(share >= _LEAST_OF_SIDE, axis=1) >= 3]
    return np.asarray(kept if len(kept) else centers, dtype=np.float32)


def _side_of(shape: tuple[int, ...]) -> NDArray[np.intp]:
    """Which side of the picture (0 to 3) each pixel (h, w) lies nearest to."""
    height, width = shape
    y, x = np.mgrid[0:height, 0:width]
    distances = np.stack([y, height - 1 - y, x, width - 1 - x])
    return np.asarray(distances.argmin(axis=0), dtype=np.intp)


def _different(
    lab: NDArray[np.float32], colors: NDArray[np.float32], other: NDArray[np.bool_]
) -> NDArray[np.bool_]:
    """True where a pixel is none of the table's colours; a shadow changes L* alone, so L* counts
    for half. Otsu's threshold is that of the pixels outside ``other``, or white paper would make
    everything else look alike."""
    weight = np.array([0.5, 1.0, 1.0], np.float32)
    each = [np.linalg.norm((lab - color) * weight, axis=2) for color in colors]
    away = np.stack(each).min(axis=0)
    coded = np.clip(away[~other] * 4, 0, 255).astype(np.uint8)
    if not coded.size:
        return np.zeros(away.shape, np.bool_)
    threshold, _ = cv2.threshold(coded, 0, 255, cv2.THRESH_BINARY + cv2.THRESH_OTSU)
    ring = away[_ring(away.shape) & ~other]
    grain = float(np.quantile(ring, 0.98)) if ring.size else 0.0
    least = float(np.clip(_ABOVE_GRAIN * grain, *_LEAST_DIFFERENT))
    limit = np.clip(float(threshold) / 4 * 0.8, least, max(least, _SURELY_DIFFERENT))
    return np.asarray((away > limit) & ~other)


def _trimmed(
    linear: NDArray[np.float32], different: NDArray[np.bool_], other: NDArray[np.bool_]
) -> NDArray[np.bool_]:
    """Let graph cuts settle the pixels near the edge of what differs."""
    seed = cv2.morphologyEx(different.astype(np.uint8), cv2.MORPH_OPEN, np.ones((5, 5), np.uint8))
    seed = cv2.morphologyEx(seed, cv2.MORPH_CLOSE, np.ones((9, 9), np.uint8))
    if not seed.any() or seed.all():
        return seed > 0
    marks = np.where(seed > 0, cv2.GC_PR_FGD, cv2.GC_PR_BGD).astype(np.uint8)
    marks[cv2.erode(seed, np.ones((9, 9), np.uint8)) > 0] = cv2.GC_FGD
    marks[cv2.dilate(seed, np.ones((15, 15), np.uint8)) == 0] = cv2.GC_BGD
    marks[other] = cv2.GC_BGD
    if not (marks == cv2.GC_BGD).any() or not (marks == cv2.GC_FGD).any():
        return seed > 0
    picture = cv2.cvtColor(coded8_from_linear(linear), cv2.COLOR_RGB2BGR)
    cv2.setRNGSeed(1)
    background, foreground = np.zeros((1, 65)), np.zeros((1, 65))
    cv2.grabCut(picture, marks, (0, 0, 1, 1), background, foreground, 2, cv2.GC_INIT_WITH_MASK)
    return np.asarray((marks == cv2.GC_FGD) | (marks == cv2.GC_PR_FGD))


def _pieces_of(
    mask: NDArray[np.bool_], lab: NDArray[np.float32], scale: float, spools: bool, edges: bool
) -> tuple[FoundPiece, ...]:
    closed = cv2.morphologyEx(mask.astype(np.uint8), cv2.MORPH_CLOSE, np.ones((5, 5), np.uint8))
    closed = cv2.morphologyEx(closed, cv2.MORPH_OPEN, np.ones((7, 7), np.uint8))
    count, labels, stats, _ = cv2.connectedComponentsWithStats(closed, connectivity=4)
    largest = max((int(s[cv2.CC_STAT_AREA]) for s in stats[1:]), default=0)
    least = max(_LEAST_AREA * closed.size, 0.1 * largest)
    found: list[FoundPiece] = []
    colors = []
    for n in range(1, count):
        part = labels == n
        if stats[n, cv2.CC_STAT_AREA] < least:
            continue
        bands = _parted(part, lab, scale) if edges else ()
        piece = None if bands else _piece(part, scale, spools)
        found += [piece] if piece is not None else bands
        colors.append(lab[part].mean(axis=0))
    if not edges and len(found) >= _MANY and float(np.std(colors, axis=0).max()) < _ONE_COLOR:
        return ()
    return _in_reading_order(found)


def _spans(piece: FoundPiece, photo: Photo) -> bool:
    """Whether it reaches from one side of the picture to the other, as folds that fill it do."""
    low, high = piece.edge.min(axis=0), piece.edge.max(axis=0)
    return bool(np.any(high - low > 0.97 * np.array([photo.width, photo.height])))


def _parted(
    part: NDArray[np.bool_], lab: NDArray[np.float32], scale: float
) -> tuple[FoundPiece, ...]:
    """The fabrics of a stack, or nothing if it is but one."""
    masks = split_bands(lab, part)
    found = [_piece(mask, scale, spools=False) for mask in masks] if len(masks) > 1 else []
    return tuple(piece for piece in found if piece is not None)


def _piece(part: NDArray[np.bool_], scale: float, spools: bool) -> FoundPiece | None:
    """One connected thing (h, w) as a piece; None if its outline is not that of one."""
    filled = np.ascontiguousarray(np.pad(part.astype(np.uint8), 1))
    contours, _ = cv2.findContours(filled, cv2.RETR_EXTERNAL, cv2.CHAIN_APPROX_SIMPLE)
    contour = max(contours, key=cv2.contourArea)
    around = cv2.minAreaRect(contour)
    box = max(float(around[1][0]) * float(around[1][1]), 1.0)
    if cv2.contourArea(contour) / box < (_LEAST_SPOOL if spools else _LEAST_RECTANGULAR):
        return None
    # Motifs that look like the table are holes in the mask, not in the cloth.
    cv2.drawContours(filled, [contour], -1, 1, cv2.FILLED)
    depth = cv2.distanceTransform(filled, cv2.DIST_C, 3)[1:-1, 1:-1]
    deepest = float(depth.max())
    if deepest < 4:
        return None
    ys, xs = np.nonzero(depth >= 0.97 * deepest)
    middle = np.argwhere(part).mean(axis=0)
    best = int(np.argmin((ys - middle[0]) ** 2 + (xs - middle[1]) ** 2))
    half = float(depth[ys[best], xs[best]]) * (1 - 2 * (_SPOOL_DRAW_IN if spools else _DRAW_IN))
    outline = np.asarray(cv2.boxPoints(around), dtype=np.float64) - 0.5
    corners = _square(xs[best] + 0.5, ys[best] + 0.5, max(half, 2.0))
    edge = cv2.approxPolyDP(contour, 2.0, True).reshape(-1, 2).astype(np.float64) - 0.5
    length = float(max(around[1])) / scale
    return FoundPiece(corners / scale, outline / scale, edge / scale, length, False)


def _in_reading_order(found: list[FoundPiece]) -> tuple[FoundPiece, ...]:
    """Row by row: a piece belongs to the row of the topmost that is left if their squares' middles
    lie within half a side of each other."""
    left = sorted(found, key=lambda p: float(p.corners[:, 1].mean()))
    ordered: list[FoundPiece] = []
    while left:
        top = left[0]
        reach = float(np.ptp(top.corners[:, 1])) * 0.75
        level = float(top.corners[:, 1].mean())
        row = [p for p in left if abs(float(p.corners[:, 1].mean()) - level) <= reach]
        ordered += sorted(row, key=lambda p: float(p.corners[:, 0].mean()))
        left = [p for p in left if p not in row]
    return tuple(ordered)
