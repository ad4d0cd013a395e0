"""Carry a measured square over to another photo's scale of light."""

from dataclasses import replace
from typing import Final

import numpy as np
from numpy.typing import NDArray

from colorcore.color.spaces import (
    coded8_from_linear,
    lab_from_linear,
    linear_from_coded,
    linear_from_lab,
)
from colorcore.swatch.model import PaletteColor, Swatch

Triple = tuple[float, float, float]

_MOST_OWN_SD: Final = 3.0
"""CIELAB units of doubt that go with a square to another photo's scale (our choice). What was more
came of its own photo's light, of which nothing is left then; what the gain leaves open is added."""


def rescale(swatch: Swatch, gain: NDArray[np.float64], added_sd: Triple) -> Swatch:
    """Return the square with linear light multiplied by ``gain`` (3,).

    Reads-as colour, palette, value spread, busyness and picture follow; ``added_sd`` is one
    standard deviation (3,) of what the gain itself leaves open, in CIELAB.
    """
    scale = _lightness_scale(swatch, gain)
    sd = np.hypot(np.minimum(swatch.lab_sd, _MOST_OWN_SD), added_sd)
    linear = linear_from_coded(swatch.picture) * np.asarray(gain, dtype=np.float32)
    return replace(
        swatch,
        lab=_moved(swatch.lab, gain),
        lab_sd=(round(float(sd[0]), 3), round(float(sd[1]), 3), round(float(sd[2]), 3)),
        palette=tuple(PaletteColor(_moved(c.lab, gain), c.share) for c in swatch.palette),
        value_spread=round(swatch.value_spread * scale, 2),
        busyness=round(swatch.busyness * scale, 2),
        picture=coded8_from_linear(linear),
        flags=tuple(f for f in swatch.flags if f != "no-reference"),
    )


def _moved(lab: Triple, gain: NDArray[np.float64]) -> Triple:
    moved = lab_from_linear(linear_from_lab(np.array(lab)) * gain)
    return round(float(moved[0]), 3), round(float(moved[1]), 3), round(float(moved[2]), 3)


def _lightness_scale(swatch: Swatch, gain: NDArray[np.float64]) -> float:
    """How much differences of L* within the print grow: L* goes with the cube root of light."""
    before = swatch.lab[0] + 16
    return (_moved(swatch.lab, gain)[0] + 16) / before
