"""Substitutes for one square of a plan, of two kinds: what looks like it, and what does its job."""

from collections.abc import Sequence
from typing import Final

import numpy as np

from colorcore.bundle import Bundle
from colorcore.bundle.addressing import which_photo
from colorcore.comparing import plan_figures
from colorcore.contrast import VERDICTS, Thresholds
from colorcore.contrast.pieces import color_verdicts
from colorcore.contrast.seen import beside_background
from colorcore.errors import DealError
from colorcore.pattern import Pattern
from colorcore.stacking import Plan
from colorcore.substitutes.closeness import closeness, looks_score
from colorcore.substitutes.model import Candidate, Closeness, Origin, Substitute, Substitutes
from colorcore.substitutes.trial import Trial, can_deal, job_score, say_changes
from colorcore.swatch import Swatch
from colorcore.wording import as_typed

LOOKS_ALIKE: Final = 2.5
"""Largest unlikeness that is still proposed as looking like the original."""
_TRIALS: Final = 3
"""How many times as many candidates are dealt as are wanted."""


def find_substitutes(
    plan: Plan,
    bundle: Bundle,
    pattern: Pattern,
    square: str,
    candidates: Sequence[Candidate],
    *,
    thresholds: Thresholds | None = None,
    most: int = 5,
    seconds: float = 2.0,
    notes: Sequence[str] = (),
) -> Substitutes:
    """Return the best substitutes for ``square`` among ``candidates``, ``most`` of each kind.

    Those that look like it are ordered by colour, value spread, print scale and the colours within
    the print. Those that do its job are of a value that its stack takes; they are dealt again in
    its place, each for at most ``seconds``, and ordered by what that costs the plan in contrast,
    evenness, moved squares and value.
    A candidate may be of both kinds. Squares that are smaller than those that the pattern cuts are
    none, and the notes say so.

    Raises
    ------
    DealError
        If the plan has no such square, or does not need it.
    """
    trial = Trial(
        plan, bundle, pattern, thresholds or Thresholds(), known_square(plan, square, bundle)
    )
    stack, place = trial.place
    planned = next(s for s in plan.stacks if s.name == stack)
    before = plan_figures(plan, bundle, apart=trial.apart)
    small = [c for c in candidates if _is_too_small(c, pattern)]
    judged = [
        (c, _judge(trial.original, c))
        for c in candidates
        if c.squares > 0 and not _is_too_small(c, pattern)
    ]
    looks = _looks(trial, judged, most, seconds)
    job = _job(trial, judged, most, seconds)
    said = [*notes, *_say_small(small, pattern)]
    if judged and not looks:
        near, close = min(judged, key=lambda item: looks_score(item[1]))
        said.append(
            f"Nothing here looks like it: the nearest, {near.name}, is too far off in "
            f"colour or print (CIEDE2000 {close.delta_e:.1f})."
        )
    if judged and not job:
        said.append("Nothing here would do its job without harm to the plan.")
    return Substitutes(
        original=trial.original,
        stack=stack,
        role=planned.role,
        value=planned.value,
        verdict=place.verdict if trial.is_beside_background else "",
        delta_l=place.delta_l,
        before=before,
        looks=looks,
        job=job,
        notes=tuple(said),
    )


def _is_too_small(candidate: Candidate, pattern: Pattern) -> bool:
    """Whether it is a square that does not give the pattern's pieces. Of the stash, the number of
    squares that an amount gives counts that already."""
    is_square = candidate.origin is not Origin.STASH
    return is_square and pattern.is_too_small(candidate.swatch.side_inches)


def _say_small(small: Sequence[Candidate], pattern: Pattern) -> list[str]:
    said = []
    for side, place in dict.fromkeys((c.swatch.side_inches, c.place) for c in small):
        of = f" of {place}" if place else ""
        said.append(
            f"The squares{of} are left out: they are {side:g} in, and {pattern.name} cuts squares "
            f"of {pattern.square_inches:g} in."
        )
    return said


def _judge(original: Swatch, candidate: Candidate) -> Closeness:
    same = candidate.origin is Origin.SPARE and candidate.swatch.photo == original.photo
    return closeness(original, candidate.swatch, same_photo=same)


