"""A plan as the sheets and the terminal show it: squares looked up, numbers chosen, words found."""

from collections import Counter
from collections.abc import Mapping, Sequence, Set
from dataclasses import dataclass

from colorcore.bundle import Bundle
from colorcore.color.naming import describe_print
from colorcore.contrast import VERDICTS
from colorcore.flags import describe
from colorcore.pattern import Pattern
from colorcore.sheets.second_look import (
    PhotoTrust,
    look_again,
    missed,
    photo_trust,
    photo_warnings,
)
from colorcore.stacking import Placement, Plan
from colorcore.stacking.telling import PART_SHOWS, SAME_CLOTH
from colorcore.swatch import Swatch

LEFT_OVER = "left over"
STAYED_OUT = "stayed out"


@dataclass(frozen=True)
class Card:
    """One square of a plan. ``verdict`` is "" and the contrast 0 for a square that stayed out."""

    address: str
    lab: tuple[float, float, float]
    lab_sd: tuple[float, float, float]
    color: str
    band: str
    verdict: str
    delta_l: float
    delta_e: float
    ratio: float
    chance: float | None
    locked: bool
    fabric: int
    copies: tuple[str, ...]
    why: str
    flags: tuple[str, ...]
    swatch: Swatch

    @property
    def lightness(self) -> float:
        """L*."""
        return self.lab[0]

    @property
    def lightness_sd(self) -> float:
        """One standard deviation of L*."""
        return self.lab_sd[0]


@dataclass(frozen=True)
class Group:
    """Squares that lie together. ``mark`` is the stack's number, or a dash for no stack;
    ``beside_background`` says whether its pieces are sewn to the background at all."""

    mark: str
    name: str
    role: str
    value: str
    cards: tuple[Card, ...]
    beside_background: bool = True

    @property
    def is_stack(self) -> bool:
        """Whether the pattern asked for it."""
        return self.role in ("focal", "fill")

    @property
    def verdicts(self) -> Mapping[str, int]:
        """How many squares hold, are soft and melt; none of a stack away from the background."""
        counts = Counter(card.verdict for card in self.cards if self.beside_background)
        return {word: counts[word] for word in VERDICTS}

    @property
    def lightness_range(self) -> tuple[float, float] | None:
        """Smallest and largest L*, or None for no squares."""
        values = [card.lightness for card in self.cards]
        return (min(values), max(values)) if values else None


@dataclass(frozen=True)
class PlanView:
    """A plan with its bundle. ``stacks`` first, then ``rest``: left over and stayed out, where
    there are any. ``look_again`` are (addresses, sentence) found while measuring, ``gaps`` the
    addresses where a square may have been missed."""

    plan: Plan
    bundle: Bundle
    stacks: tuple[Group, ...]
    rest: tuple[Group, ...]
    look_again: tuple[tuple[tuple[str, ...], str], ...]
    gaps: tuple[str, ...] = ()

    @property
    def warnings(self) -> tuple[str, ...]:
        """What is to be known of whole photos before anything else is read."""
        return photo_warnings(self.bundle)

    @property
    def trust(self) -> tuple[PhotoTrust, ...]:
        """How far to trust the photos."""
        return photo_trust(self.bundle)

    @property
    def groups(self) -> tuple[Group, ...]:
        """All groups."""
        return self.stacks + self.rest

    @property
    def verdicts(self) -> Mapping[str, int]:
        """How many squares of all stacks hold, are soft and melt."""
        return {word: sum(group.verdicts[word] for group in self.stacks) for word in VERDICTS}

    @property
    def reasons(self) -> tuple[tuple[str, tuple[str, ...]], ...]:
        """Why squares are where they are: (sentence, addresses), said once for all it holds for."""
        gathered: dict[str, list[str]] = {}
        for group in self.groups:
            for card in group.cards:
                gathered.setdefault(card.why, []).append(card.address)
        return tuple((why, tuple(ids)) for why, ids in gathered.items() if why)

    @property
    def evenness(self) -> tuple[tuple[str, tuple[tuple[str, float], ...]], ...]:
        """How even the stacks are: (which stacks, their figures in words and number)."""
        groups: dict[str, list[tuple[str, float]]] = {}
        for words, figure in self.plan.evenness:
            head, colon, rest = words.partition(": ")
            groups.setdefault(head if colon else "", []).append((rest if colon else words, figure))
        return tuple((head, tuple(figures)) for head, figures in groups.items())

    @property
    def on_background(self) -> bool:
        """Whether any stack is sewn to the background."""
        return any(group.beside_background for group in self.stacks)

    def marks(self) -> Mapping[str, str]:
        """Return the mark of every square's group by address."""
        return {card.address: group.mark for group in self.groups for card in group.cards}


