"""Why a bundle cannot fill a pattern's stacks, and the smallest changes that would let it."""

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import replace

import numpy as np

from colorcore.errors import DealError
from colorcore.pattern.model import (
    Pattern,
    PatternSize,
    Role,
    ValueRule,
    is_too_large,
    say_waste,
    squares_within,
)
from colorcore.stacking.face import can_deal, least_shortage
from colorcore.stacking.problem import Problem
from colorcore.wording import count, listing

_MOST_NAMED = 8


def check_counts(pattern: Pattern, size: PatternSize, sides: Sequence[float], out: int) -> None:
    """Refuse a bundle with fewer squares than the pattern wants; ``sides`` are theirs in inches,
    and where none is as large as those that the pattern cuts, that is told too.

    Raises
    ------
    DealError
        Saying how many squares are missing, and in which stacks: focal stacks are filled first;
        and which size of the pattern the squares would be enough for.
    """
    squares = len(sides)
    missing = size.squares - squares
    if missing <= 0:
        return
    left = squares
    short: list[str] = []
    for rule in sorted(size.stacks, key=lambda rule: rule.role is not Role.FOCAL):
        got = min(left, rule.squares)
        left -= got
        if got < rule.squares:
            short.append(f"{rule.squares - got} of {rule.squares} in {rule.name}")
    are = "is" if out == 1 else "are"
    kept_out = f" ({out} more {are} kept out, by you or as the background)" if out else ""
    raise DealError(
        f"{pattern.name}, size {size.name}, wants {count(size.squares, 'square')}; there are "
        f"{squares}{kept_out}. {missing} {'is' if missing == 1 else 'are'} missing: "
        f"{', '.join(short)}. {_too_small(pattern, sides) or _what_to_do(pattern, size, squares)}"
        + _cut_up(pattern, size, sides)
    )


def say_too_small(pattern: Pattern, sides: Iterable[float]) -> str:
    """Say that squares, of so many inches each, do not give a pattern's pieces; "" if all do."""
    small = sorted({side for side in sides if pattern.is_too_small(side)})
    if not small:
        return ""
    told = listing([f"{side:g}" for side in small])
    return (
        f"{pattern.name} cuts squares of {pattern.square_inches:g} in, and there are squares of "
        f"{told} in, which do not give its pieces; take another pattern, or measure again and say "
        "how long a side of the squares is."
    )


def say_too_large(pattern: Pattern, sides: Iterable[float]) -> str:
    """Say what is left over of squares, of so many inches each, that are larger than those that a
    pattern cuts; "" if none are."""
    wanted = pattern.square_inches
    large = sorted({side for side in sides if is_too_large(side, wanted)})
    if not large:
        return ""
    cut_up = any(squares_within(side, wanted) > 1 for side in large)
    return (
        f"{pattern.name} cuts squares of {wanted:g} in, and there are larger ones: "
        f"{listing([say_waste(side, wanted) for side in large])}. Take a pattern for larger squares"
        + (", or cut them up and photograph the squares that they give" if cut_up else "")
        + "; if they are no larger, measure again and say how long a side of the squares is."
    )


def _too_small(pattern: Pattern, sides: Sequence[float]) -> str:
    """What to do where more squares of the same size would not help."""
    if not sides or not all(pattern.is_too_small(side) for side in sides):
        return ""
    told = listing([f"{side:g}" for side in sorted(set(sides))])
    return (
        f"And these are squares of {told} in, while it cuts squares of "
        f"{pattern.square_inches:g} in: take another pattern, or correct the size of the squares."
    )


def _cut_up(pattern: Pattern, size: PatternSize, sides: Sequence[float]) -> str:
    """Say so where larger squares, cut up, would be enough."""
    given = sum(squares_within(side, pattern.square_inches) for side in sides)
    if given < size.squares or not any(is_too_large(s, pattern.square_inches) for s in sides):
        return ""
    return (
        f" Or cut the larger squares up: together they give {given} squares of "
        f"{pattern.square_inches:g} in."
    )


def _what_to_do(pattern: Pattern, size: PatternSize, squares: int) -> str:
    enough = [one.name for one in pattern.sizes if one.squares <= squares]
    if enough:
        return f"Add squares, or take the size {listing(enough, 'or')}."
    smallest = min(pattern.sizes, key=lambda one: one.squares)
    if smallest.squares >= size.squares:
        return "Add squares, or take another pattern: this one has no smaller size."
    return (
        f"Add squares, or take another pattern: even size {smallest.name} wants "
        f"{count(smallest.squares, 'square')}."
    )


def explain(problem: Problem) -> str:
    """Return a sentence on why no deal keeps the hard rules, and what would."""
    for s in range(len(problem.rules)):
        reason = _locks_too_many(problem, s) or _contrast_short(problem, s)
        if reason:
            return reason
    for s in range(len(problem.rules)):
        reason = _copies_short(problem, s)
        if reason:
            return reason
    return _together(problem)


