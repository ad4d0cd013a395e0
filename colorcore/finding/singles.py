"""Squares that lie apart: shapes that stand out from the table, of one size, then all places where
such a square would fit."""

from concurrent.futures import ThreadPoolExecutor

import cv2
import numpy as np
from numpy.typing import NDArray

from colorcore.finding import choose
from colorcore.finding.context import (
    Company,
    chance,
    expected,
    is_held,
    keep_company,
    lies_between,
)
from colorcore.finding.evidence import bare_share
from colorcore.finding.layout import lay_out
from colorcore.finding.outlines import (
    aspects,
    contours_of_mask,
    quads_of_contours,
    shapes_of_contours,
)
from colorcore.finding.plane import Plane, fit_plane
from colorcore.finding.scene import Scene, score, shows_all_round, sides_of, snap, trim
from colorcore.finding.template import Window, match_squares
from colorcore.finding.things import sheet_like
from colorcore.finding.whole import fit_whole
from colorcore.geometry import areas

_LONGEST = 1.45
# The least area of a square or thing, as a share of the picture, and with fewer than four squares.
_SMALLEST = 0.0008
_SMALLEST_ALONE = 0.006
# Fewer squares than this need others to be believed, which explain this much of what stands.
_FEW, _MAIN = 4, 0.6
# Where so much of what stands on the table is accounted for, it is not searched anew.
_EXPLAINED = 0.9
# So many shapes are looked at at most.
_SHAPES = 400
# From a few sure squares the layout grows by a ring a round, at most so many rounds.
_ROUNDS = 16
# From this fit on a shape is four-sided.
_FOUR_SIDED = 0.9
# Below the first chance an outline is given up, from the second on it is left as it is.
_PROMISING, _SETTLED = 0.002, 0.97
# A place of which no side shows a step along more than this share, nor one stronger than this in
# units of the table's own, is given up below this chance: bare table, which is no square nearby.
_BLANK_SHOWS, _BLANK_STEP, _BLANK = 0.3, 0.8, 0.015
# What fills this share of its rows and columns, and of so many places at least, tells well where
# the next ones are.
_MOST_KNOWN, _SOME = 0.67, 9
# So many places are tried in earnest at most.
_TRIED = 60
# A place between two rows that shows less of the table than this holds one, so sure.
_HIDES, _HELD = 0.3, 0.6
# An outline of whose sides less lies in the picture runs out of it; then so much of each side must
# show, as far as it is in the picture at all.
_MOSTLY_IN, _CUT_SHOWS = 0.9, 0.5
Quads = NDArray[np.float64]
Scores = NDArray[np.float64]
_NONE = np.zeros((0, 4, 2)), np.zeros(0)


def propose(scene: Scene) -> tuple[Quads, Scores]:
    """Return the four-sided shapes of every mask of the table at several openings, without
    repeats, and how well each is four-sided (0 to 1)."""
    smallest = max(150.0, scene.view.height * scene.view.width * _SMALLEST)
    # A mat and the paper half on it part at the broadest.
    masks = [(mask, opening) for mask in scene.masks for opening in (3, 9)] + [(scene.table, 17)]
    shapes: list[tuple[Quads, float]] = []
    # The next masks' contours are followed while the shapes of this one are looked at.
    with ThreadPoolExecutor(1) as ahead:
        for contours in ahead.map(contours_of_mask, *zip(*masks, strict=True)):
            shapes += shapes_of_contours(contours, smallest, shapes)
    if not shapes:
        return _NONE
    quads = np.array([q for q, _ in shapes])
    fits = np.array([f for _, f in shapes])
    kept = choose.distinct(quads, np.where(fits > 0.8, fits, 0))[:_SHAPES]
    return quads[kept], fits[kept]


