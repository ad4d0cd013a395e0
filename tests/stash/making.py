"""Entries made up for tests."""

from dataclasses import replace
from fractions import Fraction
from typing import Any

from colorcore.stash import Kind, NewEntry
from colorcore.swatch import Swatch
from tests.cloth import solid_square


def make_swatch(lab: tuple[float, float, float] = (50.0, 20.0, 10.0), **changes: Any) -> Swatch:
    """A solid of that colour, 10 inches square."""
    plain = solid_square(lab, lab_sd=(0.5, 0.3, 0.3), value_spread=1.0, busyness=0.5)
    return replace(plain, **changes)


def make_entry(name: str = "Harbour blue", **changes: Any) -> NewEntry:
    plain = NewEntry(
        name=name, kind=Kind.FABRIC, amount=Fraction(3, 2), unit="yards", swatch=make_swatch(),
        place="shelf 2", note="", reference="paper", trust="B",
    )  # fmt: skip
    return replace(plain, **changes)
