"""Glare: left out where it lies, and never seen in white ink."""

import numpy as np
import pytest

from colorcore.color.spaces import coded8_from_linear, linear_from_coded
from colorcore.swatch.glare import find_glare
from colorcore.swatch.rectifying import inner_mask
from tests.swatch.making import dots, grain, inches, measured, paint, scattered, stripes

NAVY, WHITE, RED, BROWN = (
    (22.0, 5.0, -22.0),
    (94.0, 0.0, 2.0),
    (42.0, 50.0, 25.0),
    (45.0, 8.0, 18.0),
)
PRINTS = {
    "solid": np.zeros((300, 300), np.int64),
    "dots": dots(0.9, 0.25),
    "stripes": stripes(1.3, 30.0),
    "scattered": scattered(3, 1.0, 120),
}


def shiny(cloth: np.ndarray, strength: float, wide: float, x0: float, y0: float) -> np.ndarray:
    """The cloth with the image of a lamp (a Gaussian spot, ``wide`` in inches) on it."""
    x, y = inches()
    spot = strength * np.exp(-(((x - x0) / wide) ** 2 + ((y - y0) / wide) ** 2) / 2)
    return coded8_from_linear(linear_from_coded(cloth) + spot[..., None])


@pytest.mark.parametrize("name", list(PRINTS))
@pytest.mark.parametrize(("strength", "wide"), [(0.4, 1.2), (0.6, 1.6)])
def test_glare_is_left_out_of_the_colour(name: str, strength: float, wide: float) -> None:
    cloth = grain(paint(PRINTS[name], NAVY, RED, BROWN), 1)
    plain, glaring = measured(cloth), measured(shiny(cloth, strength, wide, 4.0, 6.0))
    assert "glare" not in plain.flags
    assert "glare" in glaring.flags
    assert np.linalg.norm(np.subtract(plain.lab, glaring.lab)) < 5
    assert glaring.lab_sd[0] > plain.lab_sd[0]
    assert glaring.valid is not None
    assert not glaring.valid[round(6.0 * 19.2), round(4.0 * 19.2)]
    assert glaring.valid[8, 180]


@pytest.mark.parametrize(
    "which",
    [dots(9.0, 2.2, 5.0, 5.0), scattered(4, 3.5, 6), stripes(6.0), dots(4.0, 1.0)],
    ids=["one large white spot", "large flowers", "wide stripes", "white dots"],
)
def test_white_ink_is_no_glare(which: np.ndarray) -> None:
    assert "glare" not in measured(grain(paint(which, NAVY, WHITE, WHITE), 2)).flags


def test_nothing_shown_gives_nothing() -> None:
    linear = np.full((192, 192, 3), 0.2, np.float32)
    assert find_glare(linear, np.zeros((192, 192), np.bool_)) is None
    assert find_glare(linear, inner_mask(192, 0.03)) is None
