"""Deal again with a candidate in the place of a square, and say what that changes."""

from dataclasses import dataclass

from colorcore.bundle import Bundle
from colorcore.color.bands import SMALLEST_STEP, band_breaks, value_bands
from colorcore.comparing import PlanFigures, plan_figures
from colorcore.contrast import VERDICTS, Thresholds
from colorcore.errors import DealError
from colorcore.pattern import Pattern
from colorcore.stacking import Lock, Placement, Plan, deal
from colorcore.substitutes.closeness import looks_score
from colorcore.substitutes.model import Candidate, Closeness, Origin, Outcome
from colorcore.substitutes.standing_in import with_stand_in
from colorcore.swatch import Swatch
from colorcore.swatch.prints import print_class
from colorcore.wording import count, listing, number

_MOST_MOVES_TOLD = 4
_LEAST_STEP = 2.0
"""At most so many L* count as beyond measuring: a large doubt must not excuse a large step."""


@dataclass(frozen=True, eq=False)
class Trial:
    """A plan, what it was dealt from, and the square to do without."""

    plan: Plan
    bundle: Bundle
    pattern: Pattern
    thresholds: Thresholds
    square: str

    @property
    def original(self) -> Swatch:
        """The square to do without."""
        return next(s for s in self.bundle.squares if s.id == self.square)

    @property
    def place(self) -> tuple[str, Placement]:
        """Name of the stack that it lies in, and its placement there."""
        return next(
            (stack.name, place)
            for stack in self.plan.stacks
            for place in stack.placements
            if place.square == self.square
        )

    def takes_value_of(self, candidate: Candidate) -> bool:
        """Whether the square's stack takes cloth of that value: within the values that lie in it,
        or so little beyond that bands of value could not be told apart by it; a dark stack takes
        all that is darker, a light one all that is lighter. Where the pattern asks for a value, it
        must not be of a band of the bundle of which the stack has none.
        """
        name, _ = self.place
        stack = next(s for s in self.plan.stacks if s.name == name)
        values = {s.id: s.lab[0] for s in self.bundle.squares}
        here = [values[place.square] for place in stack.placements]
        value = candidate.swatch.lab[0]
        darker, lighter = min(here) - value, value - max(here)
        if stack.value == "mixed":
            return max(darker, lighter) <= SMALLEST_STEP
        breaks = band_breaks(list(values.values()))
        bands = {stack.value, *(place.band for place in stack.placements)}
        return (
            (darker <= SMALLEST_STEP or stack.value == "dark")
            and (lighter <= SMALLEST_STEP or stack.value == "light")
            and value_bands([value], breaks)[0] in bands
        )

    @property
    def apart(self) -> frozenset[str]:
        """The stacks that no background is sewn to."""
        return self.pattern.stacks_apart(self.plan.size)

    @property
    def is_beside_background(self) -> bool:
        """Whether the square's stack is sewn to the background."""
        return self.place[0] not in self.apart


def _deal_again(trial: Trial, candidate: Candidate, *, seconds: float = 2.0) -> Outcome:
    """Deal with ``candidate`` locked into the stack of the square that it replaces.

    Locks of the plan stay, and as few other squares as possible move.

    Raises
    ------
    DealError
        If no deal is possible then.
    """
    name, _ = trial.place
    bundle, stand_in = exchanged(trial, candidate)
    out = [Lock(square, ()) for square in trial.plan.stayed_out]
    if stand_in != trial.square:
        out.append(Lock(trial.square, ()))
    kept = [
        Lock(place.square, (stack.name,))
        for stack in trial.plan.stacks
        for place in stack.placements
        if place.locked and place.square != trial.square
    ]
    plan = deal(
        bundle,
        trial.pattern,
        trial.plan.background,
        size=trial.plan.size or None,
        locks=[*out, *kept, Lock(stand_in, (name,))],
        previous=trial.plan,
        thresholds=trial.thresholds,
        seconds=seconds,
    )
    own = next(p for s in plan.stacks for p in s.placements if p.square == stand_in)
    return Outcome(
        plan=plan,
        figures=plan_figures(plan, bundle, apart=trial.apart),
        moved=_moved(trial.plan, plan, {trial.square, stand_in}),
        verdict=own.verdict if trial.is_beside_background else "",
        delta_l=own.delta_l,
    )


def job_score(trial: Trial, before: PlanFigures, outcome: Outcome, close: Closeness) -> float:
    """Return how much worse the plan does its job: what holds counts most, then evenness, then
    squares that move, then the step in value beyond what can be measured; 0 for no change of a
    square that holds. Instead of one that melts, what holds comes before what melts as well. Of
    two that do it as well, the one that looks more like the original comes first.
    """
    worse = _worse(before, outcome.figures)
    own = VERDICTS.index(outcome.verdict) if outcome.verdict else 0
    uneven = max(0.0, outcome.figures.unevenness - before.unevenness)
    step = max(0.0, abs(close.lightness) - min(close.lightness_sd, _LEAST_STEP))
    harm = 4.0 * own + 3.0 * worse + uneven / 2 + len(outcome.moved) + step / 5
    return harm + looks_score(close) / 50


def _worse(before: PlanFigures, after: PlanFigures) -> int:
    old, new = before.verdicts, after.verdicts
    return max(0, (new["soft"] + 2 * new["melts"]) - (old["soft"] + 2 * old["melts"]))


def say_changes(
    trial: Trial, candidate: Candidate, close: Closeness, before: PlanFigures, outcome: Outcome
) -> tuple[str, ...]:
    """Return what would change, in sentences, the weightiest first."""
    _, place = trial.place
    words = [_say_value(trial.original, candidate.swatch, close)]
    if outcome.verdict:
        words.insert(0, _say_contrast(place, candidate.swatch, outcome, trial.thresholds))
    words += _say_print(trial.original, candidate.swatch, close)
    words.append(_say_moves(outcome))
    words += _say_evenness(before, outcome.figures)
    words += _say_doubts(candidate, before, outcome)
    return tuple(words)


