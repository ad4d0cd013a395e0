"""The table where a shadow or a patch of sun hides it: so much darker or lighter there that finding
takes it for no table at all.

What lies between the squares and is neither square, thing nor table shows nearly the table's own
tint under a shadow, which an arm or a phone throws, and under the sun. It tells that a square there
is not lit as the others are, but not by how much: an object may look the same.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property
from typing import Final

import numpy as np
from numpy.typing import NDArray

from colorcore.finding.model import Finding
from colorcore.light.field import LightField
from colorcore.light.grain import usual_grain
from colorcore.light.model import Reference
from colorcore.light.places import outlines_of
from colorcore.light.sampling import (
    SmallPicture,
    polygon_mask,
    squares_mask,
    surface_mask,
)
from colorcore.light.sharpened import LIGHTNESS, sharp_log
from colorcore.light.tone import ToneCurve

Array = NDArray[np.float64]

_DARKER: Final = 0.2
_LIGHTER: Final = 0.45
_MOST: Final = 1.8
"""Log light by which a shadow and the sun change what they fall on, at least and at most: lines and
numbers on a mat, and gaps into which light squares blur, are lighter by less than the sun."""
_TINT: Final = (0.1, 0.35)
"""Log tint that a shadow changes at most, and the sun: daylight from the sky is bluer, the sun is
not as blue."""
_RIM: Final = 2.0
BESIDE: Final = 0.95
"""Distance from a square's middle, in its side, within which places lie in or beside it."""
FEWEST_BESIDE: Final = 3
LEAST_BESIDE: Final = 0.25
"""How many places, and which share of those beside a square, tell how it is lit."""
_BLOCK: Final = 8
"""Side of a block in small pixels: gaps between squares are narrow."""
_LEAST_SHARE: Final = 0.15
_AROUND: Final = 9
"""Side, in small pixels, of what is looked at around a place."""
_MOST_SHOWN: Final = 0.25
"""Share of it, squares left out, below which the table counts as hidden."""
_RING: Final = (1.25, 1.7)
"""From where to where around a sheet is looked, in its own size: what was found of a sheet may
end short of its edge."""
_GRAINS: Final = 6.0
"""How many times the table's usual differences a step exceeds."""


@dataclass(frozen=True, eq=False)
class Overcast:
    """Places (S, 2) between the squares in picture pixels, of table or what hides it, and by how
    much more log light each shows by sharpened channel than the field says, ``extra`` (S, 3).

    ``held`` (S,) are those that show so much more or less; ``known`` (S,) those that finding took
    for table itself, which are not looked at again; ``aside`` (S,) those around references: no
    square tells whether what they show is light.
    """

    xy: Array
    extra: Array
    held: NDArray[np.bool_]
    known: NDArray[np.bool_]
    aside: NDArray[np.bool_]

    @cached_property
    def step(self) -> Array:
        """The extra log lightness (S,) of what is held, 0 elsewhere."""
        return np.where(self.held, self.extra @ LIGHTNESS, 0.0)

    def part(self, chosen: NDArray[np.bool_]) -> "Overcast":
        """Some of the places (S,)."""
        return Overcast(
            self.xy[chosen],
            self.extra[chosen],
            self.held[chosen],
            self.known[chosen],
            self.aside[chosen],
        )


_NONE: Final = np.zeros(0, np.bool_)
NOTHING_OVERCAST: Final = Overcast(np.zeros((0, 2)), np.zeros((0, 3)), _NONE, _NONE, _NONE)


