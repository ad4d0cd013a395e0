"""What goes on through the sides of an outline: it ends on cloth, and goes on on the table.

A clear ruler that lies beside the squares has sides and lines, and is not quite the table's colour;
an outline that is made of them has four sides that show. But the table's texture, and the ruler's
own lines and figures, go on across them, and little changes there but for the line itself.
"""

import numpy as np
from numpy.typing import NDArray

from colorcore.finding import choose
from colorcore.finding.evidence import SideEvidence, side_profiles

Quads = NDArray[np.float64]

# So many places along a side, so far in and out in sides, within so many pixels; past a line along
# it as far again.
_PLACES, _BESIDE, _BESIDE_LIMITS, _PAST_LINES = 64, 0.03, (2.0, 4.0), 2.0
# What lies within goes on beyond where two sides at least are crossed by what goes with itself so
# far, and three change by less than this (CIELAB units): so do two thirds of what is taken for
# squares on clear rulers, and one of 4,400 squares. On a bold cloth all changes are large: there
# the sides must be crossed so much more clearly, and change by less than this of its own steps.
_GOES_WITH, _LITTLE = 0.45, 8.0
_CLEARLY, _OWN_STEPS = 0.75, 1.8
# Of so many outlines that all but touch, this share are crossed so where they are the fields of a
# ruler, over whatever it lies: three quarters and more, of squares one in eight at most.
_FEWEST, _FIELDS, _CROSSED = 4, 0.5, 0.4
# A side of which less shows says nothing.
_WHOLE_SIDE = 0.9


def runs_through(
    flat: NDArray[np.float32], quads: Quads, *, wide: float = 1.0
) -> NDArray[np.float64]:
    """Return how well what lies just inside each side of outlines (N, 4, 2) goes with what lies
    just outside it, or ``wide`` times as far from it, place by place (N, 4): the correlation of the
    colours ``flat`` (h, w, 3), their drift along the side left out. Of a side that runs out of the
    picture nothing is known: -1."""
    reach = wide * np.clip(_BESIDE * choose.sides(quads), *_BESIDE_LIMITS)
    samples, shown = side_profiles(flat, quads, reach, _PLACES, 3)
    along = np.linspace(-1, 1, _PLACES)
    along /= np.linalg.norm(along)
    # (3, inside or outside, N, 4, places): what drifts is light, or a shadow.
    seen = samples[:, ::2].reshape(3, 2, len(quads), 4, _PLACES).astype(np.float64)
    seen -= seen.mean(axis=-1, keepdims=True)
    seen -= (seen @ along)[..., None] * along
    together = np.einsum("cnsk,cnsk->ns", seen[:, 0], seen[:, 1])
    size = np.square(seen).sum(axis=(0, -1))
    through = together / np.sqrt(np.maximum(size[0] * size[1], 1e-12))
    # Past the picture's edge it goes on as it is there, and would go through all of them.
    return np.where(shown.mean(axis=2) > _WHOLE_SIDE, through, -1.0)


def goes_on(through: NDArray[np.float64], sides: SideEvidence, rough: float) -> NDArray[np.bool_]:
    """Return which outlines (N,) hold what goes on beyond them, by how it runs ``through`` their
    sides (N, 4) and by the steps there, in units of ``rough`` (CIELAB units)."""
    crossed = np.where(sides.seen > _WHOLE_SIDE, through, -1)
    along = np.sort(crossed, axis=1)[:, -2]
    step = np.sort(sides.step, axis=1)[:, 2]
    little = (along > _GOES_WITH) & (step * rough < _LITTLE)
    return np.asarray(little | ((along > _CLEARLY) & (step < _OWN_STEPS)))


def are_fields(flat: NDArray[np.float32], quads: Quads) -> NDArray[np.bool_]:
    """Return which outlines (N, 4, 2) are fields between lines, across which what lies below goes
    on, none if most of them are not; ``flat`` (h, w, 3) are the colours of the view."""
    if len(quads) < _FEWEST:
        return np.zeros(len(quads), bool)
    through = runs_through(flat, quads, wide=_PAST_LINES)
    fields = (through > _CROSSED).sum(axis=1) >= 2
    return np.asarray(fields & (fields.mean() > _FIELDS))
