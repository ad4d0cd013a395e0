"""All deals that keep the hard rules and are best in every goal settled so far.

Deals are a flow of squares into stacks: each square has one place, each stack its count, and the
copies of a fabric in a stack their limit. The rows of squares, and those of stacks with those of
copies within them, are two families of nested sets, so every corner of the program is a whole deal
(a network matrix; Edmonds 1970), and plain linear programming is exact.

The deals that are best in a goal are a face of that program. By complementary slackness it is
found from one solution's duals: a column with a reduced cost keeps its value in all best deals,
and a row with a price stays at its limit. Goals come in whole numbers, so duals are whole numbers
too, and none is mistaken for zero.
"""

from typing import Final

import numpy as np

from colorcore.pattern.model import Role
from colorcore.stacking.problem import BoolArray, FloatArray, IntArray, Problem
from colorcore.stacking.program import IndexVector, Outcome, Program

_NO_DUAL: Final = 0.25


class Impossible(Exception):
    """No deal keeps all hard rules."""


class Face:
    """The deals that are still open, and one of them.

    Attributes
    ----------
    index : (N, S)
        Column of each place in ``program``, -1 where a square may not go.
    assigned : (N,)
        One of the open deals: the stack of each square, -1 for left over.
    square_rows : (N,) and copy_rows
        Rows of the program: of each square, and of (fabric, stack) where copies are limited.

    Raises
    ------
    Impossible
        On making one, if no deal keeps counts, locks, least contrast and copies.
    """

    def __init__(self, problem: Problem) -> None:
        self.problem = problem
        self.program = Program()
        self.index = np.full(problem.allowed.shape, -1, dtype=np.int32)
        columns = self.program.add_columns(int(problem.allowed.sum()), high=1)
        self.index[problem.allowed] = columns
        self.square_rows = [
            self.program.add_row(_there(row), 1.0, low=0.0 if stay else 1.0, high=1.0)
            for row, stay in zip(self.index, problem.may_stay, strict=True)
        ]
        for s, wanted in enumerate(problem.counts):
            self.program.add_row(
                _there(self.index[:, s]), 1.0, low=float(wanted), high=float(wanted)
            )
        self.copy_rows = {
            (fabric, s): self.program.add_row(
                _there(self.index[problem.fabric == fabric, s]), 1.0, high=float(most)
            )
            for fabric, s, most in _limited_copies(problem)
        }
        self.assigned = self._read(self.program.minimize(np.zeros(self.program.columns)))

    def settle(self, goal: FloatArray) -> None:
        """Keep only the deals that are best in a goal of whole costs (N, S)."""
        if not goal.any():
            return
        outcome = self.program.minimize(self.cost(goal))
        self.assigned = self._read(outcome)
        program = self.program
        for column in np.flatnonzero(np.abs(outcome.column_duals) > _NO_DUAL):
            value = (
                program.low[column] if outcome.column_duals[column] > 0 else program.high[column]
            )
            program.low[column] = program.high[column] = value
        for row in np.flatnonzero(np.abs(outcome.row_duals) > _NO_DUAL):
            value = float(np.rint(outcome.row_values[row]))
            program.row_low[row] = program.row_high[row] = value

    def best(self, goal: FloatArray) -> tuple[float, IntArray]:
        """Return the least sum of a goal (N, S) over the open deals, and a deal that has it."""
        outcome = self.program.minimize(self.cost(goal))
        return outcome.objective, self._read(outcome)

    def cost(self, goal: FloatArray) -> FloatArray:
        """Return a goal (N, S) as the cost of each column."""
        cost = np.zeros(self.program.columns)
        there = self.index >= 0
        cost[self.index[there]] = goal[there]
        return cost

    def open_places(self) -> BoolArray:
        """Return whether a square goes to a stack in some open deal, (N, S), as far as is known."""
        high: FloatArray = np.array([*self.program.high, 0.0])[self.index]
        sure = self._sure_places()
        return np.asarray(np.where(np.any(sure, axis=1, keepdims=True), sure, high > 0.5))

    def must_place(self) -> BoolArray:
        """Return whether a square is left over in no open deal (N,), as far as is known."""
        low = np.array(self.program.row_low)
        return np.asarray((low[self.square_rows] > 0.5) | self._sure_places().any(axis=1))

    def _sure_places(self) -> BoolArray:
        low: FloatArray = np.array([*self.program.low, 0.0])[self.index]
        return np.asarray(low > 0.5)

    def _read(self, outcome: Outcome) -> IntArray:
        if outcome.values is None:
            raise Impossible
        taken = np.zeros(self.index.shape, dtype=np.bool_)
        there = self.index >= 0
        taken[there] = outcome.values[self.index[there]] > 0.5
        return np.where(taken.any(axis=1), taken.argmax(axis=1), -1).astype(np.int64)


def _limited_copies(problem: Problem) -> list[tuple[int, int, int]]:
    """Return (fabric, stack, most) where a limit of copies could be reached."""
    copies = np.bincount(problem.fabric)
    return [
        (int(fabric), s, rule.max_copies)
        for s, rule in enumerate(problem.rules)
        if rule.max_copies is not None
        for fabric in np.flatnonzero(copies > rule.max_copies)
    ]


def can_deal(problem: Problem) -> bool:
    """Return whether any deal keeps the hard rules."""
    try:
        Face(problem)
    except Impossible:
        return False
    return True


def least_shortage(problem: Problem) -> list[tuple[int, int]]:
    """Return (stack, squares missing) of the deal that leaves the fewest places empty, focal
    stacks filled first; empty if even that cannot be had."""
    program = Program()
    index = np.full(problem.allowed.shape, -1, dtype=np.int32)
    index[problem.allowed] = program.add_columns(int(problem.allowed.sum()), high=1)
    for row, stay in zip(index, problem.may_stay, strict=True):
        program.add_row(_there(row), 1.0, low=0.0 if stay else 1.0, high=1.0)
    empty = program.add_columns(len(problem.rules))
    for s, wanted in enumerate(problem.counts):
        here = [*_there(index[:, s]), empty[s]]
        program.add_row(here, 1.0, low=float(wanted), high=float(wanted))
    for fabric, s, most in _limited_copies(problem):
        program.add_row(_there(index[problem.fabric == fabric, s]), 1.0, high=float(most))
    cost = np.zeros(program.columns)
    for s, rule in enumerate(problem.rules):
        # The share for the role breaks ties only: all of it together is less than one square.
        cost[empty[s]] = 1 + (rule.role is Role.FOCAL) / (2.0 * max(1, int(problem.counts.sum())))
    values = program.minimize(cost).values
    if values is None:
        return []
    missing = np.rint(values[empty]).astype(int)
    return [(int(s), int(missing[s])) for s in np.flatnonzero(missing)]


def _there(columns: IndexVector) -> IndexVector:
    return columns[columns >= 0]
