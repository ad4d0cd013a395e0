"""Shadows and patches of sun: light with edges, which no smooth field follows.

Where the surface round a square is darker or lighter than the field says, by far more than its
grain explains, something stands in the light or lets more of it in. A square that lies in it is
flagged and corrected by what the surface beside it shows.
"""

from collections.abc import Sequence
from dataclasses import dataclass, field, replace
from typing import Any, Final

import numpy as np
from numpy.typing import NDArray

from colorcore.geometry import mean_side
from colorcore.light.field import LightField
from colorcore.light.grain import LEAST_PAIRS, usual_grain
from colorcore.light.overcast import BESIDE, FEWEST_BESIDE, LEAST_BESIDE, Overcast
from colorcore.light.sampling import neighbours
from colorcore.light.sharpened import LIGHTNESS
from colorcore.light.slopes import slope_along

Array = NDArray[np.float64]
FloatArray = NDArray[np.floating[Any]]

_LEAST_STEP: Final = 0.10
_GRAIN_STEPS: Final = 4.0
_MOSTLY: Final = 0.5
"""Share of what shows beside a square from which it may lie wholly in a shadow or in the sun."""
_SOFTNESS: Final = 0.15
_SHARPNESS: Final = 0.05
_STEPPED_SHARE: Final = 0.03
_OVER_GRAIN: Final = 4.5
CROSSED: Final = 0.03
"""Unevenness across a reference, in log light, from which an edge lies on it."""
_MOST_PATCHY: Final = 0.5
_LONG_STRIP: Final = 5
_CELLS_TO_SIDE: Final = 2.12
"""Side of a square over the distance of its outermost cells from its middle."""
_WITNESSES: Final = 4
_MANY: Final = 10
"""So many that feel nothing speak for the squares that may lie wholly in a shadow as well."""
_LEAST_SLOPE: Final = 0.1
"""So many squares must have such a slope to expect if they are to tell whether they feel a step."""
_FELT: Final = (0.2, 0.4)
"""Squares feel a step if they show more than the first share of it, two standard deviations allowed
for; they do not if less than the second even so (0.5 to 0.9 beside sun in five rendered rooms, 0.0
to 0.1 in six mirrors)."""
_SAME_LIGHT: Final = 0.35
"""Log light by which steps across one edge of light differ."""
_LEFT_OVER: Final = 0.35
_UNKNOWN: Final = 0.5
"""Standard deviation of the light on a square beside a shadow, over the shadow's step: it may lie
in it or not."""


@dataclass(frozen=True, eq=False)
class LocalLight:
    """Cells (S, 2) of the surface, what the field leaves unexplained there (S, 3) in log light,
    and whether that is a step of the light (S,) rather than grain. ``patchy_sd`` is how much of it
    neighbours share: light that neither field nor steps follow; ``overcast`` where shadow or
    sun hides the table itself, or may be mirrored by it; ``unfelt`` where no square at its edge
    shows that it is light, which says nothing of those that may lie wholly within."""

    xy: Array
    unexplained: Array
    stepped: NDArray[np.bool_]
    patchy_sd: float = 0.0
    overcast: tuple[Overcast, ...] = ()
    unfelt: tuple[Overcast, ...] = ()
    _shares: dict[bytes, tuple[float, float]] = field(default_factory=dict, init=False, repr=False)
    _hidden: dict[bytes, float] = field(default_factory=dict, init=False, repr=False)

    @property
    def is_even(self) -> bool:
        """Whether there is no sign of any edge of light."""
        return not (self.stepped.any() or self.overcast or self.unfelt)

    def share(self, corners: FloatArray) -> tuple[float, float]:
        """Share of the surface round a square that lies in a step of the light, and the median
        step there in log lightness; (0, 0) where too little of it shows."""
        key = corners.tobytes()
        if key not in self._shares:
            self._shares[key] = self._share(corners)
        return self._shares[key]

    def _share(self, corners: FloatArray) -> tuple[float, float]:
        if not self.stepped.any():
            return 0.0, 0.0
        near = self._near(corners)
        if np.count_nonzero(near) < FEWEST_BESIDE:
            return 0.0, 0.0
        inside = near & self.stepped
        if not inside.any():
            return 0.0, 0.0
        step = float(np.median(self.unexplained[inside] @ LIGHTNESS))
        return float(np.count_nonzero(inside) / np.count_nonzero(near)), step

    def log_extra(self, corners: FloatArray, xy: FloatArray) -> Array | None:
        """Log light (..., 3) to add to the field at places (..., 2) within a square, or None."""
        share, _ = self.share(corners)
        if share < LEAST_BESIDE:
            return None
        near = self._near(corners)
        steps = np.where(self.stepped[near, None], self.unexplained[near], 0.0)
        return _spread(np.asarray(xy, np.float64), self.xy[near], steps, _SOFTNESS * _side(corners))

    def median_step(self, corners: FloatArray) -> Array:
        """The step (3,) by sharpened channel in which a thing lies."""
        inside = self._near(corners) & self.stepped
        if not inside.any():
            return np.zeros(3)
        return np.asarray(np.median(self.unexplained[inside], axis=0))

    def log_sd(self, corners: FloatArray) -> float:
        """Standard deviation of the log light that a step leaves open over a square."""
        share, step = self.share(corners)
        hidden = _UNKNOWN * abs(self.overcast_step(corners))
        if share < LEAST_BESIDE / 2:
            return float(np.hypot(hidden, self.patchy_sd))
        # Half in and half out is worst; fully inside, the surface beside it tells nearly all.
        crossed = abs(step) * _LEFT_OVER * float(0.4 + 2.4 * share * (1 - share))
        return float(np.hypot(max(crossed, hidden), self.patchy_sd))

    def flags(self, corners: FloatArray) -> tuple[str, ...]:
        """The flag of a shadow or a patch of brighter light, if the square lies in one or may."""
        share, step = self.share(corners)
        if share < LEAST_BESIDE:
            step = self.overcast_step(corners)
        if not step:
            return ()
        return ("shadow",) if step < 0 else ("sunlit",)

    def overcast_step(self, corners: FloatArray) -> float:
        """The median step, in log lightness, of shadow or sun beside a square that hides the table
        there, or may be a mirror image; 0 where there is none. By how much the square is darker or
        lighter it does not tell: how much of it lies in there is not seen."""
        key = corners.tobytes()
        if key not in self._hidden:
            steps = [
                _step_of(one.step[_beside(corners, one.xy)], LEAST_BESIDE) for one in self.overcast
            ]
            steps += [_step_of(one.step[_beside(corners, one.xy)], _MOSTLY) for one in self.unfelt]
            self._hidden[key] = max(steps, key=abs, default=0.0)
        return self._hidden[key]

    def _near(self, corners: FloatArray) -> NDArray[np.bool_]:
        return _beside(corners, self.xy)


