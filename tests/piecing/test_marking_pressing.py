"""Marking and pressing."""

import pytest

from colorcore.pattern import parse_pattern
from colorcore.pattern.layout import spread
from colorcore.pattern.units import read_units
from colorcore.piecing import UnitPressing, advise_marking, pair, plan_pressing
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


def test_a_star_is_pressed_away_from_its_points_and_its_rows_nest() -> None:
    layout, cuts, squares = make_quilt("gatepost-stars")
    filled = [squares[s] for s in pair(layout, cuts, squares).squares()]
    star = next(u for u in plan_pressing(layout, filled, {"background": 96}) if u.unit == "star")
    first, second, third = (row.seams for row in star.rows)
    # Corner | point: the point is darker, but sewn of several: corners and centre are plain.
    assert [s.darker for s in first] == ["right", "left"]
    assert [s.press for s in first] == [s.press for s in third] == ["left", "right"]
    assert [s.press for s in second] == ["right", "left"]
    for upper, lower in ((first, second), (second, third)):
        for one, other in zip(upper, lower, strict=True):
            assert one.nest
            assert one.nest != other.nest
    assert not any(s.disagrees for s in (*first, *second, *third))
    assert star.rows[1].sentence == "Row 2: seam 1 to the right, seam 2 to the left."
    assert [s.darker for s in star.between] == ["down", "up"]
    assert "outward" in star.patches[0]


@pytest.mark.parametrize(
    ("background", "most", "others"),
    [
        (36.5, "outward, toward the corner", "inward, toward the base"),
        (23.0, "inward, toward the base", "outward, toward the corner"),
    ],
)
def test_squares_whose_corners_are_pressed_the_other_way_are_named(
    background: float, most: str, others: str
) -> None:
    layout, cuts, squares = make_quilt("gatepost-stars")
    filled = [squares[s] for s in pair(layout, cuts, squares).squares()]
    units = plan_pressing(layout, filled, {"background": background})
    star = next(unit for unit in units if unit.unit == "star")
    stars = {
        square.id: square.lab[0]
        for slot, square in zip(layout.slots, filled, strict=True)
        if slot.unit == "star"
    }
    darker = {name for name, lightness in stars.items() if lightness < background}
    rest = darker if len(darker) < len(stars) / 2 else set(stars) - darker
    assert 1 < len(rest) < len(stars) / 2
    (note,) = star.patches
    said, told = note.split("; but ")
    assert said == f"point: press the corner seam {most}"
    way, names = told.removesuffix(".").split(", where it is cut from ")
    assert way == others
    assert set(names.replace(" and ", ", ").split(", ")) == rest


def test_a_frame_is_pressed_toward_its_strips_away_from_the_block() -> None:
    layout, cuts, squares = make_quilt("gatepost-stars")
    filled = [squares[s] for s in pair(layout, cuts, squares).squares()]
    units = plan_pressing(layout, filled, {"background": 96})
    frame = next(unit for unit in units if unit.unit == "floating star")
    assert [s.press for s in frame.rows[1].seams] == ["left", "right"]
    assert [s.press for s in frame.between] == ["up", "down"]


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


def _press_bars(text: str, background: float) -> UnitPressing:
    layout = spread(read_units(parse_pattern(text)), "mat")
    return plan_pressing(layout, [make_swatch("A1", (30, 0, 0))], {"background": background})[0]


def test_seams_between_plain_pieces_that_meet_no_other_follow_the_darker_fabric() -> None:
    halves = """shape = "half-square triangles"
width = "4"
height = "4"
upper_left = "dark"
lower_right = "ground"
"""
    text = STRIPES.replace(
        halves, 'shape = "plain"\nwidth = "4"\nheight = "4"\nfabric = "ground"\n'
    )
    assert text != STRIPES
    bars = _press_bars(text, 95)
    assert [s.press for s in bars.rows[0].seams] == ["left", "right"]
    assert not any(s.nest for s in bars.rows[0].seams)
    assert bars.rows[0].sentence == "Row 1: seam 1 to the left, seam 2 to the right."
    assert bars.rows[1].sentence == "Row 2: no seam."
    # On a black background it is the other way round.
    assert [s.press for s in _press_bars(text, 5).rows[0].seams] == ["right", "left"]


@pytest.mark.parametrize("background", [95, 5])
def test_seams_go_to_a_plain_piece_rather_than_onto_other_seams(background: float) -> None:
    bars = _press_bars(STRIPES, background)
    assert [s.press for s in bars.rows[0].seams] == ["left", "right"]
    # The strip below is one piece, the row above three.
    assert bars.between[0].press == "down"
    if background == 95:
        assert bars.between[0].darker == "up"
        assert bars.patches == ("b: press toward the darker triangle.",)
