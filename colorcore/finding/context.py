"""What the other squares say for an outline: size, place in the rows and columns, and looks.

One outline by itself may be a print's frame or a sheet of paper. Beside squares that are sure, a
square has their size, lies a pitch from its neighbours, and is turned little more than they are.
"""

from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from colorcore.finding import choose
from colorcore.finding.beyond import faint_side, own_share, own_step
from colorcore.finding.layout import pitches
from colorcore.finding.plane import Plane
from colorcore.finding.scene import (
    Scene,
    evidence,
    going_on,
    holds_table,
    is_round,
    looks,
    sides_of,
)
from colorcore.finding.things import is_plain_and_light

Quads = NDArray[np.float64]

# Among what the outline itself shows: the share of bare table.
_BARE = -2
# The step across its sides, 1 for eight times that of the table, and how much table shows beyond
# them and within, all as means of the sides; a hole has so much more within, and so clear a step.
_STEP, _OUTSIDE, _INSIDE = 10, 22, 25
_FRAMED, _CLEAR_STEP = 0.25, 0.95
# What is so much barer than the other squares may be the table's own: its checks and tiles have
# four sides as well.
_ODDEST = 0.6
# What a table may have drawn is no surer than this; out of the picture it is none from so much bare
# table on.
_DOUBTED, _GONE = 0.4, 0.6
# So much of the sides of an outline all table within must be its own between squares, so much at
# the corner of rows and columns, and so much beyond.
_OWN_SIDES, _HELD_SIDES, _CLEARLY_OWN = 0.15, 0.4, 0.75
# Beyond the layout so much of the step must be its own in any case, the more of it if some lies out
# of the picture: a side of which less shows.
_OWN_STEP, _OWN_STEP_CUT, _WHOLE_SIDE = 0.5, 0.65, 0.95
# Where all within is table, three sides at least must show so far.
_SLIVER = 0.3
# A neighbour lies a pitch away, to within this share of a side.
_OFF = 0.3
# Fitted by penalised logistic regression (ridge) to outlines judged in rendered scenes of seeds 0
# to 4 and in drawings: right from an overlap of 0.93 on, wrong below 0.85. What came later starts
# at 0; tests/bench/finding_fit.py fits them anew. An intercept, then one weight per feature.
WEIGHTS = np.array(
    [
        -0.330,
        1.192,
        -2.697,
        -1.883,
        1.000,
        4.512,
        -1.867,
        -5.957,
        1.181,
        0.401,
        2.798,
        -5.285,
        1.876,
        2.991,
        3.308,
        -3.271,
        0.554,
        -2.903,
        1.937,
        2.306,
        3.172,
        -1.630,
        -0.446,
        -3.316,
        -0.535,
        3.308,
        -11.826,
        0.702,
        5.035,
        0.861,
        -2.245,
        -1.962,
        3.624,
        0.360,
    ]
)


@dataclass(frozen=True, eq=False)
class Company:
    """The squares that are sure: the ``plane`` they lie in, their outlines ``quads`` (K, 4, 2) in
    the view, their ``middles`` (K, 2) and ``lean`` (K,) in degrees in the plane, and the usual
    ``pitch`` (2,) across and down."""

    plane: Plane
    quads: Quads = field(repr=False)
    middles: NDArray[np.float64] = field(repr=False)
    lean: NDArray[np.float64] = field(repr=False)
    pitch: NDArray[np.float64]

    @property
    def gap(self) -> float:
        """The usual distance between neighbours in sides of a square, 0 if there are none."""
        known = self.pitch[np.isfinite(self.pitch)]
        return float(known.mean()) - 1 if len(known) else 0.0


def keep_company(plane: Plane, quads: Quads) -> Company:
    """Gather what sure squares (K, 4, 2) have in common."""
    flat = plane.straighten(quads)
    middles = flat.mean(axis=1)
    return Company(plane, quads, middles, _lean(flat), pitches(middles))


def _lean(flat: Quads) -> NDArray[np.float64]:
    across = flat[:, 1] - flat[:, 0] + flat[:, 2] - flat[:, 3]
    lean = np.degrees(np.arctan2(across[:, 1], across[:, 0]))
    return np.asarray((lean + 45) % 90 - 45)


