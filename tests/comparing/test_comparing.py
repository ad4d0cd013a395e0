"""Plans in figures, and beside each other."""

from dataclasses import replace

import pytest

from colorcore.color.families import HUE_FAMILIES, hue_family
from colorcore.comparing import compare_plans, plan_figures
from colorcore.errors import DealError
from colorcore.pattern import read_pattern
from colorcore.stacking import deal
from colorcore.swatch.prints import PRINTS, print_class
from tests.stacking.making import make_bundle, make_pattern, make_rule
from tests.substitutes.making import CREAM, bundle, pattern, plan, striped


def test_every_square_is_counted_once_in_each_respect():
    figures = plan_figures(plan(), bundle())
    for stack, planned in zip(figures.stacks, plan().stacks, strict=True):
        count = len(planned.placements)
        assert stack.squares == tuple(p.square for p in planned.placements)
        for counts in (stack.bands, stack.verdicts, stack.prints, stack.hues):
            assert sum(counts.values()) == count
        assert stack.lightness_least <= stack.lightness_mean <= stack.lightness_most
        assert len(stack.soft) == stack.verdicts["soft"]
        assert len(stack.melting) == stack.verdicts["melts"]
    assert sum(figures.verdicts.values()) == 42


def test_a_bundle_of_smaller_squares_is_said_to_be_no_match():
    small = replace(
        bundle(2), squares=tuple(replace(s, side_inches=5.0) for s in bundle(2).squares)
    )
    ours, theirs = (plan(), bundle()), (deal(small, pattern(), CREAM), small)
    compared = compare_plans(*ours, *theirs, names=("May", "June"), square_inches=10.0)
    assert compared.words[0] == (
        "June cannot be cut for this pattern: it has squares of 5 in, and the pattern cuts squares "
        "of 10 in."
    )
    alike = compare_plans(*ours, plan(2), bundle(2), names=("May", "June"), square_inches=10.0)
    assert not any("cannot be cut" in words for words in alike.words)


def test_a_bundle_of_larger_squares_is_said_to_leave_some_over():
    ours, theirs = (plan(), bundle()), (plan(2), bundle(2))
    compared = compare_plans(*ours, *theirs, names=("May", "June"), square_inches=5.0)
    assert compared.words[:2] == tuple(
        f"{name} has larger squares than the pattern cuts: 75 % of a square of 10 in is left over "
        "(cut up first, it gives 4 squares of 5 in)."
        for name in ("May", "June")
    )
    unknown = compare_plans(*ours, *theirs, names=("May", "June"))
    assert not any("larger squares" in words for words in unknown.words)


def test_weakest_first():
    figures = plan_figures(plan(), bundle())
    distance = {p.square: abs(p.delta_l) for s in plan().stacks for p in s.placements}
    for stack in figures.stacks:
        for weak in (stack.soft, stack.melting):
            assert list(weak) == sorted(weak, key=lambda i: (distance[i], i))
        assert stack.margin == min(distance[i] for i in stack.squares)


def test_evenness_is_the_largest_difference_between_mixed_stacks():
    figures = plan_figures(plan(), bundle())
    one, two = (s for s in figures.stacks if s.value == "mixed")
    found = {e.what: e.difference for e in figures.evenness}
    assert found["mean value"] == pytest.approx(abs(one.lightness_mean - two.lightness_mean))
    assert found["dark squares"] == abs(one.bands["dark"] - two.bands["dark"])
    assert found["small prints"] == abs(one.prints["small print"] - two.prints["small print"])
    assert figures.unevenness >= found["mean value"]


def test_one_mixed_stack_has_nothing_to_be_even_with():
    made = make_bundle(10)
    alone = deal(made, make_pattern(make_rule("All", 10)), CREAM)
    figures = plan_figures(alone, made)
    assert figures.evenness == ()
    assert figures.unevenness == 0


def test_a_plan_beside_itself_differs_in_nothing():
    found = compare_plans(plan(), bundle(), plan(), bundle(), names=("one", "two"))
    assert found.better == ""
    assert all(row.words[0].startswith("much the same") for row in found.rows)


def test_swapping_the_two_swaps_the_verdict():
    a = compare_plans(plan(), bundle(), plan(2), bundle(2), names=("one", "two"))
    b = compare_plans(plan(2), bundle(2), plan(), bundle(), names=("two", "one"))
    assert {a.better, b.better} in ({"first", "second"}, {""})
    assert a.words == b.words
    assert a.first == b.second


def test_what_stands_off_better_is_named():
    """The same bundle, but the fill of the second lies just beside the background."""
    faint = tuple(
        replace(s, lab=(90.0, s.lab[1] / 8, s.lab[2] / 8)) if s.lab[0] > 60 else s
        for s in bundle().squares
    )
    pale = replace(bundle(), squares=faint)
    found = compare_plans(
        plan(), bundle(), deal(pale, pattern(), CREAM), pale, names=("strong", "pale")
    )
    assert found.better == "first"
    assert found.words[0].startswith("strong stands off")
    assert len(found.second.breaks) >= len(found.first.breaks)


def test_two_patterns_are_not_compared():
    made = make_bundle(10)
    other = deal(made, make_pattern(make_rule("All", 10)), CREAM)
    with pytest.raises(DealError, match="one pattern"):
        compare_plans(plan(), bundle(), other, made)


@pytest.mark.parametrize(
    ("period", "expected"), [(None, 0), (0.5, 1), (1.0, 2), (2.9, 2), (3.0, 3)]
)
def test_prints_by_scale(period, expected):
    assert print_class(striped((50.0, 0, 0), period=period, spread=20)) == PRINTS[expected]


@pytest.mark.parametrize(
    ("lab", "family"),
    [
        # sRGB primaries and secondaries in CIELAB D65 (IEC 61966-2-1), and greys.
        ((53.2, 80.1, 67.2), "red"), ((87.7, -86.2, 83.2), "green"), ((32.3, 79.2, -107.9), "blue"),
        ((97.1, -21.6, 94.5), "yellow"), ((91.1, -48.1, -14.1), "aqua"),
        ((60.3, 98.2, -60.8), "purple"), ((50.0, 5.0, 5.0), "neutral"), ((0, 0, 0), "neutral"),
    ],
)  # fmt: skip
def test_hue_families(lab, family):
    assert hue_family(lab) == family
    assert family in HUE_FAMILIES


def test_stacks_that_no_background_is_sewn_to_are_not_held_against_one():
    rails = read_pattern("lamplight-rails")
    one, two = (deal(bundle(n), rails, CREAM) for n in (1, 2))
    both = (one, bundle(1), two, bundle(2))
    found = compare_plans(*both, apart=rails.stacks_apart())
    assert not found.first.on_background
    for stack in (*found.first.stacks, *found.second.stacks):
        assert (sum(stack.verdicts.values()), stack.soft, stack.melting) == (0, (), ())
        assert stack.margin is None
    told = " ".join((*found.words, *found.first.breaks, *(w for r in found.rows for w in r.words)))
    assert not any(word in told for word in ("hold", "background", "contrast", "melt"))
    # Of one stack alone that is not, the others still are.
    some = plan_figures(one, bundle(1), apart={"Light rails"})
    assert [stack.beside_background for stack in some.stacks] == [True, True, False]
    assert some.on_background
    assert sum(some.verdicts.values()) == 28
