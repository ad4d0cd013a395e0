"""Find the best deal, goal after goal, and know how good it is."""

import time
from dataclasses import dataclass
from typing import Final

import numpy as np

from colorcore.pattern.model import Role
from colorcore.stacking.face import Face, Impossible
from colorcore.stacking.goals import background_goal, moving_goal, touching_goal, value_goal
from colorcore.stacking.problem import FloatArray, IntArray, Problem
from colorcore.stacking.proving import EvenProgram
from colorcore.stacking.search import Score, clump_stacks, improve, score

__all__ = ["Impossible", "Solution", "solve"]

_SHORT: Final = 8
_LONG: Final = 40
_SOON: Final = 1500
"""Nodes of the exact solver's tree: a count, so that the way taken, and with it the deal, is the
same on a slow machine as on a fast one."""


@dataclass(frozen=True, eq=False)
class Solution:
    """``assigned`` (N,) stack of each square or -1 for left over; ``bound`` what no deal can beat
    in (uneven, clumps, missed) taken one by one; ``proven`` that the deal is optimal in all goals
    in their order; ``seconds`` spent."""

    assigned: IntArray
    score: Score
    bound: tuple[float, float, float]
    proven: bool
    seconds: float


def solve(problem: Problem, *, seconds: float = 10.0) -> Solution:
    """Return the best deal.

    First the goals that are sums over places, by linear programming; then evenness, copies and
    what is left over: a search finds a deal, and if it is not at a bound that nothing can beat,
    the exact solver goes on from it.

    Raises
    ------
    Impossible
        If no deal keeps counts, locks, least contrast and copies.
    """
    began = time.monotonic()
    face = Face(problem)
    goals: list[FloatArray] = []

    def settle(goal: FloatArray | None) -> None:
        if goal is not None and goal.any():
            face.settle(goal)
            goals.append(goal)

    settle(value_goal(problem, Role.FOCAL))
    settle(value_goal(problem, Role.FILL))
    settle(background_goal(problem))
    settle(moving_goal(problem))
    settle(touching_goal(problem, face.assigned))

    left = np.repeat(-problem.missed[:, None], len(problem.rules), axis=1)
    bound = (0.0, float(_least_clumps(problem)), 0.0)
    if len(problem.squares) > problem.counts.sum():
        # With what is missed least left over at once, the other goals mostly still come out best.
        objective, start = face.best(left)
        bound = (0.0, bound[1], float(round(objective + float(problem.missed.sum()))))
        assigned, reached = improve(problem, (*goals, left), start, least=bound, restarts=_SHORT)
        if reached.beats(bound):
            return Solution(assigned, reached, bound, True, time.monotonic() - began)
    # Mostly a short search reaches the bound. If not, the bound may be out of reach, which the
    # exact solver mostly sees soon; only then is a long search worth its time.
    solution = Solution(face.assigned, score(problem, face.assigned), bound, False, 0.0)
    for restarts, nodes in ((_SHORT, _SOON), (_LONG, None)):
        assigned, reached = improve(
            problem, tuple(goals), solution.assigned, least=bound, restarts=restarts
        )
        if reached.beats(bound):
            return Solution(assigned, reached, bound, True, time.monotonic() - began)
        solution = _prove(face, tuple(goals), assigned, solution.bound, began, seconds, nodes)
        if solution.proven:
            break
    return solution


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


def _prove(
    face: Face,
    goals: tuple[FloatArray, ...],
    assigned: IntArray,
    bound: tuple[float, float, float],
    began: float,
    seconds: float,
    nodes: int | None,
) -> Solution:
    """Let the exact solver go on from the best deal known, one goal after the other."""
    problem = face.problem
    even = EvenProgram(face)
    everything = float(problem.missed.sum())
    reached = score(problem, assigned)
    bounds = list(bound)
    proven = True
    for k, (cost, add) in enumerate(
        ((even.uneven, 0.0), (even.clumps, 0.0), (even.missed, everything))
    ):
        now = (reached.uneven, reached.clumps, reached.missed)[k]
        if now > bounds[k]:
            left = max(seconds - (time.monotonic() - began), 0.1)
            start = even.columns_of(assigned)
            outcome = even.program.minimize(cost, start=start, seconds=left, nodes=nodes)
            if outcome.values is not None:
                trial = even.assigned_from(outcome.values)
                value = score(problem, trial)
                if value < reached:
                    assigned, reached = trial, value
            now = (reached.uneven, reached.clumps, reached.missed)[k]
            bounds[k] = now if outcome.proven else max(bounds[k], outcome.bound + add)
            proven = proven and outcome.proven
        even.program.hold(cost, now - add)
    least = (reached.uneven, float(reached.clumps), reached.missed)
    assigned, reached = improve(problem, goals, assigned, least=least, restarts=0)
    return Solution(
        assigned, reached, (bounds[0], bounds[1], bounds[2]), proven, time.monotonic() - began
    )
