"""Squares of cloth made up for tests."""

from dataclasses import replace
from typing import Any

import numpy as np
from numpy.typing import NDArray

from colorcore.color.spaces import coded8_from_linear, linear_from_lab
from colorcore.swatch import PaletteColor, Swatch

Lab = tuple[float, float, float]


def plain_picture(lab: Lab, pixels: int) -> NDArray[np.uint8]:
    """A picture (pixels, pixels, 3) of one colour."""
    color = coded8_from_linear(linear_from_lab(np.array(lab)))
    return np.broadcast_to(color, (pixels, pixels, 3)).copy()


def solid_square(lab: Lab, **changes: Any) -> Swatch:
    """A solid of that colour, 10 inches square; ``changes`` are other fields of it."""
    plain = Swatch(
        id="A1", photo=0, row=0, column=0,
        corners=((0.0, 0.0), (10.0, 0.0), (10.0, 10.0), (0.0, 10.0)),
        lab=lab, lab_sd=(0.6, 0.4, 0.4), value_spread=0.0, palette=(PaletteColor(lab, 1.0),),
        print_scale_inches=None, stripe_degrees=None, busyness=0.0, reads_as_solid=True,
        fabric=-1, confidence=0.99, flags=(), side_inches=10.0,
        picture=changes["picture"] if "picture" in changes else plain_picture(lab, 40),
    )  # fmt: skip
    return replace(plain, **changes)
