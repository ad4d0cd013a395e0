"""A second look at the table, as it shows between the squares that are sure.

The first look takes the picture's edge for table. Where squares run out of the picture, or the edge
shows a floor, that table is wrong just there: squares cut off by the edge pass for table. Once some
squares are sure, the strip of table around each tells better what the table looks like, and the
places next to them can be looked at again.
"""

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
from colorcore.finding.plane import fit_plane
from colorcore.finding.rigid import in_picture
from colorcore.finding.scene import Scene, see, table_within
from colorcore.finding.singles import settle, squares_at
from colorcore.finding.surface import pixels_within, see_surface
from colorcore.finding.view import View

Quads = NDArray[np.float64]
Scores = NDArray[np.float64]

# So many squares at least must be sure to say what the table looks like.
_LEAST = 4
# The strip around a square that shows the table: from beyond the shadow at its foot to the middle
# of the gap, as shares of the gap; and no wider than this, as a share of the square.
_FROM, _TO, _WIDEST = 0.4, 0.9, 0.24
# Gaps narrower than this show nothing of the table.
_NARROWEST = 0.015
# Less of a place than this in the picture is not worth a look.
_SHOWS = 0.2
# A place that shows more table than this, seen anew, calls for no second look: where squares were
# taken for table, some place shows next to none. One between squares may nearly have its colour.
_BARE, _BARE_BETWEEN = 0.2, 0.6
# From this chance on, the second look takes nothing away from the first.
_SURE = 0.75
# A sheet and a square are the same where their outlines overlap so far (intersection over union);
# where they do not, the chance of the square is no more than this.
_SAME, _DOUBTED = 0.86, 0.4
# On a table so restless (CIELAB units) a place that shows more of it than this share, seen anew,
# may be the table's own print.
_RESTLESS, _OWN_PRINT = 8.0, 0.12
# Pitches that a place lies from its next neighbours at most.
_NEXT = 1.6
# The layout grows by a ring a round, at most so many rounds.
_ROUNDS = 8
# The check whether a second look is worth its time reduces the view by this.
_COARSE = 4


def look_closer(
    scene: Scene, quads: Quads, sure: Scores, sheets: Quads
) -> tuple[Scene, Quads, Scores] | None:
    """Look again at the places next to squares (N, 4, 2), with the table as it shows between them.

    ``sheets`` (K, 4, 2) are outlines of paper or card: a part of one is no square.

    Returns the scene as seen then, and the squares with their chances; None where every place next
    to them shows the table, so that there is nothing to look for.
    """
    firm = sure > 0.5
    if firm.sum() < _LEAST:
        return None
    company = keep_company(fit_plane(quads[firm], sure[firm], scene.size), quads[firm])
    places = expected(company)
    free = [all(choose.overlap(place, sheet) < 0.4 for sheet in sheets) for place in places]
    places = places[np.array(free, bool)] if len(places) else places
    if not len(places) or not _stands(scene, company, places).any():
        return None
    again = see(scene.view, _around(scene.size, quads[firm], company.pitch, 1))
    company = keep_company(fit_plane(quads, sure, scene.size), quads)
    found, chances = settle(again, company, quads)
    # What was sure stays so: the light is known best where the first look took it from.
    # Beyond the layout that holds for what was sure indeed.
    stays = (sure > _SURE) | is_held(company, quads)
    chances = np.where(stays, np.maximum(chances, sure), chances)
    known = len(quads)
    new = np.ones(known, bool)
    for _ in range(_ROUNDS):
        firm = chances > 0.5
        company = keep_company(fit_plane(found[firm], chances[firm], scene.size), found[firm])
        places = _next_to(company, expected(company), found[firm & new])
        more, _ = squares_at(again, company, found, places)
        found, firm = np.concatenate([found, more]), np.append(firm, np.zeros(len(more), bool))
        held = [_most(scene, again, company, quad, sheets) for quad in found[known:]]
        anew = np.minimum(chance(again, company, found[known:]), held)
        chances = np.concatenate([chances[:known], anew])
        # What does not hold points no further.
        new = (chances > 0.5) & ~firm
        if not new.any():
            break
    return again, found, chances


