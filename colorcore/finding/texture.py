"""What hides the table: cloth has another texture, finer or coarser, than the table all around.

A square of the table's very colour has sides that are lost in the table's own steps or in the
shadow of narrow gaps, and an empty place framed by squares has sides of theirs. But weave and print
make cloth restless where a plain table is smooth, and plain cloth is smooth where a mat has lines.
"""

import cv2
import numpy as np
from numpy.typing import NDArray

from colorcore.finding import choose
from colorcore.finding.outlines import aspects
from colorcore.finding.scene import Scene, shows_all_round
from colorcore.finding.through import runs_through

Quads = NDArray[np.float64]

# Lightness is compared with its mean over so many pixels, and that is averaged over windows of this
# share of a square.
_FINE, _WINDOW = 5, 0.3
# The table is looked at so far around the squares at most, in sides; holes in its mask that are
# smaller than this many pixels are its own; so many places must show it.
_AROUND, _OWN, _ENOUGH = 0.35, 7, 40
# The windows of a place, as shares of its sides, and how often more or less restless all of them
# must be than the restless and the smooth tenth of the table.
_SPOTS, _TIMES, _TENTH = (0.28, 0.72), 1.5, 0.1
# One place in so many, across and down, is looked at.
_STEP = 3
# So large are the steps of a table, in CIELAB units, that has a pattern worth the name; gaps
# narrower than this, in sides, show nothing of it.
_PATTERNED, _WIDE_ENOUGH = 4.0, 0.035
# What goes with what lies beside it by less than this along all sides but one, and shows sides or
# less table within than this, is cloth: so are 94 % of 1,132 squares that lie on photographed
# surfaces with a pattern, and one of 164 empty places there.
_BY_CHANCE, _BARE = 0.35, 0.7


def hides_table(scene: Scene, places: Quads, quads: Quads) -> NDArray[np.bool_]:
    """Return which ``places`` (K, 4, 2) are of another texture, in each of their quarters, than the
    table around squares ``quads`` (N, 4, 2); none where too little of it shows."""
    if not len(places):
        return np.zeros(0, bool)
    side = float(np.median(choose.sides(quads) / np.sqrt(aspects(quads))))
    wide = max(_FINE, round(_WINDOW * side)) | 1
    lightness = np.ascontiguousarray(scene.surface.flat[..., 0])
    fine = np.abs(lightness - cv2.blur(lightness, (_FINE, _FINE)))
    restless = np.asarray(cv2.blur(fine, (wide, wide)))
    table = restless[_shows_table(scene, quads, side, wide)]
    if len(table) < _ENOUGH:
        return np.zeros(len(places), bool)
    smooth, rough = np.quantile(table, [_TENTH, 1 - _TENTH])
    u, v = (w.ravel()[None, :, None] for w in np.meshgrid(_SPOTS, _SPOTS))
    a, b, c, d = (places[:, k, None] for k in range(4))
    spots = (1 - v) * ((1 - u) * a + u * b) + v * ((1 - u) * d + u * c)
    column = np.clip(spots[..., 0].astype(np.int64), 0, scene.view.width - 1)
    row = np.clip(spots[..., 1].astype(np.int64), 0, scene.view.height - 1)
    seen = restless[row, column]
    return np.asarray((seen.min(axis=1) > _TIMES * rough) | (seen.max(axis=1) * _TIMES < smooth))


def ends_table(
    scene: Scene, places: Quads, bare: NDArray[np.float64], gap: float
) -> NDArray[np.bool_]:
    """Return in which ``places`` (K, 4, 2) among squares that lie ``gap`` apart, in sides, there is
    something that a patterned table's pattern ends at, and that shows sides of its own or looks
    like no table: so much table (K,) is ``bare`` within.

    On the table, what lies just inside an outline goes with what lies just outside it, along all
    sides; on cloth by chance. Neighbours that lie askew may cover the table on two sides; those
    that nearly touch cover it on all, and then nothing can be said.
    """
    if not len(places) or scene.rough < _PATTERNED or gap < _WIDE_ENOUGH:
        return np.zeros(len(places), bool)
    through = np.sort(runs_through(scene.surface.flat, places), axis=1)[:, -2]
    own = shows_all_round(scene, places) | (bare < _BARE)
    return np.asarray((through < _BY_CHANCE) & own)


def _shows_table(scene: Scene, quads: Quads, side: float, wide: int) -> NDArray[np.bool_]:
    """Return the places (h, w) around squares at which a window shows nothing but the table."""
    brush = np.ones((_OWN, _OWN), np.uint8)
    table = cv2.morphologyEx(scene.table.astype(np.uint8), cv2.MORPH_CLOSE, brush)
    hull = cv2.convexHull(np.round(quads.reshape(-1, 2)).astype(np.int32))
    beyond = np.ones(scene.size, np.uint8)
    cv2.fillConvexPoly(beyond, hull, 0)
    near = cv2.distanceTransform(beyond, cv2.DIST_L2, 3) < _AROUND * side
    for quad in quads:
        cv2.fillConvexPoly(table, np.round(quad).astype(np.int32), 0)
    clear = cv2.distanceTransform(table, cv2.DIST_C, 3) > wide / 2 + _FINE / 2
    some = np.zeros(scene.size, bool)
    some[::_STEP, ::_STEP] = True
    return np.asarray(clear & near & some)
