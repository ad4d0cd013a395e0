import csv
import io
from dataclasses import replace

from colorcore.plain import cell
from colorcore.sheets.plan_csv import COLUMNS, plan_csv
from colorcore.sheets.view import view_plan
from tests.sheets.making import make_bundle, make_plan


def test_a_line_a_square_with_the_numbers() -> None:
    bundle = make_bundle()
    plan = make_plan(bundle, spare=3)
    text = plan_csv(view_plan(plan, bundle))
    rows = list(csv.DictReader(io.StringIO(text, newline="")))
    assert tuple(rows[0]) == COLUMNS
    assert len(rows) == 42
    by_square = {row["square"]: row for row in rows}
    for square in bundle.squares:
        row = by_square[square.id]
        assert abs(float(row["lightness"]) - square.lab[0]) < 0.005
        assert abs(float(row["a"]) - square.lab[1]) < 0.005
    for stack in plan.stacks:
        got = [row for row in rows if row["stack"] == stack.name]
        assert [row["square"] for row in got] == [p.square for p in stack.placements]
        assert [row["place"] for row in got] == [str(n) for n in range(1, len(got) + 1)]
    assert [row["stack"] for row in rows[-3:]] == ["left over"] * 3
    assert text.count("\r\n") == 43


def test_formulas_are_disarmed() -> None:
    bundle = make_bundle(2, 3)
    plan = make_plan(bundle)
    evil = '=HYPERLINK("http://example.invalid","look")'
    stacks = (replace(plan.stacks[0], name=evil), *plan.stacks[1:])
    text = plan_csv(view_plan(replace(plan, stacks=stacks), bundle))
    for row in csv.DictReader(io.StringIO(text, newline="")):
        for column, value in row.items():
            if column in ("stack", "role", "square", "color", "why", "look_again"):
                assert value[:1] not in ("=", "+", "-", "@", "\t", "\r"), (column, value)


def test_cell() -> None:
    # OWASP, "CSV Injection": the characters that begin a formula.
    for start in ("=", "+", "-", "@", "\t", "\r", "\n"):
        assert cell(f"{start}1+1") == f"'{start}1+1"
    assert cell("B3") == "B3"
    assert cell("") == ""