def context(scene: Scene, company: Company, quads: Quads) -> NDArray[np.float64]:
    """Return what is known of outlines (N, 4, 2) in the view in their company as numbers (N, F)."""
    flat = company.plane.straighten(quads)
    side = np.log(np.maximum(np.linalg.norm(np.roll(flat, -1, axis=1) - flat, axis=2), 1e-6))
    own = evidence(scene, quads)
    alone = choose.logit(own @ choose.WEIGHTS[1:] + choose.WEIGHTS[0])
    residual, support = _neighbours(company, flat.mean(axis=1))
    usual = np.median(company.lean) if len(company.lean) else 0.0
    spread = float(np.std(company.lean)) if len(company.lean) else 0.0
    off_lean = np.abs(_lean(flat) - usual) / (2.0 + spread)
    plain, light = looks(scene, quads).T
    wide = side[:, [0, 2]].mean(axis=1)
    high = side[:, [1, 3]].mean(axis=1)
    return np.column_stack(
        [
            alone,
            np.minimum(np.abs(side).max(axis=1), 0.15) * 10,
            np.minimum(np.abs(wide - high), 0.15) * 10,
            np.minimum(residual, 0.4) * 2.5,
            np.minimum(support, 3) / 3,
            (support == 0).astype(float),
            np.minimum(off_lean, 4) / 4,
            plain,
            plain * light,
            plain * np.minimum(np.abs(side).max(axis=1), 0.15) * 10,
            own,
        ]
    )


def _usually_bare(scene: Scene, company: Company) -> float:
    """Return how much table the barest tenth of the sure squares show within (0 to 1)."""
    if len(company.quads) < 4:
        return 0.5
    return float(np.quantile(evidence(scene, company.quads)[:, _BARE], 0.9))


def expected(company: Company, least: int = 1) -> Quads:
    """Return outlines (N, 4, 2) in the view where neighbours of the sure squares would lie, none
    where a square is known; ``least`` squares at least must point to a place."""
    found = np.zeros((4 * len(company.middles), 2))
    counts: list[int] = []
    for move in ((1, 0), (-1, 0), (0, 1), (0, -1)):
        step = np.array(move) * company.pitch
        if not np.isfinite(step).all():
            step = np.where(np.array(move) == 0, 0.0, step)
        if not np.isfinite(step).all():
            continue
        pointed = company.middles + step
        known = np.abs(company.middles - pointed[:, None]).max(axis=2).min(axis=1) < 0.5
        for place in pointed[~known]:
            near = np.abs(found[: len(counts)] - place).max(axis=1) < 0.25
            k = int(np.argmax(near)) if near.any() else len(counts)
            if k == len(counts):
                counts.append(0)
            found[k] = (found[k] * counts[k] + place) / (counts[k] + 1)
            counts[k] += 1
    places = found[: len(counts)][np.array(counts, np.int64) >= least]
    if not len(places):
        return np.zeros((0, 4, 2))
    a = np.radians(np.median(company.lean))
    turn = np.array([[np.cos(a), -np.sin(a)], [np.sin(a), np.cos(a)]])
    unit = np.array([[-0.5, -0.5], [0.5, -0.5], [0.5, 0.5], [-0.5, 0.5]]) @ turn.T
    return company.plane.picture(places[:, None] + unit)


def chance(scene: Scene, company: Company, quads: Quads) -> NDArray[np.float64]:
    """Return the chance (N,) that each outline is a square, rightly outlined, in its company."""
    if not len(quads):
        return np.zeros(0)
    known = context(scene, company, quads)
    found = 1 / (1 + np.exp(-np.clip(known @ WEIGHTS[1:] + WEIGHTS[0], -30, 30)))
    found = np.where(is_round(scene, quads), 0.0, found)
    return np.minimum(found, _most(scene, company, quads, known, found))