def lone_squares(scene: Scene, shapes: Quads) -> tuple[Quads, Scores]:
    """Return the shapes that are squares of one common size, and their scores."""
    quads = snap(scene, shapes[aspects(shapes) < _LONGEST], 0.05) if len(shapes) else shapes
    if not len(quads):
        return _NONE
    sure = score(scene, quads)
    # A sheet of paper is longer than wide; a tilt makes all squares so, and alike.
    likely = sure * np.exp(-0.5 * (np.log(aspects(quads)) / 0.16) ** 2)
    chosen = choose.common_size(quads, likely)
    return _of_one_size(scene, trim(scene, quads[chosen]), sure[chosen])


def stand_alone(scene: Scene, quads: Quads, sure: Scores) -> tuple[Quads, Scores]:
    """Return the squares that can be believed by themselves: fewer than four could be anything
    that has four corners, so they must be large and clear."""
    total = scene.view.height * scene.view.width
    clear = (sure > 0.9) & (areas(quads) > _SMALLEST_ALONE * total)
    if len(quads) >= _FEW or clear.all():
        return quads, sure
    return quads[clear], sure[clear]


def grow(scene: Scene, quads: Quads, sure: Scores, sheets: Quads) -> tuple[Quads, Scores]:
    """Return a few outlines that are hardly believed and all others like them, if they are so many
    and so sure that little else stands on the table; else none."""
    if not 0 < len(quads) < _FEW:
        return _NONE
    more, found = fill_in(scene, quads, sure, sheets)
    enough = len(more) >= 2 * _FEW and float(found.mean()) > 0.9
    return (more, found) if enough and explained(scene, more) > _MAIN else _NONE


def explained(scene: Scene, quads: Quads) -> float:
    """Return the share of what is not table that outlines (N, 4, 2) account for."""
    left = scene.standing.copy()
    for quad in quads:
        cv2.fillConvexPoly(left, np.round(quad).astype(np.int32), 0)
    return 1 - cv2.countNonZero(left) / max(cv2.countNonZero(scene.standing), 1)


def lone_bands(scene: Scene, shapes: Quads) -> tuple[Quads, Scores]:
    """Return the shapes that are long and alike (strips, or rows of overlapping squares), and
    their scores; each starts at the same end, its first side one of the long or of the short
    ones for all."""
    if not len(shapes):
        return _NONE
    least = _SMALLEST_ALONE * scene.size[0] * scene.size[1]
    long = (aspects(shapes) >= _LONGEST) & (areas(shapes) > least)
    if not long.any():
        return _NONE
    quads = snap(scene, shapes[long], 0.03)
    quads = _lie_alike(quads)
    sure = score(scene, quads)
    chosen = choose.common_size(quads, sure, slender=True)
    return _of_one_size(scene, quads[chosen], sure[chosen])


def _lie_alike(quads: Quads) -> Quads:
    """Turn outlines so that their first side points the way that most long sides do."""
    run = quads[:, 1] - quads[:, 0] + quads[:, 2] - quads[:, 3]
    rise = quads[:, 3] - quads[:, 0] + quads[:, 2] - quads[:, 1]
    lying = np.linalg.norm(run, axis=1) > np.linalg.norm(rise, axis=1)
    long = np.where(lying[:, None], run, rise)
    weight = np.linalg.norm(long, axis=1)
    angle = np.arctan2(long[:, 1], long[:, 0])
    mean = np.angle(np.sum(weight * np.exp(2j * angle))) / 2
    flip = np.cos(angle - mean) < 0
    turns = np.where(lying, 0, 1) + np.where(flip, 2, 0)
    # The first side runs along the band, from the end that the mean direction starts at.
    return np.array([np.roll(q, -int(k), axis=0) for q, k in zip(quads, turns, strict=True)])


def _of_one_size(scene: Scene, quads: Quads, sure: Scores) -> tuple[Quads, Scores]:
    for tolerance in (0.12, 0.07):
        if len(quads) < 2:
            break
        plane = fit_plane(quads, sure, scene.size)
        proper = off_size(plane, quads) < tolerance
        if proper.any():
            quads, sure = quads[proper], sure[proper]
    return quads, sure


