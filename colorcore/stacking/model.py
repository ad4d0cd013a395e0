"""What a deal gives: every square with its place."""

from dataclasses import dataclass

from colorcore.contrast import Background


@dataclass(frozen=True)
class Placement:
    """One square's place in a plan.

    ``square`` is its id; ``band`` dark, medium or light within the bundle; ``why`` one sentence;
    ``chance`` that the square truly belongs by its stack's value rule, or None for mixed stacks;
    ``delta_l``, ``delta_e`` and ``ratio`` against the background (L* units, CIEDE2000, WCAG 2.2
    luminance ratio); ``verdict`` holds, soft or melts.
    """

    square: str
    band: str
    why: str
    chance: float | None
    delta_l: float
    delta_e: float
    ratio: float
    verdict: str
    locked: bool = False


@dataclass(frozen=True)
class PlannedStack:
    """A stack of the pattern with its squares, darkest first."""

    name: str
    role: str
    value: str
    placements: tuple[Placement, ...]


@dataclass(frozen=True)
class Plan:
    """Where every square goes.

    ``left_over`` are squares that no stack needs; ``stayed_out`` those locked out. ``margins`` are
    sentences on squares that could change places; ``evenness`` pairs (figure in words, number);
    ``second_look`` sentences on what to check by eye; ``proof`` one sentence: optimal, or the gap.
    """

    pattern: str
    size: str
    background: Background
    stacks: tuple[PlannedStack, ...]
    left_over: tuple[Placement, ...]
    stayed_out: tuple[str, ...] = ()
    margins: tuple[str, ...] = ()
    evenness: tuple[tuple[str, float], ...] = ()
    second_look: tuple[str, ...] = ()
    proof: str = ""
