"""Fabrics of the bundle beside each other."""

import numpy as np
import pytest

from colorcore.contrast.pairs import judge_pair, judge_touching
from tests.contrast.printing import places, printed_square
from tests.stacking.making import make_rule, make_swatch


def test_print_against_print() -> None:
    x, _ = places()
    half = printed_square("A1", 20.0, 80.0, x % 2 < 1)
    light = printed_square("A2", 80.0, 80.0, np.zeros_like(x, dtype=bool))
    pair = judge_pair(half, light)
    # Half of the print is as light as its neighbour: there the seam melts.
    assert pair.melts == pytest.approx(0.5, abs=0.05)
    assert pair.holds == pytest.approx(0.5, abs=0.08)
    assert pair.delta_l == pytest.approx(half.lab[0] - light.lab[0])
    both = judge_pair(half, half)
    assert both.melts == pytest.approx(0.5, abs=0.06)
    assert both.delta_e == 0


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
