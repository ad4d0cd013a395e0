"""One square cut up and laid on its background, with the seams that melt marked in place.

A seam that holds is left alone, one that is soft is dotted, one that melts is a heavy dashed line
with a triangle: the marks differ in form, not in colour alone.
"""

from collections.abc import Sequence
from html import escape
from typing import Final

import numpy as np
from numpy.typing import NDArray

from colorcore.color.css import css_color
from colorcore.contrast import MELTS, SOFT, Background, Thresholds
from colorcore.contrast.pieces import PieceEdge, judge_edge, plain_edges
from colorcore.contrast.seen import Beside, beside_background
from colorcore.lengths import SEAM, exact_inches
from colorcore.pattern import PieceRule
from colorcore.sheets.pictures import jpeg_uri, shrink
from colorcore.swatch import Swatch
from colorcore.wording import percent

GAP_INCHES: Final = 0.75
_MARGIN: Final = 0.5
_LEAST_MARKED: Final = 0.4
"""Inches of a melting stretch from which on it gets a triangle."""
_PICTURE_SIDE: Final = 320
_WORDS: Final = (None, SOFT, MELTS)
_STROKES: Final = {
    SOFT: 'stroke-width=".08" stroke-dasharray=".02 .2" stroke-linecap="round"',
    MELTS: 'stroke-width=".12" stroke-dasharray=".3 .14"',
}


def draw_seams(
    swatch: Swatch,
    pieces: Sequence[PieceRule],
    background: Background,
    *,
    thresholds: Thresholds | None = None,
) -> str:
    """Return a self-contained SVG document, in inches: the finished pieces of a square on the
    background, with what is soft and what melts marked along their seams.

    Raises
    ------
    CuttingError
        If the square does not give the pieces by cuts from edge to edge.
    """
    limits = thresholds or Thresholds()
    beside = beside_background(background, limits)
    side = exact_inches(swatch.side_inches)
    edges = plain_edges(swatch, tuple(pieces), limits)
    columns, rows = _spread([e.box for e in edges])
    at = [(e.box[0] + columns[e.box[0]], e.box[1] + rows[e.box[1]]) for e in edges]
    right = max((x + e.box[2] for (x, _), e in zip(at, edges, strict=True)), default=1.0)
    bottom = max((y + e.box[3] for (_, y), e in zip(at, edges, strict=True)), default=1.0)
    size = f"{-_MARGIN} {-_MARGIN} {right + 2 * _MARGIN:.2f} {bottom + 2 * _MARGIN:.2f}"
    words = describe_seams(swatch, pieces, background, thresholds=limits)
    parts = [
        f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="{size}" role="img" '
        f'width="{60 * right:.0f}" height="{60 * bottom:.0f}">',
        f"<title>{escape(words)}</title>",
        *_ground(background, right, bottom),
        f'<defs><image id="cloth" href="{jpeg_uri(shrink(swatch.picture, _PICTURE_SIDE))}" '
        f'width="{float(side)}" height="{float(side)}" preserveAspectRatio="none"/></defs>',
    ]
    for (x, y), edge in zip(at, edges, strict=True):
        parts += _piece(edge, x, y, float(side))
        parts += _marks(edge, x, y, beside)
    return "\n".join([*parts, "</svg>"])


def describe_seams(
    swatch: Swatch,
    pieces: Sequence[PieceRule],
    background: Background,
    *,
    thresholds: Thresholds | None = None,
) -> str:
    """Return the drawing in words.

    Raises
    ------
    CuttingError
        As ``draw_seams``.
    """
    limits = thresholds or Thresholds()
    beside = beside_background(background, limits)
    edges = plain_edges(swatch, tuple(pieces), limits)
    judged = [judge_edge(edge, beside) for edge in edges]
    if not judged:
        return f"{swatch.id}: nothing is cut from it."
    melting = sum(not piece.good for piece in judged)
    share = float(np.mean([piece.melts for piece in judged]))
    where = f"{swatch.id} on {background.label}"
    if share < 0.005:
        return f"{where}: {len(judged)} pieces, and no seam of them melts."
    along = "none of them along more than a tenth of its seam"
    if melting:
        whose = "its" if melting == 1 else "their"
        along = f"{melting} of them along more than a tenth of {whose} seam"
    return f"{where}: {percent(share)} of the seams of {len(judged)} pieces melt, {along}."