def _most(
    scene: Scene,
    company: Company,
    quads: Quads,
    known: NDArray[np.float64],
    found: NDArray[np.float64],
) -> NDArray[np.float64]:
    """Return the most (N,) that can be said for outlines (N, 4, 2) that a table with checks, tiles,
    joints or an edge may have drawn; ``known`` (N, F) of them and ``found`` (N,) as likely as they
    are."""
    # Table inside and none beyond clear sides: a hole that is framed by squares which nearly touch.
    framed = known[:, _INSIDE] - known[:, _OUTSIDE] > _FRAMED
    most = np.where(framed & (known[:, _STEP] > _CLEAR_STEP), _DOUBTED, 1.0)
    # All table within, as in no other square, is a tile or a check of a tablecloth, or else a
    # square of the table's very colour; half out of the picture it is mostly bare table.
    gone = (known[:, -1] > 0) & (known[:, _BARE] > _GONE)
    odd = gone | (known[:, _BARE] > _usually_bare(scene, company) + _ODDEST)
    between = lies_between(company, quads)
    asked = np.flatnonzero((found > _DOUBTED) & (odd | ~between))
    if not len(asked):
        return most
    odd, between = odd[asked], between[asked]
    sides = sides_of(scene, quads[asked])
    on = going_on(scene, quads[asked], company.gap)
    # Where rows and columns say that a square lies here, sides of its own are enough. Beyond the
    # layout they must be clear, all of them, and not those of something larger.
    held = is_held(company, quads[asked])
    alone = np.where(held, _HELD_SIDES, _CLEARLY_OWN)
    drawn = odd & (own_share(sides, on) < np.where(between, _OWN_SIDES, alone))
    # A sliver at the picture's edge has too little of its sides.
    drawn |= gone[asked] & ~between & (np.sort(sides.seen, axis=1)[:, 1] < _SLIVER)
    least = np.where(sides.seen.min(axis=1) < _WHOLE_SIDE, _OWN_STEP_CUT, _OWN_STEP)
    drawn |= ~between & (faint_side(sides) | (own_step(sides, on) < least))
    beside = np.flatnonzero(~drawn & ~between)
    if len(beside):
        drawn[beside] = holds_table(scene, quads[asked[beside]])
    # Plain, light and cut off beside the layout, it may as well be paper.
    for k in np.flatnonzero(~drawn & ~held & (sides.seen.min(axis=1) < _WHOLE_SIDE)):
        drawn[k] = is_plain_and_light(scene, quads[asked[k]])
    most[asked[drawn]] = np.where(gone[asked[drawn]], 0.0, _DOUBTED)
    return most


def lies_between(company: Company, quads: Quads) -> NDArray[np.bool_]:
    """Return which outlines (N, 4, 2) have a sure square on either side, in their row or their
    column."""
    left, right, above, below = _beside(company, quads)
    return np.asarray((left & right) | (above & below))


def is_held(company: Company, quads: Quads) -> NDArray[np.bool_]:
    """Return which outlines (N, 4, 2) have sure squares beside them in their row and their column,
    or on either side."""
    left, right, above, below = _beside(company, quads)
    return lies_between(company, quads) | ((left | right) & (above | below))


def _beside(company: Company, quads: Quads) -> list[NDArray[np.bool_]]:
    """Return which outlines (N, 4, 2) have a sure square to the left, right, above, below."""
    step = company.middles - company.plane.straighten(quads).mean(axis=1)[:, None]
    # Of a single row, no distance from row to row is known.
    pitch = np.where(np.isfinite(company.pitch), company.pitch, 10.0)
    return [
        (np.abs(step - np.array(move) * pitch).max(axis=2) < _OFF).any(axis=1)
        for move in ((-1, 0), (1, 0), (0, -1), (0, 1))
    ]


def _neighbours(
    company: Company, middles: NDArray[np.float64]
) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Return how far each place is from where the nearest neighbour would have it, and how many
    neighbours agree on it to 0.15 of a side."""
    if not len(company.middles):
        return np.full(len(middles), 1.0), np.zeros(len(middles))
    pitch = np.where(np.isfinite(company.pitch), company.pitch, 10.0)
    step = middles[:, None] - company.middles[None]
    far = []
    for move in ((1, 0), (-1, 0), (0, 1), (0, -1)):
        far.append(np.linalg.norm(step - np.array(move) * pitch, axis=2))
    distance = np.stack(far, axis=-1)
    return distance.min(axis=(1, 2)), (distance.min(axis=1) < 0.15).sum(axis=1).astype(float)
