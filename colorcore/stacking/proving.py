"""Evenness, copies and what is left over as an exact program, for what a search leaves open."""

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from colorcore.pattern.model import StackRule
from colorcore.stacking.problem import Evenness, FloatArray, IntArray, Problem
from colorcore.stacking.program import Program
from colorcore.stacking.search import ZONE_HAIR, clump_stacks, stack_means


@dataclass(frozen=True, eq=False)
class EvenProgram:
    """A program with the costs (columns,) of what is uneven, clumped and missed.

    ``figures`` are (group, feature, column of the highest, of the lowest, of what is beyond the
    zone); ``pairs`` are (column of the pairs of copies, columns of the copies' places).
    """

    program: Program
    index: NDArray[np.int32]
    figures: tuple[tuple[Evenness, int, int, int, int], ...]
    pairs: tuple[tuple[int, NDArray[np.int32]], ...]
    uneven: FloatArray
    clumps: FloatArray
    missed: FloatArray


def make_even_program(problem: Problem, program: Program, index: NDArray[np.int32]) -> EvenProgram:
    """Return ``program`` with rows for evenness and copies added; ``index`` (N, S) its places."""
    figures = tuple(
        _add_figure(problem, program, index, even, k)
        for even in problem.evenness
        for k in range(len(even.names))
    )
    pairs = tuple(_add_pairs(problem, program, index))
    _break_symmetry(problem, program, index)
    uneven = np.zeros(program.columns)
    for even, k, _, _, beyond in figures:
        uneven[beyond] = even.weight[k]
    clumps = np.zeros(program.columns)
    clumps[[column for column, _ in pairs]] = 1.0
    missed = np.zeros(program.columns)
    there = index >= 0
    missed[index[there]] = -np.broadcast_to(problem.missed[:, None], index.shape)[there]
    return EvenProgram(program, index, figures, pairs, uneven, clumps, missed)


def _add_figure(
    problem: Problem, program: Program, index: NDArray[np.int32], even: Evenness, k: int
) -> tuple[Evenness, int, int, int, int]:
    high, low = (int(program.add_columns(1, low=-np.inf)[0]) for _ in range(2))
    beyond = int(program.add_columns(1)[0])
    for s in even.stacks:
        there = index[:, s] >= 0
        factors = even.values[there, k] / problem.rules[s].squares
        program.add_row([*index[there, s], high], [*factors, -1.0], high=0.0)
        program.add_row([*index[there, s], low], [*factors, -1.0], low=0.0)
    zone = float(even.zone[k])
    program.add_row([beyond, high, low], [zone, -1.0, 1.0], low=-zone * (1 + ZONE_HAIR))
    return even, k, high, low, beyond


def _add_pairs(
    problem: Problem, program: Program, index: NDArray[np.int32]
) -> Iterator[tuple[int, NDArray[np.int32]]]:
    """Add a column for each fabric and even stack that is at least the pairs of copies in it."""
    for fabric in np.flatnonzero(np.bincount(problem.fabric) > 1):
        for s in clump_stacks(problem):
            places = index[problem.fabric == fabric, s]
            places = places[places >= 0]
            if len(places) < 2:
                continue
            column = int(program.add_columns(1)[0])
            # Pairs n(n - 1)/2 lie on or above each of the lines through two neighbouring counts.
            for n in range(1, len(places)):
                factors = [1.0] + [-float(n)] * len(places)
                program.add_row([column, *places], factors, low=-n * (n + 1) / 2)
            yield column, places


def _break_symmetry(problem: Problem, program: Program, index: NDArray[np.int32]) -> None:
    """Stacks that are alike come in order of their sums of L*: the others are the same deal."""
    for one, other in alike_stacks(problem):
        there = (index[:, one] >= 0) & (index[:, other] >= 0)
        lightness = problem.lab[there, 0]
        program.add_row(
            [*index[there, one], *index[there, other]], [*lightness, *-lightness], high=1e-6
        )


def alike_stacks(problem: Problem) -> list[tuple[int, int]]:
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
        rule.role, rule.value, rule.squares, rule.max_copies, rule.min_contrast,
        rule.beside_background,
    )  # fmt: skip


def _swappable(one: StackRule, other: StackRule, rules: tuple[StackRule, ...]) -> bool:
    def neighbours(rule: StackRule) -> set[str]:
        names = set(rule.touches) | {r.name for r in rules if rule.name in r.touches}
        return names - {one.name, other.name}

    return neighbours(one) == neighbours(other)


def columns_of(problem: Problem, even: EvenProgram, assigned: IntArray) -> FloatArray:
    """Return a deal (N,) as values of all columns, alike stacks in the order that is asked."""
    name = np.arange(len(problem.rules))
    pairs = alike_stacks(problem)
    sums = np.array([problem.lab[assigned == s, 0].sum() for s in name])
    for _ in pairs:
        for one, other in pairs:
            if sums[one] > sums[other]:
                sums[[one, other]] = sums[[other, one]]
                first, second = name == one, name == other
                name[first], name[second] = other, one
    values = np.zeros(even.program.columns)
    for n in np.flatnonzero(assigned >= 0):
        values[even.index[n, name[assigned[n]]]] = 1.0
    for group, k, high, low, beyond in even.figures:
        means = stack_means(group, assigned)[:, k]
        values[high], values[low] = means.max(), means.min()
        values[beyond] = max(np.ptp(means) / group.zone[k] - 1 - ZONE_HAIR, 0)
    for column, places in even.pairs:
        copies = values[places].sum()
        values[column] = copies * (copies - 1) / 2
    return values
