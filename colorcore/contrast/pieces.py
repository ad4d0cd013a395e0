"""Judge the pieces of a square where it counts: along the seams that lie beside the background.

Each square is cut virtually as it would be cut. The value of each piece is taken along its seam
line, as seen from the viewing distance, and set against what lies beside it. A white flower on
the seam of a dark print lets the piece's outline break up on white, however dark the print reads
as a whole.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction
from functools import lru_cache
from typing import Final
from weakref import WeakKeyDictionary

import numpy as np

from colorcore.contrast.background import Background
from colorcore.contrast.measures import HOLDS, MELTS, SOFT, Thresholds
from colorcore.contrast.seen import (
    EDGE_DEPTH_INCHES,
    Beside,
    FloatArray,
    Seen,
    beside_background,
    see_swatch,
)
from colorcore.cutting.avoiding import MOST_MELTING, badness_from_map, cut_around
from colorcore.cutting.guillotine import Cutting, Guillotine, PieceWanted
from colorcore.lengths import SEAM, exact_inches, say_size
from colorcore.pattern.model import PieceRule
from colorcore.swatch import Swatch

_MELTED: Final = 0.5
_MOSTLY_HOLDS: Final = 0.75
_LEAST_SEEN: Final = 0.5
_MOST_CUTTINGS: Final = 16
#: By square, and by pieces and thresholds, what ``plain_edges`` found.
_PLAIN_EDGES: Final[
    WeakKeyDictionary[
        Swatch, dict[tuple[tuple[PieceRule, ...], Thresholds], tuple["PieceEdge", ...]]
    ]
] = WeakKeyDictionary()


@dataclass(frozen=True)
class PieceContrast:
    """One piece of a square beside the background.

    ``x``, ``y`` of its top left, ``width`` and ``height`` as cut, in inches of the square;
    ``delta_l`` what it reads as, finished, less the background; ``holds``, ``soft`` and ``melts``
    are shares of the length of its finished edge and sum to 1; ``seen`` how much of
    the edge the photo shows. ``verdict`` is melts if half of the edge does, holds if at least
    three quarters hold and no more than ``MOST_MELTING`` melts, else soft; ``good`` if no more
    than ``MOST_MELTING`` melts.
    """

    name: str
    x: float
    y: float
    width: float
    height: float
    delta_l: float
    holds: float
    soft: float
    melts: float
    seen: float
    verdict: str
    good: bool


@dataclass(frozen=True)
class SquareContrast:
    """The pieces of a square, cut plainly and cut around its bad parts.

    ``around`` equals ``pieces`` where going around brings nothing. ``sentence`` says what to do.
    """

    square: str
    pieces: tuple[PieceContrast, ...]
    around: tuple[PieceContrast, ...]
    sentence: str

    @property
    def good(self) -> int:
        """Good pieces of the plain cutting."""
        return sum(piece.good for piece in self.pieces)

    def share(self, verdict: str) -> float:
        """Return the share of the plain pieces with this verdict, NaN for no pieces."""
        if not self.pieces:
            return float("nan")
        return sum(piece.verdict == verdict for piece in self.pieces) / len(self.pieces)


def judge_square(
    swatch: Swatch,
    pieces: Sequence[PieceRule],
    background: Background | Beside,
    thresholds: Thresholds | None = None,
    *,
    around: bool = True,
) -> SquareContrast:
    """Cut a square virtually into the pieces a pattern wants of it and judge each piece.

    With ``around`` the cuts are also laid so that they meet as little of what melts as can be.

    Raises
    ------
    CuttingError
        If the square does not give the pieces by cuts from edge to edge.
    """
    limits = thresholds or Thresholds()
    beside = background if isinstance(background, Beside) else beside_background(background, limits)
    wanted, counts = _wanted(pieces)
    if not wanted:
        return SquareContrast(swatch.id, (), (), "nothing is cut from it")
    judged = tuple(judge_edge(edge, beside) for edge in plain_edges(swatch, tuple(pieces), limits))
    better = judged
    if around and any(not piece.good for piece in judged):
        seen = see_swatch(swatch, limits)
        side = exact_inches(swatch.side_inches)
        bad = melting_map(seen, beside)
        cutting, _ = cut_around(side, side, wanted, counts, badness_from_map(bad, float(side)))
        other = tuple(judge_edge(edge, beside) for edge in edges_of(cutting, seen))
        if _worth(other) > _worth(judged):
            better = other
    return SquareContrast(swatch.id, judged, better, _advice(judged, better))


def stand_off(
    beside: Beside, lightness: FloatArray, *, but_for: float = MOST_MELTING
) -> FloatArray:
    """Return how far plain colours of L* (...) stand off, in L* units: at least so far from all
    places beside them but for a share. Beside a plain background it is the difference itself."""
    flat = np.atleast_1d(np.asarray(lightness, dtype=np.float64))
    steps = np.abs(flat.ravel()[:, None] - beside.lightness[None])
    return np.quantile(steps, but_for, axis=1, method="higher").reshape(np.shape(lightness))


def color_verdicts(beside: Beside, lightness: FloatArray) -> tuple[str, ...]:
    """Return the verdicts on plain colours of L* (N,), by all places beside them."""
    holds, _, melts = beside.shares(lightness)
    return tuple(piece_verdict(h, m) for h, m in zip(holds, melts, strict=True))


def plain_edges(
    swatch: Swatch, pieces: tuple[PieceRule, ...], thresholds: Thresholds
) -> tuple["PieceEdge", ...]:
    """Return the edges of a square's pieces, cut plainly.

    Kept as long as the square is: on the board one square moves, and all the others are judged
    again as they were.

    Raises
    ------
    CuttingError
        As ``cut_plainly``.
    """
    kept = _PLAIN_EDGES.setdefault(swatch, {})
    key = (pieces, thresholds)
    edges = kept.get(key)
    if edges is None:
        cutting = cut_plainly(exact_inches(swatch.side_inches), pieces)
        edges = edges_of(cutting, see_swatch(swatch, thresholds))
        if len(kept) >= _MOST_CUTTINGS:
            kept.clear()
        kept[key] = edges
    return edges


@lru_cache(maxsize=64)
def cut_plainly(side: Fraction, pieces: tuple[PieceRule, ...]) -> Cutting:
    """Return the best edge-to-edge cutting of a square of ``side`` inches into the pieces.

    Raises
    ------
    CuttingError
        If the square does not give them.
    """
    wanted, counts = _wanted(pieces)
    return Guillotine(side, side, wanted).cutting(counts)


@dataclass(frozen=True, eq=False)
class PieceEdge:
    """A piece before it lies beside anything: ``box`` is x, y, width and height as cut, in
    inches of the square; ``sides`` L* (K,) along its four sides, see ``_edge_lightness``;
    ``reads_as`` the L* that the finished piece reads as."""

    name: str
    box: tuple[float, float, float, float]
    sides: tuple[FloatArray, FloatArray, FloatArray, FloatArray]
    reads_as: float


def edges_of(cutting: Cutting, seen: Seen) -> tuple[PieceEdge, ...]:
    """Return the edges of all pieces of a cutting, to be judged beside one thing after another."""
    return tuple(
        edge_of(
            seen,
            (float(part.x), float(part.y), float(part.width), float(part.height)),
            cutting.pieces[part.piece].name,
        )
        for part in cutting.parts
        if part.piece is not None
    )


def edge_of(seen: Seen, box: tuple[float, float, float, float], name: str) -> PieceEdge:
    """Return the edge of one piece; ``box`` is x, y, width and height as cut, in inches."""
    return PieceEdge(name, box, _edge_lightness(seen, box), _reads_as(seen, box))


def judge_edge(piece: PieceEdge, beside: Beside) -> PieceContrast:
    """Judge a piece beside something."""
    edge = np.concatenate(piece.sides)
    known = np.isfinite(edge)
    delta_l = piece.reads_as - float(np.mean(beside.lightness))
    if known.mean() >= _LEAST_SEEN:
        holds, soft, melts = (float(part.mean()) for part in beside.shares(edge[known]))
    else:
        # Too little of the edge shows in the photo; what the whole reads as must do.
        word = beside.thresholds.verdict(delta_l)
        holds, soft, melts = (float(word == each) for each in (HOLDS, SOFT, MELTS))
    x, y, width, height = piece.box
    return PieceContrast(
        name=piece.name,
        x=x,
        y=y,
        width=width,
        height=height,
        delta_l=delta_l,
        holds=holds,
        soft=soft,
        melts=melts,
        seen=float(known.mean()),
        verdict=piece_verdict(holds, melts),
        good=melts <= MOST_MELTING,
    )


def piece_verdict(holds: float, melts: float) -> str:
    """Return the verdict on a piece from the shares of its edge that hold and melt."""
    if melts >= _MELTED:
        return MELTS
    return HOLDS if melts <= MOST_MELTING and holds >= _MOSTLY_HOLDS else SOFT


def _edge_lightness(
    seen: Seen, box: tuple[float, float, float, float]
) -> tuple[FloatArray, FloatArray, FloatArray, FloatArray]:
    """Return L* (K,) along top, right, bottom and left of a piece's finished edge, clockwise.

    The edge is what lies within ``EDGE_DEPTH_INCHES`` inside of the seam line. Each value stands
    for the same length; NaN where the photo does not show the fabric.
    """
    x, y, width, height = box
    scale = seen.pixels_per_inch
    rows, columns = seen.lightness.shape
    inset = float(SEAM) + EDGE_DEPTH_INCHES / 2
    # A piece not wider than its seam allowances has no edge to show; its middle line stands in.
    across, down = min(inset, width / 2), min(inset, height / 2)
    left, right = (x + across) * scale - 0.5, (x + width - across) * scale - 0.5
    top, bottom = (y + down) * scale - 0.5, (y + height - down) * scale - 0.5
    xs = np.linspace(left, right, max(2, round(right - left) + 1))
    ys = np.linspace(top, bottom, max(2, round(bottom - top) + 1))

    def at(plane: FloatArray, column: FloatArray | float, row: FloatArray | float) -> FloatArray:
        c = np.clip(np.rint(column), 0, columns - 1).astype(np.int64)
        r = np.clip(np.rint(row), 0, rows - 1).astype(np.int64)
        return np.asarray(np.atleast_1d(plane[r, c]))

    return (
        at(seen.down, xs, top),
        at(seen.across, right, ys),
        at(seen.down, xs[::-1], bottom),
        at(seen.across, left, ys[::-1]),
    )


def melting_map(seen: Seen, beside: Beside) -> FloatArray:
    """Return the chance (N, N), 0 to 1, that a seam at a place of the square would melt; 0 where
    the photo does not show."""
    filled = np.nan_to_num(seen.lightness)
    return np.asarray(np.where(np.isfinite(seen.lightness), beside.shares(filled)[2], 0.0))


def _reads_as(seen: Seen, box: tuple[float, float, float, float]) -> float:
    from colorcore.color.spaces import lightness_from_luminance

    x, y, width, height = box
    seam = float(SEAM)
    across, down = min(seam, width / 2 - 1e-9), min(seam, height / 2 - 1e-9)
    scale = seen.pixels_per_inch
    rows, columns = seen.lightness.shape
    x0, x1 = (int(np.clip(round(v * scale), 0, columns)) for v in (x + across, x + width - across))
    y0, y1 = (int(np.clip(round(v * scale), 0, rows)) for v in (y + down, y + height - down))
    x0, y0 = min(x0, columns - 1), min(y0, rows - 1)
    area = seen.luminance[y0 : max(y1, y0 + 1), x0 : max(x1, x0 + 1)]
    mean = float(area.mean(dtype=np.float64))
    if mean != mean:
        shown = area[np.isfinite(area)]
        # A piece that the photo does not show at all is taken to read as the whole does.
        shown = shown if len(shown) else seen.luminance[np.isfinite(seen.luminance)]
        mean = float(shown.mean(dtype=np.float64))
    return float(lightness_from_luminance(mean)) + seen.offset


def _wanted(pieces: Sequence[PieceRule]) -> tuple[list[PieceWanted], tuple[int, ...]]:
    wanted = [PieceWanted(p.name, p.width, p.height, p.per_square) for p in pieces]
    return wanted, tuple(p.per_square for p in pieces)


def _worth(pieces: tuple[PieceContrast, ...]) -> tuple[int, float]:
    return sum(piece.good for piece in pieces), -round(sum(piece.melts for piece in pieces), 6)


def _advice(plain: tuple[PieceContrast, ...], around: tuple[PieceContrast, ...]) -> str:
    total, good = len(plain), sum(piece.good for piece in plain)
    if good == total:
        return f"all {total} pieces are good, wherever they are cut"
    better = sum(piece.good for piece in around)
    if around is plain or better <= good:
        return f"{good} of {total} pieces are good, and no other way to cut gives more"
    places = "; ".join(
        f"{_size(p)} at {p.x:.3g} in from the left, {p.y:.3g} in from the top"
        for p in around
        if p.good
    )
    return f"{good} of {total} pieces are good if cut plainly, {better} if cut here: {places}"


def _size(piece: PieceContrast) -> str:
    sides = (Fraction(n).limit_denominator(16) for n in (piece.width, piece.height))
    return say_size(*sides)