def _step_of(step: Array, least: float) -> float:
    """The median of steps (S,) beside a square that are not 0; 0 where less than a ``least`` share
    is not."""
    hidden = step[step != 0]
    if hidden.size < max(FEWEST_BESIDE, least * step.size):
        return 0.0
    # Shadow beside sun must not come to nothing.
    darker = 2 * np.count_nonzero(hidden < 0) >= hidden.size
    return float(np.median(np.abs(hidden))) * (-1 if darker else 1)


def find_steps(light: LightField, *overcast: Overcast) -> LocalLight:
    """Return where the surface shows steps of the light, and what is ``overcast``."""
    grained = light.samples.grained[light.samples.material]
    xy, bins = light.samples.xy[grained], light.samples.bins[grained]
    unexplained = light.unexplained[grained]
    stepped = _stepped(light, unexplained)
    with_strips = _with_strips(light)
    in_strips = np.abs((with_strips - unexplained) @ LIGHTNESS) > _LEAST_STEP
    if np.count_nonzero(in_strips) > _STEPPED_SHARE * len(in_strips):
        # What passes for planks may be an edge of light along them, if squares feel it.
        more = _stepped(light, with_strips)
        step = np.where(more, with_strips @ LIGHTNESS, 0.0)
        if np.count_nonzero(more) > 2 * np.count_nonzero(stepped) and _is_felt(light, xy, step)[0]:
            unexplained, stepped = with_strips, more
    lightness = unexplained @ LIGHTNESS
    patchy = _patchy_sd(bins, lightness, stepped)
    # Lighter steps that no square feels are mirrored, and left out; those of which none can tell
    # are doubted instead of undone. Only then are darker ones asked, for where a table mirrors a
    # lot the rest of it seems dark; they are kept unless squares deny them.
    stepped_at_all = np.count_nonzero(stepped)
    doubted: list[Overcast] = []
    unfelt: list[Overcast] = []
    for darker in (False, True):
        some = stepped & ((lightness < 0) == darker)
        if not some.any():
            continue
        step = np.where(some, lightness, 0.0)
        felt, witnesses = _is_felt(light, xy, step)
        # A shadow between the squares is felt by none; where a table mirrors a lot, few tell.
        kept = darker and (felt is None or (witnesses < _MANY and some.sum() == stepped_at_all))
        if felt or kept:
            break
        if felt is None:
            everywhere = np.ones(len(xy), np.bool_)
            doubted.append(Overcast(xy, unexplained, some, everywhere, ~everywhere))
        stepped = stepped & ~some
    # Grain is shared by neighbours too: without another sign it is not taken for patches of light.
    signs = (
        bool(stepped.size) and float(stepped.mean()) > _STEPPED_SHARE,
        crosses_reference(light) > CROSSED,
        patchy > _OVER_GRAIN * float(np.median(light.samples.sd[grained])) if xy.size else False,
    )
    local = LocalLight(xy, unexplained, stepped, patchy if any(signs) else 0.0)
    for one in overcast:
        hidden = one.part(~one.aside)
        if not hidden.held.any():
            continue
        whole = _uncovered(local, hidden)
        step = np.where(whole.stepped, whole.unexplained @ LIGHTNESS, 0.0)
        felt, witnesses = _is_felt(light, whole.xy, step)
        # Around references the same step is the same light; another may be another table.
        size = float(np.median(hidden.step[hidden.held]))
        same = ~one.held | (np.abs(one.step - size) < _SAME_LIGHT)
        if felt:
            local = _uncovered(whole, one.part(one.aside & same))
        elif felt is None:
            doubted.append(one.part(~one.aside | same))
        elif witnesses < _MANY:
            unfelt.append(one.part(~one.aside | same))
    return replace(local, overcast=tuple(doubted), unfelt=tuple(unfelt))


