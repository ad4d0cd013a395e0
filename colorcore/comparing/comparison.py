"""Two plans of one pattern, role by role."""

from collections.abc import Collection
from dataclasses import dataclass

from colorcore.bundle import Bundle
from colorcore.comparing.figures import PlanFigures, StackFigures, plan_figures
from colorcore.errors import DealError
from colorcore.pattern.model import is_too_large, is_too_small, say_waste
from colorcore.stacking import Plan
from colorcore.wording import listing


@dataclass(frozen=True)
class RoleRow:
    """One stack of the pattern in both plans, with what tells them apart in sentences."""

    first: StackFigures
    second: StackFigures
    words: tuple[str, ...]


@dataclass(frozen=True)
class Comparison:
    """Both plans in figures, stack by stack; ``words`` say what differs on the whole, and
    ``better`` names the plan that breaks less: "first", "second" or "" for neither."""

    first: PlanFigures
    second: PlanFigures
    rows: tuple[RoleRow, ...]
    words: tuple[str, ...]
    better: str


def compare_plans(
    first: Plan,
    first_bundle: Bundle,
    second: Plan,
    second_bundle: Bundle,
    *,
    names: tuple[str, str] = ("the first", "the second"),
    square_inches: float = 0.0,
    apart: Collection[str] = (),
) -> Comparison:
    """Return two plans of one pattern, which cuts squares of ``square_inches``, set beside each
    other; ``apart`` are its stacks that no background is sewn to. That squares are too small for
    it, or larger than it cuts, is said first.

    Raises
    ------
    DealError
        If the plans are not for the same stacks.
    """
    if [s.name for s in first.stacks] != [s.name for s in second.stacks]:
        raise DealError(
            f"{names[0]} is a plan for {first.pattern}, {names[1]} one for {second.pattern}; "
            "deal both in one pattern to set them side by side."
        )
    one = plan_figures(first, first_bundle, apart=apart)
    two = plan_figures(second, second_bundle, apart=apart)
    rows = tuple(
        RoleRow(a, b, _row_words(a, b, names)) for a, b in zip(one.stacks, two.stacks, strict=True)
    )
    better = _better(one, two)
    sides = [
        words
        for name, bundle in zip(names, (first_bundle, second_bundle), strict=True)
        for say in (_say_small, _say_large)
        if square_inches > 0 and (words := say(name, bundle, square_inches))
    ]
    return Comparison(one, two, rows, (*sides, *_words(one, two, names, better)), better)


def _say_small(name: str, bundle: Bundle, wanted: float) -> str:
    sides = {s.side_inches for s in bundle.squares if is_too_small(s.side_inches, wanted)}
    if not sides:
        return ""
    told = listing([f"{side:g}" for side in sorted(sides)])
    return (
        f"{name} cannot be cut for this pattern: it has squares of {told} in, and the pattern cuts "
        f"squares of {wanted:g} in."
    )


def _say_large(name: str, bundle: Bundle, wanted: float) -> str:
    sides = sorted({s.side_inches for s in bundle.squares if is_too_large(s.side_inches, wanted)})
    if not sides:
        return ""
    told = listing([say_waste(side, wanted) for side in sides])
    return f"{name} has larger squares than the pattern cuts: {told}."


def _row_words(a: StackFigures, b: StackFigures, names: tuple[str, str]) -> tuple[str, ...]:
    words = []
    step = b.lightness_mean - a.lightness_mean
    if abs(step) >= 3:
        words.append(
            f"on average {names[1]} is {abs(step):.0f} L* {'lighter' if step > 0 else 'darker'}"
        )
    weak_a, weak_b = (len(s.soft) + len(s.melting) for s in (a, b))
    if weak_a != weak_b:
        fewer, more = sorted((weak_a, weak_b))
        who = names[0] if weak_a < weak_b else names[1]
        words.append(f"{who} holds better: {fewer} soft or melting instead of {more}")
    busier = b.busyness_mean - a.busyness_mean
    if abs(busier) >= 2:
        words.append(f"{names[1]} is {'busier' if busier > 0 else 'calmer'}")
    alike = "value, contrast and busyness" if a.beside_background else "value and busyness"
    return tuple(words) or (f"much the same in {alike}",)


def _loss(figures: PlanFigures) -> tuple[int, int]:
    """What breaks first: melting counts before soft, focal stacks count twice."""
    melts = sum((2 if s.role == "focal" else 1) * s.verdicts["melts"] for s in figures.stacks)
    soft = sum((2 if s.role == "focal" else 1) * s.verdicts["soft"] for s in figures.stacks)
    return melts, soft


def _better(one: PlanFigures, two: PlanFigures) -> str:
    a, b = _loss(one), _loss(two)
    if a != b:
        return "first" if a < b else "second"
    gap = one.unevenness - two.unevenness
    return "" if abs(gap) < 1 else "second" if gap > 0 else "first"


def _words(
    one: PlanFigures, two: PlanFigures, names: tuple[str, str], better: str
) -> tuple[str, ...]:
    words: list[str] = []
    if better:
        winner, loser = (one, two) if better == "first" else (two, one)
        name = names[0] if better == "first" else names[1]
        if _loss(winner) != _loss(loser):
            words.append(
                f"{name} stands off from the background better: "
                f"{_said(winner)} instead of {_said(loser)}."
            )
        else:
            words.append(f"{name} gives the more even mixed stacks.")
    else:
        held = f": {_said(one)}" if one.on_background else ""
        words.append(f"{names[0]} and {names[1]} do alike{held}.")
    return tuple(words)


def _said(figures: PlanFigures) -> str:
    v = figures.verdicts
    return f"{v['holds']} hold, {v['soft']} soft, {v['melts']} melt"
