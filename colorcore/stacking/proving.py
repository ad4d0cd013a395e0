"""Evenness, copies and what is left over as an exact program, for what a search leaves open.

Copies of a fabric that may go to the same places are one column with a whole number, not one each:
any of them may take any of their places, so nothing is lost and much is gained.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from colorcore.pattern.model import StackRule
from colorcore.stacking.face import Face
from colorcore.stacking.features import Evenness
from colorcore.stacking.problem import FloatArray, IntArray, Problem
from colorcore.stacking.program import Program
from colorcore.stacking.search import STEP_HAIR, STEPS, clump_stacks, stack_means


@dataclass(frozen=True, eq=False)
class _Alike:
    """Squares that may change places without any difference, and their columns (S,), -1 where
    they may not go."""

    squares: tuple[int, ...]
    columns: NDArray[np.int32]


class EvenProgram:
    """The open deals of a face as a program with the costs (columns,) of what is ``uneven``, of
    ``clumps`` of copies, and of what is ``missed`` (less the cost of leaving everything over)."""

    def __init__(self, face: Face) -> None:
        self.problem = face.problem
        self.program = Program()
        self._alike = self._group(face)
        self._figures = [
            (even, k, *self._add_figure(even, k))
            for even in self.problem.evenness
            for k in range(len(even.names))
        ]
        self._pairs = self._add_pairs()
        self._break_symmetry()
        self.uneven = np.zeros(self.program.columns)
        for even, k, _, _, beyond in self._figures:
            self.uneven[beyond] = even.weight[k]
        self.clumps = np.zeros(self.program.columns)
        self.clumps[[column for column, _ in self._pairs]] = 1.0
        self.missed = np.zeros(self.program.columns)
        for group in self._alike:
            self.missed[_there(group.columns)] = -self.problem.missed[group.squares[0]]

    def _group(self, face: Face) -> list[_Alike]:
        problem, program = self.problem, self.program
        places, must = face.open_places(), face.must_place()
        kin: dict[object, list[int]] = {}
        for n in range(len(problem.squares)):
            key = (problem.fabric[n], places[n].tobytes(), must[n], problem.missed[n])
            kin.setdefault(key, []).append(n)
        groups: list[_Alike] = []
        for squares in kin.values():
            columns = np.full(len(problem.rules), -1, dtype=np.int32)
            there = places[squares[0]]
            size = float(len(squares))
            columns[there] = program.add_columns(int(there.sum()), high=size, whole=True)
            low = size if must[squares[0]] else 0.0
            program.add_row(_there(columns), 1.0, low=low, high=size)
            groups.append(_Alike(tuple(squares), columns))
        for s, wanted in enumerate(problem.counts):
            columns = np.array([g.columns[s] for g in groups], dtype=np.int32)
            program.add_row(_there(columns), 1.0, low=float(wanted), high=float(wanted))
        for (fabric, s), row in face.copy_rows.items():
            columns = self._of_fabric(groups, fabric, s)
            program.add_row(columns, 1.0, face.program.row_low[row], face.program.row_high[row])
        return groups

    def _of_fabric(self, groups: list[_Alike], fabric: int, s: int) -> NDArray[np.int32]:
        columns = [g.columns[s] for g in groups if self.problem.fabric[g.squares[0]] == fabric]
        return _there(np.array(columns, dtype=np.int32))

    def _add_figure(self, even: Evenness, k: int) -> tuple[int, int, int]:
        program = self.program
        high, low = (int(program.add_columns(1, low=-np.inf)[0]) for _ in range(2))
        beyond = int(program.add_columns(1, whole=True)[0])
        for s in even.stacks:
            here = [g for g in self._alike if g.columns[s] >= 0]
            columns = [int(g.columns[s]) for g in here]
            size = self.problem.rules[s].squares
            factors = [float(even.values[g.squares[0], k]) / size for g in here]
            program.add_row([*columns, high], [*factors, -1.0], high=0.0)
            program.add_row([*columns, low], [*factors, -1.0], low=0.0)
        zone = float(even.zone[k])
        factors = [1.0, -STEPS / zone, STEPS / zone]
        program.add_row([beyond, high, low], factors, low=-STEPS - STEP_HAIR)
        return high, low, beyond

    def _add_pairs(self) -> list[tuple[int, NDArray[np.int32]]]:
        """Add a column for each fabric and even stack: at least the pairs of copies in it."""
        added = []
        copies = np.bincount(self.problem.fabric)
        for fabric in np.flatnonzero(copies > 1):
            for s in clump_stacks(self.problem):
                places = self._of_fabric(self._alike, int(fabric), int(s))
                if not len(places):
                    continue
                column = int(self.program.add_columns(1)[0])
                # Pairs n(n - 1)/2 lie on or above each line through two neighbouring counts.
                for n in range(1, int(copies[fabric])):
                    factors = [1.0] + [-float(n)] * len(places)
                    self.program.add_row([column, *places], factors, low=-n * (n + 1) / 2)
                added.append((column, places))
        return added

    def _break_symmetry(self) -> None:
        """Stacks that are alike come in order of their sums of L*: the others are the same deal."""
        for one, other in _alike_stacks(self.problem):
            here = [g for g in self._alike if g.columns[one] >= 0 and g.columns[other] >= 0]
            weights = [self._weight(g) for g in here]
            columns = [*(g.columns[one] for g in here), *(g.columns[other] for g in here)]
            self.program.add_row(columns, [*weights, *(-w for w in weights)], high=1e-6)

    def _weight(self, group: _Alike) -> float:
        return float(np.mean(self.problem.lab[list(group.squares), 0]))

    def columns_of(self, assigned: IntArray) -> FloatArray:
        """Return an open deal (N,) as values of all columns, alike stacks in the order asked."""
        values = np.zeros(self.program.columns)
        name = self._names_in_order(assigned)
        for group in self._alike:
            for n in group.squares:
                if assigned[n] >= 0:
                    values[group.columns[name[assigned[n]]]] += 1.0
        for even, k, high, low, beyond in self._figures:
            means = stack_means(even, assigned)[:, k]
            values[high], values[low] = means.max(), means.min()
            steps = STEPS * (np.ptp(means) / even.zone[k] - 1) - STEP_HAIR
            values[beyond] = np.ceil(max(steps, 0))
        for column, places in self._pairs:
            copies = values[places].sum()
            values[column] = copies * (copies - 1) / 2
        return values

    def _names_in_order(self, assigned: IntArray) -> IntArray:
        name = np.arange(len(self.problem.rules))
        pairs = _alike_stacks(self.problem)
        sums = np.zeros(len(name))
        for group in self._alike:
            for n in group.squares:
                if assigned[n] >= 0:
                    sums[assigned[n]] += self._weight(group)
        where = name.copy()
        for _ in pairs:
            for one, other in pairs:
                if sums[one] > sums[other]:
                    sums[[one, other]] = sums[[other, one]]
                    where[[one, other]] = where[[other, one]]
        # where[s] is the stack whose squares come to lie in s; the inverse tells where each goes.
        name[where] = np.arange(len(name))
        return name

    def assigned_from(self, values: FloatArray) -> IntArray:
        """Return the deal (N,) of a solution; of squares alike, the darker go to earlier stacks."""
        assigned = np.full(len(self.problem.squares), -1, dtype=np.int64)
        for group in self._alike:
            order = sorted(group.squares, key=lambda n: (self.problem.lab[n, 0], n))
            for s in np.flatnonzero(group.columns >= 0):
                for _ in range(round(float(values[group.columns[s]]))):
                    assigned[order.pop(0)] = s
        return assigned


def _alike_stacks(problem: Problem) -> list[tuple[int, int]]:
    """Return neighbouring pairs of stacks that could change their names without any difference."""
    pairs: list[tuple[int, int]] = []
    last: dict[object, int] = {}
    for s, rule in enumerate(problem.rules):
        key = (_nameless(rule), problem.allowed[:, s].tobytes())
        if problem.previous is None and rule.squares:
            if key in last and _swappable(rule, problem.rules[last[key]], problem.rules):
                pairs.append((last[key], s))
            last[key] = s
    return pairs


def _nameless(rule: StackRule) -> tuple[object, ...]:
    return (
        rule.role,
        rule.value,
        rule.squares,
        rule.max_copies,
        rule.min_contrast,
        rule.beside_background,
    )


def _swappable(one: StackRule, other: StackRule, rules: tuple[StackRule, ...]) -> bool:
    def neighbours(rule: StackRule) -> set[str]:
        names = set(rule.touches) | {r.name for r in rules if rule.name in r.touches}
        return names - {one.name, other.name}

    return neighbours(one) == neighbours(other)


def _there(columns: NDArray[np.int32]) -> NDArray[np.int32]:
    return columns[columns >= 0]
