"""Squares so close together that their gaps hardly show: a large outline laid out in rows and
columns, each place then looked at by itself.

Where the gaps are narrow, hand-laid rows line up too badly for seams to run straight across, yet
each square still has four sides near its place. So every number of rows and columns that makes the
places square is tried, and the one where most places hold a square is taken.
"""

import cv2
import numpy as np
from numpy.typing import NDArray

from colorcore.finding import choose
from colorcore.finding.blocks import true_aspect
from colorcore.finding.context import expected, keep_company
from colorcore.finding.evidence import bare_share
from colorcore.finding.outlines import order
from colorcore.finding.plane import fit_plane, project
from colorcore.finding.scene import Scene, score, snap, trim
from colorcore.finding.singles import best_fit, fill_in
from colorcore.finding.within import of_one_cloth, share_a_seam
from colorcore.geometry import Quad, areas

Quads = NDArray[np.float64]
Scores = NDArray[np.float64]

_MOST = 14
# How far a hand-laid square may lie from its place, as a share of its side.
_MOVED = 0.09
# Between this much of the picture and that, an outline may be a whole layout.
_LEAST_AREA, _MOST_AREA = 0.06, 0.92
# So many outlines are tried, and so many places of each layout.
_TRIED, _SAMPLED = 3, 14
# A place is square to within this, as a logarithm: the outline's own aspect is known no better.
_SQUARE = 0.13
# At the right layout, rough places already show this share of their sides (less what
# chance shows); at a wrong one a third.
_SHOWN = 0.07
# A layout of few places may show its sides by chance: so much of them, over the root of the count.
_BY_CHANCE = 0.25
# Of the places, this share must hold a square in the end.
_HELD = 0.7
# A place that shows so much table holds none; one that only the others hold is so sure.
_BARE, _BY_OTHERS = 0.3, 0.6
# Narrow gaps show a quarter to a half of the table's colours, the rest is shadow; prints show none.
_BETWEEN = 0.12
# Strips are longer than this for their width, at most so many, and must be this clear: prints with
# stripes have clear sides too, if no table between.
_SLENDER, _MOST_STRIPS, _CLEAR, _EACH_CLEAR = 3.0, 20, 0.85, 0.4
# Of so many places at most it is asked whether they are of one cloth.
_TOLD_BY = 40
# Of the sides of a few parts, a bold print shows so much by chance. From so many places between
# squares on, those places tell it themselves: of squares, so many times as much shows and more.
_BOLD, _PLENTY, _TIMES, _MORE = 0.4, 9, 3.0, 0.1
# Narrow gaps are about this share of a square.
_GAP = 0.05
_NONE = np.zeros((0, 4, 2)), np.zeros(0)


def lay_lattice(scene: Scene, shapes: Quads, fits: Scores) -> tuple[Quads, Scores]:
    """Explain a large one of ``shapes`` (N, 4, 2), well four-sided by ``fits`` (N,), as rows and
    columns of squares that lie close, or touch.

    Returns the squares and their chances, none if no layout holds.
    """
    start, shown = None, _SHOWN
    for quad in _large(scene, shapes, fits):
        found, here = _best_layout(scene, order(quad))
        if here > shown:
            start, shown = found, here
    if start is None:
        return _NONE
    start = trim(scene, start, _MOVED)
    company = keep_company(fit_plane(start, np.ones(len(start)), scene.size), start)
    fitted, sure = best_fit(scene, company, start)
    good = np.flatnonzero(sure > 0.5)
    good = good[choose.keep_best(fitted[good], sure[good])]
    if len(good) < max(4, 0.2 * len(start)):
        return _NONE
    # Checks of one print, without table between, or steps no clearer than anywhere in it: nothing
    # that grows from them would be believed.
    if not have_gaps(scene, start) and (
        of_one_cloth(scene, fitted[good][:_TOLD_BY])
        or sides_shown(scene, start) < min(_BOLD, shown_by_chance(scene, start))
    ):
        return _NONE
    quads, sure = fill_in(scene, fitted[good], sure[good])
    quads, sure = quads[sure > 0.5], sure[sure > 0.5]
    if len(quads) < _HELD * len(start) or share_a_seam(scene, quads):
        return _NONE
    # A place that shows too little by itself is held by the squares around it, if no table shows.
    company = keep_company(fit_plane(quads, sure, scene.size), quads)
    held = trim(scene, expected(company, least=2), 0.03)
    held = held[choose.clear(held, quads, 0.2) & (bare_share(scene.channels, held) < _BARE)]
    return np.concatenate([quads, held]), np.append(sure, np.full(len(held), _BY_OTHERS))


def lay_strips(scene: Scene, shapes: Quads, fits: Scores) -> tuple[Quads, Scores]:
    """Explain a large one of ``shapes`` (N, 4, 2), well four-sided by ``fits`` (N,), as strips
    side by side; returns them, each starting with a short side, and their chances, or none."""
    best, sure = _NONE
    for quad in _large(scene, shapes, fits):
        for turned in (order(quad), np.roll(order(quad), -1, axis=0)):
            aspect = true_aspect(turned, scene.size)
            counts = range(max(3, len(best) + 1, round(_SLENDER * aspect)), _MOST_STRIPS + 1)
            layouts = [_places(turned, 1, count) for count in counts]
            for strips in _without_a_false_one(scene, layouts):
                chances = score(scene, strips)
                clear = float(chances.mean()) > _CLEAR and float(chances.min()) > _EACH_CLEAR
                if clear and have_gaps(scene, strips):
                    best, sure = strips, chances
    return best, sure