def known_square(plan: Plan, square: str, bundle: Bundle) -> str:
    """Return the address of a square in a stack as the plan writes it; it may be named as another
    photo that shows it would have it.

    Raises
    ------
    DealError
        If the plan has no such square, or does not need it.
    """
    counted = {other.casefold(): own for other, own in bundle.counted.items()}
    wanted = as_typed(square).casefold()
    wanted = counted.get(wanted, wanted).casefold()
    for stack in plan.stacks:
        for place in stack.placements:
            if place.square.casefold() == wanted:
                return place.square
    idle = [*(p.square for p in plan.left_over), *plan.stayed_out]
    if wanted in (name.casefold() for name in idle):
        raise DealError(
            f"{square} is in no stack of this plan, so nothing needs to replace it; "
            "give the address of a square in a stack."
        )
    dealt = [place.square for stack in plan.stacks for place in stack.placements]
    remedy = which_photo(square, dealt) or f"give an address such as {', '.join(dealt[:3])}"
    raise DealError(f"The plan has no square {square}; {remedy}.")


def _looks(
    trial: Trial, judged: Sequence[tuple[Candidate, Closeness]], most: int, seconds: float
) -> tuple[Substitute, ...]:
    scored = sorted(
        ((looks_score(close), n, c, close) for n, (c, close) in enumerate(judged)),
        key=lambda item: item[:2],
    )
    kept = [item for item in scored if item[0] <= LOOKS_ALIKE][:most]
    return tuple(_substitute(trial, c, close, score, seconds) for score, _, c, close in kept)


def _job(
    trial: Trial, judged: Sequence[tuple[Candidate, Closeness]], most: int, seconds: float
) -> tuple[Substitute, ...]:
    before = plan_figures(trial.plan, trial.bundle, apart=trial.apart)
    _, place = trial.place
    worst = VERDICTS.index(place.verdict)
    judged = [(c, close) for c, close in judged if trial.takes_value_of(c)]
    own = _verdicts(trial, [c for c, _ in judged])
    promising = [
        (_promise(trial, c, close, own[n]), n, c, close)
        for n, (c, close) in enumerate(judged)
        if own[n] <= worst
    ]
    promising.sort(key=lambda item: item[:2])
    found = []
    for _, _, candidate, close in promising[: _TRIALS * most]:
        outcome, _ = can_deal(trial, candidate, seconds=seconds)
        if outcome is not None:
            score = job_score(trial, before, outcome, close)
            words = say_changes(trial, candidate, close, before, outcome)
            found.append(Substitute(candidate, close, score, outcome, words))
    found.sort(key=lambda s: s.score)
    return tuple(found[:most])


def _verdicts(trial: Trial, candidates: Sequence[Candidate]) -> list[int]:
    """Places in ``VERDICTS`` of what candidates would be in the plan, as it judges its own; all
    hold where no background is beside them."""
    if not trial.is_beside_background:
        return [0] * len(candidates)
    lightness = np.array([candidate.swatch.lab[0] for candidate in candidates])
    beside = beside_background(trial.plan.background, trial.thresholds)
    return [VERDICTS.index(verdict) for verdict in color_verdicts(beside, lightness)]


def _promise(trial: Trial, candidate: Candidate, close: Closeness, verdict: int) -> float:
    """How little a candidate would disturb before anything is dealt: that it holds, then value,
    then print; ``verdict`` is its place in ``VERDICTS``."""
    melting = 5.0 * verdict
    busier = abs(candidate.swatch.busyness - trial.original.busyness)
    near = abs(close.lightness) / 3 + abs(close.value_spread) / 12 + busier / 6
    return melting + near + close.delta_e / 40


def _substitute(
    trial: Trial, candidate: Candidate, close: Closeness, score: float, seconds: float
) -> Substitute:
    outcome, why = can_deal(trial, candidate, seconds=seconds)
    if outcome is None:
        return Substitute(candidate, close, score, None, (f"It cannot be dealt: {why}",))
    before = plan_figures(trial.plan, trial.bundle, apart=trial.apart)
    words = say_changes(trial, candidate, close, before, outcome)
    return Substitute(candidate, close, score, outcome, words)