def off_size(plane: Plane, quads: Quads) -> Scores:
    """Return how far the sides of each outline are from the common side (N,), the worst of the
    four as a logarithm."""
    flat = plane.straighten(quads)
    side = np.linalg.norm(np.roll(flat, -1, axis=1) - flat, axis=2)
    return np.asarray(np.abs(np.log(np.maximum(side, 1e-6))).max(axis=1))


def fill_in_bands(scene: Scene, quads: Quads, sure: Scores) -> tuple[Quads, Scores]:
    """Add long shapes of the same size wherever the picture shows one, first of all beside those
    that are known; between two of them, what shows no table is one, however pale its ends."""
    everywhere = True
    for _ in range(_ROUNDS):
        if not len(quads):
            break
        company = keep_company(fit_plane(quads, sure, scene.size), quads)
        # A band that is hardly darker than the table here and there is best left where it must be.
        places = expected(company)
        found = np.concatenate([places, trim(scene, places, 0.03)])
        if everywhere:
            found = np.concatenate([found, _search(scene, company)])
        found = found[off_size(company.plane, found) < 0.06] if len(found) else found
        fresh = score(scene, found)
        held = bare_share(scene.channels, found) < _HIDES if len(found) else fresh > 0
        held &= lies_between(company, found)
        fresh = np.where(held, np.maximum(fresh, _HELD), fresh)
        good = np.flatnonzero(fresh > 0.5)
        good = good[_clear_if_cut(scene, found[good])] if len(good) else good
        good = good[choose.keep_best(found[good], fresh[good], 0.1)] if len(good) else good
        clear = [k for k in good if choose.clear_of(found[k], quads, 0.1)]
        if not clear:
            break
        quads, sure = np.concatenate([quads, found[clear]]), np.concatenate([sure, fresh[clear]])
        everywhere = False
    return quads, sure


def _clear_if_cut(scene: Scene, quads: Quads) -> NDArray[np.bool_]:
    """Return which outlines (N, 4, 2) lie in the picture, or show all round in it: sides that lie
    out of it speak neither way, and what is left of them may be anything."""
    sides = sides_of(scene, quads)
    inside = sides.seen.mean(axis=1) > _MOSTLY_IN
    return np.asarray(inside | (sides.shown.min(axis=1) > _CUT_SHOWS))


def fill_in(
    scene: Scene, quads: Quads, sure: Scores, sheets: Quads = _NONE[0]
) -> tuple[Quads, Scores]:
    """Add squares of the same size wherever the picture shows one, and weigh all in the company
    of the others. Where ``sheets`` (M, 4, 2) of another size lie, no square is."""
    searched, few = False, len(quads)
    for turn in range(_ROUNDS):
        if not len(quads):
            return quads, sure
        company = keep_company(fit_plane(quads, sure, scene.size), quads)
        quads, sure = settle(scene, company, quads)
        taken = sheets[off_size(company.plane, sheets) > 0.1] if len(sheets) else sheets
        places = expected(company)
        if turn == 0 and not _nearly_full(company, quads):
            # From few squares, neighbours of neighbours go astray: all over the table first.
            places, searched = np.concatenate([places, _further(scene, company, quads)]), True
        more, found = squares_at(scene, company, quads, places, taken)
        if not len(more) and not searched:
            # Next to the squares there are no more: the rest of the table.
            places, searched = _further(scene, company, quads), True
            more, found = squares_at(scene, company, quads, places, taken)
        if not len(more):
            break
        quads, sure = np.concatenate([quads, more]), np.concatenate([sure, found])
        if searched and len(quads) > 1.25 * few + 1 and explained(scene, quads) < _EXPLAINED:
            # Those that came since may tell of others that lie apart from their rows.
            searched, few = False, len(quads)
    company = keep_company(fit_plane(quads, sure, scene.size), quads)
    return quads, chance(scene, company, quads)