def _next_to(company: Company, places: Quads, quads: Quads) -> Quads:
    """Return which of ``places`` (K, 4, 2) lie next to ``quads`` (N, 4, 2), corner to corner
    included: elsewhere a place is what it was when it was looked at before."""
    pitch = np.where(np.isfinite(company.pitch), company.pitch, 1.2)
    to, of = (company.plane.straighten(q).mean(axis=1) for q in (places, quads))
    steps = np.abs(to[:, None] - of) / pitch
    return np.asarray(places[(steps.max(axis=2) < _NEXT).any(axis=1)])


def _most(scene: Scene, again: Scene, company: Company, quad: Quads, sheets: Quads) -> float:
    """Return the most that can be said for an outline (4, 2) that only the second look shows."""
    held = 1.0
    if not _is_cut(scene, quad) and not is_held(company, quad[None])[0]:
        # All of it shows: what the first look made of it counts too, unless others hold it.
        held = float(chance(scene, company, quad[None])[0])
    paper = not is_held(company, quad[None])[0] and _is_part_of(again, quad, sheets)
    own = again.rough > _RESTLESS and table_within(again, quad) > _OWN_PRINT
    return min(held, _DOUBTED) if own or paper else held


def _is_cut(scene: Scene, quad: Quads) -> bool:
    """Whether an outline (4, 2) runs out of the picture."""
    shown = in_picture(quad[None], scene.size[1], scene.size[0])[0]
    return bool((shown[:, 1] - shown[:, 0]).min() < 0.95)


def _is_part_of(scene: Scene, quad: Quads, sheets: Quads) -> bool:
    """Whether what lies at an outline (4, 2) is one of ``sheets`` (K, 4, 2) with another outline:
    paper beside the squares, just where one more would lie."""
    height, width = scene.size
    frame = np.array([[0, 0], [width, 0], [width, height], [0, height]], np.float32)
    shown, corners = cv2.intersectConvexConvex(quad.astype(np.float32), frame)
    for sheet in sheets:
        if corners is None or choose.overlap(quad, sheet) < 0.4:
            continue
        shared, _ = cv2.intersectConvexConvex(corners, sheet.astype(np.float32))
        if shared < _SAME * (shown + abs(cv2.contourArea(sheet.astype(np.float32))) - shared):
            return True
    return False


def _around(
    size: tuple[int, int], quads: Quads, pitch: NDArray[np.float64], reduced: int
) -> NDArray[np.bool_]:
    """Return where the table shows between squares in a view of ``size`` that is ``reduced``."""
    rim, hull = np.zeros(size, np.uint8), np.zeros(size, np.uint8)
    gap = float(np.nanmean(pitch)) - 1
    if gap < _NARROWEST:
        return rim > 0
    gap = min(gap, _WIDEST)
    middle = quads.mean(axis=1, keepdims=True)
    # Beyond the outermost squares others may lie that are not known yet.
    around = cv2.convexHull(np.round(quads.reshape(-1, 2) / reduced).astype(np.int32))
    cv2.fillConvexPoly(hull, around, 1)
    for share, value in ((_TO, 1), (_FROM, 0)):
        for quad in (middle + (1 + share * gap) * (quads - middle)) / reduced:
            cv2.fillConvexPoly(rim, np.round(quad).astype(np.int32), value)
    return (rim & hull) > 0


def _stands(scene: Scene, company: Company, places: Quads) -> NDArray[np.bool_]:
    """Return in which ``places`` (K, 4, 2) something stands that was taken for table."""
    lab = np.ascontiguousarray(scene.view.lab[::_COARSE, ::_COARSE])
    rgb = np.ascontiguousarray(scene.view.rgb[::_COARSE, ::_COARSE])
    coarse = View(rgb, lab, scene.view.scale / _COARSE, scene.view.noise)
    rim = _around((coarse.height, coarse.width), company.quads, company.pitch, _COARSE)
    if rim.sum() < 60:
        return np.zeros(len(places), bool)
    table = see_surface(coarse, rim).table
    before = scene.surface.table[::_COARSE, ::_COARSE]
    found = []
    most = np.where(lies_between(company, places), _BARE_BETWEEN, _BARE)
    for place, bare in zip(places, most, strict=True):
        part, shown = pixels_within(table.shape, place / _COARSE, 0.8)
        whole = 0.64 * abs(cv2.contourArea(place.astype(np.float32))) / _COARSE**2
        enough = shown.sum() > _SHOWS * whole
        found.append(
            enough
            and (anew := table[part][shown].mean()) < bare
            and anew < before[part][shown].mean()
        )
    return np.array(found, bool)
