"""Backgrounds side by side, on bundles whose best background is known."""

from dataclasses import replace
from xml.etree import ElementTree

import numpy as np
import pytest

from colorcore.bundle import Bundle
from colorcore.contrast import Background, Thresholds
from colorcore.contrast.pieces import judge_square
from colorcore.errors import DealError
from colorcore.pattern import parse_pattern, read_pattern
from colorcore.sheets.value_axis import describe_value_axis, draw_value_axis
from colorcore.stacking.ranking import Ranking, rank_backgrounds
from tests.contrast.printing import places, printed_square

WHITE = Background("white", (96.0, 0.0, 0.0))
BLACK = Background("black", (14.0, 0.0, 0.0))
GREY = Background("grey", (55.0, 0.0, 0.0))


def solids(*lightness: float) -> Bundle:
    nowhere = places()[0] < 0
    return Bundle(
        tuple(
            replace(printed_square(f"A{n}", v, v, nowhere), reads_as_solid=True, fabric=n)
            for n, v in enumerate(lightness, 1)
        ),
        (),
    )


def rank(bundle: Bundle, *backgrounds: Background) -> Ranking:
    return rank_backgrounds(bundle, [(b, ()) for b in backgrounds])


def test_darks_want_a_light_background_and_lights_a_dark_one() -> None:
    names = [c.background.label for c in rank(solids(20, 25, 30, 40), BLACK, WHITE).candidates]
    assert names == ["white", "black"]
    names = [c.background.label for c in rank(solids(70, 80, 85, 90), WHITE, BLACK).candidates]
    assert names == ["black", "white"]


def test_a_white_that_no_cloth_reaches_is_told() -> None:
    screen = Background("white", (100.0, 0.0, 0.0))
    measured = replace(screen, label="square A3", lab_sd=(1.0, 0.5, 0.5))
    squares = solids(20, 25, 90, 92)
    assert "No cloth is as light as white (L* 100): try 'lab(97 0 0)'" in (
        rank(squares, screen).sentence
    )
    assert "as dark as ink" in rank(squares, Background("ink", (3.0, 0.0, 0.0))).sentence
    assert "No cloth" not in rank(squares, WHITE, BLACK, measured).sentence


def test_shares_count_the_pieces_of_solids() -> None:
    (first,) = rank(solids(50, 60, 70, 90), GREY).candidates
    # Steps to 55 are 5, 5, 15 and 35: two melt, one is soft, one holds; 16 patches each.
    assert (first.holds, first.soft, first.melts, first.pieces) == (0.25, 0.25, 0.5, 64)
    assert first.melting == ("A1", "A2")
    assert first.worst is not None
    assert first.worst.melts == 1
    assert first.serves == pytest.approx(0.375)


def test_best_value_lies_farthest_from_all_it_must_hold_against() -> None:
    ranking = rank(solids(20, 21, 90, 91), WHITE)
    # Everything from 41 to 70 holds against both ends; the middle is farthest from both.
    assert ranking.best_lightness == pytest.approx(55.5, abs=1.5)
    assert "100 % of the pieces hold" in ranking.sentence
    at_best = np.flatnonzero(ranking.curve_holds == 1)
    assert ranking.lightness[at_best].min() == pytest.approx(41, abs=1)
    assert ranking.lightness[at_best].max() == pytest.approx(70, abs=1)


def test_curve_agrees_with_judging_each_piece() -> None:
    x, y = places()
    bundle = Bundle(
        (
            printed_square("A1", 25.0, 90.0, np.hypot((x % 3) - 1.5, (y % 3) - 1.5) < 0.8),
            printed_square("A2", 70.0, 30.0, (x % 2) < 0.6),
        ),
        (),
    )
    ranking = rank(bundle, WHITE)
    for k in range(0, len(ranking.lightness), 17):
        (here,) = rank(bundle, Background("b", (ranking.lightness[k], 0.0, 0.0))).candidates
        assert here.holds == pytest.approx(ranking.curve_holds[k])
        assert here.melts == pytest.approx(ranking.curve_melts[k])


