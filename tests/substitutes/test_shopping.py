"""What to add, and that adding it is enough."""

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from colorcore.color.families import HUE_FAMILIES, hue_family
from colorcore.color.naming import describe_color
from colorcore.contrast import Background, Thresholds
from colorcore.pattern import PatternSize
from colorcore.substitutes.shopping import example_colors, shopping_note
from tests.stacking.making import make_bundle, make_rule, make_swatch

CREAM = Background("cream", (95.0, 0.0, 5.0))


def size(*rules):
    return PatternSize("only", 1, None, rules)


STARS = make_rule("Stars", 14, role="focal", value="dark")
CHAINS = (make_rule("One", 14), make_rule("Two", 14))


def values(*groups):
    """A bundle of neutral squares: (how many, L*) each."""
    squares = [
        make_swatch(f"A{n}", (lightness + 0.1 * n, 1.0, 1.0), scale=1.5)
        for n, lightness in enumerate(np.repeat([g[1] for g in groups], [g[0] for g in groups]), 1)
    ]
    return replace(make_bundle(1), squares=tuple(squares))


@pytest.mark.parametrize("lightness", [28.0, 50.0, 75.0])
def test_examples_bear_no_name_of_a_hue_that_there_is_enough_of(lightness):
    """A dark pink and a dark red are both called maroon."""
    every = example_colors(lightness)
    names = {describe_color(lab): hue_family(lab) for lab in every}
    for family in HUE_FAMILIES[1:]:
        left = {describe_color(lab) for lab in example_colors(lightness, (family,))}
        assert family not in {names.get(name) for name in left}
        assert len(left) >= 3
    without_red = {describe_color(lab) for lab in example_colors(28.0, ("red",))}
    assert "maroon" not in without_red


@pytest.mark.parametrize("lightness", range(12, 96, 3))
def test_no_two_examples_bear_one_name(lightness):
    """A light red and a light purplish red are both called pink."""
    names = [describe_color(lab) for lab in example_colors(float(lightness))]
    assert len(set(names)) == len(names) >= 5


def test_three_darks_are_missing():
    note = shopping_note(values((11, 28.0), (17, 55.0), (14, 75.0)), size(STARS, *CHAINS), CREAM)
    wish = note.wishes[0]
    assert (wish.squares, wish.stack) == (3, "Stars")
    assert wish.words.startswith("three squares of L* ")
    assert 20 <= wish.darkest < wish.lightest <= 45
    assert "11 do" in wish.why
    assert wish.prints == ("solid", "small print")


def test_darks_must_hold_against_a_dark_background():
    """On navy the light side is the wider one; darks cannot hold there at all."""
    note = shopping_note(
        values((14, 28.0), (14, 55.0), (14, 85.0)), size(STARS), Background("navy", (20.0, 0, -20))
    )
    assert note.wishes[0].squares == 14
    assert note.wishes[0].darkest >= 40
    assert "Hardly any dark cloth holds beside L* 20" in note.wishes[0].why
    assert "try another background before you buy" in note.wishes[0].why
    on_cream = shopping_note(values((9, 28.0), (14, 55.0), (14, 85.0)), size(STARS), CREAM)
    assert "Hardly any" not in on_cream.wishes[0].why


def test_what_is_sewn_to_no_background_is_asked_for_whatever_the_background_is():
    apart = tuple(
        replace(rule, beside_background=False)
        for rule in (STARS, make_rule("Lights", 14, value="light"), CHAINS[0])
    )
    bundle = values((9, 28.0), (17, 55.0), (9, 75.0))
    on_cream, on_sand = (
        shopping_note(bundle, size(*apart), ground)
        for ground in (CREAM, Background("sand", (75.0, 0.0, 20.0)))
    )
    assert on_cream == on_sand
    darks, lights = on_cream.wishes[:2]
    assert darks.lightest < 50
    assert lights.darkest < 75 < lights.lightest, "what would melt into sand does here"
    assert darks.why == "Stars wants 14 dark squares; there are 9."
    beside = shopping_note(bundle, size(STARS, *apart[1:]), CREAM).wishes[0]
    assert "9 do" in beside.why


