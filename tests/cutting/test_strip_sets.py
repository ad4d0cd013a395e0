"""Strip sets on the sheet: what is cut across, and what is one segment already."""

import pytest

from colorcore.pattern import parse_pattern
from colorcore.sheets.cutting_content import sheet_content
from colorcore.sheets.cutting_parts import Content
from tests.cutting.test_sheet import make_making

PATTERN = """
name = "Dash"
[[stack]]
name = "Prints"
role = "fill"
value = "mixed"
[[size]]
name = "mat"
squares = { Prints = 8 }
rows = [["dash", "dash"], ["dash", "dash"]]
[[unit]]
name = "dash"
rows = [[RAILS]]
[unit.fabrics]
print = { stack = "Prints" }
ground = "background"
trim = "trim"
[[unit.patch]]
name = "rail"
shape = "strip set"
width = "3"
height = "3"
strip = [{ width = "1 1/2", fabric = "PRINT" }, { width = "1 1/2", fabric = "ground" }]
[[unit.patch]]
name = "tail"
shape = "plain"
width = "3"
height = "3"
fabric = "print"
"""


def _sheet(rails: int, printed: str = "print", *, across: int = 2, down: int = 2) -> Content:
    """The sheet of units of so many rails and a plain patch."""
    units = ", ".join(['"rail"'] * rails + ['"tail"'])
    row = ", ".join(['"dash"'] * across)
    rows = ", ".join([f"[{row}]"] * down)
    text = PATTERN.replace("RAILS", units).replace("PRINT", printed)
    text = text.replace('rows = [["dash", "dash"], ["dash", "dash"]]', f"rows = [{rows}]")
    return sheet_content(make_making(parse_pattern(text, source="dash.toml")))


def _said(content: Content) -> tuple[list[str], list[str], str]:
    """What is said of the strips: of the unit's pieces, of the yardage, and how they are sewn."""
    (recipe,) = content.recipes
    pieces = [words.partition(" (")[0] for _, _, words in recipe.pieces if "side by" in words]
    gives = [words for page in content.yardage for _, _, words in page.rows if "side by" in words]
    (step,) = [words for words in recipe.steps if "side by side" in words]
    return pieces, gives, step


SEWN = "Rail: sew the strips side by side along their length"


@pytest.mark.parametrize(
    ("rails", "pieces", "gives", "step"),
    [
        (1, ["1 of 2 × 3½ in, sewn side by side"], "4 of 3½ × 2 in, sewn side by side", SEWN),
        (
            2,
            ["1 of 2 × 7 in, sewn side by side, then cut across"],
            "4 of 7 × 2 in, sewn side by side, then cut across",
            f"{SEWN}, then cut across every 3½ in",
        ),
        (
            3,
            [
                "1 of 2 × 7 in, sewn side by side, then cut across",
                "1 of 2 × 3½ in, sewn side by side",
            ],
            "4 of 7 × 2 in, sewn side by side, then cut across and "
            "4 of 3½ × 2 in, sewn side by side",
            f"{SEWN}, then cut across every 3½ in",
        ),
    ],
)
def test_a_strip_of_one_segment_is_not_cut_across(
    rails: int, pieces: list[str], gives: str, step: str
) -> None:
    """A 10-inch square gives strips of two segments of 3½ in."""
    assert _said(_sheet(rails)) == (pieces * 2, [gives], f"{step}.")


def test_strips_of_yardage_alone_are_cut_across_where_they_give_several() -> None:
    pieces, gives, step = _said(_sheet(1, "trim"))
    assert pieces == ["1 of 2 × 3½ in, sewn side by side, then cut across"] * 2
    assert gives == ["4 of 3½ × 2 in, sewn side by side, then cut across"] * 2
    assert step == f"{SEWN}, then cut across every 3½ in."


def test_one_segment_of_yardage_in_the_whole_quilt_is_not_cut_across() -> None:
    pieces, gives, step = _said(_sheet(1, "trim", across=1, down=1))
    assert pieces == ["1 of 2 × 3½ in, sewn side by side"] * 2
    assert gives == ["1 of 3½ × 2 in, sewn side by side"] * 2
    assert step == f"{SEWN}."
