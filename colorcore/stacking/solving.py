"""Find the best deal, goal after goal, and know how good it is."""

import time
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from colorcore.pattern.model import Role
from colorcore.stacking.problem import (
    FloatArray,
    IntArray,
    Problem,
    background_goal,
    moving_goal,
    touching_goal,
    value_goal,
)
from colorcore.stacking.program import Outcome, Program
from colorcore.stacking.proving import columns_of, make_even_program
from colorcore.stacking.search import Score, clump_stacks, improve, score


@dataclass(frozen=True, eq=False)
class Solution:
    """``assigned`` (N,) stack of each square or -1 for left over; ``bound`` what no deal can beat
    in (uneven, clumps, missed) taken one by one; ``proven`` that the deal is optimal in all goals
    in their order; ``seconds`` spent on proving."""

    assigned: IntArray
    score: Score
    bound: tuple[float, float, float]
    proven: bool
    seconds: float


class Impossible(Exception):
    """No deal keeps all hard rules."""


def solve(problem: Problem, *, seconds: float = 10.0) -> Solution:
    """Return the best deal.

    Raises
    ------
    Impossible
        If no deal keeps counts, locks, least contrast and copies.
    """
    began = time.monotonic()
    program, index = _places(problem)
    goals: list[FloatArray] = []
    assigned = _settle(problem, program, index, np.zeros(problem.allowed.shape), goals)
    for goal in (
        value_goal(problem, Role.FOCAL),
        value_goal(problem, Role.FILL),
        background_goal(problem),
        moving_goal(problem),
    ):
        if goal is not None and goal.any():
            assigned = _settle(problem, program, index, goal, goals)
    goal = touching_goal(problem, assigned)
    if goal.any():
        assigned = _settle(problem, program, index, goal, goals)
    least = _least_missed(problem, program, index)
    bound = (0.0, _least_clumps(problem), least)
    if least:
        # With what is missed least left over at once, the other goals mostly still come out best.
        left = _left_goal(problem)
        cost = _spread_cost(program, index, left)
        start = _assigned(program.minimize(cost), index)
        assigned, reached = improve(problem, (*goals, left), start, least=bound)
        if reached.beats(bound):
            return Solution(assigned, reached, bound, True, time.monotonic() - began)
    assigned, reached = improve(problem, tuple(goals), assigned, least=bound)
    if reached.beats(bound):
        return Solution(assigned, reached, bound, True, time.monotonic() - began)
    return _prove(problem, program, index, tuple(goals), assigned, bound, began, seconds)


def can_deal(problem: Problem) -> bool:
    """Return whether any deal keeps the hard rules."""
    program, _ = _places(problem)
    return program.minimize(np.zeros(program.columns)).values is not None


def least_shortage(problem: Problem) -> list[tuple[int, int]]:
    """Return (stack, squares missing) of the deal that leaves the fewest places empty, focal
    stacks filled first; empty if even that cannot be had."""
    program, _ = _places(problem, empty=True)
    weight = [2.0 if rule.role is Role.FOCAL else 1.0 for rule in problem.rules]
    cost = np.zeros(program.columns)
    # The share for the role breaks ties only: all of it together is less than one square.
    cost[-len(weight) :] = 1.0 + np.array(weight) / (4.0 * max(1, int(problem.counts.sum())))
    values = program.minimize(cost).values
    if values is None:
        return []
    missing = np.rint(values[-len(weight) :]).astype(int)
    return [(int(s), int(missing[s])) for s in np.flatnonzero(missing)]


def _places(problem: Problem, *, empty: bool = False) -> tuple[Program, NDArray[np.int32]]:
    """Return the hard rules as a program, and the column (N, S) of each place, -1 where none.
    With ``empty`` the last S columns are the places that stay empty in each stack."""
    program = Program()
    index = np.full(problem.allowed.shape, -1, dtype=np.int32)
    index[problem.allowed] = program.add_columns(int(problem.allowed.sum()), high=1, whole=True)
    for n in range(len(index)):
        here = index[n][index[n] >= 0]
        program.add_row(here, 1.0, low=0.0 if problem.may_stay[n] else 1.0, high=1.0)
    for s, wanted in enumerate(problem.counts):
        here = index[:, s][index[:, s] >= 0]
        if not empty:
            program.add_row(here, 1.0, low=float(wanted), high=float(wanted))
        most = problem.rules[s].max_copies
        if most is None:
            continue
        for fabric in np.flatnonzero(np.bincount(problem.fabric) > most):
            copies = index[problem.fabric == fabric, s]
            program.add_row(copies[copies >= 0], 1.0, high=float(most))
    if empty:
        spare = program.add_columns(len(problem.rules))
        for s, wanted in enumerate(problem.counts):
            here = index[:, s][index[:, s] >= 0]
            program.add_row([*here, spare[s]], 1.0, low=float(wanted), high=float(wanted))
    return program, index


