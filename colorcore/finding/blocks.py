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

_MOST = 14
_LONGEST = 620
# Overlaps have one number more to fit seams with than edge to edge: that much they must gain.
_RARER = 4.0
# What a seam costs that does not show where all others do.
_ABSENT = 4.0
# From so many bands on, none longer than this for its width, fainter seams count.
_MANY_BANDS, _LONG_BAND = 4, 4.5
# So many patterns of rows are looked at for seams within them.
_TRIED = 3
# Of patterns whose sides differ by less than this, as a logarithm, the best alone is kept.
_SAME_SIDE = 0.006
# All steps tried from one square to the next, in sides: overlapping, touching, with narrow gaps.
_STEPS = np.concatenate([np.geomspace(0.15, 0.9, 120), [1.0], np.linspace(1.04, 1.35, 16)])


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
    """Return width over height of the rectangle whose picture is ``quad``, seen through a lens of
    usual focal length (0.85 of the longer side) in a picture of ``size`` (height, width)."""
    height, width = size
    unit = np.array([[0, 0], [1, 0], [1, 1], [0, 1]], np.float32)
    matrix = cv2.getPerspectiveTransform(unit, quad.astype(np.float32))
    focal = 0.85 * max(size)
    lens = np.array([[focal, 0, width / 2], [0, focal, height / 2], [0, 0, 1]])
    pose = np.linalg.solve(lens, matrix)
    exact = float(np.linalg.norm(pose[:, 0]) / np.linalg.norm(pose[:, 1]))
    sides = side_lengths(quad)
    plain = float((sides[0] + sides[2]) / (sides[1] + sides[3]))
    return float(np.clip(exact, 0.8 * plain, 1.25 * plain))


