"""How often to use each cutting pattern so that every demand is met: the cutting-stock problem
with all patterns at hand (P. C. Gilmore and R. E. Gomory, "A linear programming approach to the
cutting-stock problem", Operations Research 9, 1961), solved exactly as an integer program."""

from collections.abc import Sequence

import numpy as np


def choose_patterns(
    patterns: Sequence[Sequence[int]],
    wanted: Sequence[int],
    costs: Sequence[float],
    *,
    exactly: bool = False,
    total: int | None = None,
    seconds: float = 10.0,
) -> list[int] | None:
    """Return how often each pattern is used, cheapest in all, or None if none was proven.

    Parameters
    ----------
    patterns : sequence of counts
        What each pattern gives of each piece.
    wanted : sequence of int
        How many of each piece, at least, or ``exactly``.
    costs : sequence of float
        Of using each pattern once.
    total : int
        How many patterns to use in all, if that is fixed.
    """
    # The solver lives with the dealing, which needs it more; it loads only where it is used.
    from colorcore.stacking.program import Program

    program = Program()
    columns = program.add_columns(len(patterns), whole=True)
    table = np.array(patterns, dtype=np.float64).reshape(len(patterns), len(wanted))
    for piece, count in enumerate(wanted):
        program.add_row(columns, table[:, piece], low=count, high=count if exactly else np.inf)
    if total is not None:
        program.add_row(columns, 1.0, low=total, high=total)
    outcome = program.minimize(np.array(costs, dtype=np.float64), seconds=seconds)
    if outcome.values is None or not outcome.proven:
        return None
    return [int(n) for n in np.round(outcome.values)]
