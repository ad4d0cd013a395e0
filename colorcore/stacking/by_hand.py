"""A plan as the maker lays it herself: told like a dealt one, with what the pattern misses."""

from collections.abc import Iterable, Mapping
from dataclasses import replace

import numpy as np

from colorcore.bundle import Bundle
from colorcore.contrast import Background, Thresholds
from colorcore.errors import DealError
from colorcore.pattern.model import Pattern, StackRule
from colorcore.stacking.dealing import find_size
from colorcore.stacking.locks import OUT, Lock
from colorcore.stacking.model import Plan
from colorcore.stacking.problem import build_problem
from colorcore.stacking.search import score
from colorcore.stacking.solving import Solution
from colorcore.stacking.telling import tell

LEFT_OVER = ""
BY_HAND = "Laid by hand: the squares lie where you put them."


def lay_by_hand(
    bundle: Bundle,
    pattern: Pattern,
    background: Background,
    places: Mapping[str, str],
    *,
    size: str | None = None,
    locked: Iterable[str] = (),
    thresholds: Thresholds | None = None,
    proof: str = BY_HAND,
) -> Plan:
    """Return the plan in which every square lies where ``places`` says.

    Parameters
    ----------
    places : mapping
        A square's id to a stack's name, ``""`` for left over (as are squares that it does not
        name), or ``"out"``.
    locked : iterable of str
        Ids of the squares that a later deal must leave where they are.
    proof : str
        What is known of how good the places are, where a deal gave them and nobody moved any.

    Returns
    -------
    Plan
        Its ``second_look`` begins with the stacks that hold another number of squares than the
        pattern wants; its ``proof`` says that it was laid by hand, or what ``proof`` says.

    Raises
    ------
    DealError
        If a stack is left empty, or a place is none of the pattern's.
    """
    sized = find_size(pattern, size)
    numbers = {rule.name: s for s, rule in enumerate(sized.stacks)} | {LEFT_OVER: -1}
    unknown = sorted(set(places.values()) - set(numbers) - {OUT})
    if unknown:
        raise DealError(f"{pattern.name} has no stack '{unknown[0]}'; deal again.")
    squares = tuple(s for s in bundle.squares if places.get(s.id) != OUT)
    stayed_out = tuple(s.id for s in bundle.squares if places.get(s.id) == OUT)
    kept = set(locked)
    locks = tuple(Lock(s.id, (places[s.id],)) for s in squares if s.id in kept and places.get(s.id))
    limits = thresholds or Thresholds()
    problem = build_problem(squares, sized.stacks, background, limits, locks, None)
    # The problem has its own order of squares.
    assigned = np.array(
        [numbers[places.get(s.id, LEFT_OVER)] for s in problem.squares], dtype=np.int64
    )
    for rule in sized.stacks:
        if not np.any(assigned == numbers[rule.name]):
            raise DealError(f"{rule.name} would be left empty; keep at least one square in it.")
    reached = score(problem, assigned)
    bound = (reached.uneven, float(reached.clumps), reached.missed)
    plan = tell(pattern, sized, problem, Solution(assigned, reached, bound, False, 0.0), stayed_out)
    off = [_miscount(rule, int(np.sum(assigned == s))) for s, rule in enumerate(sized.stacks)]
    return replace(
        plan,
        second_look=(*filter(None, off), *plan.second_look),
        proof=proof,
    )


def _miscount(rule: StackRule, count: int) -> str:
    if count == rule.squares:
        return ""
    off = abs(count - rule.squares)
    return f"{rule.name}: {off} {'too many' if count > rule.squares else 'too few'}; " + (
        f"the pattern wants {rule.squares}, here are {count}."
    )