def _without_a_false_one(scene: Scene, layouts: list[Quads]) -> list[Quads]:
    """Return the layouts (N, 4, 2) of strips, moved onto steps, of which none of a few that are
    looked at first is too unlikely: the most wrong ones cost little so."""
    if not layouts:
        return []
    few = np.concatenate([strips[[0, len(strips) // 2, -1]] for strips in layouts])
    least = score(scene, trim(scene, few, 0.05)).reshape(-1, 3).min(axis=1)
    return [
        trim(scene, strips, 0.05)
        for strips, chance in zip(layouts, least, strict=True)
        if chance > _EACH_CLEAR
    ]


def sides_shown(scene: Scene, quads: Quads) -> float:
    """Return how much of the sides of outlines (N, 4, 2) shows near their places, 0 to 1."""
    return float(score(scene, trim(scene, quads, _MOVED)).mean())


def shown_by_chance(scene: Scene, quads: Quads) -> float:
    """Return how much of the sides of squares (N, 4, 2) that touch would show at most, 0 to 1, if
    they were parts of a print: what shows half a square beside them, where they have none."""
    beside = quads + (quads[:, 2:3] - quads[:, :1]) / 2
    far = np.abs(beside.mean(axis=1)[:, None] - quads.mean(axis=1)).max(axis=2)
    beside = beside[(far < 0.75 * choose.sides(quads)).sum(axis=1) >= 4]
    return _TIMES * sides_shown(scene, beside) + _MORE if len(beside) >= _PLENTY else _BOLD


def have_gaps(scene: Scene, quads: Quads) -> bool:
    """Whether table shows between squares (N, 4, 2), as it never does within a print."""
    between = np.zeros(scene.size, np.uint8)
    hull = cv2.convexHull(np.round(quads.reshape(-1, 2)).astype(np.int32))
    cv2.fillConvexPoly(between, hull, 1)
    # The outermost gaps run out into the open table: they say nothing.
    rim = max(3, round(0.15 * float(np.median(choose.sides(quads)))))
    between = np.asarray(cv2.erode(between, np.ones((rim, rim), np.uint8)), dtype=np.uint8)
    for quad in quads:
        cv2.fillConvexPoly(between, np.round(quad).astype(np.int32), 0)
    gaps = between > 0
    return bool(gaps.any() and float(scene.surface.table[gaps].mean()) > _BETWEEN)


def _large(scene: Scene, shapes: Quads, fits: Scores) -> Quads:
    """Return the few large shapes that may hold many squares, the likeliest first."""
    share = areas(shapes) / (scene.size[0] * scene.size[1])
    large = np.flatnonzero((share > _LEAST_AREA) & (share < _MOST_AREA) & (fits > 0.85))
    large = large[np.argsort(-fits[large] * share[large] ** 0.25, kind="stable")][:_TRIED]
    return snap(scene, shapes[large], 0.03)


def _best_layout(scene: Scene, quad: Quad) -> tuple[Quads, float]:
    """Return the rough places (N, 4, 2) of the number of rows and columns at which most sides
    show, and how much of them does (0 to 1)."""
    aspect = true_aspect(quad, scene.size)
    layouts, offs = [], []
    for columns in range(1, _MOST + 1):
        for rows in range(1, _MOST + 1):
            off = abs(float(np.log(_length(columns) / _length(rows) / aspect)))
            if off <= _SQUARE and rows * columns >= 4:
                layouts.append(_places(quad, rows, columns))
                offs.append(off)
    if not layouts:
        return _NONE[0], 0.0
    # All layouts at once: a few places at a time would take twice as long.
    some = [
        places[np.unique(np.linspace(0, len(places) - 1, _SAMPLED).round().astype(np.int64))]
        for places in layouts
    ]
    chances = score(scene, trim(scene, np.concatenate(some), _MOVED))
    ends = np.cumsum([len(places) for places in some])
    means = [float(part.mean()) for part in np.split(chances, ends[:-1])]
    chance = _BY_CHANCE / np.sqrt([len(places) for places in layouts])
    shown = np.array(means) - 0.5 * np.array(offs) - chance
    best = int(np.argmax(shown))
    return layouts[best], float(shown[best])


def _length(count: int) -> float:
    return count + (count - 1) * _GAP


def _places(quad: Quad, rows: int, columns: int) -> Quads:
    wide, high = _length(columns), _length(rows)
    frame = np.array([[0, 0], [wide, 0], [wide, high], [0, high]], np.float32)
    back = cv2.getPerspectiveTransform(frame, quad.astype(np.float32))
    x, y = np.meshgrid(np.arange(columns) * (1 + _GAP), np.arange(rows) * (1 + _GAP))
    first = np.stack([x.ravel(), y.ravel()], axis=-1)
    unit = np.array([[0, 0], [1, 0], [1, 1], [0, 1.0]])
    return project(np.asarray(back, dtype=np.float64), first[:, None] + unit)
