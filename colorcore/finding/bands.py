"""Rows of squares that overlap: seams at the same places in bands that are alike, rows that touch
or overlap in turn."""

from typing import Any

import cv2
import numpy as np
from numpy.typing import NDArray

from colorcore.finding.blocks import (
    LONGEST,
    MOST,
    Block,
    Pattern,
    lay,
    patterns,
    seam_profile,
    showing,
)
from colorcore.finding.plane import project
from colorcore.geometry import Quad, side_lengths

# From so many bands on, none longer than this for its width, fainter seams count.
_MANY_BANDS, _LONG_BAND = 4, 4.5
# So many patterns of rows are looked at for seams within them, each with another side (as a
# logarithm) and seams that stand out by so much; and all steps from one row to the next.
_TRIED, _SAME_SIDE, _EACH = 4, 0.03, 1.2
_OVERLAPS = np.geomspace(0.15, 0.92, 80)
# A seam shows so near to its place, of the pixels that a band is long, and so many must be left
# where none is.
_NEAR, _ENOUGH = 12, 60
# What a seam costs that does not show where all others do, and in the mean of many bands.
_ABSENT, _ABSENT_IN_MANY = 2.0, 3.0
# Seams between every second or third one that show less than this share of those are none.
_BETWEEN = 0.4


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
        long = min(LONGEST, float(side_lengths(quad).max()))
        frame = np.array([[0, 0], [long, 0], [long, long / aspect], [0, long / aspect]], np.float32)
        matrix = cv2.getPerspectiveTransform(quad.astype(np.float32), frame)
        flat: Any = cv2.warpPerspective(
            channels, matrix, (round(long), max(8, round(long / aspect))),
            borderMode=cv2.BORDER_REPLICATE,
        )  # fmt: skip
        flats.append(flat)
    best = _along(flats, aspect, _ABSENT_IN_MANY if len(flats) >= _MANY_BANDS else 0.0)
    if best is None:
        return None
    alone = Pattern(1, 1.0, True, 1.0, 0.0)
    return [_of_band(quad, best, alone, aspect) for quad in bands]


def _along(flats: list[NDArray[np.float32]], aspect: float, absent: float = 0.0) -> Pattern | None:
    """Return how overlapping squares lie along straightened bands (h, w, C) that are ``aspect``
    times as long as a square, a seam that does not show costing ``absent``; None if no seams are
    where they would have to be."""
    mean = np.mean([_wide_profile(flat) for flat in flats], axis=0)
    least = float(mean.mean() + 0.3 * mean.std())
    best: Pattern | None = None
    for count in range(2, MOST + 1):
        for factor in np.linspace(0.93, 1.07, 15):
            step = (aspect * factor - 1) / (count - 1)
            if not 0.12 < step < 0.93:
                continue
            k = np.arange(1, count) * step / (aspect * factor)
            for last_whole in (True, False):
                worth = _stand_out(mean, k if last_whole else 1 - k, least, absent)
                if np.isfinite(worth) and (best is None or worth > best.gain):
                    best = Pattern(count, step, last_whole, 1 / (aspect * factor), worth)
    if best is not None:
        best = _thin_out(mean, best, least, absent)
    # Seams at the same places in many bands are hardly chance.
    each = 0.6 if len(flats) >= _MANY_BANDS and aspect < _LONG_BAND else 0.9
    if best is None or best.gain < max(3.0, each * (best.count - 1)):
        return None
    return best


def _thin_out(
    profile: NDArray[np.float64], pattern: Pattern, least: float, absent: float
) -> Pattern:
    """Return a pattern of a profile (w,) without the seams between every second or third one if
    those hardly show: the more seams there are, the less a faint one counts."""
    k = np.arange(1, pattern.count)
    places = k * pattern.step * pattern.side
    shares = places if pattern.last_whole else 1 - places
    shown = profile[np.round(shares * len(profile)).astype(np.int64)]
    for every in (2, 3):
        count, rest = divmod(pattern.count - 1, every)
        held = k % every == 0
        if rest or count < 2 or shown[~held].mean() > _BETWEEN * shown[held].mean():
            continue
        worth = _stand_out(profile, shares[held], least, absent)
        if np.isfinite(worth):
            step = pattern.step * every
            return Pattern(count + 1, step, pattern.last_whole, pattern.side, worth)
    return pattern


