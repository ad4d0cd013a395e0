"""Same-fabric groups of drawn prints: copies found, colourways and look-alikes kept apart."""

from collections.abc import Sequence

import cv2
import numpy as np
import pytest

from colorcore.bundle import group_fabrics
from colorcore.color.spaces import coded8_from_linear, linear_from_coded
from colorcore.swatch import Swatch
from tests.swatch.making import Lab, dots, grain, measured, paint, scattered, stripes

CREAM, NAVY = (88.0, 0.0, 8.0), (25.0, 8.0, -25.0)
RED, GREEN = (45.0, 50.0, 25.0), (60.0, -30.0, 20.0)


def lit(cloth: np.ndarray, gain: float, slope: float) -> np.ndarray:
    """The same under light that is off by a gain and falls off from left to right."""
    n = cloth.shape[1]
    fall = gain * (1 + slope * np.linspace(-1, 1, n))
    return coded8_from_linear(linear_from_coded(cloth) * fall[None, :, None])


def grouped(cloths: Sequence[np.ndarray]) -> list[int]:
    return [s.fabric for s in group_fabrics([measured(grain(c, i)) for i, c in enumerate(cloths)])]


@pytest.mark.parametrize("turns", [0, 1, 2, 3])
def test_copies_cut_elsewhere_turned_and_under_other_light(turns: int) -> None:
    inks: tuple[Lab, ...] = (CREAM, NAVY)
    one = paint(dots(1.1, 0.3), *inks)
    copy = lit(np.rot90(paint(dots(1.1, 0.3, 0.4, 0.7), *inks), turns), 1.01, 0.015)
    assert grouped([one, copy]) == [0, 0]


def test_a_shifted_scatter_is_recognised() -> None:
    whole = np.tile(paint(scattered(5, 1.2, 120), CREAM, RED, GREEN), (2, 2, 1))
    assert grouped([whole[:300, :300], whole[60:360, 90:390], whole[100:400, 30:330]]) == [0, 0, 0]


def test_colourways_of_one_design_stay_apart() -> None:
    which = dots(1.1, 0.3)
    assert grouped([paint(which, CREAM, NAVY), paint(which, CREAM, RED)]) == [0, 1]


def test_swapped_inks_stay_apart() -> None:
    which = stripes(1.0, 0.0, 0.5)
    assert grouped([paint(which, CREAM, NAVY), paint(dots(1.0, 0.399), CREAM, NAVY)]) == [0, 1]


def test_other_scale_of_the_same_design_stays_apart() -> None:
    assert grouped([paint(dots(1.0, 0.3), CREAM, NAVY), paint(dots(0.7, 0.21), CREAM, NAVY)]) == [
        0,
        1,
    ]


def test_solids_join_by_colour_alone() -> None:
    plain = np.zeros((300, 300), np.int64)
    near = (RED[0] + 0.1, RED[1], RED[2])
    far = (RED[0] + 4, RED[1], RED[2])
    assert grouped([paint(plain, RED), paint(plain, near), paint(plain, far)]) == [0, 0, 1]


def test_a_solid_is_not_a_print_of_the_same_mean() -> None:
    which = dots(0.8, 0.25)
    swatch = measured(paint(which, CREAM, NAVY))
    plain = paint(np.zeros((300, 300), np.int64), swatch.lab)
    assert grouped([paint(which, CREAM, NAVY), plain]) == [0, 1]


def test_numbers_follow_first_appearance_and_any_order_gives_the_same_groups() -> None:
    cloths = [
        paint(dots(1.1, 0.3), CREAM, NAVY), paint(stripes(0.8), GREEN, RED),
        paint(dots(1.1, 0.3, 0.5, 0.2), CREAM, NAVY), paint(scattered(1, 1.0), RED, NAVY, CREAM),
        paint(stripes(0.8), GREEN, RED)[::-1],
    ]  # fmt: skip
    squares: list[Swatch] = [measured(grain(np.ascontiguousarray(c), 0)) for c in cloths]
    assert [s.fabric for s in group_fabrics(squares)] == [0, 1, 0, 2, 1]
    order = [4, 2, 0, 3, 1]
    assert [s.fabric for s in group_fabrics([squares[k] for k in order])] == [0, 1, 1, 2, 0]


def test_nothing_and_one() -> None:
    assert group_fabrics([]) == ()
    assert grouped([paint(dots(1.0, 0.3), CREAM, RED)]) == [0]


def test_a_blurred_copy_is_still_a_copy() -> None:
    cloth = paint(scattered(8, 1.5, 80), CREAM, RED, NAVY)
    soft = np.asarray(cv2.GaussianBlur(cloth, (0, 0), 1.0))
    assert grouped([cloth, soft]) == [0, 0]