def test_with_a_pattern_each_background_gets_its_own_deal() -> None:
    rng = np.random.default_rng(2)
    bundle = solids(*rng.uniform(20, 85, 42).tolist())
    pattern = read_pattern("gatepost-stars")
    ranking = rank_backgrounds(bundle, [(BLACK, ()), (WHITE, ()), (GREY, ("A1",))], pattern=pattern)
    white, *_, last = ranking.candidates
    assert white.background is WHITE
    assert white.plan is not None
    assert [name for name, _ in white.groups] == [stack.name for stack in white.plan.stacks]
    judged = {
        place.square: judge_square(
            next(s for s in bundle.squares if s.id == place.square),
            pattern.sizes[0].stacks[k].pieces,
            WHITE,
        )
        for k, stack in enumerate(white.plan.stacks)
        for place in stack.placements
    }
    pieces = [piece for each in judged.values() for piece in each.pieces]
    assert white.pieces == len(pieces)
    assert white.holds == pytest.approx(np.mean([p.verdict == "holds" for p in pieces]))
    # The grey one is cut from a square of the bundle, so a square is missing.
    assert last.background is GREY
    assert "missing" in last.trouble
    assert last.plan is None


FEW_STARS = """
name = "Few stars"
square_inches = 10

[[stack]]
name = "Stars"
role = "focal"
value = "dark"
squares = 2

[[stack.piece]]
name = "point"
width = "5"
height = "5"
per_square = 2

[[stack]]
name = "Ground"
role = "fill"
value = "mixed"
squares = 4

[[stack.piece]]
name = "patch"
width = "2 1/2"
height = "2 1/2"
per_square = 8

[[size]]
name = "mat"
"""


def test_focal_pieces_count_before_fill() -> None:
    """Two dark star squares, four light fill squares that are cut into eight times as many pieces:
    on black all the fill holds and every star point melts, on cream the stars hold and the fill
    does not. Piece by piece black would win."""
    bundle = solids(16, 18, 84, 85, 86, 87)
    pattern = parse_pattern(FEW_STARS)
    black, cream = Background("black", (14.0, 0, 0)), Background("cream", (93.0, 0, 0))
    ranking = rank_backgrounds(bundle, [(black, ()), (cream, ())], pattern=pattern)
    first, second = ranking.candidates
    assert (first.background, second.background) == (cream, black)
    assert first.holds < second.holds
    assert first.focal is not None
    assert second.focal is not None
    assert second.fill is not None
    assert (first.focal.holds, first.focal.pieces) == (1, 4)
    assert (second.focal.melts, second.fill.holds, second.fill.pieces) == (1, 1, 32)
    assert first.serves == pytest.approx(3 / 4)
    assert second.serves == pytest.approx(1 / 4)
    assert "Stars together count 3 times as much as the fill's (Ground)" in ranking.basis
    assert "100 % of the focal pieces hold" in ranking.sentence


def test_squares_that_do_not_give_the_pieces_are_not_judged() -> None:
    bundle = solids(*range(20, 62))
    small = Bundle(tuple(replace(s, side_inches=5.0) for s in bundle.squares), ())
    with pytest.raises(DealError, match="there are squares of 5 in, which do not give its pieces"):
        rank_backgrounds(small, [(WHITE, ())], pattern=read_pattern("gatepost-stars"))


def test_the_value_to_look_for_is_weighed_as_the_order_is() -> None:
    bundle = solids(16, 18, 84, 85, 86, 87)
    pattern = parse_pattern(FEW_STARS)
    ranking = rank_backgrounds(bundle, [(WHITE, ())], pattern=pattern)
    (candidate,) = ranking.candidates
    k = int(WHITE.lab[0] - ranking.lightness[0])
    assert ranking.lightness[k] == WHITE.lab[0]
    assert ranking.curve_serves[k] == pytest.approx(candidate.serves)
    # In the middle everything holds.
    assert 38 <= ranking.best_lightness <= 64


