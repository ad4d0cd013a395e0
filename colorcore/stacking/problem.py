"""A deal as numbers: who may go where, what each place costs, what must be even."""

import re
from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from colorcore.color.bands import value_bands
from colorcore.contrast import Background, Thresholds, contrast
from colorcore.pattern.model import Role, StackRule, ValueRule
from colorcore.stacking.locks import Lock
from colorcore.swatch import Swatch

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.int64]
BoolArray = NDArray[np.bool_]

COST_STEP: Final = 1000.0
"""Costs of places are whole thousandths, so that sums of them are exact."""


@dataclass(frozen=True, eq=False)
class Evenness:
    """What must be even between the stacks of a group: K features of each of N squares.

    ``values`` (N, K); a stack's figure is the mean over its squares. Differences between stacks
    up to ``zone`` (K,) are no difference; beyond it each zone's width costs ``weight`` (K,).
    ``stacks`` are indices into the pattern's stacks, at least two.
    """

    stacks: tuple[int, ...]
    names: tuple[str, ...]
    values: FloatArray
    zone: FloatArray
    weight: FloatArray


@dataclass(frozen=True, eq=False)
class Problem:
    """N squares in the order of their ids and S stacks.

    ``allowed`` (N, S) by locks, value rules and least contrast, ``by_value`` by value rules alone;
    ``may_stay`` (N,) whether a square may be left over; ``locked`` (N,) by the maker; ``fabric``
    (N,) equal numbers are copies; ``delta_l``, ``delta_e`` and ``ratio`` (N,) against the
    background; ``previous`` (N,) stack in an earlier plan, -1 left over, -2 not in it; ``missed``
    (N,) whole costs of leaving over.
    """

    squares: tuple[Swatch, ...]
    rules: tuple[StackRule, ...]
    background: Background
    thresholds: Thresholds
    lab: FloatArray
    lab_sd: FloatArray
    band: tuple[str, ...]
    fabric: IntArray
    delta_l: FloatArray
    delta_e: FloatArray
    ratio: FloatArray
    by_value: BoolArray
    allowed: BoolArray
    may_stay: BoolArray
    locked: BoolArray
    previous: IntArray | None
    evenness: tuple[Evenness, ...]
    missed: FloatArray

    @property
    def counts(self) -> IntArray:
        """Squares wanted of each stack (S,)."""
        return np.array([rule.squares for rule in self.rules], dtype=np.int64)


def natural_key(name: str) -> tuple[tuple[int, int, str], ...]:
    """Return a sort key by which B10 comes after B9, whatever the form of the name."""
    parts = re.findall(r"\d{1,18}|\D", name)
    return tuple((0, int(p), "") if p.isdecimal() and p.isascii() else (1, 0, p) for p in parts)


def build_problem(
    squares: tuple[Swatch, ...],
    rules: tuple[StackRule, ...],
    background: Background,
    thresholds: Thresholds,
    locks: tuple[Lock, ...],
    previous: dict[str, int] | None,
) -> Problem:
    """Return the deal of ``squares`` (those that do not stay out) as numbers."""
    ordered = tuple(sorted(squares, key=lambda swatch: natural_key(swatch.id)))
    lab = np.array([swatch.lab for swatch in ordered], dtype=np.float64).reshape(-1, 3)
    lab_sd = np.array([swatch.lab_sd for swatch in ordered], dtype=np.float64).reshape(-1, 3)
    against = contrast(lab, background.lab)
    band = value_bands(lab[:, 0])
    fabric = _renumber([swatch.fabric for swatch in ordered])
    by_value = _by_value(band, rules)
    far = _far_enough(against.delta_l, rules)
    allowed, may_stay, locked = _allowances(ordered, rules, by_value & far, locks)
    before = None
    if previous is not None:
        before = np.array([previous.get(swatch.id, -2) for swatch in ordered], dtype=np.int64)
    missed = _missed(ordered, lab, fabric, against.delta_l, thresholds)
    return Problem(
        squares=ordered,
        rules=rules,
        background=background,
        thresholds=thresholds,
        lab=lab,
        lab_sd=lab_sd,
        band=band,
        fabric=fabric,
        delta_l=against.delta_l,
        delta_e=against.delta_e,
        ratio=against.ratio,
        by_value=by_value,
        allowed=allowed,
        may_stay=may_stay,
        locked=locked,
        previous=before,
        evenness=_even_groups(ordered, rules, lab, band),
        missed=missed,
    )


