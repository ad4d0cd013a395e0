"""A deal as numbers: who may go where, what each place costs, what must be even."""

import re
from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from colorcore.color.bands import value_bands
from colorcore.contrast import Background, Thresholds, contrast
from colorcore.contrast.pieces import color_verdicts, stand_off
from colorcore.contrast.seen import beside_background
from colorcore.pattern.model import StackRule, ValueRule
from colorcore.stacking.features import Evenness, even_groups
from colorcore.stacking.locks import Lock
from colorcore.swatch import Swatch

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.int64]
BoolArray = NDArray[np.bool_]

COST_STEP: Final = 1000.0
"""Costs of places are whole thousandths, so that sums of them are exact."""


@dataclass(frozen=True, eq=False)
class Problem:
    """N squares in the order of their ids and S stacks.

    ``allowed`` (N, S) by locks, value rules and least contrast, ``by_value`` by value rules alone;
    ``may_stay`` (N,) whether a square may be left over; ``locked`` (N,) by the maker; ``fabric``
    (N,) equal numbers are copies; ``delta_l``, ``delta_e`` and ``ratio`` (N,) against what the
    background reads as; ``stand_off`` (N,) L* units from nearly all places of the background,
    ``half_off`` (N,) from at least half of them, and ``verdict`` (N,) by all of them: a printed
    background counts with all its values; ``previous`` (N,) stack in an earlier plan, -1 left
    over, -2 not in it; ``missed`` (N,) whole costs of leaving over.
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
    stand_off: FloatArray
    half_off: FloatArray
    verdict: tuple[str, ...]
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


def _natural_key(name: str) -> tuple[tuple[int, int, str], ...]:
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
    ordered = tuple(sorted(squares, key=lambda swatch: (_natural_key(swatch.id), swatch.id)))
    lab = np.array([swatch.lab for swatch in ordered], dtype=np.float64).reshape(-1, 3)
    lab_sd = np.array([swatch.lab_sd for swatch in ordered], dtype=np.float64).reshape(-1, 3)
    against = contrast(lab, background.lab)
    band = value_bands(lab[:, 0])
    fabric = _renumber([swatch.fabric for swatch in ordered])
    by_value = _by_value(band, rules)
    beside = beside_background(background, thresholds)
    apart = stand_off(beside, lab[:, 0])
    half = stand_off(beside, lab[:, 0], but_for=0.5)
    far = _far_enough(half, rules)
    allowed, may_stay, locked = _allowances(ordered, rules, by_value & far, locks)
    before = None
    if previous is not None:
        before = np.array([previous.get(swatch.id, -2) for swatch in ordered], dtype=np.int64)
    cloth = _cloth_means(lab, fabric)
    missed = _missed(ordered, cloth, fabric, stand_off(beside, cloth[:, 0]), thresholds)
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
        stand_off=apart,
        half_off=half,
        verdict=color_verdicts(beside, lab[:, 0]),
        by_value=by_value,
        allowed=allowed,
        may_stay=may_stay,
        locked=locked,
        previous=before,
        evenness=even_groups(ordered, rules, fabric, cloth),
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


def _far_enough(apart: FloatArray, rules: tuple[StackRule, ...]) -> BoolArray:
    """Return whether a square differs enough from the background for a stack (N, S)."""
    least = [
        rule.min_contrast if rule.min_contrast is not None and rule.beside_background else 0.0
        for rule in rules
    ]
    return np.asarray(apart[:, None] >= np.array(least)[None])


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


def _cloth_means(lab: FloatArray, fabric: IntArray) -> FloatArray:
    """Return for each square the mean CIELAB (N, 3) of its fabric's copies. What differs between
    copies is measurement; for evenness and for what is missed they are one and the same."""
    count = np.bincount(fabric)
    means = np.array([np.bincount(fabric, weights=column) / count for column in lab.T]).T
    return np.asarray(means.reshape(-1, 3)[fabric])


_DOUBTFUL = ("cut-off", "covered", "clipped", "unsure-outline", "overlapping", "few-pixels")
_ENOUGH_DIFFERENT = 20.0
_GRADES = 4


def _missed(
    squares: tuple[Swatch, ...],
    cloth: FloatArray,
    fabric: IntArray,
    apart_from_background: FloatArray,
    thresholds: Thresholds,
) -> FloatArray:
    """How much each square (N,) would be missed, in whole grades: most if it holds against the
    background and nothing else in the bundle is like it; less with every copy, and if the
    measurement of its cloth is doubtful."""
    from colorcore.color.difference import ciede2000

    apart = np.asarray(ciede2000(cloth[:, None], cloth[None]), dtype=np.float64)
    apart[fabric[:, None] == fabric[None]] = np.inf
    own = np.minimum(apart.min(axis=1, initial=_ENOUGH_DIFFERENT), _ENOUGH_DIFFERENT)
    alone = own / _ENOUGH_DIFFERENT / np.bincount(fabric)[fabric]
    step = np.clip(apart_from_background, 0, thresholds.holds)
    stands = step / max(thresholds.holds, 1e-9)
    sound = np.array([not any(flag in s.flags for flag in _DOUBTFUL) for s in squares])
    grades = np.rint(_GRADES * alone) + np.rint(2 * _GRADES * stands) + 2 * _GRADES * sound
    return np.asarray(grades, dtype=np.float64)
