"""Deals by properties, and what a maker would expect of them."""

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from colorcore.bundle import Bundle, SeenAgain
from colorcore.errors import DealError
from colorcore.pattern import Pattern, StackRule, ValueRule, read_pattern
from colorcore.sheets.view import view_plan
from colorcore.stacking import Background, Plan, Thresholds, deal
from tests.contrast.printing import places, printed_square
from tests.stacking.making import WHITE, make_bundle, make_pattern, make_rule, make_swatch


def stacks_of(plan: Plan) -> dict[str, set[str]]:
    return {s.name: {p.square for p in s.placements} for s in plan.stacks}


def places_of(plan: Plan) -> dict[str, str]:
    found = {p.square: s.name for s in plan.stacks for p in s.placements}
    return found | {p.square: "left" for p in plan.left_over}


@st.composite
def bundles_and_rules(draw: st.DrawFn) -> tuple[Bundle, tuple[StackRule, ...]]:
    n = draw(st.integers(4, 26))
    bundle = make_bundle(n, draw(st.integers(0, 10**6)), fabrics=draw(st.integers(n // 2, n)))
    kinds = draw(st.integers(1, 4))
    sizes = [draw(st.integers(0, n // kinds)) for _ in range(kinds)]
    rules = tuple(
        make_rule(
            f"Stack {k}",
            size,
            role=draw(st.sampled_from(["focal", "fill"])),
            value=draw(st.sampled_from(["dark", "medium", "light", "mixed"])),
            max_copies=draw(st.sampled_from([None, 2, 3])),
        )
        for k, size in enumerate(sizes)
    )
    return bundle, rules


@settings(max_examples=25)
@given(case=bundles_and_rules(), data=st.data())
def test_counts_locks_and_order_of_input(
    case: tuple[Bundle, tuple[StackRule, ...]], data: st.DataObject
) -> None:
    bundle, rules = case
    if not any(rule.squares for rule in rules):
        return
    pattern = make_pattern(*rules)
    ids = [s.id for s in bundle.squares]
    locks = {}
    for square in data.draw(st.lists(st.sampled_from(ids), max_size=3, unique=True)):
        locks[square] = data.draw(st.sampled_from([*(r.name for r in rules), "out"]))
    try:
        plan = deal(bundle, pattern, WHITE, locks=locks, seconds=20)
    except DealError:
        return
    stacks = stacks_of(plan)
    fabric = {s.id: s.fabric for s in bundle.squares}
    for rule in rules:
        assert len(stacks[rule.name]) == rule.squares
        copies = [fabric[square] for square in stacks[rule.name]]
        if rule.max_copies is not None and copies:
            assert max(copies.count(f) for f in copies) <= rule.max_copies
    for square, where in locks.items():
        assert square in (plan.stayed_out if where == "out" else stacks[where])
    everything = [*places_of(plan), *plan.stayed_out]
    assert sorted(everything) == sorted(ids)

    shuffled = Bundle(tuple(data.draw(st.permutations(bundle.squares))), ())
    assert deal(shuffled, pattern, WHITE, locks=locks, seconds=20) == plan_like(plan, shuffled, ids)


def plan_like(plan: Plan, shuffled: Bundle, ids: list[str]) -> Plan:
    """The plan as it must come from the shuffled bundle: what stays out is told in its order."""
    order = [s.id for s in shuffled.squares]
    return replace(plan, stayed_out=tuple(sorted(plan.stayed_out, key=order.index)))


def test_dark_stack_takes_the_darkest_whatever_else() -> None:
    for seed in range(4):
        bundle = make_bundle(42, seed, fabrics=30)
        plan = deal(bundle, read_pattern("gatepost-stars"), WHITE)
        darkest = sorted(bundle.squares, key=lambda s: s.lab[0])[:14]
        fabrics = [s.fabric for s in darkest]
        if max(fabrics.count(f) for f in fabrics) <= 3:
            assert stacks_of(plan)["Stars"] == {s.id for s in darkest}
        assert plan.proof.startswith("Optimal")


def test_two_bundles_split_every_pair_of_copies() -> None:
    bundle = make_bundle(84, 3, fabrics=42, columns=12)
    rules = (
        make_rule("Stars", 28, role="focal", value="dark"),
        make_rule("One", 28),
        make_rule("Two", 28),
    )
    plan = deal(bundle, make_pattern(*rules), WHITE)
    stacks = stacks_of(plan)
    fabric = {s.id: s.fabric for s in bundle.squares}
    for name in ("One", "Two"):
        assert len({fabric[square] for square in stacks[name]}) >= 27


def test_a_square_that_melts_is_left_over_first() -> None:
    squares = [make_swatch(f"A{n}", (20.0 + 6 * n, 0.0, 0.0)) for n in range(12)]
    squares.append(make_swatch("B1", (95.5, 0.0, 2.0)))
    rules = (make_rule("One", 6), make_rule("Two", 6))
    plan = deal(Bundle(tuple(squares), ()), make_pattern(*rules), WHITE)
    assert [p.square for p in plan.left_over] == ["B1"]
    assert "runs into the background" in plan.left_over[0].why


def test_locks_outweigh_value_and_contrast() -> None:
    bundle = make_bundle(42, 1)
    lightest = max(bundle.squares, key=lambda s: s.lab[0]).id
    plan = deal(bundle, read_pattern("gatepost-stars"), WHITE, locks=[f"{lightest.lower()}=stars"])
    place = next(p for p in plan.stacks[0].placements if p.square == lightest)
    assert place.locked
    assert place.chance is not None
    assert place.chance < 0.01
    assert any(lightest in words for words in plan.second_look)


@pytest.mark.parametrize(
    ("locks", "words"),
    [
        (["Z9=fill"], "does not have"),
        (["A1=moon"], "names no stack"),
        (["A1"], "reads like"),
        (["A1=out", "A1=fill"], "locked twice"),
        ([f"A{n}=First chain" for n in range(1, 8)] + [f"B{n}=First chain" for n in range(1, 8)]
         + ["C1=First chain"], "15 are locked"),
    ],
)  # fmt: skip
def test_locks_that_cannot_be(locks: list[str], words: str) -> None:
    with pytest.raises(DealError, match=words):
        deal(make_bundle(42), read_pattern("gatepost-stars"), WHITE, locks=locks)


def test_a_stack_by_number_role_or_beginning() -> None:
    bundle = make_bundle(42)
    pattern = read_pattern("gatepost-stars")
    plan = deal(bundle, pattern, WHITE, locks=["A1=3", "A2=sec", "A3=FOCAL", "A4=fill"])
    stacks = stacks_of(plan)
    assert {"A1", "A2"} <= stacks["Second chain"]
    assert "A3" in stacks["Stars"]
    assert "A4" not in stacks["Stars"]


def test_a_lock_may_name_a_square_as_another_photo_of_it_would() -> None:
    again = SeenAgain("A1", "2-C4", 1, 2, 3, ((0, 0), (1, 0), (1, 1), (0, 1)))
    bundle = replace(make_bundle(42), seen_again=(again,))
    plan = deal(bundle, read_pattern("gatepost-stars"), WHITE, locks=["2-c4=Second"])
    assert "A1" in stacks_of(plan)["Second chain"]
    # Copied from a page, where a joiner keeps the address on its line.
    assert deal(bundle, read_pattern("gatepost-stars"), WHITE, locks=["2-\u2060C4=Second"]) == plan
    with pytest.raises(DealError, match="A1 is locked twice"):
        deal(bundle, read_pattern("gatepost-stars"), WHITE, locks=["2-C4=out", "A1=fill"])


def test_short_bundle_says_how_many_and_where() -> None:
    with pytest.raises(DealError, match=r"wants 42 squares; there are 26.*16 are missing: "
                       r"2 of 14 in First chain, 14 of 14 in Second chain"):  # fmt: skip
        deal(make_bundle(26), read_pattern("gatepost-stars"), WHITE)


def test_more_squares_of_a_size_that_the_pattern_does_not_cut_are_not_asked_for() -> None:
    bundle = make_bundle(20)
    small = replace(bundle, squares=tuple(replace(s, side_inches=5.0) for s in bundle.squares))
    with pytest.raises(DealError) as caught:
        deal(small, read_pattern("gatepost-stars"), WHITE)
    assert "these are squares of 5 in, while it cuts squares of 10 in" in str(caught.value)
    assert "Add squares" not in str(caught.value)


def test_squares_that_would_be_enough_if_they_were_cut_up_are_told() -> None:
    pattern = replace(read_pattern("gatepost-stars"), square_inches=5.0)
    for squares, enough in ((11, True), (10, False)):
        with pytest.raises(DealError) as caught:
            deal(make_bundle(squares), pattern, WHITE)
        words = str(caught.value)
        assert ("cut the larger squares up: together they give 44 squares of 5 in" in words) == (
            enough
        )
    with pytest.raises(DealError) as caught:
        deal(make_bundle(26), read_pattern("gatepost-stars"), WHITE)
    assert "cut the larger" not in str(caught.value)


@pytest.mark.parametrize(
    ("size", "squares", "words"),
    [
        ("queen", 50, "take the size throw."),
        ("queen", 30, "even size throw wants 42 squares."),
        ("throw", 30, "this one has no smaller size."),
    ],
)
def test_a_smaller_size_is_named_only_where_there_is_one(
    size: str, squares: int, words: str
) -> None:
    with pytest.raises(DealError) as caught:
        deal(make_bundle(squares), read_pattern("gatepost-stars"), WHITE, size=size)
    assert str(caught.value).endswith(words)


def test_one_square_that_stays_out_is_told_as_one() -> None:
    for locks, words in (
        (("A1=out",), r"\(1 more is kept out, by you or as the background\)"),
        (("A1=out", "A2=out"), "2 more are kept out"),
    ):
        with pytest.raises(DealError, match=words):
            deal(make_bundle(26), read_pattern("gatepost-stars"), WHITE, locks=locks)


def test_short_of_contrast_names_nearest_and_a_way_out() -> None:
    lightness = [20, 24, 28, 31, 44, 47, 52, 60, 70, 72, 80, 85]
    squares = tuple(make_swatch(f"A{n}", (v, 0.0, 0.0)) for n, v in enumerate(lightness, 1))
    rules = (
        make_rule("Stars", 6, role="focal", value="dark", min_contrast=20.0),
        make_rule("Rest", 6),
    )
    grey = Background("grey", (55.0, 0.0, 0.0))
    with pytest.raises(DealError) as caught:
        deal(Bundle(squares, ()), make_pattern(*rules), grey)
    words = str(caught.value)
    assert "4 do, so 2 are missing" in words
    assert "Nearest: A5 (short by 9.0), A6 (short by 12.0)" in words
    assert "A least contrast of 8 would do" in words
    assert "with a white background" in words
    # What it says must be so.
    eased = tuple(replace(rule, min_contrast=8.0) if rule.min_contrast else rule for rule in rules)
    deal(Bundle(squares, ()), make_pattern(*eased), grey)
    deal(Bundle(squares, ()), make_pattern(*rules), WHITE)


def test_stacks_that_cannot_be_filled_together_name_the_lock() -> None:
    squares = tuple(
        make_swatch(f"A{n}", (30.0 + n, 0.0, 0.0), fabric=0 if n <= 4 else n) for n in range(1, 9)
    )
    rules = (make_rule("One", 4, max_copies=2), make_rule("Two", 4, max_copies=2))
    pattern = make_pattern(*rules)
    bundle = Bundle(squares, ())
    with pytest.raises(DealError, match="not all of them together") as caught:
        deal(bundle, pattern, WHITE, locks=["A1=One", "A2=One", "A3=One"])
    assert "allow more copies" in str(caught.value)
    assert "unlock A1" in str(caught.value)
    deal(bundle, pattern, WHITE, locks=["A2=One", "A3=One"])


def test_a_second_deal_moves_as_few_as_it_can() -> None:
    pattern = read_pattern("gatepost-stars")
    for seed in range(3):
        bundle = make_bundle(46, seed, fabrics=40)
        first = deal(bundle, pattern, WHITE)
        assert places_of(deal(bundle, pattern, WHITE, previous=first)) == places_of(first)
        moved = first.stacks[1].placements[3].square
        second = deal(bundle, pattern, WHITE, locks=[f"{moved}=Second"], previous=first)
        before, after = places_of(first), places_of(second)
        # The square itself, and the one that makes room; never more.
        assert sum(before[s] != after[s] for s in before) == 2
        out = deal(bundle, pattern, WHITE, locks=[f"{moved}=out"], previous=first)
        kept = {s: w for s, w in places_of(out).items() if s != moved}
        assert sum(before[s] != w for s, w in kept.items()) == 1


def test_chances_follow_the_uncertainty() -> None:
    lightness = [20.0, 25.0, 40.0, 40.5, 70.0, 80.0]
    squares = tuple(make_swatch(f"A{n}", (v, 0.0, 0.0), sd=1.0) for n, v in enumerate(lightness, 1))
    rules = (make_rule("Stars", 3, role="focal", value="dark"), make_rule("Rest", 3))
    plan = deal(Bundle(squares, ()), make_pattern(*rules), WHITE)
    chance = {p.square: p.chance for p in plan.stacks[0].placements}
    assert chance["A1"] == 1.0
    # P(N(40, 1) < N(40.5, 1)) = Phi(0.5 / sqrt 2) = 0.638; four thousand draws: sd 0.008.
    assert chance["A3"] == pytest.approx(0.638, abs=0.03)
    assert plan.margins[0] == "A3 and A4 could change places: 0.5 L* apart, uncertainty 1.4."
    assert all(p.chance is None for p in plan.stacks[1].placements)


def test_a_verdict_within_the_uncertainty_says_so() -> None:
    squares = tuple(
        make_swatch(f"A{n}", (v, 0.0, 0.0), sd=5.0, order_sd=0.5)
        for n, v in enumerate((20.0, 30.0, 74.0, 78.0, 90.0), 1)
    )
    rules = (make_rule("Stars", 3, role="focal", value="dark"), make_rule("Rest", 2))
    pattern = make_pattern(*rules)

    def near(background: Background) -> list[str]:
        words = deal(Bundle(squares, ()), pattern, background).second_look
        return [w for w in words if "limit of contrast" in w]

    # A3 holds by 2 L*, which five of uncertainty do not tell; A4 and A5 are no focal squares.
    (told,) = near(WHITE)
    assert told.startswith("Stars: A3 lies so near")
    assert "± 5.0 L*" in told
    # Of a background in the same photo only the half of a unit counts that tells squares apart.
    assert near(replace(WHITE, lab_sd=(5.0, 5.0, 5.0), order_sd=0.5, photo=0)) == []
    # Squares of another photo than the background's share nothing with it.
    (told,) = near(replace(WHITE, lab_sd=(5.0, 5.0, 5.0), order_sd=0.5, photo=1))
    assert "± 7.1 L*" in told


def test_what_moves_a_whole_photo_does_not_change_its_order() -> None:
    def chance_of(*photos: int) -> tuple[float | None, tuple[str, ...]]:
        squares = tuple(
            make_swatch(f"A{n}", (v, 0.0, 0.0), sd=8.0, order_sd=0.5, photo=photo)
            for n, (v, photo) in enumerate(zip((22.0, 40.0, 43.0, 80.0), photos, strict=True), 1)
        )
        rules = (make_rule("Stars", 2, role="focal", value="dark"), make_rule("Rest", 2))
        plan = deal(Bundle(squares, ()), make_pattern(*rules), WHITE)
        chance = next(p.chance for p in plan.stacks[0].placements if p.square == "A2")
        return chance, plan.margins

    one_photo, (told,) = chance_of(0, 0, 0, 0)
    assert one_photo == 1.0
    assert told.startswith("Stars is clearly apart")
    # Of two photos each has its own doubt: P(N(3, sqrt(2) * 8) > 0) = 0.60.
    two_photos, (told, *_) = chance_of(0, 0, 1, 1)
    assert two_photos == pytest.approx(0.60, abs=0.05)
    assert told == "A2 and A3 could change places: 3.0 L* apart, uncertainty 11.3."
    # The nearest two share a photo and are told apart; what could change places lies farther off.
    _, (told,) = chance_of(1, 0, 0, 1)
    assert told == "A1 and A3 could change places: 21.0 L* apart, uncertainty 11.3."


def test_mixed_stacks_are_more_even_than_a_deal_by_chance() -> None:
    bundle = make_bundle(42, 5)
    plan = deal(bundle, read_pattern("gatepost-stars"), WHITE)
    lab = {s.id: s.lab for s in bundle.squares}
    stacks = [
        np.array([lab[q] for q in stacks_of(plan)[n]]) for n in ("First chain", "Second chain")
    ]
    apart = np.abs(stacks[0].mean(axis=0) - stacks[1].mean(axis=0))
    assert apart[0] <= 1.0
    assert apart[1:].max() <= 2.0
    everyone = np.concatenate(stacks)
    rng = np.random.default_rng(0)
    chance = []
    for _ in range(200):
        order = rng.permutation(len(everyone))
        halves = everyone[order[:14]], everyone[order[14:]]
        chance.append(np.abs(halves[0].mean(axis=0) - halves[1].mean(axis=0)).max())
    assert apart.max() < np.quantile(chance, 0.2)


def test_published_chart_patches_go_to_the_dark_stack_by_published_lightness() -> None:
    colour = pytest.importorskip("colour")
    chart = colour.CCS_COLOURCHECKERS["ColorChecker24 - After November 2014"]
    xyz = [colour.xyY_to_XYZ(v) for v in chart.data.values()]
    labs = [colour.XYZ_to_Lab(v, chart.illuminant) for v in xyz]
    names = [f"{'ABCD'[n // 6]}{n % 6 + 1}" for n in range(24)]
    squares = tuple(
        make_swatch(name, tuple(float(v) for v in lab), sd=0.3)
        for name, lab in zip(names, labs, strict=True)
    )
    rules = (
        make_rule("Stars", 8, role="focal", value="dark"),
        make_rule("One", 8),
        make_rule("Two", 8),
    )
    plan = deal(Bundle(squares, ()), make_pattern(*rules), WHITE)
    darkest = sorted(squares, key=lambda s: s.lab[0])[:8]
    assert stacks_of(plan)["Stars"] == {s.id for s in darkest}


def test_a_dark_stack_takes_no_light_even_if_it_would_hold() -> None:
    squares = tuple(
        make_swatch(f"A{n}", (v, 0.0, 0.0))
        for n, v in enumerate([15, 18, 22, 26, 50, 52, 54, 56, 85, 88, 90, 92], 1)
    )
    rules = (
        make_rule("Stars", 4, role="focal", value="dark", min_contrast=40.0),
        make_rule("Rest", 8),
    )
    with pytest.raises(DealError, match="wants 4 dark squares"):
        deal(Bundle(squares, ()), make_pattern(*rules), Background("navy", (25.0, 0.0, -20.0)))


def test_a_printed_background_counts_as_a_print_in_the_deal() -> None:
    # White with black stripes on two fifths of it: its mean is a grey that darks hold against,
    # but on two fifths of it they vanish, and on the rest the lights do. Only mediums hold.
    x, _ = places()
    ground = printed_square("Z1", 96.0, 14.0, (x % 5) < 2)
    stripes = Background("stripes", ground.lab, picture=ground.picture, pixels_per_inch=20.0)
    lightness = [14.0, 16.0, 18.0, 50.0, 55.0, 60.0, 92.0, 94.0, 96.0]
    squares = tuple(make_swatch(f"A{n}", (v, 0.0, 0.0)) for n, v in enumerate(lightness, 1))
    rules = (make_rule("Focal", 3, role="focal", min_contrast=15.0), make_rule("Rest", 6))
    plan = deal(Bundle(squares, ()), make_pattern(*rules), stripes)
    assert stacks_of(plan)["Focal"] == {"A4", "A5", "A6"}
    assert all(p.verdict == "holds" for p in plan.stacks[0].placements)
    verdicts = {p.square: p.verdict for p in plan.stacks[1].placements}
    assert verdicts["A1"] == "soft"
    assert verdicts["A9"] == "melts"
    # Lights melt on most of it, darks on less than half; so only the lights break the hard rule.
    more = (replace(rules[0], squares=7), replace(rules[1], squares=2))
    with pytest.raises(DealError, match="6 do, so 1 is missing"):
        deal(Bundle(squares, ()), make_pattern(*more), stripes)


def test_thresholds_must_make_sense() -> None:
    for wrong in ({"holds": 5.0}, {"melts": -1.0}, {"holds": float("nan")}, {"holds": 200.0}):
        with pytest.raises(ValueError, match="thresholds"):
            Thresholds(**wrong)


def test_a_pattern_without_squares_in_a_stack() -> None:
    plan = deal(make_bundle(6), make_pattern(make_rule("One", 4), make_rule("None", 0)), WHITE)
    assert plan.stacks[1].placements == ()
    assert len(plan.left_over) == 2


def test_value_rules_are_known() -> None:
    pattern: Pattern = read_pattern("lamplight-rails")
    plan = deal(make_bundle(42, 2), pattern, WHITE)
    lab = {s.id: s.lab[0] for s in make_bundle(42, 2).squares}
    dark, medium, light = (
        [lab[p.square] for p in stack.placements] for stack in plan.stacks
    )  # fmt: skip
    assert max(dark) <= min(light)
    assert [s.value for s in plan.stacks] == [ValueRule.DARK, ValueRule.MEDIUM, ValueRule.LIGHT]
    assert min(dark) <= min(medium)
    assert max(medium) <= max(light)


def test_squares_that_run_out_of_the_picture_are_named_with_what_to_do() -> None:
    squares = tuple(
        make_swatch(f"A{n}", (v, 0.0, 0.0), flags=("cut-off",) if n in (1, 4, 6) else ())
        for n, v in enumerate((20.0, 30.0, 74.0, 78.0, 85.0, 99.0), 1)
    )
    pattern = make_pattern(make_rule("Stars", 2, role="focal", value="dark"), make_rule("Rest", 3))
    plan = deal(Bundle(squares, ()), pattern, WHITE)
    assert plan.left_over[0].square == "A6", "what lies in no stack needs no word"
    (told,) = [words for words in plan.second_look if "a part is in" in words]
    assert told == (
        "A1 and A4: only a part is in the picture, so they were dealt by what shows; "
        "take the photo again with every corner in it, or look at the whole cloth before you cut."
    )
    view = view_plan(plan, Bundle(squares, ()), pattern)
    assert view.look_again == ((("A6",), "cut off by the edge of the photo"),)
    whole = tuple(replace(square, flags=()) for square in squares)
    assert not any("picture" in w for w in deal(Bundle(whole, ()), pattern, WHITE).second_look)


def test_squares_whose_outlines_cover_the_same_cloth_are_told_once() -> None:
    pattern = read_pattern("gatepost-stars")
    flags = {3: ("overlapping",), 9: ("overlapping",)}
    squares = tuple(
        make_swatch(f"{'ABCDEF'[n // 7]}{n % 7 + 1}", (20 + n * 1.7, 0, 0), fabric=n,
                    flags=flags.get(n, ()))
        for n in range(42)
    )  # fmt: skip
    bundle = Bundle(squares, ())
    plan = deal(bundle, pattern, WHITE)
    told = [words for words in plan.second_look if "cover the same cloth" in words]
    assert told[0].startswith("A4 and B3: two outlines cover the same cloth")
    assert len(told) == 1
    view = view_plan(plan, bundle, pattern)
    assert not any("cover the same cloth" in words for _, words in view.look_again)