def seam_profile(channels: NDArray[np.float32], width: int = 3) -> NDArray[np.float64]:
    """Return how much seams show at every column of a straightened picture (h, w, C): (w,) in
    standard deviations above the median column.

    A seam is a step or a line along the whole height. Each short stretch of a column is compared
    with its surroundings in its own row, so that a bold print counts no more than a quiet one.
    """
    tall = max(5, channels.shape[0] // 60) | 1
    smooth = cv2.blur(channels, (width, tall))
    step = np.zeros(channels.shape[:2], np.float32)
    step[:, width:-width] = np.linalg.norm(
        smooth[:, 2 * width :] - smooth[:, : -2 * width], axis=-1
    )
    line = np.zeros_like(step)
    fine = cv2.blur(channels, (1, tall))
    line[:, width:-width] = np.linalg.norm(
        fine[:, width:-width] - 0.5 * (fine[:, 2 * width :] + fine[:, : -2 * width]), axis=-1
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


def _patterns(
    profile: NDArray[np.float64], steps: NDArray[np.float64], count: int | None = None
) -> list[Pattern]:
    """Weigh every pattern along a profile (w,), or every one of ``count`` squares; return the best
    of each size of square."""
    alone = Pattern(1, 1.0, True, 1.0, 0.0)
    best: dict[int, Pattern] = {}
    numbers = range(2, _MOST + 1) if count is None else range(max(2, count), count + 1)
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
    long = min(_LONGEST, float(side_lengths(quad).max()))
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
    across = _patterns(seam_profile(flat), _STEPS, columns)
    down = _patterns(seam_profile(np.ascontiguousarray(flat.transpose(1, 0, 2))), _STEPS, rows)
    if not across or not down:
        return None
    best = _agree(across, down, wide, high, tolerance)
    if best is None:
        return None
    x, y = best
    if x.count == y.count == 1 and counts is None:
        return None
    return _lay(quad, frame, x, y, wide, high)


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


def _lay(
    quad: Quad, frame: NDArray[np.float32], x: Pattern, y: Pattern, wide: float, high: float
) -> Block:
    back = cv2.getPerspectiveTransform(frame, quad.astype(np.float32))
    quads, visible, cells = [], [], []
    for row, top in enumerate(y.starts()):
        for column, left in enumerate(x.starts()):
            x0, x1 = left * wide, (left + x.side) * wide
            y0, y1 = top * high, (top + y.side) * high
            quads.append([[x0, y0], [x1, y0], [x1, y1], [x0, y1]])
            vx = _showing(x, column, x0, x1, wide)
            vy = _showing(y, row, y0, y1, high)
            visible.append([[vx[0], vy[0]], [vx[1], vy[0]], [vx[1], vy[1]], [vx[0], vy[1]]])
            cells.append((row, column))

    def picture(shapes: list[list[list[float]]]) -> NDArray[np.float64]:
        return project(np.asarray(back, dtype=np.float64), np.array(shapes, dtype=np.float64))

    seams = max(1, x.count + y.count - 2)
    contrast = (x.gain + y.gain) / seams
    return Block(picture(quads), picture(visible), np.array(cells), x, y, contrast, x.gain + y.gain)


def _showing(
    pattern: Pattern, index: int, start: float, stop: float, length: float
) -> tuple[float, float]:
    """Return from where to where a square shows along one direction."""
    if pattern.step >= 1:
        return start, stop
    cover = (1 - pattern.step) * pattern.side * length
    if pattern.last_whole:
        return start, stop - (cover if index < pattern.count - 1 else 0)
    return start + (cover if index > 0 else 0), stop


def split_bands(
    channels: NDArray[np.float32], bands: NDArray[np.float64], aspect: float
) -> list[Block] | None:
    """Tell apart the overlapping squares in bands that are alike.

    ``bands`` (N, 4, 2) start with the side that runs along them; ``aspect`` is their length over
    their width. A square is as wide as its band, so the number of squares gives the step. Returns
    a block per band, or None if no seams are where they would have to be.
    """
    flats = []
    for quad in bands:
        long = min(_LONGEST, float(side_lengths(quad).max()))
        frame = np.array([[0, 0], [long, 0], [long, long / aspect], [0, long / aspect]], np.float32)
        matrix = cv2.getPerspectiveTransform(quad.astype(np.float32), frame)
        flat: Any = cv2.warpPerspective(
            channels, matrix, (round(long), max(8, round(long / aspect))),
            borderMode=cv2.BORDER_REPLICATE,
        )  # fmt: skip
        flats.append(flat)
    best = _along(flats, aspect)
    if best is None:
        return None
    alone = Pattern(1, 1.0, True, 1.0, 0.0)
    return [_of_band(quad, best, alone, aspect) for quad in bands]


def _along(flats: list[NDArray[np.float32]], aspect: float) -> Pattern | None:
    """Return how overlapping squares lie along straightened bands (h, w, C) that are ``aspect``
    times as long as a square; None if no seams are where they would have to be."""
    profiles = []
    for flat in flats:
        own = np.clip(seam_profile(flat), -1, 8).reshape(1, -1)
        long_own = cv2.resize(own, (_LONGEST, 1), interpolation=cv2.INTER_LINEAR)
        profiles.append(cv2.dilate(long_own, np.ones((1, 7), np.uint8)).ravel())
    mean = np.mean(profiles, axis=0)
    inner = mean[12:-12]
    mean = mean - np.median(inner)
    spread = 1.4826 * float(np.median(np.abs(mean[12:-12]))) + 0.15
    best: Pattern | None = None
    for count in range(2, _MOST + 1):
        for factor in np.linspace(0.93, 1.07, 15):
            step = (aspect * factor - 1) / (count - 1)
            if not 0.12 < step < 0.93:
                continue
            k = np.arange(1, count) * step / (aspect * factor)
            for last_whole in (True, False):
                at = np.round((k if last_whole else 1 - k) * _LONGEST).astype(np.int64)
                if at.min() < 6 or at.max() > _LONGEST - 7:
                    continue
                worth = float((np.minimum(mean[at] / spread, 6.0) - 1.6).sum())
                if best is None or worth > best.gain:
                    best = Pattern(count, step, last_whole, 1 / (aspect * factor), worth)
    # Seams at the same places in many bands are hardly chance.
    each = 0.6 if len(flats) >= _MANY_BANDS and aspect < _LONG_BAND else 0.9
    if best is None or best.gain < max(3.0, each * (best.count - 1)):
        return None
    return best


def split_loosely(channels: NDArray[np.float32], quad: Quad, aspect: float) -> Block | None:
    """Tell apart squares that overlap both ways in a block laid by hand: the seams of its rows (or
    columns) run through, those within each of them only nearly line up.

    ``quad`` is the block's outline in the view, ``aspect`` its true width over height. Returns
    None if no seams are where they would have to be.
    """
    best: Block | None = None
    for turned in (False, True):
        # With columns that run through, the block is looked at lying on its side.
        outline = np.roll(quad, -1, axis=0) if turned else quad
        long = min(_LONGEST, float(side_lengths(quad).max()))
        ratio = 1 / aspect if turned else aspect
        wide, high = (long, long / ratio) if ratio >= 1 else (long * ratio, long)
        frame = np.array([[0, 0], [wide, 0], [wide, high], [0, high]], np.float32)
        matrix = cv2.getPerspectiveTransform(outline.astype(np.float32), frame)
        flat: Any = cv2.warpPerspective(
            channels, matrix, (round(wide), round(high)), borderMode=cv2.BORDER_REPLICATE
        )
        rows = _patterns(seam_profile(np.ascontiguousarray(flat.transpose(1, 0, 2))), _STEPS)
        rows = [p for p in rows if p.count > 2 and p.step < 1 and p.gain > 2 * (p.count - 1)]
        for down in sorted(rows, key=lambda p: -p.gain)[:_TRIED]:
            side = down.side * high
            shown = [_showing(down, k, top * high, top * high + side, high)
                     for k, top in enumerate(down.starts())]  # fmt: skip
            across = _along([flat[round(y0) : round(y1)] for y0, y1 in shown], wide / side)
            if across is not None and (best is None or across.gain + down.gain > best.gain):
                best = _lay(outline, frame, across, down, wide, high)
    return best


def _of_band(quad: NDArray[np.float64], along: Pattern, alone: Pattern, aspect: float) -> Block:
    frame = np.array([[0, 0], [aspect, 0], [aspect, 1], [0, 1]], np.float32)
    return _lay(quad, frame, along, alone, aspect, 1.0)


def count_rows(channels: NDArray[np.float32], quad: Quad, aspect: float) -> list[int]:
    """Return how many rows that touch, or nearly, a block may hold: the likeliest counts first."""
    high = min(_LONGEST, float(side_lengths(quad).max()))
    frame = np.array([[0, 0], [high, 0], [high, high * aspect], [0, high * aspect]], np.float32)
    # Straightened lying on its side, so that its rows are columns.
    turned = np.roll(quad, -1, axis=0).astype(np.float32)
    matrix = cv2.getPerspectiveTransform(turned, frame)
    flat: Any = cv2.warpPerspective(
        channels, matrix, (round(high), max(8, round(high * aspect))),
        borderMode=cv2.BORDER_REPLICATE,
    )  # fmt: skip
    steps = np.concatenate([[1.0], np.linspace(1.04, 1.35, 16)])
    found = _patterns(seam_profile(flat), steps)
    ranked = sorted((p for p in found if p.gain > p.count - 1), key=lambda p: -p.gain)
    counts: list[int] = []
    for pattern in ranked:
        if pattern.count not in counts:
            counts.append(pattern.count)
    return counts[:3]


def slice_rows(quad: Quad, aspect: float, count: int) -> NDArray[np.float64]:
    """Return the rows (count, 4, 2) of a block, each starting with the side along it."""
    frame = np.array([[0, 0], [aspect, 0], [aspect, 1], [0, 1]], np.float32)
    back = cv2.getPerspectiveTransform(frame, quad.astype(np.float32))
    rows = []
    for row in range(count):
        low, high = row / count, (row + 1) / count
        rows.append([[0, low], [aspect, low], [aspect, high], [0, high]])
    return project(np.asarray(back, dtype=np.float64), np.array(rows, dtype=np.float64))
