"""A plan laid by hand is told like a dealt one, with what the pattern misses."""

import pytest

from colorcore.bundle import Bundle
from colorcore.contrast import Background
from colorcore.errors import DealError
from colorcore.pattern import read_pattern
from colorcore.stacking import deal, lay_by_hand
from tests.stacking.making import make_bundle

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


def test_what_cannot_be(bundle, pattern):
    places = _places(deal(bundle, pattern, WHITE))
    with pytest.raises(DealError, match="no stack 'Moon'"):
        lay_by_hand(bundle, pattern, WHITE, {**places, bundle.squares[0].id: "Moon"})
    none = {square: stack.replace("Stars", "") for square, stack in places.items()}
    with pytest.raises(DealError, match="left empty"):
        lay_by_hand(bundle, pattern, WHITE, none)
