"""What a pattern wants, as frozen dataclasses."""

from collections.abc import Mapping
from dataclasses import dataclass, field
from enum import StrEnum
from fractions import Fraction
from typing import Any, Final

_SIDE_TOLERANCE: Final = 0.25
"""Inches by which a square may be smaller or larger than its pattern says; precuts vary by less."""


def is_too_small(side: float, wanted: float) -> bool:
    """True if squares of so many inches are smaller than squares of the ``wanted`` inches."""
    return side < wanted - _SIDE_TOLERANCE


def is_too_large(side: float, wanted: float) -> bool:
    """True if of squares of so many inches more than a rim is left over where squares of the
    ``wanted`` inches are cut."""
    return side > wanted + _SIDE_TOLERANCE


def squares_within(side: float, wanted: float) -> int:
    """Return how many squares of the ``wanted`` inches one of ``side`` inches gives; one that is
    a thread smaller counts as whole."""
    return int((side + _SIDE_TOLERANCE) // wanted) ** 2


def say_waste(side: float, wanted: float) -> str:
    """Return what is left over of a square of ``side`` inches where the ``wanted`` inches are
    cut, and what it would give if it were cut up."""
    over = f"{1 - (wanted / side) ** 2:.0%}".replace("%", " %")
    many = squares_within(side, wanted)
    up = f" (cut up first, it gives {many} squares of {wanted:g} in)" if many > 1 else ""
    return f"{over} of a square of {side:g} in is left over{up}"


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
    """A size of a pattern: how many bundles it takes, the finished size in inches, its stacks.

    ``sewing`` holds what the file says of this size beyond its stacks, as TOML gives it.
    """

    name: str
    bundles: int
    finished: tuple[Fraction, Fraction] | None
    stacks: tuple[StackRule, ...]
    sewing: Mapping[str, Any] = field(default_factory=dict, compare=False, repr=False)

    @property
    def squares(self) -> int:
        """How many squares all stacks want together."""
        return sum(stack.squares for stack in self.stacks)


@dataclass(frozen=True)
class Pattern:
    """A pattern. ``sizes`` holds at least one; the first is the default.

    ``sewing`` holds the tables of the file that say how pieces become a quilt (units, borders,
    binding), as TOML gives them; ``source`` is the file they came from, for error sentences, and
    ``text`` is what stands in it.
    """

    name: str
    description: str
    square_inches: float
    sizes: tuple[PatternSize, ...]
    sewing: Mapping[str, Any] = field(default_factory=dict, compare=False, repr=False)
    source: str = field(default="", compare=False)
    text: str = field(default="", compare=False, repr=False)

    def stacks_apart(self, size: str = "") -> frozenset[str]:
        """Return the names of stacks that no background is sewn to, at one size or the first."""
        sizes = [s for s in self.sizes if s.name == size] or [self.sizes[0]]
        return frozenset(rule.name for rule in sizes[0].stacks if not rule.beside_background)

    def is_too_small(self, side: float) -> bool:
        """True if squares of so many inches are smaller than those that the pattern cuts."""
        return is_too_small(side, self.square_inches)
