"""How much work it is to deal a bundle, and how far the proof gets.

Run by hand: ``python -m tests.bench.stacking [seeds]``. Bundles are made up. The floor is a
single linear program of the same squares and stacks, solved from its description to its answer in
the same run: no exact deal can take less. Seconds are those of one core (the solver uses one), so
that other work on the machine does not count.
"""

import statistics
import sys
from functools import partial

import numpy as np

from colorcore.bundle import Bundle
from colorcore.pattern import Pattern, Role, read_pattern
from colorcore.stacking import Thresholds, deal
from colorcore.stacking.face import Face
from colorcore.stacking.goals import value_goal
from colorcore.stacking.problem import build_problem
from tests.bench.timing import best, timed
from tests.stacking.making import WHITE, make_bundle, make_pattern, make_rule


def cases() -> list[tuple[str, int, int, Pattern, str | None]]:
    """Return (name, squares, fabrics, pattern, size)."""
    stars = read_pattern("gatepost-stars")
    three = make_pattern(
        make_rule("Stars", 28, role="focal", value="dark"),
        make_rule("One", 28),
        make_rule("Two", 28),
    )
    mixed = [make_rule(f"Mixed {n}", 14) for n in range(1, 6)]
    six = make_pattern(make_rule("Stars", 14, role="focal", value="dark"), *mixed)
    return [
        ("42 into 3, all different", 42, 42, stars, None),
        ("42 into 3, 30 fabrics", 42, 30, stars, None),
        ("42 into 2, mixed focal", 42, 42, read_pattern("hedgerow-geese"), None),
        ("42 into dark, medium, light", 42, 42, read_pattern("lamplight-rails"), None),
        ("84 into 3, 42 fabrics twice", 84, 42, three, None),
        ("84 into 3, 3 to spare", 84, 42, stars, "queen"),
        ("84 into 6, 42 fabrics twice", 84, 42, six, None),
        ("84 into 6, all different", 84, 84, six, None),
    ]


def floor(bundle: Bundle, pattern: Pattern, size: str | None) -> float:
    """Return seconds for one linear program over the same places."""
    sized = next(s for s in pattern.sizes if size in (None, s.name))
    problem = build_problem(bundle.squares, sized.stacks, WHITE, Thresholds(), (), None)
    goal = value_goal(problem, Role.FOCAL)

    def solve() -> None:
        Face(problem).best(goal)

    return best(solve)


def main() -> None:
    """Print the table."""
    seeds = int(sys.argv[1]) if len(sys.argv) > 1 else 10
    deal(make_bundle(6), make_pattern(make_rule("One", 6)), WHITE)
    print("| deal | bundles | proven optimal | core seconds, median | most | times the floor |")
    print("|---|---|---|---|---|---|")
    for name, squares, fabrics, pattern, size in cases():
        took, ratios, proven = [], [], 0
        for seed in range(1000, 1000 + seeds):
            bundle = make_bundle(squares, seed, fabrics=fabrics, columns=12)
            work = partial(deal, bundle, pattern, WHITE, size=size)
            seconds, plan = timed(work, 1)
            took.append(seconds)
            ratios.append(took[-1] / floor(bundle, pattern, size))
            proven += plan.proof.startswith("Optimal")
        print(
            f"| {name} | {seeds} | {proven} | {statistics.median(took):.2f} | {max(took):.2f} | "
            f"{np.median(ratios):.0f} |",
            flush=True,
        )


if __name__ == "__main__":
    main()
