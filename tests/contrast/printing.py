"""Prints painted for the tests, whose true answer follows from how they were painted."""

import numpy as np

from colorcore.color.spaces import coded8_from_linear, lab_from_linear, linear_from_lab
from colorcore.color.spaces import linear_from_coded as linear_from_coded
from colorcore.swatch import Swatch
from tests.stacking.making import make_swatch

PIXELS = 20
SIDE = 10
Mask = np.ndarray


def places() -> tuple[np.ndarray, np.ndarray]:
    """x and y in inches of the middle of every pixel."""
    middle = (np.arange(PIXELS * SIDE) + 0.5) / PIXELS
    x, y = np.meshgrid(middle, middle)
    return x, y


def paint(ground: float, motif: float, where: Mask) -> np.ndarray:
    """A grey print (N, N, 3): L* ``ground`` with motifs of L* ``motif``."""
    light = np.where(
        where[..., None], linear_from_lab((motif, 0, 0)), linear_from_lab((ground, 0, 0))
    )
    return coded8_from_linear(light)


def printed_square(
    name: str, ground: float, motif: float, where: Mask, *, valid: Mask | None = None
) -> Swatch:
    picture = paint(ground, motif, where)
    mean = linear_from_coded(picture).reshape(-1, 3).mean(axis=0)
    lab = tuple(float(v) for v in lab_from_linear(mean))
    swatch = make_swatch(name, (lab[0], lab[1], lab[2]), scale=2.0, picture=picture)
    if valid is None:
        return swatch
    from dataclasses import replace

    return replace(swatch, valid=valid)