def view_plan(plan: Plan, bundle: Bundle, pattern: Pattern | None = None) -> PlanView:
    """Return ``plan`` with everything looked up in ``bundle``.

    ``pattern`` tells which stacks are sewn to the background; without it, all are.

    Raises
    ------
    KeyError
        If the plan names a square that the bundle does not have.
    """
    swatches = {swatch.id: swatch for swatch in bundle.squares}
    copies = _copies(bundle.squares)

    def card(place: Placement) -> Card:
        return _make_card(swatches[place.square], copies, place)

    apart = frozenset() if pattern is None else pattern.stacks_apart(plan.size)
    stacks = tuple(
        Group(
            mark=str(n),
            name=stack.name,
            role=stack.role,
            value=stack.value,
            cards=tuple(map(card, stack.placements)),
            beside_background=stack.name not in apart,
        )
        for n, stack in enumerate(plan.stacks, 1)
    )
    on_background = any(stack.beside_background for stack in stacks)
    rest = []
    if plan.left_over:
        rest.append(
            Group("\u2013", LEFT_OVER, "", "", tuple(map(card, plan.left_over)), on_background)
        )
    if plan.stayed_out:
        out = sorted((swatches[name] for name in plan.stayed_out), key=lambda s: s.lab[0])
        cards = [_make_card(s, copies, None, _why_out(s, plan)) for s in out]
        rest.append(Group("\u00d7", STAYED_OUT, "", "", tuple(cards), on_background))
    again = look_again(bundle.squares)
    dealt = {place.square for stack in plan.stacks for place in stack.placements}
    for told, flag in ((PART_SHOWS, "cut-off"), (SAME_CLOTH, "overlapping")):
        if any(told in words for words in plan.second_look):
            again = _without(again, describe(flag), dealt)
    return PlanView(plan, bundle, stacks, tuple(rest), again, missed(bundle))


def _without(
    again: Sequence[tuple[tuple[str, ...], str]], words: str, told: Set[str]
) -> tuple[tuple[tuple[str, ...], str], ...]:
    """Leave out of what to look at again, under some words, the squares of which that is told."""
    rest = [
        (tuple(n for n in ids if n not in told) if said == words else ids, said)
        for ids, said in again
    ]
    return tuple((ids, said) for ids, said in rest if ids)


def words_for(swatch: Swatch) -> str:
    """Return colour and print of a square in words: ``dark greyish blue, small print``."""
    return describe_print(
        swatch.lab,
        reads_as_solid=swatch.reads_as_solid,
        print_scale_inches=swatch.print_scale_inches,
        stripe_degrees=swatch.stripe_degrees,
        value_spread=swatch.value_spread,
        palette=[(color.lab, color.share) for color in swatch.palette],
    )


def _copies(squares: Sequence[Swatch]) -> dict[str, tuple[str, ...]]:
    fabrics: dict[int, list[str]] = {}
    for swatch in squares:
        if swatch.fabric >= 0:
            fabrics.setdefault(swatch.fabric, []).append(swatch.id)
    return {
        one: tuple(other for other in ids if other != one)
        for ids in fabrics.values()
        for one in ids
    }


def _why_out(swatch: Swatch, plan: Plan) -> str:
    if plan.background.label == f"square {swatch.id}":
        return "this is the background"
    return "kept out of every stack as asked"


def _make_card(
    swatch: Swatch,
    copies: Mapping[str, tuple[str, ...]],
    place: Placement | None,
    out: str = "",
) -> Card:
    return Card(
        address=swatch.id,
        lab=swatch.lab,
        lab_sd=swatch.lab_sd,
        color=words_for(swatch),
        band=place.band if place else "",
        verdict=place.verdict if place else "",
        delta_l=place.delta_l if place else 0.0,
        delta_e=place.delta_e if place else 0.0,
        ratio=place.ratio if place else 0.0,
        chance=place.chance if place else None,
        locked=place.locked if place else True,
        fabric=swatch.fabric,
        copies=copies.get(swatch.id, ()),
        why=place.why if place else out,
        flags=swatch.flags,
        swatch=swatch,
    )
