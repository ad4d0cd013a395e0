"""A plan in figures that can be set beside those of another plan."""

from collections import Counter
from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass

from colorcore.bundle import Bundle
from colorcore.color.bands import BANDS
from colorcore.color.families import HUE_FAMILIES, hue_family
from colorcore.contrast import MELTS, SOFT, VERDICTS
from colorcore.stacking import Placement, Plan, PlannedStack
from colorcore.swatch import Swatch
from colorcore.swatch.prints import PRINTS, print_class


@dataclass(frozen=True)
class StackFigures:
    """One stack. ``soft`` and ``melting`` are addresses, weakest first; ``margin`` the
    smallest distance to the background in L* units, None without squares; the mappings count
    squares by value band, verdict, print and hue family, every key always there. Of a stack that
    is not ``beside_background`` nothing is judged against it: no verdict is counted, and there is
    no margin."""

    name: str
    role: str
    value: str
    squares: tuple[str, ...]
    lightness_mean: float
    lightness_least: float
    lightness_most: float
    margin: float | None
    busyness_mean: float
    bands: Mapping[str, int]
    verdicts: Mapping[str, int]
    prints: Mapping[str, int]
    hues: Mapping[str, int]
    soft: tuple[str, ...]
    melting: tuple[str, ...]
    beside_background: bool = True


@dataclass(frozen=True)
class Evenness:
    """How far the most unlike mixed stacks lie apart in one respect, in ``unit`` (L*, squares or
    busyness). ``weight`` is what one unit counts in ``PlanFigures.unevenness``: a square of
    another value as much as one L* of the mean, a square of another print or hue half of it."""

    what: str
    unit: str
    difference: float
    weight: float


@dataclass(frozen=True)
class PlanFigures:
    """All stacks, evenness between the mixed ones (empty if there are fewer than two), and what
    breaks, in sentences."""

    stacks: tuple[StackFigures, ...]
    evenness: tuple[Evenness, ...]
    breaks: tuple[str, ...]

    @property
    def verdicts(self) -> Mapping[str, int]:
        """How many squares of all stacks hold, are soft and melt."""
        return {v: sum(stack.verdicts[v] for stack in self.stacks) for v in VERDICTS}

    @property
    def on_background(self) -> bool:
        """Whether any stack is sewn to the background."""
        return any(stack.beside_background for stack in self.stacks)

    @property
    def unevenness(self) -> float:
        """One number for all of ``evenness``."""
        return sum(e.weight * e.difference for e in self.evenness)


def plan_figures(plan: Plan, bundle: Bundle, *, apart: Collection[str] = ()) -> PlanFigures:
    """Return a plan's figures; ``apart`` are the stacks that no background is sewn to.

    Raises
    ------
    KeyError
        If the plan names a square that the bundle does not have.
    """
    swatches = {swatch.id: swatch for swatch in bundle.squares}
    stacks = tuple(_stack(stack, swatches, stack.name not in apart) for stack in plan.stacks)
    mixed = [stack for stack in stacks if stack.value == "mixed" and stack.squares]
    return PlanFigures(stacks, _evenness(mixed), _breaks(stacks))


def _stack(stack: PlannedStack, swatches: Mapping[str, Swatch], beside: bool) -> StackFigures:
    judged = stack.placements if beside else ()
    squares = [swatches[place.square] for place in stack.placements]
    values = [swatch.lab[0] for swatch in squares]
    return StackFigures(
        name=stack.name,
        role=stack.role,
        value=stack.value,
        squares=tuple(swatch.id for swatch in squares),
        lightness_mean=sum(values) / max(len(values), 1),
        lightness_least=min(values, default=0.0),
        lightness_most=max(values, default=0.0),
        margin=min((abs(place.delta_l) for place in judged), default=None),
        busyness_mean=sum(s.busyness for s in squares) / max(len(squares), 1),
        bands=_counted(BANDS, [place.band for place in stack.placements]),
        verdicts=_counted(VERDICTS, [place.verdict for place in judged]),
        prints=_counted(PRINTS, [print_class(swatch) for swatch in squares]),
        hues=_counted(HUE_FAMILIES, [hue_family(swatch.lab) for swatch in squares]),
        soft=_weak(judged, SOFT),
        melting=_weak(judged, MELTS),
        beside_background=beside,
    )


def _counted(keys: Sequence[str], found: Sequence[str]) -> Mapping[str, int]:
    counts = Counter(found)
    return {key: counts[key] for key in keys}


def _weak(placements: Sequence[Placement], verdict: str) -> tuple[str, ...]:
    weak = [place for place in placements if place.verdict == verdict]
    return tuple(p.square for p in sorted(weak, key=lambda p: (abs(p.delta_l), p.square)))


def _evenness(mixed: Sequence[StackFigures]) -> tuple[Evenness, ...]:
    if len(mixed) < 2:
        return ()

    def apart(values: Sequence[float]) -> float:
        return max(values) - min(values)

    return (
        Evenness("mean value", "L*", apart([s.lightness_mean for s in mixed]), 1.0),
        *(Evenness(f"{b} squares", "squares", apart([s.bands[b] for s in mixed]), 1.0)
          for b in BANDS),
        *(Evenness(f"{p}s", "squares", apart([s.prints[p] for s in mixed]), 0.5) for p in PRINTS),
        *(Evenness(f"{h} squares", "squares", apart([s.hues[h] for s in mixed]), 0.5)
          for h in HUE_FAMILIES),
        Evenness("mean busyness", "busyness", apart([s.busyness_mean for s in mixed]), 0.25),
    )  # fmt: skip


def _breaks(stacks: Sequence[StackFigures]) -> tuple[str, ...]:
    words: list[str] = []
    for stack in stacks:
        if stack.melting:
            verb = "melts" if len(stack.melting) == 1 else "melt"
            words.append(f"{stack.name}: {', '.join(stack.melting)} {verb} into the background.")
        if stack.soft and stack.role == "focal":
            verb = "is" if len(stack.soft) == 1 else "are"
            words.append(f"{stack.name}: {', '.join(stack.soft)} {verb} soft on the background.")
        other = sum(n for band, n in stack.bands.items() if band != stack.value)
        if stack.value != "mixed" and other:
            words.append(
                f"{stack.name}: {other} of {len(stack.squares)} "
                f"{'is' if other == 1 else 'are'} not {stack.value} beside the rest of the bundle."
            )
    return tuple(words)