def settle(scene: Scene, company: Company, quads: Quads) -> tuple[Quads, Scores]:
    """Weigh squares (N, 4, 2) in their company, and move those that are less than sure onto the
    steps next to them."""
    sure = chance(scene, company, quads)
    weak = np.flatnonzero(sure < _SETTLED)
    quads = quads.copy()
    quads[weak], sure[weak] = best_fit(scene, company, quads[weak], sure[weak])
    return quads, sure


def _search(scene: Scene, company: Company, window: Window | None = None) -> Quads:
    """Return places where an outline of the common size may be, none twice."""
    wide = np.ceil(min(15.0, 1.5 + 2 * float(np.std(company.lean))) / 3.0)
    degrees = np.arange(-wide, wide + 1) * 3.0
    found, match = match_squares(
        scene.channels,
        company.plane,
        window or _around(scene, company),
        degrees,
        0.5,
        company.middles,
    )
    return found[choose.distinct(found, match, 0.08)] if len(found) else found


def _around(scene: Scene, company: Company) -> Window:
    """Return the part of the plane that the squares and their next neighbours may lie in."""
    frame = np.array([[0, 0], [1, 0], [1, 1], [0, 1.0]]) * [scene.view.width, scene.view.height]
    edge = company.plane.straighten(frame)
    low = np.maximum(company.middles.min(axis=0) - 2.3, edge.min(axis=0) - 0.5)
    high = np.minimum(company.middles.max(axis=0) + 2.3, edge.max(axis=0) + 0.5)
    return Window(*low, *high)


def squares_at(
    scene: Scene, company: Company, quads: Quads, found: Quads, taken: Quads = _NONE[0]
) -> tuple[Quads, Scores]:
    """Return which of the places ``found`` (K, 4, 2) hold squares, and how sure, but none on known
    ``quads`` (N, 4, 2) or on what is ``taken`` (M, 4, 2) by something else, unless all four sides
    show beside squares in rows and columns: two light ones that touch look like one sheet, and one
    that is cut off looks longer than wide."""
    if not len(found):
        return _NONE
    first = chance(scene, company, found)
    # What has no chance a few pixels off its place will have none at it.
    promising = np.argsort(-first, kind="stable")[:_TRIED]
    promising = promising[first[promising] > _PROMISING]
    promising = promising[(first[promising] > _BLANK) | _shows(scene, found[promising])]
    if not len(promising):
        return _NONE
    fitted, sure = best_fit(scene, company, found[promising], first[promising])
    good = np.flatnonzero(sure > 0.5)
    good = good[choose.keep_best(fitted[good], sure[good])] if len(good) else good
    good = good[choose.clear(fitted[good], quads, 0.15)]
    fitted, sure = fitted[good], sure[good]
    free = choose.clear(fitted, taken, 0.3)
    free |= is_held(company, fitted) & shows_all_round(scene, fitted)
    return fitted[free], sure[free]


def _shows(scene: Scene, quads: Quads) -> NDArray[np.bool_]:
    """Return of which outlines (N, 4, 2) some side shows anything."""
    sides = sides_of(scene, quads)
    return np.asarray(
        (sides.shown.max(axis=1) >= _BLANK_SHOWS) | (sides.step.max(axis=1) >= _BLANK_STEP)
    )


def _further(scene: Scene, company: Company, quads: Quads) -> Quads:
    """Return places (K, 4, 2) apart from the squares where one more may lie."""
    windows = _unexplained(scene, company, quads)
    return np.concatenate([_NONE[0], *(_search(scene, company, w)[:_TRIED] for w in windows)])


def _nearly_full(company: Company, quads: Quads) -> bool:
    """Whether squares (N, 4, 2) fill most of the rows and columns that they span."""
    rows, columns = lay_out(company.plane, quads).cells.max(axis=0) + 1
    return bool(len(quads) > _MOST_KNOWN * max(rows * columns, _SOME))