def _with_strips(light: LightField) -> Array:
    """What the field leaves of the surface's log light (S, 3), strips and all."""
    grained = light.samples.grained[light.samples.material]
    left = light.samples.log[grained] - light.log_light(light.samples.xy[grained])
    return left - np.median(left, axis=0) if len(left) else left


def _stepped(light: LightField, unexplained: Array) -> NDArray[np.bool_]:
    """Which cells of the surface (S,) differ by far more than its grain does, in company."""
    grained = light.samples.grained[light.samples.material]
    bins, lightness = light.samples.bins[grained], unexplained @ LIGHTNESS
    least = max(_LEAST_STEP, _GRAIN_STEPS * usual_grain(bins, lightness))
    stepped = (np.abs(lightness) > least) & ~_in_planks(bins, lightness, least)
    return _in_company(light.samples.xy[grained], lightness, stepped, light.size)


def _uncovered(local: LocalLight, hidden: Overcast) -> LocalLight:
    """The same with what hides the table as steps of the light, and its surroundings as finely."""
    if not len(hidden.xy):
        return local
    extra, held = hidden.extra, hidden.held
    if len(local.xy):
        nearest = np.argmin(np.linalg.norm(hidden.xy[:, None] - local.xy, axis=2), axis=1)
        near = local.unexplained[nearest]
        like = hidden.known | (np.abs((extra - near) @ LIGHTNESS) < _SAME_LIGHT)
        like &= ~held
        extra = np.where(like[:, None], near, extra)
        held = held | (like & local.stepped[nearest])
    return replace(
        local,
        xy=np.concatenate([local.xy, hidden.xy]),
        unexplained=np.concatenate([local.unexplained, extra]),
        stepped=np.concatenate([local.stepped, held]),
    )


def _is_felt(light: LightField, xy: Array, step: Array) -> tuple[bool | None, int]:
    """Whether squares feel the steps (S,) in log lightness that the surface shows at ``xy`` (S, 2),
    and how many could: across a square beside one the light changes, but not if the surface mirrors
    a window there. None where too few squares lie so that they could tell."""
    slopes = light.samples.slopes
    rest = (slopes.seen - slope_along(light.log_light(slopes.xy))) @ LIGHTNESS
    expected = np.zeros_like(rest)
    for k, places in enumerate(slopes.xy):
        middle = places.mean(axis=0)
        side = _CELLS_TO_SIDE * float(np.linalg.norm(places - middle, axis=1).max())
        near = _around(middle, side, xy)
        if np.count_nonzero(near) >= FEWEST_BESIDE and step[near].any():
            extra = _spread(places, xy[near], step[near], _SHARPNESS * side)
            expected[k] = slope_along(extra[None, :, None])[0, :, 0]
    witnesses = int(np.count_nonzero(np.abs(expected).max(axis=1, initial=0.0) > _LEAST_SLOPE))
    if witnesses < _WITNESSES:
        return None, witnesses
    size = float(np.sum(expected**2))
    felt = float(np.sum(expected * rest)) / size
    # Prints differ from side to side by themselves, some by a lot.
    own = np.sqrt(np.mean(np.square(slopes.left @ LIGHTNESS), axis=1))[:, None]
    open_by = 2 * float(np.sqrt(np.sum((expected * own) ** 2))) / size
    if felt - open_by > _FELT[0]:
        return True, witnesses
    return (False if felt + open_by < _FELT[1] else None), witnesses