def _spread(boxes: Sequence[tuple[float, float, float, float]]) -> tuple[dict[float, float], ...]:
    """How far columns and rows of pieces move apart, by where they begin."""
    moved = []
    for axis in (0, 1):
        starts = sorted({box[axis] for box in boxes})
        moved.append({start: n * GAP_INCHES for n, start in enumerate(starts)})
    return tuple(moved)


def _ground(background: Background, right: float, bottom: float) -> list[str]:
    place = (
        f'x="{-_MARGIN}" y="{-_MARGIN}" width="{right + 2 * _MARGIN:.2f}" '
        f'height="{bottom + 2 * _MARGIN:.2f}"'
    )
    if background.picture is None or background.pixels_per_inch <= 0:
        return [f'<rect {place} fill="{css_color(background.lab)}"/>']
    rows, columns = background.picture.shape[:2]
    width, height = columns / background.pixels_per_inch, rows / background.pixels_per_inch
    return [
        f'<defs><pattern id="ground" width="{width:.3f}" height="{height:.3f}" '
        f'patternUnits="userSpaceOnUse"><image href="{jpeg_uri(background.picture)}" '
        f'width="{width:.3f}" height="{height:.3f}" preserveAspectRatio="none"/></pattern></defs>',
        f'<rect {place} fill="url(#ground)"/>',
    ]


def _finished(edge: PieceEdge) -> tuple[float, float, float, float]:
    """The piece without its seam allowance, within itself."""
    _, _, width, height = edge.box
    across, down = min(float(SEAM), width / 2), min(float(SEAM), height / 2)
    return across, down, max(width - 2 * across, 0.05), max(height - 2 * down, 0.05)


def _piece(edge: PieceEdge, x: float, y: float, side: float) -> list[str]:
    left, top, width, height = _finished(edge)
    from_x, from_y = edge.box[0] + left, edge.box[1] + top
    return [
        f'<svg x="{x + left:.3f}" y="{y + top:.3f}" width="{width:.3f}" height="{height:.3f}" '
        f'viewBox="{from_x:.3f} {from_y:.3f} {width:.3f} {height:.3f}"><use href="#cloth"/></svg>'
    ]


def _marks(edge: PieceEdge, x: float, y: float, beside: Beside) -> list[str]:
    left, top, width, height = _finished(edge)
    corners = np.array(
        [[x + left, y + top], [x + left + width, y + top], [x + left + width, y + top + height],
         [x + left, y + top + height]]
    )  # fmt: skip
    marks = []
    for number, values in enumerate(edge.sides):
        start, end = corners[number], corners[(number + 1) % 4]
        for word, first, last in _runs(values, beside):
            one, other = (start + (end - start) * t for t in (first, last))
            d = f"M{one[0]:.2f} {one[1]:.2f}L{other[0]:.2f} {other[1]:.2f}"
            # White under black stays visible on any print.
            marks.append(
                f'<path d="{d}" stroke="#fff" stroke-width=".2" stroke-opacity=".75" fill="none"/>'
                f'<path d="{d}" stroke="#111" fill="none" {_STROKES[word]}/>'
            )
            if word == MELTS and np.linalg.norm(other - one) >= _LEAST_MARKED:
                marks.append(_triangle((one + other) / 2))
    return marks


def _runs(values: NDArray[np.float64], beside: Beside) -> list[tuple[str, float, float]]:
    """Stretches of a side that are soft or melt: the word, and where from 0 to 1."""
    shown = np.where(np.isfinite(values), values, np.inf)
    shares = np.stack(beside.shares(shown))
    verdict = np.argmax(shares, axis=0)
    verdict[~np.isfinite(values)] = 0
    edges = np.flatnonzero(np.diff(verdict)) + 1
    runs = []
    for first, last in zip([0, *edges], [*edges, len(verdict)], strict=True):
        word = _WORDS[int(verdict[first])]
        if word is not None:
            runs.append((word, first / len(verdict), last / len(verdict)))
    return runs


def _triangle(at: NDArray[np.float64]) -> str:
    x, y = at
    return (
        f'<path d="M{x:.2f} {y - 0.18:.2f}l.17 .3h-.34z" fill="#111" stroke="#fff" '
        'stroke-width=".06"/>'
    )