def _stand_out(
    profile: NDArray[np.float64], places: NDArray[np.float64], least: float, absent: float
) -> float:
    """Return how far seams at ``places`` (shares of the length) stand out of a profile (w,) from
    what it shows away from them: of short bands, seams fill too much of it for a level. Below
    ``least`` on average they are not worth a closer look; one that does not show where the others
    do costs ``absent``."""
    at = np.round(places * len(profile)).astype(np.int64)
    if at.min() < 6 or at.max() > len(profile) - 7 or float(profile[at].mean()) < least:
        return -np.inf
    away = np.ones(len(profile), bool)
    away[:_NEAR] = away[-_NEAR:] = False
    for k in at:
        away[max(0, k - _NEAR) : k + _NEAR + 1] = False
    rest = profile[away]
    if len(rest) < _ENOUGH:
        return -np.inf
    # Medians without the care for even numbers, which costs more than all else here.
    half = len(rest) // 2
    level = float(np.partition(rest, half)[half])
    spread = 1.4826 * float(np.partition(np.abs(rest - level), half)[half]) + 0.15
    shown = np.minimum((profile[at] - level) / spread, 6.0)
    hidden = int((shown < 0.2 * max(float(np.median(shown)), 1.0)).sum())
    return float((shown - 1.6).sum() - absent * hidden)


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
        long = min(LONGEST, float(side_lengths(quad).max()))
        ratio = 1 / aspect if turned else aspect
        wide, high = (long, long / ratio) if ratio >= 1 else (long * ratio, long)
        frame = np.array([[0, 0], [wide, 0], [wide, high], [0, high]], np.float32)
        matrix = cv2.getPerspectiveTransform(outline.astype(np.float32), frame)
        flat: Any = cv2.warpPerspective(
            channels, matrix, (round(wide), round(high)), borderMode=cv2.BORDER_REPLICATE
        )
        for down in _rows_that_overlap(flat):
            side = down.side * high
            shown = [showing(down, k, top * high, top * high + side, high)
                     for k, top in enumerate(down.starts())]  # fmt: skip
            rows = [flat[round(y0) : round(y1)] for y0, y1 in shown]
            # Of rows that are all but covered, as of a picture a few pixels high, nothing shows.
            if min(map(len, rows)) < 1:
                continue
            across = _along(rows, wide / side, _ABSENT)
            if across is not None and (best is None or across.gain + down.gain > best.gain):
                best = lay(outline, frame, across, down, wide, high)
    return best


def _rows_that_overlap(flat: NDArray[np.float32]) -> list[Pattern]:
    """Return how rows that overlap may lie in a straightened block (h, w, C), likeliest first."""
    profile = _wide_profile(flat.transpose(1, 0, 2).copy())
    least = float(profile.mean() + 0.3 * profile.std())
    best: dict[int, Pattern] = {}
    for count in range(3, MOST + 1):
        for step in _OVERLAPS:
            side = 1 / (1 + (count - 1) * step)
            places = np.arange(1, count) * step * side
            for last_whole in (True, False):
                from_start = places if last_whole else 1 - places
                worth = _stand_out(profile, from_start, least, _ABSENT)
                level = round(np.log(side) / _SAME_SIDE)
                if worth > _EACH * (count - 1) and (level not in best or worth > best[level].gain):
                    best[level] = Pattern(count, float(step), last_whole, float(side), worth)
    return sorted(best.values(), key=lambda p: -p.gain)[:_TRIED]


def _wide_profile(flat: NDArray[np.float32]) -> NDArray[np.float64]:
    """Return the seam profile (LONGEST,) of a straightened band, each seam so wide that those of
    squares laid by hand meet."""
    own = np.clip(seam_profile(flat), -1, 8).reshape(1, -1)
    long_own = cv2.resize(own, (LONGEST, 1), interpolation=cv2.INTER_LINEAR)
    return np.asarray(cv2.dilate(long_own, np.ones((1, 7), np.uint8)).ravel())


def _of_band(quad: NDArray[np.float64], along: Pattern, alone: Pattern, aspect: float) -> Block:
    frame = np.array([[0, 0], [aspect, 0], [aspect, 1], [0, 1]], np.float32)
    return lay(quad, frame, along, alone, aspect, 1.0)


def count_rows(channels: NDArray[np.float32], quad: Quad, aspect: float) -> list[int]:
    """Return how many rows that touch, or nearly, a block may hold: the likeliest counts first."""
    high = min(LONGEST, float(side_lengths(quad).max()))
    frame = np.array([[0, 0], [high, 0], [high, high * aspect], [0, high * aspect]], np.float32)
    # Straightened lying on its side, so that its rows are columns.
    turned = np.roll(quad, -1, axis=0).astype(np.float32)
    matrix = cv2.getPerspectiveTransform(turned, frame)
    flat: Any = cv2.warpPerspective(
        channels, matrix, (round(high), max(8, round(high * aspect))),
        borderMode=cv2.BORDER_REPLICATE,
    )  # fmt: skip
    steps = np.concatenate([[1.0], np.linspace(1.04, 1.35, 16)])
    found = patterns(seam_profile(flat), steps)
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