def _renumber(fabrics: list[int]) -> IntArray:
    """Number fabrics from 0 in order of appearance; a square not grouped is its own fabric."""
    seen: dict[object, int] = {}
    keys = [("one", n) if fabric < 0 else fabric for n, fabric in enumerate(fabrics)]
    return np.array([seen.setdefault(key, len(seen)) for key in keys], dtype=np.int64)


def _by_value(band: tuple[str, ...], rules: tuple[StackRule, ...]) -> BoolArray:
    """Return whether a square's band (N,) may go to a stack (N, S): a dark stack takes no lights
    and a light stack no darks, unless there are too few others in the whole bundle."""
    bands = np.array(band, dtype=str)
    able = np.ones((len(band), len(rules)), dtype=np.bool_)
    for value, opposite in ((ValueRule.DARK, "light"), (ValueRule.LIGHT, "dark")):
        stacks = [s for s, rule in enumerate(rules) if rule.value is value]
        if (bands != opposite).sum() >= sum(rules[s].squares for s in stacks):
            able[:, stacks] = (bands != opposite)[:, None]
    return able


def _far_enough(delta_l: FloatArray, rules: tuple[StackRule, ...]) -> BoolArray:
    """Return whether a square differs enough from the background for a stack (N, S)."""
    least = [
        rule.min_contrast if rule.min_contrast is not None and rule.beside_background else 0.0
        for rule in rules
    ]
    return np.asarray(np.abs(delta_l)[:, None] >= np.array(least)[None])


def _allowances(
    squares: tuple[Swatch, ...],
    rules: tuple[StackRule, ...],
    able: BoolArray,
    locks: tuple[Lock, ...],
) -> tuple[BoolArray, BoolArray, BoolArray]:
    names = [rule.name for rule in rules]
    place = {lock.square: [names.index(name) for name in lock.stacks] for lock in locks}
    allowed = able.copy()
    may_stay = np.ones(len(squares), dtype=np.bool_)
    locked = np.zeros(len(squares), dtype=np.bool_)
    for n, swatch in enumerate(squares):
        if swatch.id in place:
            # The maker's word outweighs the measurement: a lock sets value and contrast aside.
            allowed[n] = False
            allowed[n, place[swatch.id]] = True
            may_stay[n] = False
            locked[n] = True
    return allowed, may_stay, locked


_DOUBTFUL = ("cut-off", "covered", "clipped", "unsure-outline", "few-pixels")
_ENOUGH_DIFFERENT = 20.0


def _missed(
    squares: tuple[Swatch, ...],
    lab: FloatArray,
    fabric: IntArray,
    delta_l: FloatArray,
    thresholds: Thresholds,
) -> FloatArray:
    """How much each square (N,) would be missed: most if it holds against the background and
    nothing else in the bundle is like it; less with every copy, and if its piece of cloth is
    doubtful."""
    from colorcore.color.difference import ciede2000

    apart = np.asarray(ciede2000(lab[:, None], lab[None]), dtype=np.float64)
    np.fill_diagonal(apart, np.inf)
    own = np.minimum(apart.min(axis=1, initial=_ENOUGH_DIFFERENT), _ENOUGH_DIFFERENT)
    alone = own / _ENOUGH_DIFFERENT / np.bincount(fabric)[fabric]
    step = np.clip(np.abs(delta_l), 0, thresholds.holds) / max(thresholds.holds, 1e-9)
    sound = np.array([not any(flag in s.flags for flag in _DOUBTFUL) for s in squares])
    return np.asarray(np.rint((alone + 2 * step + 2 * sound) * COST_STEP))


_HUES = ("red", "orange and brown", "yellow and olive", "green", "blue", "purple and pink")
_HUE_STARTS = (0.0, 45.0, 80.0, 115.0, 200.0, 300.0)
_NEUTRAL_CHROMA = 8.0
_SCALES = ("solids", "small prints", "medium prints", "large prints")


def _even_groups(
    squares: tuple[Swatch, ...],
    rules: tuple[StackRule, ...],
    lab: FloatArray,
    band: tuple[str, ...],
) -> tuple[Evenness, ...]:
    groups: dict[object, list[int]] = {}
    for s, rule in enumerate(rules):
        if rule.squares:
            key = rule.value if rule.value is ValueRule.MIXED else (rule.value, rule.role)
            groups.setdefault(key, []).append(s)
    return tuple(
        _evenness(tuple(stacks), squares, rules, lab, band)
        for stacks in groups.values()
        if len(stacks) > 1
    )


