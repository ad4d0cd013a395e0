"""What a pattern wants, as frozen dataclasses."""

from dataclasses import dataclass
from enum import StrEnum
from fractions import Fraction


class Role(StrEnum):
    """What a stack is for: the units that must stand out, or what lies around them."""

    FOCAL = "focal"
    FILL = "fill"


class ValueRule(StrEnum):
    """Which values a stack takes."""

    DARK = "dark"
    MEDIUM = "medium"
    LIGHT = "light"
    MIXED = "mixed"


@dataclass(frozen=True)
class PieceRule:
    """A piece cut from each square of a stack: cut size in inches, seam allowance included."""

    name: str
    width: Fraction
    height: Fraction
    per_square: int


@dataclass(frozen=True)
class StackRule:
    """One stack of a pattern at one size.

    ``squares`` wanted; ``max_copies`` of one fabric, or None; ``min_contrast`` in L* units against
    the background, or None; ``touches`` names the stacks whose pieces lie beside this one's;
    ``beside_background`` says whether its pieces are sewn to the background.
    """

    name: str
    role: Role
    value: ValueRule
    squares: int
    pieces: tuple[PieceRule, ...] = ()
    max_copies: int | None = None
    min_contrast: float | None = None
    touches: tuple[str, ...] = ()
    beside_background: bool = True


@dataclass(frozen=True)
class PatternSize:
    """A size of a pattern: how many bundles it takes, the finished size in inches, its stacks."""

    name: str
    bundles: int
    finished: tuple[Fraction, Fraction] | None
    stacks: tuple[StackRule, ...]


@dataclass(frozen=True)
class Pattern:
    """A pattern. ``sizes`` holds at least one; the first is the default."""

    name: str
    description: str
    square_inches: float
    sizes: tuple[PatternSize, ...]
