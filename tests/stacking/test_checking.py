"""A plan checked piece by piece."""

from dataclasses import replace

import numpy as np

from colorcore.bundle import Bundle
from colorcore.contrast import Background
from colorcore.pattern import read_pattern
from colorcore.stacking import deal
from colorcore.stacking.checking import check_pieces, judge_plan
from tests.contrast.printing import places, printed_square

WHITE = Background("white", (96.0, 0.0, 0.0))


def make_prints() -> Bundle:
    """42 solids, of which A2 is a dark with large white flowers and A3 one that melts."""
    x, y = places()
    squares = [
        printed_square(f"{'ABCDEF'[n // 7]}{n % 7 + 1}", v, v, x < 0)
        for n, v in enumerate(np.linspace(20, 70, 42))
    ]
    flowers = np.hypot((x % 5) - 2.5, (y % 5) - 2.5) < 1.3
    squares[1] = printed_square("A2", 18.0, 96.0, flowers)
    squares[2] = printed_square("A3", 93.0, 93.0, x < 0)
    return Bundle(tuple(replace(s, fabric=n) for n, s in enumerate(squares)), ())


def test_a_print_that_holds_as_a_whole_and_melts_at_its_seams_is_told() -> None:
    bundle = make_prints()
    pattern = read_pattern("gatepost-stars")
    plain = deal(bundle, pattern, WHITE)
    checked = check_pieces(plain, bundle, pattern)
    added = checked.second_look[len(plain.second_look) :]
    assert checked.second_look[: len(plain.second_look)] == plain.second_look
    assert len(added) == 2
    assert "look alike" in added[1]
    assert "A2 (" in added[0]
    assert "A3" not in added[0]
    assert any("A3" in words and "run" in words for words in plain.second_look)
    judged = judge_plan(plain, bundle, pattern)
    assert len(judged) == 42
    bad = len(judged["A2"].pieces) - judged["A2"].good
    assert f"A2 ({bad} of {len(judged['A2'].pieces)})" in added[0]
    assert judged["A1"].good == len(judged["A1"].pieces)


def test_stacks_that_touch_are_checked_against_each_other() -> None:
    bundle = make_prints()
    pattern = read_pattern("lamplight-rails")
    plan = deal(bundle, pattern, WHITE)
    # No stack lies beside a background, but dark rails lie beside medium ones.
    assert judge_plan(plan, bundle, pattern) == {}
    added = check_pieces(plan, bundle, pattern).second_look[len(plan.second_look) :]
    assert len(added) == 2
    assert added[0].startswith("Dark rails beside Medium rails:")
    assert "run into each other in value; do not sew side by side" in added[0]
    assert "look alike" in added[1]
    values = {s.id: s.lab[0] for s in bundle.squares}
    pairs = added[0].split("side by side ")[1].split(" and more")[0].rstrip(".").split(", ")
    for pair in pairs:
        first, second = pair.split(" with ")
        assert abs(values[first] - values[second]) < 10


def test_squares_too_small_for_the_pattern_are_told_first_and_in_plain_words() -> None:
    pattern = read_pattern("gatepost-stars")
    bundle = make_prints()
    small = Bundle(tuple(replace(s, side_inches=5.0) for s in bundle.squares), ())
    told = check_pieces(deal(small, pattern, WHITE), small, pattern).second_look
    assert told[0].startswith(
        "Gatepost Stars cuts squares of 10 in, and there are squares of 5 in, which do not give "
    )
    assert not any("edge-to-edge" in words for words in told)
    good = check_pieces(deal(bundle, pattern, WHITE), bundle, pattern).second_look
    assert not any("cuts squares of" in words for words in good)


def test_a_background_whose_value_is_hardly_known_is_told_before_all_else() -> None:
    bundle = make_prints()
    pattern = read_pattern("gatepost-stars")
    guess = Background("garnet.jpg", (96.0, 0.0, 0.0), lab_sd=(9.6, 5.0, 5.0))
    told = check_pieces(deal(bundle, pattern, guess), bundle, pattern).second_look
    assert told[0].startswith("The value of the background, garnet.jpg, is known to ± 10 L* alone")
    small = Bundle(tuple(replace(s, side_inches=5.0) for s in bundle.squares), ())
    both = check_pieces(deal(small, pattern, guess), small, pattern).second_look
    assert "which do not give its pieces" in both[0]
    assert both[1] == told[0]
    # In one photo with the squares what moves all of it cancels; and rails have no background.
    beside = replace(guess, order_sd=0.5, photo=0)
    for name, ground in (
        ("gatepost-stars", beside),
        ("gatepost-stars", replace(guess, lab_sd=(2.8, 1.0, 1.0))),
        ("lamplight-rails", guess),
    ):
        pattern = read_pattern(name)
        told = check_pieces(deal(bundle, pattern, ground), bundle, pattern).second_look
        assert not any("is known to" in words for words in told)


def test_a_background_lighter_than_any_cloth_is_told_first() -> None:
    """On #fff pale squares hold that melt into white cloth."""
    bundle, pattern = make_prints(), read_pattern("gatepost-stars")
    screen = Background("white", (100.0, 0.0, 0.0))
    told = check_pieces(deal(bundle, pattern, screen), bundle, pattern).second_look
    assert told[0] == (
        "No cloth is as light as white (L* 100), so on yours some squares may stand off less: deal "
        "again with #f6f6f6 (white, L* 97), the nearest that cloth comes, or with a photo of the "
        "cloth."
    )
    rails = read_pattern("lamplight-rails")
    for ground, chosen in ((WHITE, pattern), (screen, rails)):
        told = check_pieces(deal(bundle, chosen, ground), bundle, chosen).second_look
        assert not any("No cloth" in words for words in told)


def test_squares_larger_than_the_pattern_cuts_are_told_with_what_is_left_over() -> None:
    pattern = replace(read_pattern("gatepost-stars"), square_inches=5.0)
    rules = tuple(replace(rule, pieces=()) for rule in pattern.sizes[0].stacks)
    pattern = replace(pattern, sizes=(replace(pattern.sizes[0], stacks=rules),))
    bundle = make_prints()
    plan = deal(bundle, pattern, WHITE)
    told = check_pieces(plan, bundle, pattern).second_look
    assert told[0] == (
        "Gatepost Stars cuts squares of 5 in, and there are larger ones: 75 % of a square of 10 in "
        "is left over (cut up first, it gives 4 squares of 5 in). Take a pattern for larger "
        "squares, or cut them up and photograph the squares that they give; if they are no "
        "larger, measure again and say how long a side of the squares is."
    )
    assert told[1 : 1 + len(plan.second_look)] == plan.second_look
    # One that gives no second square of the size is not to be cut up.
    nine = replace(pattern, square_inches=9.0)
    told = check_pieces(deal(bundle, nine, WHITE), bundle, nine).second_look
    assert (
        "larger ones: 19 % of a square of 10 in is left over. Take a pattern for larger squares; "
        "if they are no larger"
    ) in told[0]
    # What precuts vary by is no waste.
    near = replace(pattern, square_inches=9.8)
    told = check_pieces(deal(bundle, near, WHITE), bundle, near).second_look
    assert not any("left over" in words for words in told)
