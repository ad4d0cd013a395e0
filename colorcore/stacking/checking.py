"""Check a plan piece by piece before the first cut."""

from collections.abc import Mapping
from dataclasses import replace

from colorcore.bundle import Bundle
from colorcore.contrast import MELTS, Thresholds
from colorcore.contrast.cloth import say_beyond_cloth
from colorcore.contrast.pairs import TouchingStacks, judge_touching
from colorcore.contrast.pieces import SquareContrast, judge_square
from colorcore.contrast.seen import beside_background
from colorcore.errors import CuttingError
from colorcore.pattern.model import Pattern
from colorcore.stacking.dealing import find_size
from colorcore.stacking.explaining import say_too_large, say_too_small
from colorcore.stacking.model import Plan
from colorcore.swatch import Swatch


def judge_plan(
    plan: Plan,
    bundle: Bundle,
    pattern: Pattern,
    thresholds: Thresholds | None = None,
    *,
    around: bool = False,
) -> dict[str, SquareContrast]:
    """Judge the pieces of every square whose stack lies beside the background, by square.

    ``around`` also looks for cuts that go around what melts, which takes longer.

    Raises
    ------
    DealError
        If the pattern has no longer the plan's size.
    CuttingError
        If a square does not give the pattern's pieces by cuts from edge to edge.
    """
    limits = thresholds or Thresholds()
    beside = beside_background(plan.background, limits)
    rules = {rule.name: rule for rule in find_size(pattern, plan.size).stacks}
    swatches = {swatch.id: swatch for swatch in bundle.squares}
    return {
        place.square: judge_square(
            swatches[place.square], rules[stack.name].pieces, beside, limits, around=around
        )
        for stack in plan.stacks
        if stack.name in rules and rules[stack.name].beside_background
        for place in stack.placements
    }


def check_pieces(
    plan: Plan, bundle: Bundle, pattern: Pattern, thresholds: Thresholds | None = None
) -> Plan:
    """Return the plan with a second look at squares that hold as a whole and melt at a seam, and
    at squares of stacks that touch which do not stand off from each other.

    Squares that melt as a whole are in the plan's second look already. Where squares are smaller
    than those that the pattern cuts, that is told first, and no piece is looked at; where they are
    larger, what is left over of them is told first. Before that comes what the background's own
    measurement leaves open, or that no cloth is as light or dark as it.

    Raises
    ------
    DealError
        As ``judge_plan``; that a square does not give its pieces is told in the second look.
    """
    sides = [s.side_inches for some in _swatches_of(plan, bundle).values() for s in some]
    if _has_background(pattern, plan.size):
        doubt = plan.background.doubt or say_beyond_cloth(plan.background)
        plan = replace(plan, second_look=(*filter(None, (doubt,)), *plan.second_look))
    words = say_too_small(pattern, sides)
    if words:
        return replace(plan, second_look=(words, *plan.second_look))
    if waste := say_too_large(pattern, sides):
        plan = replace(plan, second_look=(waste, *plan.second_look))
    try:
        judged = judge_plan(plan, bundle, pattern, thresholds)
    except CuttingError as error:
        return replace(plan, second_look=(*plan.second_look, str(error)))
    added = [words for stack in plan.stacks if (words := _sentence(stack.name, plan, judged))]
    touching = judge_touching(
        find_size(pattern, plan.size).stacks, _swatches_of(plan, bundle), thresholds
    )
    limits = thresholds or Thresholds()
    added += [words for pair in touching if (words := _touching_sentence(pair, limits))]
    return replace(plan, second_look=(*plan.second_look, *added))


def _has_background(pattern: Pattern, size: str) -> bool:
    return any(rule.beside_background for rule in find_size(pattern, size).stacks)


def _swatches_of(plan: Plan, bundle: Bundle) -> dict[str, list[Swatch]]:
    swatches = {swatch.id: swatch for swatch in bundle.squares}
    return {
        stack.name: [swatches[place.square] for place in stack.placements] for stack in plan.stacks
    }


def _touching_sentence(pair: TouchingStacks, limits: Thresholds) -> str:
    """Focal pieces must stand off in value from what they touch; of two fills, prints that lie
    side by side need only not look alike."""
    share = pair.melts if pair.focal else pair.alike
    if share == 0:
        return ""
    near = [
        f"{first} with {second}"
        for first, second, step, delta_e in pair.closest
        if step < limits.melts and (pair.focal or delta_e < limits.melts)
    ]
    percent = f"{share:.0%}".replace("%", " %") if share >= 0.01 else "under 1 %"
    what = "run into each other in value" if pair.focal else "look alike"
    many = " and more" if len(near) == len(pair.closest) else ""
    return (
        f"{pair.first} beside {pair.second}: {percent} of the pairs of squares {what}; do not sew "
        f"side by side {', '.join(near)}{many}."
    )


def _sentence(name: str, plan: Plan, judged: Mapping[str, SquareContrast]) -> str:
    stack = next(stack for stack in plan.stacks if stack.name == name)
    found = [
        (place.square, len(pieces.pieces) - pieces.good, len(pieces.pieces))
        for place in stack.placements
        if (pieces := judged.get(place.square)) is not None
        and place.verdict != MELTS
        and pieces.good < len(pieces.pieces)
    ]
    if not found:
        return ""
    some = [f"{square} ({bad} of {total})" for square, bad, total in found if bad < total]
    every = [square for square, bad, total in found if bad == total]
    words = []
    if some:
        words.append(
            f"some pieces would melt along their seams: {', '.join(some)}; cut around the print"
        )
    if every:
        words.append(
            f"every piece would melt somewhere along its seams: {', '.join(every)}; "
            "swap, or take another background"
        )
    return f"{name}, seen from across a room: {'. And '.join(words)}."
