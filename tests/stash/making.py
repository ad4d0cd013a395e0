"""Entries made up for tests."""

from dataclasses import replace
from fractions import Fraction
from typing import Any

import numpy as np

from colorcore.color.spaces import coded_from_linear, linear_from_lab
from colorcore.stash import Kind, NewEntry
from colorcore.swatch import PaletteColor, Swatch


def make_swatch(lab: tuple[float, float, float] = (50.0, 20.0, 10.0), **changes: Any) -> Swatch:
    """A solid of that colour, 10 inches square."""
    coded = coded_from_linear(linear_from_lab(np.array(lab)))
    picture = np.broadcast_to(
        np.rint(np.clip(coded, 0, 1) * 255).astype(np.uint8), (40, 40, 3)
    ).copy()
    plain = Swatch(
        id="A1", photo=0, row=0, column=0,
        corners=((0.0, 0.0), (10.0, 0.0), (10.0, 10.0), (0.0, 10.0)),
        lab=lab, lab_sd=(0.5, 0.3, 0.3), value_spread=1.0, palette=(PaletteColor(lab, 1.0),),
        print_scale_inches=None, stripe_degrees=None, busyness=0.5, reads_as_solid=True,
        fabric=-1, confidence=0.99, flags=(), side_inches=10.0, picture=picture,
    )  # fmt: skip
    return replace(plain, **changes)


def make_entry(name: str = "Harbour blue", **changes: Any) -> NewEntry:
    plain = NewEntry(
        name=name, kind=Kind.FABRIC, amount=Fraction(3, 2), unit="yards", swatch=make_swatch(),
        place="shelf 2", note="", reference="paper", trust="B",
    )  # fmt: skip
    return replace(plain, **changes)
