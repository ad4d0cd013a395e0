"""Improve a deal by exchanging two squares at a time, as a maker does at the table.

Every goal that was settled before stays exactly met. The search proves nothing; what it finds is
either at a bound that nothing can beat, or the start from which the exact solver goes on.
"""

from dataclasses import dataclass
from typing import Any, Final

import numpy as np

from colorcore.stacking.features import Evenness
from colorcore.stacking.problem import BoolArray, FloatArray, IntArray, Problem

STEPS: Final = 4
STEP_HAIR: Final = 1e-6
_KICKS: Final = 4
_MOST_STEPS: Final = 400
_MOST_PAIRS: Final = 20_000


@dataclass(frozen=True, order=True)
class Score:
    """What is left to wish for, the weightiest first; less is better.

    ``uneven`` counts weighted steps beyond the zones of evenness; ``clumps`` counts pairs of one
    fabric that share a mixed stack; ``missed`` is the cost of what is left over; ``rest`` what
    remains uneven within the zones.
    """

    uneven: float
    clumps: int
    missed: float
    rest: float

    def beats(self, bound: tuple[float, float, float]) -> bool:
        """Whether nothing within the bound is better: all goals are at it."""
        return self.uneven <= bound[0] and self.clumps <= bound[1] and self.missed <= bound[2]


def clump_stacks(problem: Problem) -> IntArray:
    """Return the indices (G,) of the stacks over which copies are to be spread."""
    return np.array(sorted({s for e in problem.evenness for s in e.stacks}), dtype=np.int64)


def stack_means(even: Evenness, assigned: IntArray) -> FloatArray:
    """Return the figures (G, K) of the G stacks of a group under a deal (N,)."""
    return np.array([even.values[assigned == s].mean(axis=0) for s in even.stacks])