def test_the_chart_shows_the_focal_pieces_where_they_come_first() -> None:
    """Without their line the highest point of all pieces would speak against the best value."""
    bundle = solids(16, 18, 84, 85, 86, 87)
    parted = rank_backgrounds(bundle, [(WHITE, ())], pattern=parse_pattern(FEW_STARS))
    holds = parted.curve_focal
    assert holds is not None
    # The stars hold from 20 above the lighter of them on, whatever the fill does.
    assert parted.lightness[holds == 1].min() == pytest.approx(38, abs=1)
    assert parted.lightness[holds == 1].max() == parted.lightness.max()
    assert not holds[parted.lightness < 35].all()
    drawn = draw_value_axis(bundle.squares, parted)
    assert (drawn.count("<polyline"), "focal pieces that hold" in drawn) == (3, True)
    alike = rank(bundle, WHITE)
    assert alike.curve_focal is None
    drawn = draw_value_axis(bundle.squares, alike)
    assert (drawn.count("<polyline"), "focal" in drawn) == (2, False)


def test_fill_that_melts_everywhere_weighs_as_a_third_of_the_focal_pieces() -> None:
    """A single star point that is soft does not outweigh fill that is lost as a whole."""
    bundle = solids(16, 18, 58, 59, 60, 61)
    pattern = parse_pattern(FEW_STARS)
    all_hold, fill_gone = Background("near", (37.0, 0, 0)), Background("far", (60.0, 0, 0))
    ranking = rank_backgrounds(bundle, [(fill_gone, ()), (all_hold, ())], pattern=pattern)
    # On L* 37 star squares are 21 and 19 off, fill 21 and more; on 60 the fill melts.
    assert [c.background for c in ranking.candidates] == [all_hold, fill_gone]
    assert ranking.candidates[0].focal is not None
    assert ranking.candidates[0].focal.soft == 0.5
    assert ranking.candidates[0].focal_apart is ranking.candidates[0].focal
    # Without fill there is nothing to tell them from.
    assert replace(ranking.candidates[0], fill=None).focal_apart is None


def test_without_a_pattern_every_piece_counts_alike() -> None:
    ranking = rank(solids(16, 18, 84, 85, 86, 87), WHITE)
    assert ranking.candidates[0].focal is None
    assert "every piece counts alike" in ranking.basis


def test_nothing_to_rank() -> None:
    with pytest.raises(DealError, match="at least one"):
        rank_backgrounds(solids(20), [])
    with pytest.raises(DealError, match="at least one"):
        rank_backgrounds(Bundle((), ()), [(WHITE, ())])
    with pytest.raises(DealError, match="no size"):
        rank_backgrounds(
            solids(20), [(WHITE, ())], pattern=read_pattern("gatepost-stars"), size="cot"
        )


def test_a_pattern_without_background_has_nothing_to_rank() -> None:
    with pytest.raises(DealError, match="sews no stack to a background"):
        rank_backgrounds(solids(20, 50), [(WHITE, ())], pattern=read_pattern("lamplight-rails"))


def test_chart_is_sound_and_told_in_words() -> None:
    bundle = solids(20, 30, 31, 32, 60, 90)
    label = Background('<b>"odd" & long', (30.0, 0.0, 0.0))
    ranking = rank(bundle, WHITE, label)
    drawn = draw_value_axis(bundle.squares, ranking, thresholds=Thresholds(holds=25, melts=5))
    tree = ElementTree.fromstring(drawn)
    space = {"svg": "http://www.w3.org/2000/svg"}
    assert tree.get("role") == "img"
    words = tree.findtext("svg:desc", namespaces=space)
    assert words == describe_value_axis(bundle.squares, ranking)
    assert '<b>"odd" & long' in (words or "")
    images = tree.findall(".//svg:image", space)
    assert len(images) == 6
    boxes = [(float(i.get("x", "nan")), float(i.get("y", "nan"))) for i in images]
    for n, (x, y) in enumerate(boxes):
        middle = x + float(images[n].get("width", "nan")) / 2
        assert middle == pytest.approx(50 + 9 * bundle.squares[n].lab[0], abs=0.2)
        for x2, y2 in boxes[:n]:
            assert abs(x - x2) >= 44 or abs(y - y2) >= 44


def test_same_chart_on_every_run() -> None:
    bundle = solids(20, 30, 60, 90)
    charts = {draw_value_axis(bundle.squares, rank(bundle, WHITE, BLACK)) for _ in range(2)}
    assert len(charts) == 1
