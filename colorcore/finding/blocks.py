"""Squares that touch or overlap: one outline that holds many, told apart by its seams.

Straightened, such a block has seams at places that a few numbers give: how many squares lie along
each direction and how far from one to the next, as a share of the side. Below 1 they lie like
shingles, and only the last one shows whole; at 1 they touch; above there are gaps. All such
patterns are tried; both directions must agree on the side of the square.
"""

from dataclasses import dataclass, field
from typing import Any

import cv2
import numpy as np
from numpy.typing import NDArray

from colorcore.finding.plane import project
from colorcore.geometry import Quad, side_lengths

#: So many squares lie along one direction at most.
MOST = 14
#: Straightened, a block is so many pixels long at most.
LONGEST = 620
# Overlaps have one number more to fit seams with than edge to edge: that much they must gain.
_RARER = 4.0
# What a seam costs that does not show where all others do.
_ABSENT = 4.0
# Of patterns whose sides differ by less than this, as a logarithm, the best alone is kept.
_SAME_SIDE = 0.006
#: All steps tried from one square to the next, in sides: overlapping, touching, with narrow gaps.
STEPS = np.concatenate([np.geomspace(0.15, 0.9, 120), [1.0], np.linspace(1.04, 1.35, 16)])


@dataclass(frozen=True)
class Pattern:
    """Squares along one direction: ``count``, ``step`` from one to the next in sides of a square,
    ``last_whole`` whether the last one lies on top (else the first), ``side`` of a square as a
    share of the block, ``gain`` of its seams in standard deviations beyond what is usual."""

    count: int
    step: float
    last_whole: bool
    side: float
    gain: float

    def starts(self) -> NDArray[np.float64]:
        """Where each square starts, as shares of the block."""
        return np.asarray(np.arange(self.count) * self.step * self.side)


@dataclass(frozen=True, eq=False)
class Block:
    """``quads`` (N, 4, 2) in the view, ``visible`` (N, 4, 2) what shows of each, ``cells`` (N, 2)
    row and column, ``across`` and ``down`` the patterns; ``contrast`` how strongly the seams stand
    out (mean gain of a seam), ``gain`` that of all together."""

    quads: NDArray[np.float64] = field(repr=False)
    visible: NDArray[np.float64] = field(repr=False)
    cells: NDArray[np.int64] = field(repr=False)
    across: Pattern
    down: Pattern
    contrast: float
    gain: float


def true_aspect(quad: Quad, size: tuple[int, int]) -> float:
    """Return ``true_aspects`` of one outline (4, 2)."""
    return float(true_aspects(quad[None], size)[0])


def true_aspects(quads: NDArray[np.floating[Any]], size: tuple[int, int]) -> NDArray[np.float64]:
    """Return width over height (N,) of the rectangles whose pictures are ``quads`` (N, 4, 2), seen
    through a lens of usual focal length (0.85 of the longer side) in a picture of ``size`` (height,
    width)."""
    height, width = size
    # A unit square's perspective, solved as in P. Heckbert, 'Fundamentals of texture mapping and
    # image warping' (1989).
    first, second, third, fourth = np.moveaxis(np.asarray(quads, dtype=np.float64), 1, 0)
    one, other, bent = second - third, fourth - third, first - second + third - fourth
    with np.errstate(divide="ignore", invalid="ignore"):
        g, h = (_cross(bent, other), _cross(one, bent)) / _cross(one, other)
        along = second - first + g[:, None] * second, fourth - first + h[:, None] * fourth
        middle, focal = (width / 2, height / 2), 0.85 * max(size)
        across, down = (
            np.hypot(np.linalg.norm(side - np.outer(w, middle), axis=1) / focal, w)
            for side, w in zip(along, (g, h), strict=True)
        )
        exact = across / down
    sides = np.linalg.norm(np.roll(quads, -1, axis=1) - quads, axis=2)
    plain = (sides[:, 0] + sides[:, 2]) / (sides[:, 1] + sides[:, 3])
    # Where three corners lie in line there is no such rectangle.
    aspect = np.where(np.isfinite(exact), exact, plain)
    return np.asarray(np.clip(aspect, 0.8 * plain, 1.25 * plain))


def _cross(a: NDArray[np.float64], b: NDArray[np.float64]) -> NDArray[np.float64]:
    return np.asarray(a[:, 0] * b[:, 1] - a[:, 1] * b[:, 0])