def _locks_too_many(problem: Problem, s: int) -> str:
    rule = problem.rules[s]
    only_here = problem.locked & problem.allowed[:, s] & (problem.allowed.sum(axis=1) == 1)
    if only_here.sum() <= rule.squares:
        return ""
    return (
        f"{rule.name} wants {count(rule.squares, 'square')}, but {int(only_here.sum())} are locked "
        f"into it; take {int(only_here.sum()) - rule.squares} of the locks away."
    )


def _contrast_short(problem: Problem, s: int) -> str:
    rule = problem.rules[s]
    if rule.min_contrast is None or not rule.beside_background:
        return ""
    able = int(problem.allowed[:, s].sum())
    short = rule.squares - able
    if short <= 0:
        return ""
    lacking = rule.min_contrast - problem.half_off
    free = ~problem.locked & problem.by_value[:, s] & (lacking > 0)
    order = [n for n in np.argsort(lacking, kind="stable") if free[n]]
    named = order[: min(short + 2, _MOST_NAMED)]
    nearest = [f"{problem.squares[n].id} (short by {lacking[n]:.1f})" for n in named]
    kind = "" if rule.value is ValueRule.MIXED else f"{rule.value.value} "
    words = (
        f"{rule.name} wants {rule.squares} {kind}squares that differ from the background by at "
        f"least {rule.min_contrast:g} L*; {able} {'does' if able == 1 else 'do'}, so {short} "
        f"{'is' if short == 1 else 'are'} missing."
    )
    ways = [_other_background(problem, s)]
    if nearest:
        words += f" Nearest: {', '.join(nearest)}."
    if len(order) >= short:
        limit = np.floor((rule.min_contrast - lacking[order[short - 1]]) * 10) / 10
        ways.insert(0, f"a least contrast of {max(limit, 0):g} would do")
    ways_told = "; ".join(ways)
    return f"{words} {ways_told[0].upper()}{ways_told[1:]}."


_WHITE_CLOTH, _BLACK_CLOTH = 96.0, 15.0
"""L* of bleached white and of black cotton (common practice, no source)."""


def _other_background(problem: Problem, s: int) -> str:
    rule = problem.rules[s]
    lightness = problem.lab[:, 0]
    fixed = problem.locked & problem.allowed[:, s]
    free = ~problem.locked & problem.by_value[:, s]

    def able(background: float) -> int:
        far = np.abs(lightness - background) >= (rule.min_contrast or 0.0)
        return int((fixed | (free & far)).sum())

    white, black = able(_WHITE_CLOTH), able(_BLACK_CLOTH)
    if max(white, black) >= rule.squares:
        name, holding = ("white", white) if white >= black else ("black", black)
        return f"with a {name} background {holding} hold that distance"
    steps = np.arange(0.0, 100.5, 1.0)
    counts = [able(float(step)) for step in steps]
    best = int(np.argmax(counts))
    return f"no background would do: the best, of L* {steps[best]:.0f}, lets {counts[best]} hold it"


def _copies_short(problem: Problem, s: int) -> str:
    rule = problem.rules[s]
    if rule.max_copies is None:
        return ""
    copies = np.bincount(problem.fabric[problem.allowed[:, s]])
    able = int(np.minimum(copies, rule.max_copies).sum())
    if able >= rule.squares:
        return ""
    enough = next(
        (m for m in range(rule.max_copies, int(copies.max(initial=0)) + 1)
         if np.minimum(copies, m).sum() >= rule.squares), None,
    )  # fmt: skip
    short = rule.squares - able
    words = (
        f"{rule.name} wants {count(rule.squares, 'square')} with at most {rule.max_copies} of one "
        f"fabric; the bundle gives {able}, so {short} {'is' if short == 1 else 'are'} missing. "
        f"Add {count(short, 'square')} of other fabrics"
    )
    return words + (f", or allow {enough} copies." if enough else ".")


def _together(problem: Problem) -> str:
    """Every stack could be filled alone; find the one rule without which all can be."""
    ways = list(_ways_out(problem))
    words = "Each stack could be filled alone, but not all of them together"
    short = least_shortage(problem)
    if short:
        told = (f"{n} of {problem.rules[s].squares} in {problem.rules[s].name}" for s, n in short)
        words += f"; at best these are missing: {', '.join(told)}"
    if not ways:
        return f"{words}. Take locks away, or add squares."
    return f"{words}. One of these would do: {'; '.join(ways)}."


def _ways_out(problem: Problem) -> Iterator[str]:
    for n in np.flatnonzero(problem.locked):
        allowed, may_stay = problem.allowed.copy(), problem.may_stay.copy()
        allowed[n], may_stay[n] = True, True
        if can_deal(replace(problem, allowed=allowed, may_stay=may_stay)):
            yield f"unlock {problem.squares[n].id}"
    open_ = problem.allowed | (~problem.locked[:, None] & problem.by_value)
    if can_deal(replace(problem, allowed=open_)):
        yield "ask for no least contrast"
    rules = tuple(replace(rule, max_copies=None) for rule in problem.rules)
    if can_deal(replace(problem, rules=rules)):
        yield "allow more copies of a fabric in a stack"