def _spread(places: Array, xy: Array, values: Array, softness: float) -> Array:
    """Values (..., C) at places (..., 2) in or beside a square, from those (S, C) or (S,) at ``xy``
    (S, 2): the nearer, the more they count, from a distance of ``softness`` on."""
    gap = places[..., None, :] - xy
    weight = 1 / (np.sum(gap**2, axis=-1) + softness**2) ** 2
    weight /= weight.sum(axis=-1, keepdims=True)
    return np.asarray(weight @ values)


def _in_planks(bins: NDArray[np.intp], lightness: Array, least: float) -> NDArray[np.bool_]:
    """Cells (S,) of single columns or rows that are ``least`` lighter or darker over their whole
    length, unlike those on either side: planks of another wood. Light has no reason to fall along
    the grain, one cell wide, from one end of the table to the other."""
    planks = np.zeros(lightness.size, np.bool_)
    for strip in bins.T if lightness.size else ():
        # Room for a strip that is not there on either side.
        number = strip - strip.min() + 1
        count = np.bincount(number, minlength=int(number.max()) + 2)
        order = lightness[np.lexsort((lightness, number))]
        first = np.minimum(np.cumsum(count) - count, order.size - 1)
        skipped = np.maximum(count - 1, 0) // 10
        last = np.minimum(first + np.maximum(count - 1, 0), order.size - 1)
        apart = np.maximum(order[first + skipped], -order[last - skipped])
        apart[count < _LONG_STRIP] = 0.0
        alone = (apart > least) & (np.roll(apart, 1) <= 0) & (np.roll(apart, -1) <= 0)
        planks |= alone[number]
    return planks


def _patchy_sd(bins: NDArray[np.intp], lightness: Array, stepped: NDArray[np.bool_]) -> float:
    """Square root of the covariance between neighbouring cells that lie in no step."""
    if not lightness.size:
        return 0.0
    most = max(_GRAIN_STEPS * 1.4826 * float(np.median(np.abs(lightness))), _LEAST_STEP / 2)
    ones, others = neighbours(bins, ~stepped)
    if ones.size <= LEAST_PAIRS:
        return 0.0
    off = np.clip(lightness, -most, most)
    return float(np.sqrt(max(float(np.mean(off[ones] * off[others])), 0.0)))


def crosses_reference(light: LightField) -> float:
    """How unevenly (standard deviation of log light) references are lit beyond what the field
    follows: an edge of sun or shadow across the paper."""
    known = light.samples.known_materials[light.samples.material]
    if not known.any():
        return 0.0
    off = light.unexplained[known] @ LIGHTNESS
    return float(np.sqrt(np.mean(np.clip(off, -_MOST_PATCHY, _MOST_PATCHY) ** 2)))


def level_anew(
    light: LightField, local: LocalLight, outlines: Sequence[FloatArray]
) -> tuple[LightField, float]:
    """Return the field with its level set right if the references lie in a shadow or in the sun,
    and how open (standard deviation of log light) that leaves it."""
    shares = [local.share(outline)[0] for outline in outlines]
    if not shares or max(shares) < LEAST_BESIDE:
        hidden = [abs(local.overcast_step(outline)) for outline in outlines]
        return light, _UNKNOWN * max(hidden, default=0.0)
    steps = [
        local.median_step(outline) if share > 0.5 else np.zeros(3)
        for outline, share in zip(outlines, shares, strict=True)
    ]
    coefficients = light.coefficients.copy()
    coefficients[0] -= np.mean(steps, axis=0)
    doubt = float(np.mean([local.log_sd(outline) for outline in outlines]))
    return replace(light, coefficients=coefficients), doubt


def _in_company(
    xy: Array, lightness: Array, stepped: NDArray[np.bool_], size: tuple[int, int]
) -> NDArray[np.bool_]:
    """Steps with a like neighbour: a lone one is a stain, a thread or a number on the mat."""
    index = np.flatnonzero(stepped)
    gap = np.linalg.norm(xy[index, None] - xy[None, index], axis=2)
    rising = lightness[index] > 0
    near = (gap < 0.08 * max(size)) & (rising[:, None] == rising[None])
    company = np.zeros_like(stepped)
    # Each is near itself.
    company[index] = near.sum(axis=1) >= 3
    return company


def _beside(corners: FloatArray, xy: Array) -> NDArray[np.bool_]:
    """Which places (S, 2) lie in a square or just around it."""
    return _around(np.asarray(corners, dtype=np.float64).mean(axis=0), _side(corners), xy)


def _around(middle: Array, side: float, xy: Array) -> NDArray[np.bool_]:
    return np.asarray(np.linalg.norm(xy - middle, axis=1) < BESIDE * side)


def _side(corners: FloatArray) -> float:
    return mean_side(corners)