def _spread_cost(program: Program, index: NDArray[np.int32], goal: FloatArray) -> FloatArray:
    cost = np.zeros(program.columns)
    there = index >= 0
    cost[index[there]] = goal[there]
    return cost


def _settle(
    problem: Problem,
    program: Program,
    index: NDArray[np.int32],
    goal: FloatArray,
    goals: list[FloatArray],
) -> IntArray:
    """Reach a goal as far as it can be, ask that it stays reached, and return the deal."""
    cost = _spread_cost(program, index, goal)
    outcome = program.minimize(cost)
    if outcome.values is None:
        raise Impossible
    if goal.any():
        program.hold(cost, round(outcome.objective))
        goals.append(goal)
    return _assigned(outcome, index)


def _assigned(outcome: Outcome, index: NDArray[np.int32]) -> IntArray:
    if outcome.values is None:
        raise Impossible
    taken = np.zeros(index.shape, dtype=np.bool_)
    there = index >= 0
    taken[there] = outcome.values[index[there]] > 0.5
    return np.where(taken.any(axis=1), taken.argmax(axis=1), -1).astype(np.int64)


def _least_missed(problem: Problem, program: Program, index: NDArray[np.int32]) -> float:
    if len(problem.squares) == problem.counts.sum():
        return 0.0
    outcome = program.minimize(_spread_cost(program, index, _left_goal(problem)))
    return float(problem.missed.sum() + round(outcome.bound))


def _least_clumps(problem: Problem) -> int:
    """Return the least number of pairs of copies that must share one of the even stacks, if any
    square may go to any of them and the others may be chosen freely."""
    stacks = clump_stacks(problem)
    if not len(stacks):
        return 0
    left = np.bincount(problem.fabric)
    for _ in range(len(problem.squares) - int(problem.counts[stacks].sum())):
        gain = _even_pairs(left, len(stacks)) - _even_pairs(np.maximum(left - 1, 0), len(stacks))
        left[int(np.argmax(gain * len(left) + (left > 0)))] -= 1
    return int(_even_pairs(left, len(stacks)).sum())


def _even_pairs(copies: IntArray, stacks: int) -> IntArray:
    """Return how many pairs share a stack when copies (F,) are spread evenly."""
    each, more = np.divmod(copies, stacks)
    return np.asarray(more * (each + 1) * each // 2 + (stacks - more) * each * (each - 1) // 2)


def _left_goal(problem: Problem) -> FloatArray:
    return np.repeat(-problem.missed[:, None], len(problem.rules), axis=1)


def _prove(
    problem: Problem,
    program: Program,
    index: NDArray[np.int32],
    goals: tuple[FloatArray, ...],
    assigned: IntArray,
    bound: tuple[float, float, float],
    began: float,
    seconds: float,
) -> Solution:
    """Let the exact solver go on from the best deal known, one goal after the other."""
    even = make_even_program(problem, program, index)
    everything = float(problem.missed.sum())
    reached = score(problem, assigned)
    bounds = list(bound)
    proven = True
    for k, (cost, add) in enumerate(
        ((even.uneven, 0.0), (even.clumps, 0.0), (even.missed, everything))
    ):
        now = (reached.uneven, reached.clumps, reached.missed)[k]
        if now > bounds[k]:
            left = seconds - (time.monotonic() - began)
            start = columns_of(problem, even, assigned)
            outcome = program.minimize(cost, start=start, seconds=max(left, 0.1))
            if outcome.values is not None:
                trial = _assigned(outcome, index)
                value = score(problem, trial)
                if value < reached:
                    assigned, reached = trial, value
            now = (reached.uneven, reached.clumps, reached.missed)[k]
            bounds[k] = now if outcome.proven else max(bounds[k], outcome.bound + add)
            proven = proven and outcome.proven
        program.hold(cost, now - add)
    least = (reached.uneven, float(reached.clumps), reached.missed)
    assigned, reached = improve(problem, goals, assigned, least=least)
    return Solution(
        assigned, reached, (bounds[0], bounds[1], bounds[2]), proven, time.monotonic() - began
    )
