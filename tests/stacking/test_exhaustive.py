"""Deals against an exhaustive search, written apart from the solver: every deal, every goal, in
their order."""

import itertools
import math
from dataclasses import replace

import numpy as np
import pytest

from colorcore.bundle import Bundle
from colorcore.pattern import Role
from colorcore.stacking import Thresholds
from colorcore.stacking.goals import background_goal, touching_goal, value_goal
from colorcore.stacking.problem import Problem, build_problem
from colorcore.stacking.solving import Impossible, solve
from tests.stacking.making import WHITE, make_bundle, make_rule


def every_deal(problem: Problem) -> list[tuple[int, ...]]:
    counts = problem.counts.tolist()
    found: list[tuple[int, ...]] = []

    def place(n: int, so_far: tuple[int, ...], left: list[int]) -> None:
        if n == len(problem.squares):
            if not any(left):
                found.append(so_far)
            return
        for s in range(len(counts)):
            if left[s] and problem.allowed[n, s]:
                most = problem.rules[s].max_copies
                fabric = problem.fabric[n]
                same = sum(
                    1 for m, t in enumerate(so_far) if t == s and problem.fabric[m] == fabric
                )
                if most is None or same < most:
                    less = left.copy()
                    less[s] -= 1
                    place(n + 1, (*so_far, s), less)
        if problem.may_stay[n]:
            place(n + 1, (*so_far, -1), left)

    place(0, (), counts)
    return found


def plain_uneven(problem: Problem, deal_: tuple[int, ...]) -> float:
    total = 0.0
    for even in problem.evenness:
        for k in range(len(even.names)):
            means = []
            for s in even.stacks:
                values = [even.values[n, k] for n, t in enumerate(deal_) if t == s]
                means.append(sum(values) / len(values))
            quarters = 4 * ((max(means) - min(means)) / even.zone[k] - 1)
            total += even.weight[k] * max(0, math.ceil(quarters - 1e-6))
    return total


def plain_clumps(problem: Problem, deal_: tuple[int, ...]) -> int:
    mixed = {s for even in problem.evenness for s in even.stacks}
    pairs = itertools.combinations(range(len(deal_)), 2)
    return sum(
        1
        for a, b in pairs
        if deal_[a] == deal_[b] in mixed and problem.fabric[a] == problem.fabric[b]
    )


def best_by_search(problem: Problem) -> tuple[float, ...]:
    deals = every_deal(problem)
    if not deals:
        raise Impossible
    totals: list[float] = []
    for goal in (
        value_goal(problem, Role.FOCAL),
        value_goal(problem, Role.FILL),
        background_goal(problem),
    ):
        costs = [sum(goal[n, s] for n, s in enumerate(d) if s >= 0) for d in deals]
        totals.append(min(costs))
        deals = [d for d, c in zip(deals, costs, strict=True) if c == min(costs)]
    goal = touching_goal(problem, np.array(deals[0]))
    costs = [sum(goal[n, s] for n, s in enumerate(d) if s >= 0) for d in deals]
    deals = [d for d, c in zip(deals, costs, strict=True) if c == min(costs)]
    scores = [
        (
            round(plain_uneven(problem, d), 4),
            plain_clumps(problem, d),
            sum(problem.missed[n] for n, s in enumerate(d) if s < 0),
        )
        for d in deals
    ]
    return (*totals, *min(scores))


def solved(problem: Problem) -> tuple[float, ...]:
    solution = solve(problem)
    assert solution.proven
    plain = tuple(solution.assigned.tolist())
    assert plain in set(every_deal(problem))
    goals = [value_goal(problem, r) for r in (Role.FOCAL, Role.FILL)] + [background_goal(problem)]
    totals = [sum(goal[n, s] for n, s in enumerate(plain) if s >= 0) for goal in goals]
    return (
        *totals,
        round(plain_uneven(problem, plain), 4),
        plain_clumps(problem, plain),
        sum(problem.missed[n] for n, s in enumerate(plain) if s < 0),
    )


SMALL_PATTERNS = {
    "dark and two mixed": (
        make_rule("Stars", 2, role="focal", value="dark"),
        make_rule("One", 2, touches=("Stars",)),
        make_rule("Two", 3, touches=("Stars",)),
    ),
    "rails": (
        make_rule("Dark", 3, role="focal", value="dark", max_copies=1),
        make_rule("Medium", 3, value="medium"),
        make_rule("Light", 1, value="light"),
    ),
    "two dark stacks alike": (
        make_rule("First", 3, role="focal", value="dark", max_copies=2),
        make_rule("Second", 3, role="focal", value="dark", max_copies=2),
        make_rule("Rest", 1),
    ),
    "mixed focal": (
        make_rule("Geese", 4, role="focal", min_contrast=10.0),
        make_rule("Hedges", 3, max_copies=2),
    ),
    "three mixed": (make_rule("One", 2), make_rule("Two", 2), make_rule("Three", 3)),
}


@pytest.mark.parametrize("name", SMALL_PATTERNS)
@pytest.mark.parametrize("seed", range(5))
def test_equals_an_exhaustive_search(name: str, seed: int) -> None:
    bundle = make_bundle(8, seed, fabrics=5 if seed % 2 else 8)
    if seed == 4:
        # Values in whole tens: many deals are equally good in the first goals.
        squares = [replace(s, lab=(round(s.lab[0], -1), *s.lab[1:])) for s in bundle.squares]
        bundle = Bundle(tuple(squares), ())
    rules = SMALL_PATTERNS[name]
    problem = build_problem(bundle.squares, rules, WHITE, Thresholds(), (), None)
    try:
        best = best_by_search(problem)
    except Impossible:
        with pytest.raises(Impossible):
            solve(problem)
        return
    assert solved(problem) == pytest.approx(best, abs=2e-4)


def test_the_exact_solver_beats_a_search_that_is_stuck(monkeypatch: pytest.MonkeyPatch) -> None:
    # With the search taken away the exact program alone must find the same.
    import colorcore.stacking.solving as solving
    from colorcore.stacking.search import score

    monkeypatch.setattr(
        solving,
        "improve",
        lambda problem, goals, assigned, least, restarts: (assigned, score(problem, assigned)),
    )
    for seed in range(3):
        bundle = make_bundle(8, seed, fabrics=5)
        rules = SMALL_PATTERNS["three mixed"]
        problem = build_problem(bundle.squares, rules, WHITE, Thresholds(), (), None)
        assert solved(problem) == pytest.approx(best_by_search(problem), abs=2e-4)
