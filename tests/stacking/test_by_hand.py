"""A plan laid by hand is told like a dealt one, with what the pattern misses."""

import pytest

from colorcore.bundle import Bundle
from colorcore.contrast import Background
from colorcore.errors import DealError
from colorcore.pattern import read_pattern
from colorcore.stacking import deal, lay_by_hand
from tests.stacking.making import make_bundle, make_pattern, make_rule, make_swatch

WHITE = Background("white", (97.0, 0.0, 2.0))


@pytest.fixture(scope="module")
def bundle() -> Bundle:
    return make_bundle(42)


@pytest.fixture(scope="module")
def pattern():
    return read_pattern("gatepost-stars")


def _places(plan):
    places = {p.square: s.name for s in plan.stacks for p in s.placements}
    return places | {p.square: "" for p in plan.left_over} | dict.fromkeys(plan.stayed_out, "out")


def test_laying_a_deal_as_it_is_tells_the_same(bundle, pattern):
    dealt = deal(bundle, pattern, WHITE)
    laid = lay_by_hand(bundle, pattern, WHITE, _places(dealt))
    assert laid.stacks == dealt.stacks
    assert laid.second_look == dealt.second_look
    assert laid.evenness == dealt.evenness
    assert "by hand" in laid.proof


def test_order_of_squares_changes_nothing(bundle, pattern):
    places = _places(deal(bundle, pattern, WHITE))
    turned = Bundle(bundle.squares[::-1], bundle.photos)
    assert (
        lay_by_hand(turned, pattern, WHITE, places).stacks
        == lay_by_hand(bundle, pattern, WHITE, places).stacks
    )


def test_a_moved_square_is_there_and_the_counts_are_said(bundle, pattern):
    places = _places(deal(bundle, pattern, WHITE))
    stars = [square for square, stack in places.items() if stack == "Stars"]
    places |= {stars[0]: "First chain", stars[1]: "out", stars[2]: ""}
    plan = lay_by_hand(bundle, pattern, WHITE, places, locked=[stars[0]])
    assert _places(plan) == places
    assert plan.second_look[0].startswith("Stars: 3 too few")
    assert plan.second_look[1].startswith("First chain: 1 too many")
    moved = next(p for s in plan.stacks for p in s.placements if p.square == stars[0])
    assert moved.locked
    assert plan.stayed_out == (stars[1],)


def test_the_figures_count_what_lies_there(bundle, pattern):
    places = _places(deal(bundle, pattern, WHITE))
    chain = [square for square, stack in places.items() if stack == "First chain"]
    # Half of a stack taken away: a pattern's own number would count squares that are not there.
    places |= dict.fromkeys(chain[::2], "")
    plan = lay_by_hand(bundle, pattern, WHITE, places)
    (first, second) = (s for s in plan.stacks if s.value == "mixed")
    told = [words.split(": ")[1] for words, _ in plan.evenness]
    for band in ("dark", "medium", "light"):
        counts = [sum(p.band == band for p in stack.placements) for stack in (first, second)]
        words = f"{band} squares {counts[0]} and {counts[1]}, apart by"
        assert (words in told) == any(counts)


def test_a_stack_with_a_darker_square_outside_is_not_clearly_apart():
    darks = [make_swatch(f"A{n}", (20.0 + 2 * n, 0.0, 0.0)) for n in range(1, 5)]
    others = [make_swatch(f"B{n}", (at, 0.0, 0.0)) for n, at in enumerate((50.0, 54.0, 88.0), 1)]
    rules = (make_rule("Stars", 3, role="focal", value="dark"), make_rule("Chain", 4))
    places = {s.id: "Stars" for s in darks[:3]} | {s.id: "Chain" for s in (*others, darks[3])}
    bundle = Bundle((*darks, *others), ())

    def margins() -> str:
        plan = lay_by_hand(bundle, make_pattern(*rules), WHITE, places)
        return " ".join(plan.margins)

    assert "A3 and A4" in margins()
    places |= {"A4": "out"}
    assert "Stars is clearly apart: A3 and B1" in margins()
    places |= {"A4": "Stars", "A1": "Chain"}
    assert "clearly apart" not in margins()


def test_what_cannot_be(bundle, pattern):
    places = _places(deal(bundle, pattern, WHITE))
    with pytest.raises(DealError, match="no stack 'Moon'"):
        lay_by_hand(bundle, pattern, WHITE, {**places, bundle.squares[0].id: "Moon"})
    none = {square: stack.replace("Stars", "") for square, stack in places.items()}
    with pytest.raises(DealError, match="left empty"):
        lay_by_hand(bundle, pattern, WHITE, none)
