"""How a pattern is sewn.

A unit is rows of patches and of smaller units, each turned by quarters or mirrored as its place
asks. A section is a unit of units that is sewn first and then joined. A size of the pattern says
how many units run across and down, and its borders and binding.
"""

from collections.abc import Mapping
from dataclasses import dataclass
from fractions import Fraction
from typing import Final

from colorcore.pattern.patches import Patch

BACKGROUND: Final = "background"


@dataclass(frozen=True)
class FabricSource:
    """Where a fabric of a unit comes from: one of a ``stack``, a ``yardage`` by its name (the
    background, a border's), or the ``same_as`` another fabric of the unit; ``different_from``
    names fabrics of the unit that it must not repeat."""

    name: str
    stack: str | None = None
    yardage: str | None = None
    same_as: str | None = None
    different_from: tuple[str, ...] = ()


@dataclass(frozen=True)
class Placed:
    """A patch, unit or section in its place: mirrored left to right first, then turned clockwise
    by ``turn`` degrees (0, 90, 180 or 270)."""

    name: str
    turn: int = 0
    mirrored: bool = False

    @property
    def words(self) -> str:
        """The name with how it lies."""
        said = [self.name]
        if self.mirrored:
            said.append("mirrored")
        if self.turn:
            said.append(f"turned {self.turn}°")
        return ", ".join(said)


@dataclass(frozen=True)
class Unit:
    """Rows of patches and units. ``width`` and ``height`` are finished inches; ``square`` is the
    side of the squares that its fabrics from stacks are cut from."""

    name: str
    fabrics: tuple[FabricSource, ...]
    patches: tuple[Patch, ...]
    rows: tuple[tuple[Placed, ...], ...]
    width: Fraction
    height: Fraction
    square: Fraction
    is_section: bool = False

    def source(self, fabric: str) -> FabricSource:
        """Return where a fabric really comes from, 'same as' followed to its end."""
        by_name = {source.name: source for source in self.fabrics}
        source = by_name[fabric]
        while source.same_as is not None:
            source = by_name[source.same_as]
        return source


@dataclass(frozen=True)
class Border:
    """A border of finished ``width`` inches from a yardage, sides sewn on first."""

    name: str
    width: Fraction
    fabric: str


@dataclass(frozen=True)
class Binding:
    """Straight-grain binding: cut width of its strips, folded in half, and its yardage."""

    strip: Fraction = Fraction(5, 2)
    fabric: str = "binding"


@dataclass(frozen=True)
class Quilt:
    """One size of a pattern as units in rows; ``width`` and ``height`` finished, with borders."""

    size: str
    rows: tuple[tuple[Placed, ...], ...]
    borders: tuple[Border, ...]
    binding: Binding
    width: Fraction
    height: Fraction


@dataclass(frozen=True, eq=False)
class Sewing:
    """The units of a pattern by name, and its sizes as quilts by name."""

    units: Mapping[str, Unit]
    quilts: Mapping[str, Quilt]

    def quilt(self, size: str) -> Quilt | None:
        """Return the quilt of a size, or None if the pattern does not say how it is sewn."""
        return self.quilts.get(size)
