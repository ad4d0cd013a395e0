"""Fabrics of the bundle beside each other."""

from colorcore.contrast.pairs import judge_touching
from tests.stacking.making import make_rule, make_swatch


def test_stacks_that_touch_are_judged_once() -> None:
    rules = (
        make_rule("Fill", 2, touches=("Stars", "Other")),
        make_rule("Stars", 2, role="focal", value="dark", touches=("Fill",)),
        make_rule("Other", 1, touches=("Fill",)),
    )
    dark = [make_swatch("A1", (20.0, 0.0, 0.0)), make_swatch("A2", (45.0, 0.0, 0.0))]
    light = [make_swatch("B1", (60.0, 0.0, 0.0)), make_swatch("B2", (48.0, 40.0, 0.0))]
    stacks = {"Stars": dark, "Fill": light, "Other": []}
    (judged,) = judge_touching(rules, stacks)
    assert (judged.first, judged.second) == ("Stars", "Fill")
    # Steps are 40, 28, 15 and 3; the last pair differs in colour all the same.
    assert (judged.holds, judged.soft, judged.melts) == (0.5, 0.25, 0.25)
    assert judged.alike == 0
    assert judged.focal
    assert judged.closest[0][:2] == ("A2", "B2")
    fills = (make_rule("Stars", 2, touches=("Fill",)), make_rule("Fill", 2))
    (judged,) = judge_touching(fills, stacks)
    assert not judged.focal
    assert judged.closest[0][:2] == ("A2", "B1")
