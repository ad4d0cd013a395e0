"""Which plain colours cloth comes in."""

from dataclasses import replace

import numpy as np
import pytest

from colorcore.contrast import Background
from colorcore.contrast.cloth import (
    DARKEST_CLOTH,
    LIGHTEST_CLOTH,
    as_cloth_comes,
    is_beyond_cloth,
)


@pytest.mark.parametrize("lightness", [12.0, 55.0, 97.4])
def test_what_cloth_comes_in_stays_as_it_is(lightness: float) -> None:
    background = Background("mine", (lightness, 3.0, -2.0))
    assert as_cloth_comes(background) == (background, "")


def test_what_was_measured_stays_however_light_or_dark() -> None:
    doubtful = Background("square A3", (99.0, 0.0, 0.0), lab_sd=(1.0, 0.5, 0.5))
    printed = replace(doubtful, lab_sd=(0.0,) * 3, picture=np.zeros((2, 2, 3), np.uint8))
    assert as_cloth_comes(doubtful) == (doubtful, "")
    assert as_cloth_comes(printed) == (printed, "")


@pytest.mark.parametrize(
    ("lab", "word", "limit"),
    [
        ((100.0, 0.0, 0.0), "light", LIGHTEST_CLOTH),
        ((99.0, -4.0, 12.0), "light", LIGHTEST_CLOTH),
        ((0.0, 0.0, 0.0), "dark", DARKEST_CLOTH),
        ((5.0, 8.0, -20.0), "dark", DARKEST_CLOTH),
        ((4.0, 50.0, -90.0), "dark", DARKEST_CLOTH),
    ],
)
def test_what_no_cloth_is_gives_way_to_the_nearest(
    lab: tuple[float, float, float], word: str, limit: float
) -> None:
    nearest, told = as_cloth_comes(Background("ink", lab))
    assert not is_beyond_cloth(nearest)
    if np.hypot(*lab[1:]) < 40:
        assert nearest.lab == pytest.approx((limit, *lab[1:]), abs=1)
    assert told.startswith(f"No cloth is as {word} as ink (L* {lab[0]:.0f}): {nearest.label} (")
    assert as_cloth_comes(nearest) == (nearest, "")