def test_squares_too_small_for_the_pattern_are_told_before_more_are_bought():
    bundle = values((9, 28.0), (14, 55.0), (14, 85.0))
    assert {s.side_inches for s in bundle.squares} == {10.0}
    assert not any(
        "before you buy" in words for words in shopping_note(bundle, size(STARS), CREAM).words
    )
    mixed = replace(
        bundle,
        squares=(*bundle.squares[:-2], *(replace(s, side_inches=5.0) for s in bundle.squares[-2:])),
    )
    words = shopping_note(mixed, size(STARS), CREAM).words
    assert words[1].startswith("Some of its squares are of 5 in")
    small = replace(bundle, squares=tuple(replace(s, side_inches=5.0) for s in bundle.squares))
    assert shopping_note(small, size(STARS), CREAM).words[1].startswith("Its squares are of 5 in")


def test_squares_larger_than_the_pattern_cuts_are_told_before_more_are_bought():
    bundle = values((9, 28.0), (14, 55.0), (14, 85.0))
    words = shopping_note(bundle, size(STARS), CREAM, square_inches=5.0).words
    assert words[1] == (
        "The pattern cuts squares of 5 in: 75 % of a square of 10 in is left over (cut up first, "
        "it gives 4 squares of 5 in), so buy none larger."
    )


def test_too_many_mediums_are_said():
    note = shopping_note(values((16, 28.0), (21, 55.0), (5, 75.0)), size(STARS, *CHAINS), CREAM)
    assert any("Too many mediums" in words and "21 of the 28" in words for words in note.words)
    (dark,) = note.wishes
    assert (dark.squares, dark.stack) == (3, "One and Two")
    assert dark.lightest < 50


def test_lights_that_would_melt_are_not_asked_for():
    """On cream a light that holds is no lighter than 75."""
    note = shopping_note(values((16, 28.0), (26, 55.0), (6, 75.0)), size(STARS, *CHAINS), CREAM)
    assert note.wishes
    for wish in note.wishes:
        assert wish.lightest <= 75


def test_squares_that_are_missing_at_all_are_counted():
    note = shopping_note(values((14, 28.0), (6, 55.0), (6, 75.0)), size(STARS, *CHAINS), CREAM)
    assert sum(wish.squares for wish in note.wishes) >= 42 - 26


def test_a_hue_that_is_plentiful_is_not_asked_for():
    green = [make_swatch(f"G{n}", (50.0 + n, -30.0, 25.0)) for n in range(12)]
    rest = [make_swatch(f"R{n}", (30.0 + n, 30.0, 5.0 * n)) for n in range(6)]
    bundle = replace(make_bundle(1), squares=(*green, *rest))
    wish = shopping_note(bundle, size(STARS), CREAM).wishes[0]
    assert wish.without == ("green",)
    assert "any hue but green" in wish.words
    assert "green" not in {hue_family(lab) for lab in wish.patches}
    assert not wish.fits(make_swatch("X", (wish.darkest + 1, -30.0, 20.0)))


def test_enough_is_enough():
    note = shopping_note(values((20, 28.0), (12, 55.0), (10, 74.0)), size(STARS, *CHAINS), CREAM)
    assert note.wishes == ()
    assert note.words[-1] == "Nothing has to be added."


@given(st.integers(0, 5000), st.integers(20, 44), st.sampled_from([95.0, 50.0, 18.0]))
@settings(max_examples=60)
def test_what_is_asked_for_a_stack_of_one_value_fills_it(seed, count, ground):
    bundle = make_bundle(count, seed)
    background = Background("ground", (ground, 0.0, 0.0))
    note = shopping_note(bundle, size(STARS, *CHAINS), background)
    for wish in note.wishes:
        assert wish.squares > 0
        assert 0 <= wish.darkest <= wish.lightest <= 100
        middle = (wish.darkest + wish.lightest) / 2
        assert abs(middle - ground) >= Thresholds().holds - 1
        assert wish.patches


@pytest.mark.parametrize("lightness", [12.0, 30.0, 50.0, 70.0, 88.0])
def test_examples_have_the_value_and_many_hues(lightness):
    colors = example_colors(lightness)
    families = [hue_family(lab) for lab in colors]
    assert {lab[0] for lab in colors} == {lightness}
    assert len(set(families)) == len(families) >= 6
    assert set(families) <= set(HUE_FAMILIES)


def test_yardage_is_told():
    note = shopping_note(values((1, 30.0)), size(STARS), CREAM, square_inches=5.0)
    assert (
        note.yardage
        == "For squares of 5 in: a fat quarter gives 12 squares and half a yard gives 24 squares."
    )