def find_overcast(
    small: SmallPicture,
    finding: Finding,
    light: LightField,
    tone: ToneCurve,
    references: Sequence[Reference] = (),
) -> Overcast:
    """Return what the gaps between the squares show of shadows and sun beyond ``light``, and what
    is seen around references."""
    import cv2

    grained = light.samples.grained[light.samples.material]
    if not grained.any() or len(finding.squares) < 2:
        return NOTHING_OVERCAST
    corners = np.concatenate([square.corners for square in finding.squares])
    hull = np.asarray(cv2.convexHull(corners.astype(np.float32))[:, 0], dtype=np.float64)
    within = polygon_mask(small, hull)
    between = within.copy()
    own = squares_mask(small, finding, margin=_RIM)
    for reference in references:
        if reference.kind == "chart":
            continue
        middle = reference.outline.mean(axis=0)
        # A grey card may be no more than the table in a shadow.
        inner = _RING[0] if reference.kind == "paper" else 1.0
        own |= polygon_mask(small, middle + inner * (reference.outline - middle))
        between |= polygon_mask(small, middle + _RING[1] * (reference.outline - middle))
    between &= ~own
    # Beside squares their own shadow hides a little of the table, and on carpet many single spots.
    room, shown = (
        cv2.boxFilter(part.view(np.uint8), cv2.CV_32F, (_AROUND, _AROUND), normalize=False)
        for part in (between, between & surface_mask(small, finding))
    )
    gone = between & (shown < np.float32(_MOST_SHOWN) * room)
    dull, linear = _blocks(small, gone)
    if not len(dull):
        return NOTHING_OVERCAST
    seen = light.samples.log[grained] - light.log_light(light.samples.xy[grained])
    level = np.median(seen, axis=0)
    off = sharp_log(linear, tone) - light.log_light(dull) - level
    step = off @ LIGHTNESS
    tint = np.abs(off - step[:, None]).max(axis=1)
    usual = usual_grain(light.samples.bins[grained], (seen - level) @ LIGHTNESS)
    size, least = np.abs(step), np.where(step < 0, _DARKER, _LIGHTER)
    table = (size < _MOST) & (tint < np.where(step < 0, _TINT[0], _TINT[1]))
    held = table & (size > np.maximum(least, _GRAINS * usual))
    if not held.any():
        return NOTHING_OVERCAST
    lit, _ = _blocks(small, between & ~gone)
    if not _beside_any(outlines_of(finding), dull[held], np.concatenate([dull[table], lit])):
        return NOTHING_OVERCAST
    places = np.concatenate([dull[table], lit])
    known = np.arange(len(places)) >= len(places) - len(lit)
    extra = np.zeros((len(places), 3))
    extra[~known] = off[table]
    more = np.zeros(len(places), np.bool_)
    more[~known] = held[table]
    columns, rows = np.floor(places * small.scale).astype(np.intp).T
    return Overcast(places, extra, more, known, ~within[rows, columns])


def _beside_any(outlines: Array, held: Array, places: Array) -> bool:
    """Whether so much of the ``places`` (S, 2) beside any square (N, 4, 2) is ``held`` (H, 2) that
    it may lie in there."""
    sides = np.linalg.norm(np.roll(outlines, -1, axis=1) - outlines, axis=2)
    middles, reach = outlines.mean(axis=1), BESIDE * sides.mean(axis=1)
    count, whole = (
        np.count_nonzero(
            np.square(middles[:, :1] - xy[:, 0]) + np.square(middles[:, 1:] - xy[:, 1])
            < np.square(reach)[:, None],
            axis=1,
        )
        for xy in (held, places)
    )
    return bool(np.any(count >= np.maximum(FEWEST_BESIDE, LEAST_BESIDE * whole)))


def _blocks(small: SmallPicture, mask: NDArray[np.bool_]) -> tuple[Array, Array]:
    """Middles (S, 2) in picture pixels, and mean linear light (S, 3), of the blocks of the reduced
    picture of which enough lies in a mask."""
    import cv2

    height, width = mask.shape
    size = max(1, width // _BLOCK), max(1, height // _BLOCK)
    seen = (mask & small.usable).view(np.uint8)
    share = np.asarray(cv2.resize(seen.astype(np.float32), size, interpolation=cv2.INTER_AREA))
    light = cv2.resize(cv2.copyTo(small.linear, seen), size, interpolation=cv2.INTER_AREA)
    rows, columns = np.nonzero(share > _LEAST_SHARE)
    places = (np.column_stack([columns, rows]) + 0.5) * np.array([width, height]) / size
    mean = np.asarray(light)[rows, columns] / share[rows, columns, None]
    return places / small.scale, mean.astype(np.float64)
