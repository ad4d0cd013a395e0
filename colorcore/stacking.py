"""Deal a bundle into the stacks of a pattern."""

from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray


@dataclass(frozen=True, eq=False)
class Background:
    """The fabric that the pieces are sewn to.

    ``label`` as the maker gave it; ``lab`` its reads-as CIELAB and ``lab_sd``; ``picture`` an
    sRGB-coded uint8 array (N, M, 3) at ``pixels_per_inch`` for a print, None for a plain colour.
    """

    label: str
    lab: tuple[float, float, float]
    lab_sd: tuple[float, float, float] = (0.0, 0.0, 0.0)
    picture: NDArray[np.uint8] | None = field(default=None, repr=False)
    pixels_per_inch: float = 0.0


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