def _evenness(
    stacks: tuple[int, ...],
    squares: tuple[Swatch, ...],
    rules: tuple[StackRule, ...],
    lab: FloatArray,
    band: tuple[str, ...],
) -> Evenness:
    one = 1 / min(rules[s].squares for s in stacks)
    features: list[tuple[str, FloatArray, float, float]] = [
        ("mean L*", lab[:, 0], 1.0, 8.0),
        *(
            (f"{name} squares", np.array([b == name for b in band], dtype=float), one, 8.0)
            for name in ("dark", "medium", "light")
        ),
        ("mean a*", lab[:, 1], 2.0, 4.0),
        ("mean b*", lab[:, 2], 2.0, 4.0),
    ]
    chroma = np.hypot(lab[:, 1], lab[:, 2])
    angle = np.degrees(np.arctan2(lab[:, 2], lab[:, 1])) % 360
    hue = np.searchsorted(_HUE_STARTS, angle, side="right") - 1
    hue[chroma < _NEUTRAL_CHROMA] = -1
    for n, name in enumerate(("neutral", *_HUES)):
        features.append((f"{name} squares", (hue == n - 1).astype(float), 2 * one, 4.0))
    scale = np.array([_scale_class(swatch) for swatch in squares])
    for n, name in enumerate(_SCALES):
        features.append((name, (scale == n).astype(float), 2 * one, 2.0))
    busy = np.array([swatch.busyness for swatch in squares], dtype=np.float64)
    features.append(("mean busyness", busy, 1.0, 1.0))
    told = [f for f in features if np.ptp(f[1]) > 0] if squares else []
    return Evenness(
        stacks=stacks,
        names=tuple(f[0] for f in told),
        values=np.array([f[1] for f in told]).T.reshape(len(squares), len(told)),
        zone=np.array([f[2] for f in told]),
        weight=np.array([f[3] for f in told]),
    )


def _scale_class(swatch: Swatch) -> int:
    """Limits of 1 and 3 inches between small, medium and large: common practice, no source."""
    if swatch.reads_as_solid or swatch.print_scale_inches is None:
        return 0
    return 1 if swatch.print_scale_inches < 1 else 2 if swatch.print_scale_inches < 3 else 3


def value_goal(problem: Problem, role: Role) -> FloatArray:
    """Whole costs (N, S) of a square's L* in the stacks of a role that ask for a value."""
    cost = np.zeros(problem.allowed.shape)
    medium = np.array([b == "medium" for b in problem.band])
    lightness = problem.lab[:, 0]
    middle = float(np.median(lightness[medium] if medium.any() else lightness))
    for s, rule in enumerate(problem.rules):
        if rule.role is not role or rule.value is ValueRule.MIXED:
            continue
        by_rule = {
            ValueRule.DARK: lightness,
            ValueRule.LIGHT: -lightness,
            ValueRule.MEDIUM: np.abs(lightness - middle),
        }
        cost[:, s] = np.rint(by_rule[rule.value] * COST_STEP)
    return cost


def background_goal(problem: Problem) -> FloatArray:
    """Whole costs (N, S): how far a square in a focal stack is from holding on the background."""
    short = np.maximum(problem.thresholds.holds - np.abs(problem.delta_l), 0)
    focal = [r.role is Role.FOCAL and r.beside_background for r in problem.rules]
    return np.asarray(np.rint(short * COST_STEP)[:, None] * np.array(focal, dtype=float))


def touching_goal(problem: Problem, assigned: IntArray) -> FloatArray:
    """Whole costs (N, S): how far a square of fill is, on average over the squares it will touch
    in focal stacks that ask for a value, from holding against them. ``assigned`` (N,) stacks."""
    cost = np.zeros(problem.allowed.shape)
    lightness = problem.lab[:, 0]
    for s, rule in enumerate(problem.rules):
        if rule.role is not Role.FILL:
            continue
        beside = [
            f
            for f, other in enumerate(problem.rules)
            if other.role is Role.FOCAL
            and other.value is not ValueRule.MIXED
            and (other.name in rule.touches or rule.name in other.touches)
        ]
        focal = np.isin(assigned, beside)
        if focal.any():
            step = np.abs(lightness[:, None] - lightness[None, focal])
            short = np.maximum(problem.thresholds.holds - step, 0).mean(axis=1)
            cost[:, s] = np.rint(short * COST_STEP)
    return cost


def moving_goal(problem: Problem) -> FloatArray | None:
    """Costs (N, S): 1 where a square would leave the stack it lay in, -1 where it stays, so that
    one left over pays too; None without an earlier plan."""
    if problem.previous is None:
        return None
    cost = np.zeros(problem.allowed.shape)
    for n, stack in enumerate(problem.previous):
        if stack >= 0:
            cost[n, stack] = -1.0
        elif stack == -1:
            cost[n, :] = 1.0
    return cost
