"""Marking and pressing."""

import pytest

from colorcore.pattern import parse_pattern
from colorcore.pattern.layout import spread
from colorcore.pattern.units import read_units
from colorcore.piecing import advise_marking, pair, plan_pressing
from tests.piecing.making import make_quilt, make_swatch


@pytest.mark.parametrize(
    ("lightness", "tool"), [(15, "chalk"), (35, "chalk"), (64, "either"), (85, "graphite")]
)
def test_chalk_on_dark_graphite_on_light(lightness: float, tool: str) -> None:
    """Chalk on dark cloth: common practice, no source."""
    assert advise_marking(make_swatch("A1", (lightness, 0, 0), spread=0)).tool == tool


def test_a_busy_print_may_hide_any_line() -> None:
    calm = advise_marking(make_swatch("A1", (40, 0, 0), spread=4))
    busy = advise_marking(make_swatch("A1", (40, 0, 0), spread=90))
    assert not calm.busy
    assert busy.busy
    assert "wrong side" in busy.sentence


def test_a_star_is_pressed_toward_its_points_and_its_rows_nest() -> None:
    layout, cuts, squares = make_quilt("gatepost-stars")
    filled = [squares[s] for s in pair(layout, cuts, squares).squares()]
    star = next(u for u in plan_pressing(layout, filled, {"background": 96}) if u.unit == "star")
    first, second, third = (row.seams for row in star.rows)
    # Corner | point: the point is darker, on the right at the first seam, on the left at the last.
    assert [s.darker for s in first] == ["right", "left"]
    for upper, lower in ((first, second), (second, third)):
        for one, other in zip(upper, lower, strict=True):
            assert one.nest
            assert one.nest != other.nest
    # Point | centre: the centre is darker, so the middle row cannot have both.
    assert all(s.disagrees for s in second) or all(s.disagrees for s in (*first, *third))
    assert any("nest" in row.sentence for row in star.rows)
    assert [s.darker for s in star.between] == ["down", "up"]
    assert "outward" in star.patches[0]


STRIPES = """
name = "Stripes"
[[stack]]
name = "Darks"
role = "focal"
value = "dark"
[[size]]
name = "mat"
squares = { Darks = 1 }
rows = [["bars"]]
[[unit]]
name = "bars"
rows = [["a", "b", "a"], ["c"]]
[unit.fabrics]
dark = { stack = "Darks" }
ground = "background"
[[unit.patch]]
name = "a"
shape = "plain"
width = "2"
height = "4"
fabric = "dark"
[[unit.patch]]
name = "b"
shape = "half-square triangles"
width = "4"
height = "4"
upper_left = "dark"
lower_right = "ground"
[[unit.patch]]
name = "c"
shape = "plain"
width = "8"
height = "2"
fabric = "ground"
"""


def test_seams_that_meet_no_other_follow_the_darker_fabric() -> None:
    layout = spread(read_units(parse_pattern(STRIPES)), "mat")
    swatch = make_swatch("A1", (30, 0, 0))
    bars = plan_pressing(layout, [swatch], {"background": 95})[0]
    assert [s.press for s in bars.rows[0].seams] == ["left", "right"]
    assert not any(s.nest for s in bars.rows[0].seams)
    assert bars.rows[0].sentence == "Row 1: seam 1 to the left, seam 2 to the right."
    assert bars.rows[1].sentence == "Row 2: no seam."
    assert bars.between[0].darker == "up"
    assert bars.patches == ("b: press toward the darker triangle.",)
    # On a black background it is the other way round.
    other = plan_pressing(layout, [swatch], {"background": 5})[0]
    assert [s.press for s in other.rows[0].seams] == ["right", "left"]