def _say_contrast(place: Placement, candidate: Swatch, outcome: Outcome, limits: Thresholds) -> str:
    was, now = abs(place.delta_l), abs(outcome.delta_l)
    figures = f"{number(now)} L* from the background, was {number(was)}"
    if min(abs(now - limits.holds), abs(now - limits.melts)) < candidate.lab_sd[0]:
        figures += ", near enough to the limit that the measurement could be wrong"
    if outcome.verdict == place.verdict:
        said = {"holds": "Holds", "soft": "Stays soft", "melts": "Still melts"}[outcome.verdict]
        return f"{said} as before: {figures}."
    better = VERDICTS.index(outcome.verdict) < VERDICTS.index(place.verdict)
    to = {"holds": "holds", "soft": "becomes soft", "melts": "melts"}[outcome.verdict]
    return f"{'Better' if better else 'Worse'}: {to}, {figures}."


def _say_value(original: Swatch, candidate: Swatch, close: Closeness) -> str:
    step = f"L* {number(original.lab[0])} becomes {number(candidate.lab[0])}"
    apart = abs(close.lightness)
    if apart < max(min(close.lightness_sd, _LEAST_STEP), 0.5):
        return f"The same value, as far as can be measured ({step})."
    way = "lighter" if close.lightness > 0 else "darker"
    if apart < close.lightness_sd:
        return (
            f"{number(apart, 1)} L* {way} ({step}), though the photos cannot tell so little apart "
            f"(± {number(close.lightness_sd, 1)}): lay both side by side."
        )
    return f"{number(apart, 1)} L* {way} ({step})."


def _say_print(original: Swatch, candidate: Swatch, close: Closeness) -> list[str]:
    words = []
    one, other = print_class(original), print_class(candidate)
    if one != other:
        words.append(f"A {other} in place of a {one}.")
    elif close.octaves is not None and abs(close.octaves) >= 0.5:
        size = (original.print_scale_inches or 0, candidate.print_scale_inches or 0)
        way = "larger" if close.octaves > 0 else "smaller"
        words.append(f"The print is {way}: {size[0]:.1f} in becomes {size[1]:.1f} in.")
    if abs(close.value_spread) >= 6:
        way = "bolder" if close.value_spread > 0 else "quieter"
        spreads = f"{number(original.value_spread)} becomes {number(candidate.value_spread)}"
        words.append(f"The print is {way}: its spread of value of {spreads} L*.")
    return words


def _say_moves(outcome: Outcome) -> str:
    if not outcome.moved:
        return "No other square moves."
    told = [f"{square} from {old} to {new}" for square, old, new in outcome.moved]
    more = len(told) - _MOST_MOVES_TOLD
    kept = told[:_MOST_MOVES_TOLD] + ([f"{more} more"] if more > 0 else [])
    return f"{count(len(told), 'other square moves', 'other squares move')}: {listing(kept)}."


def _say_evenness(before: PlanFigures, after: PlanFigures) -> list[str]:
    if not before.evenness:
        return []
    changed = []
    for old, new in zip(before.evenness, after.evenness, strict=True):
        step = new.difference - old.difference
        if abs(step) >= (0.5 if new.unit != "squares" else 1):
            digits = 0 if new.unit == "squares" else 1
            change = f"{number(old.difference, digits)} to {number(new.difference, digits)}"
            changed.append((abs(step), f"{new.what} from {change}"))
    if not changed:
        return ["The mixed stacks stay as even as they were."]
    told = [words for _, words in sorted(changed, key=lambda c: -c[0])[:3]]
    return [f"The difference between the mixed stacks goes, in {listing(told)}."]


def _say_doubts(candidate: Candidate, before: PlanFigures, outcome: Outcome) -> list[str]:
    words = []
    if outcome.moved and _worse(before, outcome.figures):
        v = outcome.figures.verdicts
        words.append(f"In the whole plan {v['soft']} are soft and {v['melts']} melt then.")
    if candidate.trust == "D" or candidate.reference == "none":
        words.append("It was measured without a reference: lay both side by side before you cut.")
    elif candidate.origin is not Origin.SPARE and candidate.trust == "C":
        words.append("Its measurement is of trust grade C: lay both side by side before you cut.")
    if "no-scale" in candidate.swatch.flags:
        words.append("The size of its print is not known.")
    return words


def exchanged(trial: Trial, candidate: Candidate) -> tuple[Bundle, str]:
    """Return the bundle with the candidate in it, and the address that the candidate has there:
    a fabric from elsewhere stands in at the square's own, a spare square keeps its own."""
    if candidate.origin is Origin.SPARE:
        return trial.bundle, candidate.swatch.id
    return with_stand_in(trial.bundle, trial.square, candidate.swatch), trial.square


def _moved(before: Plan, after: Plan, own: set[str]) -> tuple[tuple[str, str, str], ...]:
    old, new = _places(before), _places(after)
    return tuple(
        (square, place, new[square])
        for square, place in old.items()
        if square not in own and new.get(square, place) != place
    )


def _places(plan: Plan) -> dict[str, str]:
    places = {p.square: stack.name for stack in plan.stacks for p in stack.placements}
    return places | {p.square: "left over" for p in plan.left_over}


def can_deal(
    trial: Trial, candidate: Candidate, *, seconds: float = 2.0
) -> tuple[Outcome | None, str]:
    """Return what dealing again gives, or None and the sentence that says why it cannot be."""
    try:
        return _deal_again(trial, candidate, seconds=seconds), ""
    except DealError as error:
        return None, str(error)
