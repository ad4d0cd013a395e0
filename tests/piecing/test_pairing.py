"""Which prints meet."""

from itertools import permutations

import numpy as np
import pytest

from colorcore.color.difference import ciede2000
from colorcore.cutting.kits import cut_stacks
from colorcore.errors import CuttingError
from colorcore.pattern import parse_pattern
from colorcore.pattern.layout import spread, touching
from colorcore.pattern.units import read_units
from colorcore.piecing import pair
from colorcore.piecing.pairing import CLEARLY_DIFFERENT, _Terms
from tests.piecing.making import make_quilt, make_swatch

FOUR_PATCHES = """
name = "Two pairs"
[[stack]]
name = "Prints"
role = "fill"
value = "mixed"
[[size]]
name = "mat"
squares = { Prints = 7 }
across = 7
down = 1
[[unit]]
name = "patch"
rows = [["print"]]
[unit.fabrics]
print = { stack = "Prints" }
[[unit.patch]]
name = "print"
shape = "plain"
width = "6"
height = "6"
fabric = "print"
[layout]
tile = [["patch"]]
"""


@pytest.mark.parametrize("name", ["gatepost-stars", "hedgerow-geese", "lamplight-rails"])
def test_every_slot_gets_a_kit_of_its_stack_and_no_kit_twice(name: str) -> None:
    layout, cuts, squares = make_quilt(name, copies=6)
    pairing = pair(layout, cuts, squares)
    of_stack = {cut.square: stack.stack for stack in cuts for cut in stack.cuts}
    for slot, supply in zip(layout.slots, pairing.supplies, strict=True):
        assert of_stack[supply.square] == slot.stack == supply.stack
        assert sorted(sorted((p.width, p.height)) for p in supply.parts) == sorted(
            sorted((k.width, k.height)) for k in slot.kit for _ in range(k.count)
        )
    corners = [(s.square, p.x, p.y) for s in pairing.supplies for p in s.parts]
    assert len(corners) == len(set(corners))


@pytest.mark.parametrize("name", ["gatepost-stars", "hedgerow-geese", "lamplight-rails"])
def test_no_fabric_beside_itself(name: str) -> None:
    layout, cuts, squares = make_quilt(name, copies=6)
    pairing = pair(layout, cuts, squares)
    assert pairing.repeats == ()
    meets = touching(layout)
    fabric = [squares[s].fabric for s in pairing.squares()]
    beside = [(i, j) for i, j in zip(*np.nonzero(meets), strict=True) if i < j]
    assert beside
    assert not [(i, j) for i, j in beside if fabric[i] == fabric[j]]


def test_prints_of_a_four_patch_differ_clearly() -> None:
    layout, cuts, squares = make_quilt("gatepost-stars", copies=6)
    pairing = pair(layout, cuts, squares)
    labs = [squares[s].lab for s in pairing.squares()]
    apart = [
        float(ciede2000(np.array(labs[slot.number]), np.array(labs[other])))
        for slot in layout.slots
        for other in slot.different
    ]
    assert len(apart) == 2 * 56
    below = [d for d in apart if d < CLEARLY_DIFFERENT]
    assert len(below) / len(apart) <= 0.02
    assert len(pairing.alike) == len(below) // 2


def test_same_seed_same_quilt_and_another_seed_another() -> None:
    layout, cuts, squares = make_quilt("gatepost-stars")
    first, again = pair(layout, cuts, squares), pair(layout, cuts, squares)
    assert first.squares() == again.squares()
    assert first.cost == again.cost
    assert pair(layout, cuts, squares, seed=2).squares() != first.squares()


def test_locks_hold() -> None:
    layout, cuts, squares = make_quilt("gatepost-stars")
    stars = [s.number for s in layout.slots if s.stack == "Stars"]
    darkest = cuts[0].cuts[0].square
    pairing = pair(layout, cuts, squares, locks={stars[5]: darkest})
    assert pairing.supplies[stars[5]].square == darkest
    assert pairing.locked == (stars[5],)
    with pytest.raises(CuttingError, match="no piece left"):
        pair(layout, cuts, squares, locks={stars[5]: darkest, stars[6]: darkest})
    with pytest.raises(CuttingError, match="no slot"):
        pair(layout, cuts, squares, locks={9999: darkest})


@pytest.mark.parametrize("seed", range(4))
def test_a_row_of_seven_is_as_good_as_the_best_of_all_orders(seed: int) -> None:
    pattern = parse_pattern(FOUR_PATCHES)
    layout = spread(read_units(pattern), "mat")
    rng = np.random.default_rng(seed)
    squares = {}
    for i in range(7):
        lab = (float(rng.uniform(20, 90)), float(rng.uniform(-40, 40)), float(rng.uniform(-40, 40)))
        squares[f"A{i + 1}"] = make_swatch(f"A{i + 1}", lab, fabric=i // 2)
    cuts = cut_stacks(layout, {"Prints": list(squares)})
    terms = _Terms.of(layout, [squares[s] for s in sorted(squares)])
    best = min(terms.cost(np.array(order)) for order in permutations(range(7)))
    assert pair(layout, cuts, squares).cost == pytest.approx(best)


def test_too_few_squares_are_told_in_words() -> None:
    layout, cuts, squares = make_quilt("gatepost-stars")
    short = cut_stacks(layout, {c.stack: [k.square for k in c.cuts][:9] for c in cuts})
    assert not short[0].ok
    assert "5 short" in short[0].sentence
    with pytest.raises(CuttingError, match="Stars"):
        pair(layout, short, squares)