def unevenness(even: Evenness, spread: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Return (beyond the zones in whole steps, all) of spreads (..., K) between the stacks of a
    group: a step is a quarter of a zone, and less than a step is none."""
    zones = spread / even.zone
    steps = np.ceil(np.maximum(STEPS * (zones - 1) - STEP_HAIR, 0))
    return steps @ even.weight, (zones**2) @ even.weight


def score(problem: Problem, assigned: IntArray) -> Score:
    """Return how good a deal (N,) is; -1 stands for left over."""
    uneven = rest = 0.0
    for even in problem.evenness:
        beyond, everything = unevenness(even, np.ptp(stack_means(even, assigned), axis=0))
        uneven += float(beyond)
        rest += float(everything)
    clumps = 0
    for s in clump_stacks(problem):
        copies = np.bincount(problem.fabric[assigned == s])
        clumps += int((copies * (copies - 1) // 2).sum())
    missed = float(problem.missed[assigned < 0].sum())
    return Score(float(round(uneven)), clumps, missed, rest)


@dataclass(frozen=True, eq=False)
class _Swaps:
    """Pairs of squares that may change places: ``first`` and ``second`` (P,)."""

    first: IntArray
    second: IntArray


def _legal_swaps(problem: Problem, goals: tuple[FloatArray, ...], assigned: IntArray) -> _Swaps:
    n_stacks = len(problem.rules)
    place = np.where(assigned < 0, n_stacks, assigned)
    open_ = np.concatenate([problem.allowed, problem.may_stay[:, None]], axis=1)
    involved = np.zeros(n_stacks + 1, dtype=np.bool_)
    involved[clump_stacks(problem)] = True
    involved[n_stacks] = True
    i, j = np.nonzero(np.triu(place[:, None] != place[None, :], 1))
    keep = involved[place[i]] & involved[place[j]]
    i, j = i[keep], j[keep]
    if len(i) > _MOST_PAIRS:
        # Of hundreds of squares a fair sample of exchanges finds a good one as surely.
        some = np.sort(np.random.default_rng(len(i)).permutation(len(i))[:_MOST_PAIRS])
        i, j = i[some], j[some]
    keep = open_[i, place[j]] & open_[j, place[i]]
    for goal in goals:
        padded = np.concatenate([goal, np.zeros((len(goal), 1))], axis=1)
        change = padded[i, place[j]] + padded[j, place[i]] - padded[i, place[i]]
        keep &= change - padded[j, place[j]] == 0
    keep &= _copies_fit(problem, place, i, j) & _copies_fit(problem, place, j, i)
    return _Swaps(i[keep], j[keep])


def _copies_fit(problem: Problem, place: IntArray, i: IntArray, j: IntArray) -> BoolArray:
    """Whether square i may take the place of square j without too many copies there."""
    n_stacks = len(problem.rules)
    most = np.array(
        [len(place) if r.max_copies is None else r.max_copies for r in problem.rules] + [len(place)]
    )
    copies = np.zeros((problem.fabric.max(initial=0) + 1, n_stacks + 1), dtype=np.int64)
    np.add.at(copies, (problem.fabric, place), 1)
    same = problem.fabric[i] == problem.fabric[j]
    return np.asarray(same | (copies[problem.fabric[i], place[j]] < most[place[j]]))


def _swap_values(problem: Problem, assigned: IntArray, swaps: _Swaps) -> FloatArray:
    """Return what each deal (P,) would be worth after its exchange, as one number to compare."""
    i, j = swaps.first, swaps.second
    s, t = assigned[i], assigned[j]
    uneven = np.zeros(len(i))
    rest = np.zeros(len(i))
    for even in problem.evenness:
        means = stack_means(even, assigned)
        slot = np.full(len(problem.rules) + 1, -1)
        slot[list(even.stacks)] = np.arange(len(even.stacks))
        sizes = np.array([problem.rules[k].squares for k in even.stacks], dtype=float)
        change = even.values[j] - even.values[i]
        high = np.full(change.shape, -np.inf)
        low = np.full(change.shape, np.inf)
        for g in range(len(even.stacks)):
            sign = (slot[s] == g).astype(float) - (slot[t] == g)
            figure = means[g] + change * (sign / sizes[g])[:, None]
            np.maximum(high, figure, out=high)
            np.minimum(low, figure, out=low)
        beyond, everything = unevenness(even, high - low)
        uneven += beyond
        rest += everything
    counted = np.zeros(len(problem.rules) + 1, dtype=np.bool_)
    counted[clump_stacks(problem)] = True
    copies = np.zeros((problem.fabric.max(initial=0) + 1, len(problem.rules) + 1), dtype=np.int64)
    np.add.at(copies, (problem.fabric, assigned), 1)
    fi, fj = problem.fabric[i], problem.fabric[j]
    clumps = (
        counted[t] * copies[fi, t]
        - counted[s] * (copies[fi, s] - 1)
        + counted[s] * copies[fj, s]
        - counted[t] * (copies[fj, t] - 1)
    )
    clumps = np.where(fi == fj, 0, clumps)
    missed = problem.missed
    left = np.where(t < 0, missed[i] - missed[j], 0) + np.where(s < 0, missed[j] - missed[i], 0)
    worth = _wish(uneven, clumps, left, rest)
    return np.asarray(worth, dtype=np.float64)


def _wish(uneven: Any, clumps: Any, missed: Any, rest: Any) -> Any:
    """What the search goes down on. Evenness and copies weigh alike here, or it could not pass
    through an uneven deal on its way to one that is better in both."""
    return uneven * 1e7 + clumps * 4e7 + missed * 1e4 + rest


def _descend(
    problem: Problem, goals: tuple[FloatArray, ...], assigned: IntArray
) -> tuple[IntArray, Score]:
    value = score(problem, assigned)
    for _ in range(_MOST_STEPS):
        swaps = _legal_swaps(problem, goals, assigned)
        if not len(swaps.first):
            break
        pick = int(np.argmin(_swap_values(problem, assigned, swaps)))
        trial = _exchange(assigned, int(swaps.first[pick]), int(swaps.second[pick]))
        reached = score(problem, trial)
        before, after = (_wish(v.uneven, v.clumps, v.missed, v.rest) for v in (value, reached))
        if after >= before * (1 - 1e-12) - 1e-9:
            break
        assigned, value = trial, reached
    return assigned, value


def _better(one: Score, other: Score) -> bool:
    """Whether one score is less than another by more than the error of summing."""
    head = (one.uneven, one.clumps, one.missed)
    head_other = (other.uneven, other.clumps, other.missed)
    return head < head_other or (head == head_other and one.rest < other.rest * (1 - 1e-9) - 1e-9)


def _exchange(assigned: IntArray, i: int, j: int) -> IntArray:
    trial = assigned.copy()
    trial[i], trial[j] = assigned[j], assigned[i]
    return trial


def improve(
    problem: Problem,
    goals: tuple[FloatArray, ...],
    assigned: IntArray,
    *,
    least: tuple[float, float, float],
    restarts: int,
) -> tuple[IntArray, Score]:
    """Return a deal at least as good as ``assigned``, and its score; the same on every run.

    ``goals`` (N, S) each are costs that may not rise, ``assigned`` (N,) the deal to begin with;
    ``least`` is what no deal can beat in (uneven, clumps, missed); the search ends there.
    """
    rng = np.random.default_rng(20)
    best, best_score = _descend(problem, goals, assigned)
    for _ in range(restarts):
        if best_score.beats(least):
            break
        trial = best
        for _ in range(_KICKS):
            swaps = _legal_swaps(problem, goals, trial)
            if not len(swaps.first):
                break
            pick = int(rng.integers(len(swaps.first)))
            trial = _exchange(trial, int(swaps.first[pick]), int(swaps.second[pick]))
        trial, value = _descend(problem, goals, trial)
        if _better(value, best_score):
            best, best_score = trial, value
    return best, best_score
