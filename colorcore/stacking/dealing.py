"""Bundle, pattern and background in; a plan out."""

from collections.abc import Iterable, Mapping

from colorcore.bundle import Bundle
from colorcore.contrast import Background, Thresholds
from colorcore.errors import DealError
from colorcore.pattern.model import Pattern, PatternSize
from colorcore.stacking.explaining import check_counts, explain
from colorcore.stacking.locks import Lock, read_locks
from colorcore.stacking.model import Plan
from colorcore.stacking.problem import build_problem
from colorcore.stacking.solving import Impossible, solve
from colorcore.stacking.telling import tell


def deal(
    bundle: Bundle,
    pattern: Pattern,
    background: Background,
    *,
    size: str | None = None,
    locks: Iterable[str | Lock] | Mapping[str, str] = (),
    previous: Plan | None = None,
    thresholds: Thresholds | None = None,
    seconds: float = 10.0,
) -> Plan:
    """Return the best split of a bundle into the stacks of a pattern, and why.

    Counts, locks, the least contrast and the most copies of a pattern always hold. Then, each
    only as far as the one before it is not harmed: stacks that ask for a value take the squares
    that answer it best, focal stacks first; focal squares hold against the background; as few
    squares as possible move from ``previous``; fill holds against the focal squares that it
    touches; mixed stacks are even; copies are spread; what is left over would be missed least.

    Parameters
    ----------
    size : str or None
        Name of the pattern's size; None is its first. Upper and lower case are alike.
    locks : iterable of str or Lock, or mapping
        ``B3=fill``, ``B3=Stars`` or ``D5=out``.
    previous : Plan or None
        An earlier plan from which as few squares as possible should move.
    thresholds : Thresholds or None
        Where contrast holds and melts; None: the defaults.
    seconds : float
        How long to search for a proof before the best known deal is taken. A deal that is proven
        in less is the same on every run and machine.

    Returns
    -------
    Plan
        The same for the same squares in any order.

    Raises
    ------
    DealError
        If the bundle cannot fill the stacks; the sentence says which rule stops it, how far
        short the bundle is, and the smallest changes that would do.
    """
    sized = find_size(pattern, size)
    limits = thresholds or Thresholds()
    rules = sized.stacks
    ids = [swatch.id for swatch in bundle.squares]
    if len(set(ids)) != len(ids):
        raise DealError("Two squares of the bundle have the same name; measure the photos again.")
    fixed = read_locks(locks, ids, rules, bundle.counted)
    out = {lock.square for lock in fixed if not lock.stacks}
    squares = tuple(swatch for swatch in bundle.squares if swatch.id not in out)
    check_counts(pattern, sized, [swatch.side_inches for swatch in squares], len(out))
    kept = tuple(lock for lock in fixed if lock.stacks)
    before = None if previous is None else _places(previous, [rule.name for rule in rules])
    problem = build_problem(squares, rules, background, limits, kept, before)
    try:
        solution = solve(problem, seconds=seconds)
    except Impossible:
        raise DealError(explain(problem)) from None
    return tell(pattern, sized, problem, solution, tuple(sorted(out, key=ids.index)))


def find_size(pattern: Pattern, size: str | None) -> PatternSize:
    """Return a size of a pattern by name, the first for None.

    Raises
    ------
    DealError
        If the pattern has no such size.
    """
    if size is None:
        return pattern.sizes[0]
    for sized in pattern.sizes:
        if sized.name.casefold() == size.strip().casefold():
            return sized
    names = ", ".join(sized.name for sized in pattern.sizes)
    raise DealError(f"{pattern.name} has no size {size!r}; it comes as {names}.")


def _places(plan: Plan, names: list[str]) -> dict[str, int]:
    places = {
        placement.square: names.index(stack.name)
        for stack in plan.stacks
        if stack.name in names
        for placement in stack.placements
    }
    return places | {placement.square: -1 for placement in plan.left_over}
