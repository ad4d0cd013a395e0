"""What is kept of a fabric, a solid or a thread."""

from dataclasses import dataclass, field
from enum import StrEnum
from fractions import Fraction
from typing import Final

from colorcore.errors import StashError
from colorcore.swatch import PaletteColor, Swatch


class Kind(StrEnum):
    """What an entry is."""

    FABRIC = "fabric"
    SOLID = "solid"
    THREAD = "thread"


#: In what amounts are counted.
AMOUNT_UNITS: Final = ("yards", "fat quarters", "squares", "spools")
#: Grades of how far a measurement can be trusted, best first.
TRUSTS: Final = ("A", "B", "C", "D")
MOST_AMOUNT: Final = 100_000
MOST_TEXT: Final = 2_000


@dataclass(frozen=True)
class NewEntry:
    """An entry before it is kept.

    ``swatch`` is all that was measured; ``reference`` and ``trust`` (A to D) say what its colours
    rest on; ``source`` tells one measured piece of one photo from all others (the photo's sha256
    and the piece's number in it), so that adding the same photo twice adds nothing; ``jpeg`` is
    the swatch's picture as a JPEG file, if there is one already, so that it is not coded again.

    Raises
    ------
    StashError
        If the name is empty or a text too long, or the amount is negative or enormous.
    """

    name: str
    kind: Kind
    amount: Fraction
    unit: str
    swatch: Swatch
    place: str = ""
    note: str = ""
    reference: str = "none"
    trust: str = "D"
    source: str = ""
    jpeg: bytes | None = field(default=None, repr=False)

    def __post_init__(self) -> None:
        check_name(self.name)
        check_amount(self.amount, self.name)
        if self.unit not in AMOUNT_UNITS:
            raise StashError(
                f"{self.name}: '{self.unit}' is no unit here; use {', '.join(AMOUNT_UNITS)}."
            )
        for what, text in (("place", self.place), ("note", self.note)):
            if len(text) > MOST_TEXT:
                raise StashError(
                    f"{self.name}: the {what} has {len(text)} letters; shorten it to {MOST_TEXT}."
                )


@dataclass(frozen=True)
class StashEntry:
    """An entry as it is kept, without its picture.

    ``lab`` and ``lab_sd`` in CIELAB (D65, 2 degrees); ``added`` and ``removed`` are UTC times in
    ISO 8601, ``removed`` "" while it is there.
    """

    id: int
    name: str
    kind: Kind
    amount: Fraction
    unit: str
    place: str
    note: str
    lab: tuple[float, float, float]
    lab_sd: tuple[float, float, float]
    value_spread: float
    print_scale_inches: float | None
    busyness: float
    reads_as_solid: bool
    palette: tuple[PaletteColor, ...]
    reference: str
    trust: str
    source: str
    added: str
    removed: str = ""


def check_name(name: str) -> None:
    """Raise StashError if a name is empty, blank, too long or of several lines."""
    if not name.strip():
        raise StashError("a stash entry needs a name; give one that you will know it by.")
    if len(name) > 200 or "\n" in name or "\r" in name:
        raise StashError("a stash name is one line of at most 200 letters; shorten it.")


def check_amount(amount: Fraction, name: str) -> None:
    """Raise StashError if an amount is negative or enormous."""
    if not 0 <= amount <= MOST_AMOUNT:
        raise StashError(f"{name}: an amount lies between 0 and {MOST_AMOUNT}, not {amount}.")
