"""How near fabrics come: each figure against its own source, and what is called alike."""

import math
from dataclasses import replace

import pytest

from colorcore.color.difference import ciede2000, cmc
from colorcore.substitutes.closeness import closeness, looks_score
from tests.substitutes.making import striped

BLUE = (40.0, 5.0, -35.0)


def test_the_figures_are_those_of_the_published_formulas():
    one, other = striped(BLUE), striped((43.0, 8.0, -30.0))
    found = closeness(one, other)
    assert found.delta_e == pytest.approx(float(ciede2000(one.lab, other.lab)))
    assert found.cmc == pytest.approx(float(cmc(one.lab, other.lab, 2, 1)))
    assert found.lightness == pytest.approx(3.0)
    assert found.lightness_sd == pytest.approx(math.hypot(0.6, 0.6))


@pytest.mark.parametrize(
    ("step", "grade"),
    [(0.0, "5"), (0.8, "4-5"), (1.7, "4"), (2.5, "3-4"), (3.4, "3"), (4.8, "2-3"), (6.8, "2"),
     (9.6, "1-2"), (13.6, "1"), (40.0, "1")],
)  # fmt: skip
def test_grades_at_the_steps_of_iso_105_a02(step, grade):
    assert closeness(striped(BLUE), striped((40.0 + step, 5.0, -35.0))).grade == grade


def test_the_same_cloth_is_no_difference():
    cloth = striped(BLUE, period=1.0, spread=20.0)
    found = closeness(cloth, cloth)
    assert (found.delta_e, found.octaves, found.prints, found.palette) == (0.0, 0.0, 0.0, 0.0)
    assert looks_score(found) == 0.0


def test_print_scale_in_octaves():
    small, large = striped(BLUE, period=0.5, spread=20), striped(BLUE, period=2.0, spread=20)
    assert closeness(small, large).octaves == pytest.approx(2.0)
    assert closeness(large, small).octaves == pytest.approx(-2.0)
    assert closeness(small, striped(BLUE)).octaves is None
    assert closeness(small, replace(large, flags=("no-scale",))).octaves is None


def test_what_looks_alike_is_ordered_as_an_eye_would():
    original = striped(BLUE, period=1.0, spread=20.0)
    scores = [
        looks_score(closeness(original, other))
        for other in (
            striped((41.0, 5.0, -34.0), period=1.1, spread=21.0),
            striped((41.0, 5.0, -34.0), period=2.5, spread=21.0),
            striped((41.0, 5.0, -34.0)),
            striped((55.0, 40.0, 20.0), period=1.0, spread=20.0),
        )
    ]
    assert scores == sorted(scores)
    assert scores[0] < 0.8
    assert scores[-1] > 3


def test_a_stripe_of_two_colours_is_not_the_plain_mixture():
    """Both read as one colour from afar, and nobody takes the one for the other."""
    stripe = striped((55.0, 0.0, 0.0), period=1.0, spread=60.0)
    plain = striped(stripe.lab)
    found = closeness(stripe, plain)
    assert found.delta_e < 1
    assert looks_score(found) > 2.5


def test_within_a_photo_the_common_doubt_cancels():
    one = replace(striped(BLUE), lab_sd=(8.0, 5.0, 5.0))
    other = replace(striped((44.0, 5.0, -35.0)), lab_sd=(8.0, 5.0, 5.0))
    assert closeness(one, other).lightness_sd == pytest.approx(math.hypot(8, 8))
    assert closeness(one, other, same_photo=True).lightness_sd < 1