def seam_profile(channels: NDArray[np.float32], width: int = 3) -> NDArray[np.float64]:
    """Return how much seams show at every column of a straightened picture (h, w, C): (w,) in
    standard deviations above the median column.

    A seam is a step or a line along the whole height. Each short stretch of a column is compared
    with its surroundings in its own row, so that a bold print counts no more than a quiet one. In a
    picture too narrow to have surroundings none shows.
    """
    if channels.shape[1] <= 2 * width:
        return np.zeros(channels.shape[1])
    tall = max(5, channels.shape[0] // 60) | 1
    smooth = cv2.blur(channels, (width, tall))
    step = np.zeros(channels.shape[:2], np.float32)
    step[:, width:-width] = _lengths(smooth[:, 2 * width :] - smooth[:, : -2 * width])
    line = np.zeros_like(step)
    fine = cv2.blur(channels, (1, tall))
    line[:, width:-width] = _lengths(
        fine[:, width:-width] - 0.5 * (fine[:, 2 * width :] + fine[:, : -2 * width])
    )
    both = step + line
    around = cv2.blur(both, (12 * width + 1, 1)) + 0.7
    relative = np.minimum(both / around, 2.5)
    profile = relative.mean(axis=0, dtype=np.float64)
    profile = cv2.dilate(profile.reshape(1, -1), np.ones((1, 3), np.uint8)).ravel()
    inner = profile[8:-8] if len(profile) > 40 else profile
    middle = float(np.median(inner))
    spread = 1.4826 * float(np.median(np.abs(inner - middle))) + 1e-6
    return np.asarray((profile - middle) / spread)


def _lengths(vectors: NDArray[np.float32]) -> NDArray[np.float32]:
    """Return the lengths (h, w) of vectors (h, w, C): sums over a short last axis are slow."""
    first, *others = cv2.split(vectors)
    squared = first * first
    for other in others:
        squared += other * other
    return np.asarray(np.sqrt(squared, out=squared))


def patterns(
    profile: NDArray[np.float64], steps: NDArray[np.float64], count: int | None = None
) -> list[Pattern]:
    """Weigh every pattern along a profile (w,), or every one of ``count`` squares; return the best
    of each size of square."""
    alone = Pattern(1, 1.0, True, 1.0, 0.0)
    best: dict[int, Pattern] = {}
    numbers = range(2, MOST + 1) if count is None else range(max(2, count), count + 1)
    for number in numbers:
        for last_whole in (True, False):
            chosen = steps if last_whole else steps[steps < 0.97]
            worth = _worth(profile, chosen, number, last_whole)
            side = 1 / (1 + (number - 1) * chosen)
            level = np.round(np.log(side) / _SAME_SIDE).astype(np.int64)
            for k in np.flatnonzero(np.isfinite(worth)).tolist():
                rival = best.get(int(level[k]))
                if rival is None or worth[k] > rival.gain:
                    best[int(level[k])] = Pattern(
                        number, float(chosen[k]), last_whole, float(side[k]), float(worth[k])
                    )
    return ([alone] if count in (None, 1) else []) + list(best.values())


def _worth(
    profile: NDArray[np.float64], steps: NDArray[np.float64], number: int, last_whole: bool
) -> NDArray[np.float64]:
    """Return what the seams of ``number`` squares are worth at each of ``steps`` (S,), minus
    infinity where they would lie at the block's rim."""
    length = len(profile)
    side = 1 / (1 + (number - 1) * steps)
    k = np.arange(1, number) * (steps * side)[:, None]
    places = k if last_whole else 1 - k
    # Of a gap both sides are seams.
    other = np.where((steps > 1.03)[:, None], k - ((steps - 1) * side)[:, None], places)
    at = np.round(np.concatenate([places, other], axis=1) * length).astype(np.int64)
    gain = np.minimum(profile, 8.0)[np.clip(at, 0, length - 1)]
    worth = (gain - 2.2).sum(axis=1) / 2
    # Where the others are clear, a seam that does not show at all is none.
    usual = np.median(gain, axis=1, keepdims=True)
    worth -= _ABSENT * (gain < 0.2 * np.maximum(usual, 1.0)).sum(axis=1) / 2
    worth -= np.where(steps < 0.97, _RARER, 0.0)
    rim = (at.min(axis=1) < 4) | (at.max(axis=1) > length - 5)
    return np.where(rim, -np.inf, worth)


def split_block(
    channels: NDArray[np.float32],
    quad: Quad,
    aspect: float,
    *,
    tolerance: float = 0.07,
    counts: tuple[int, int] | None = None,
) -> Block | None:
    """Tell apart the squares in a block.

    Parameters
    ----------
    channels
        CIELAB (h, w, 3) of the view.
    quad
        The block's outline in the view.
    aspect
        Its true width over height.
    tolerance
        How far the sides of a square may differ between the two directions, as a logarithm.
    counts
        How many squares lie across and down, if that is known.

    Returns None if the outline holds a single square or no pattern fits.
    """
    long = min(LONGEST, float(side_lengths(quad).max()))
    wide = long if aspect >= 1 else long * aspect
    high = wide / aspect
    if min(wide, high) < 24:
        return None
    frame = np.array([[0, 0], [wide, 0], [wide, high], [0, high]], np.float32)
    matrix = cv2.getPerspectiveTransform(quad.astype(np.float32), frame)
    flat: Any = cv2.warpPerspective(
        channels, matrix, (round(wide), round(high)), flags=cv2.INTER_LINEAR,
        borderMode=cv2.BORDER_REPLICATE,
    )  # fmt: skip
    columns, rows = counts or (None, None)
    across = patterns(seam_profile(flat), STEPS, columns)
    down = patterns(seam_profile(np.ascontiguousarray(flat.transpose(1, 0, 2))), STEPS, rows)
    if not across or not down:
        return None
    best = _agree(across, down, wide, high, tolerance)
    if best is None:
        return None
    x, y = best
    if x.count == y.count == 1 and counts is None:
        return None
    return lay(quad, frame, x, y, wide, high)


def _agree(
    across: list[Pattern], down: list[Pattern], wide: float, high: float, tolerance: float
) -> tuple[Pattern, Pattern] | None:
    """Return the two patterns of one side of a square that explain most, or None."""
    side_x = np.array([p.side * wide for p in across])
    side_y = np.array([p.side * high for p in down])
    gain_x = np.array([p.gain for p in across])
    gain_y = np.array([p.gain for p in down])
    off = np.abs(np.log(side_x[:, None] / side_y[None]))
    total = gain_x[:, None] + gain_y[None] - 2.0 * off / tolerance
    total[off > 2 * tolerance] = -np.inf
    k = int(np.argmax(total))
    i, j = divmod(k, len(down))
    if not np.isfinite(total[i, j]):
        return None
    return across[i], down[j]


def lay(
    quad: Quad, frame: NDArray[np.float32], x: Pattern, y: Pattern, wide: float, high: float
) -> Block:
    """Lay out the squares of two patterns, across and down, in a block whose outline ``quad`` (4,
    2) is ``frame`` (4, 2), ``wide`` by ``high``, when straightened."""
    back = cv2.getPerspectiveTransform(frame, quad.astype(np.float32))
    quads, visible, cells = [], [], []
    for row, top in enumerate(y.starts()):
        for column, left in enumerate(x.starts()):
            x0, x1 = left * wide, (left + x.side) * wide
            y0, y1 = top * high, (top + y.side) * high
            quads.append([[x0, y0], [x1, y0], [x1, y1], [x0, y1]])
            vx = showing(x, column, x0, x1, wide)
            vy = showing(y, row, y0, y1, high)
            visible.append([[vx[0], vy[0]], [vx[1], vy[0]], [vx[1], vy[1]], [vx[0], vy[1]]])
            cells.append((row, column))

    def picture(shapes: list[list[list[float]]]) -> NDArray[np.float64]:
        return project(np.asarray(back, dtype=np.float64), np.array(shapes, dtype=np.float64))

    seams = max(1, x.count + y.count - 2)
    contrast = (x.gain + y.gain) / seams
    return Block(picture(quads), picture(visible), np.array(cells), x, y, contrast, x.gain + y.gain)


def showing(
    pattern: Pattern, index: int, start: float, stop: float, length: float
) -> tuple[float, float]:
    """Return from where to where a square shows along one direction."""
    if pattern.step >= 1:
        return start, stop
    cover = (1 - pattern.step) * pattern.side * length
    if pattern.last_whole:
        return start, stop - (cover if index < pattern.count - 1 else 0)
    return start + (cover if index > 0 else 0), stop