def _unexplained(scene: Scene, company: Company, quads: Quads) -> list[Window]:
    """Return the parts of the plane where further squares may lie apart from the places that
    neighbours point to: all around, or, if the squares fill their rows and columns, where
    something else stands on the table that could hold a square and is no sheet of paper."""
    whole = _around(scene, company)
    layout = lay_out(company.plane, quads)
    rows, columns = layout.cells.max(axis=0) + 1
    if len(quads) < 4 or len(quads) < rows * columns:
        return [whole]
    standing = (~scene.table).astype(np.uint8)
    for quad in quads:
        cv2.fillConvexPoly(standing, np.round(quad).astype(np.int32), 0)
    # What is thinner than this is the rim that a shadow leaves, or a ruler.
    brush = max(7, round(0.25 * float(np.median(choose.sides(quads)))))
    standing = np.asarray(
        cv2.morphologyEx(standing, cv2.MORPH_OPEN, np.ones((brush, brush), np.uint8))
    )
    contours, _ = cv2.findContours(standing, cv2.RETR_EXTERNAL, cv2.CHAIN_APPROX_SIMPLE)
    windows = []
    for contour, shape in zip(contours, quads_of_contours(contours), strict=True):
        if shape is not None and shape[1] > _FOUR_SIDED and sheet_like(scene, shape[0][None])[0]:
            continue
        spots = company.plane.straighten(contour.reshape(-1, 2).astype(np.float64) + 0.5)
        low = np.maximum(spots.min(axis=0) - 1.1, [whole.x0, whole.y0])
        high = np.minimum(spots.max(axis=0) + 1.1, [whole.x1, whole.y1])
        if np.all(high - low > 1.2):
            windows.append(Window(*low, *high))
    room = sum((w.x1 - w.x0) * (w.y1 - w.y0) for w in windows)
    return windows if room < (whole.x1 - whole.x0) * (whole.y1 - whole.y0) else [whole]


def best_fit(
    scene: Scene, company: Company, quads: Quads, unmoved: Scores | None = None
) -> tuple[Quads, Scores]:
    """Return each outline as it is (with its chance ``unmoved`` if that is known) or moved onto
    steps, whichever is the better square."""
    if unmoved is None:
        unmoved = chance(scene, company, quads)
    best, sure = quads, np.where(off_size(company.plane, quads) < 0.1, unmoved, 0)
    near = trim(scene, quads, 0.06), trim(scene, snap(scene, quads, 0.06))
    best, sure = _better(scene, company, best, sure, near)
    doubt = np.flatnonzero((sure > _PROMISING) & (sure < _SETTLED))
    whole = fit_whole(scene.channels, company.plane, quads[doubt], scene.rough)
    whole = trim(scene, whole, 0.025)
    best[doubt], sure[doubt] = _better(scene, company, best[doubt], sure[doubt], (whole,))
    return best, sure


def _better(
    scene: Scene, company: Company, quads: Quads, sure: Scores, others: tuple[Quads, ...]
) -> tuple[Quads, Scores]:
    """Return the likeliest of each outline and its ``others``, and how likely it is."""
    chances = chance(scene, company, np.concatenate(others)).reshape(len(others), -1)
    for moved, found in zip(others, chances, strict=True):
        found = np.where(off_size(company.plane, moved) < 0.1, found, 0)
        quads = np.where((found >= sure)[:, None, None], moved, quads)
        sure = np.maximum(found, sure)
    return quads, sure


def regroup(scene: Scene, quads: Quads) -> tuple[Quads, Scores]:
    """Take rough outlines of squares that lie side by side for a start, and find each by itself."""
    moved = trim(scene, quads, 0.08)
    company = keep_company(fit_plane(moved, np.ones(len(moved)), scene.size), moved)
    fitted, sure = best_fit(scene, company, moved)
    good = sure > 0.5
    if good.sum() < 4:
        return _NONE
    return fill_in(scene, fitted[good], sure[good])
