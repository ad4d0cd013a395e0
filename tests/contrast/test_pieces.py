"""Pieces beside the background, on prints whose true answer is known."""

import gc
from fractions import Fraction

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from colorcore.contrast import Background, Thresholds, pieces
from colorcore.contrast.pieces import (
    PieceContrast,
    edge_of,
    judge_edge,
    judge_square,
    melting_map,
)
from colorcore.contrast.seen import Beside, Seen, beside_background, see, see_swatch
from colorcore.pattern.model import PieceRule
from colorcore.swatch import Swatch
from tests.contrast.printing import paint, places, printed_square

WHITE = Background("white", (96.0, 0.0, 0.0))
LIMITS = Thresholds()
BOX = (2.0, 2.0, 4.5, 4.5)
"""Cut size; the finished edge runs from 2.25 to 6.25 in: 16 in in all."""


def judge_piece(
    seen: Seen, beside: Beside, box: tuple[float, float, float, float]
) -> PieceContrast:
    return judge_edge(edge_of(seen, box, "piece"), beside)


def judge(where: np.ndarray, box: tuple[float, float, float, float] = BOX) -> object:
    square = printed_square("A1", 25.0, 96.0, where)
    return judge_piece(see_swatch(square, LIMITS), beside_background(WHITE, LIMITS), box)


def test_a_dark_print_holds_on_white() -> None:
    x, _ = places()
    piece = judge(np.zeros_like(x, dtype=bool))
    assert (piece.holds, piece.melts, piece.verdict, piece.good) == (1.0, 0.0, "holds", True)
    assert piece.delta_l == pytest.approx(25 - 96, abs=0.5)


@pytest.mark.parametrize("width", [0.5, 1.0, 2.0, 3.0])
def test_share_of_white_at_the_seam(width: float) -> None:
    # A white stripe from top to bottom crosses two sides of the piece.
    x, _ = places()
    piece = judge((x > 3.0) & (x < 3.0 + width))
    assert piece.melts == pytest.approx(2 * width / 16, abs=0.02)
    assert piece.holds == pytest.approx(1 - 2 * width / 16, abs=0.035)


def test_a_white_flower_at_the_seam_and_one_in_the_middle() -> None:
    x, y = places()
    at_seam = judge(np.hypot(x - 2.25, y - 4.25) < 0.9)
    in_middle = judge(np.hypot(x - 4.25, y - 4.25) < 0.9)
    # The same flower, and so much the same value of the whole; only the seam tells them apart.
    assert in_middle.delta_l < -20
    assert at_seam.delta_l < -20
    assert in_middle.melts == 0
    assert in_middle.verdict == "holds"
    # A flower of radius 0.9 in whose middle lies on the seam covers 1.8 in of it.
    assert at_seam.melts == pytest.approx(1.8 / 16, abs=0.02)
    assert not at_seam.good
    assert at_seam.verdict == "soft"


def test_a_flower_in_the_seam_allowance_does_no_harm() -> None:
    x, _ = places()
    piece = judge((x > 1.5) & (x < 2.1))
    assert piece.melts == 0


def test_half_the_edge_melting_is_a_piece_that_melts() -> None:
    x, y = places()
    piece = judge((x < 4.4) & (y < 4.6))
    assert piece.melts == pytest.approx((2.15 + 2.35) / 16, abs=0.03)
    assert piece.verdict == "soft"
    piece = judge((x < 5.0) | (y < 5.0))
    assert piece.verdict == "melts"


def test_fine_prints_blend_at_a_distance_and_not_at_arms_length() -> None:
    # Black and white checks of 1/20 in: at 6 ft they read as grey, at 12 in each is seen, but an
    # eighth of an inch of the edge holds more than one of them, so both hold on white.
    x, y = places()
    checks = (np.floor(x * 20) + np.floor(y * 20)) % 2 == 0
    square = printed_square("A1", 10.0, 96.0, checks)
    for inches in (72.0, 12.0):
        limits = Thresholds(viewing_inches=inches)
        piece = judge_piece(see_swatch(square, limits), beside_background(WHITE, limits), BOX)
        assert piece.melts == 0
    seen = see_swatch(square, Thresholds(viewing_inches=240.0))
    assert np.ptp(seen.lightness) < 3
    assert seen.lightness.mean() == pytest.approx(square.lab[0], abs=1)


def test_a_printed_background_counts_as_a_print() -> None:
    # Black stripes cover two fifths of a white ground: a black piece melts on so much of it, and
    # the mean of the ground, a grey, would tell nothing of that.
    x, _ = places()
    stripes = (x % 5) < 2.0
    square = printed_square("A1", 20.0, 20.0, np.zeros_like(stripes))
    ground = printed_square("B1", 96.0, 20.0, stripes)
    printed = Background("stripes", ground.lab, picture=ground.picture, pixels_per_inch=20.0)
    plain = Background("its mean", ground.lab)
    seen = see_swatch(square, LIMITS)
    on_print = judge_piece(seen, beside_background(printed, LIMITS), BOX)
    on_mean = judge_piece(seen, beside_background(plain, LIMITS), BOX)
    assert on_mean.melts == 0
    assert on_print.melts == pytest.approx(0.4, abs=0.03)
    assert not on_print.good


def test_what_the_photo_does_not_show_is_not_counted() -> None:
    x, y = places()
    flower = (x > 3.0) & (x < 5.0) & (y < 3.0)
    hidden = ~((x > 2.5) & (x < 5.5) & (y < 3.2))
    square = printed_square("A1", 25.0, 96.0, flower, valid=hidden)
    piece = judge_piece(see_swatch(square, LIMITS), beside_background(WHITE, LIMITS), BOX)
    assert piece.melts == 0
    assert piece.seen == pytest.approx(13 / 16, abs=0.03)


def test_hardly_seen_edges_fall_back_to_what_the_whole_reads_as() -> None:
    x, y = places()
    square = printed_square("A1", 25.0, 25.0, x < 0, valid=(np.hypot(x - 4.25, y - 4.25) < 1.5))
    piece = judge_piece(see_swatch(square, LIMITS), beside_background(WHITE, LIMITS), BOX)
    assert piece.seen < 0.5
    assert piece.verdict == "holds"


def test_a_sliver_of_a_small_square_is_seen() -> None:
    """Of a small square the picture is reduced before it is looked at."""
    shown = np.zeros((120, 120), bool)
    shown[:, 61] = True
    picture = paint(25.0, 96.0, np.zeros((120, 120), bool))
    seen = see(picture, 120 / 2.5, 30.0, viewing_inches=72.0, valid=shown)
    assert np.isfinite(seen.offset)
    assert np.nanmedian(seen.lightness) == pytest.approx(30.0, abs=0.5)


PATCH = (PieceRule("patch", Fraction(3), Fraction(3), 6),)


def test_fussy_cutting_goes_around_a_band_of_flowers() -> None:
    x, _ = places()
    square = printed_square("A1", 25.0, 96.0, (x > 3.05) & (x < 3.95))
    judged = judge_square(square, PATCH, WHITE)
    assert len(judged.pieces) == len(judged.around) == 6
    assert judged.good < 6
    assert sum(piece.good for piece in judged.around) == 6
    for piece in judged.around:
        assert 0 <= piece.x <= 7
        assert 0 <= piece.y <= 7
        # The white band lies in seam allowance or waste, or within the piece off its seams.
        assert piece.melts <= 0.1
    assert "cut here" in judged.sentence
    boxes = [(p.x, p.y, p.x + p.width, p.y + p.height) for p in judged.around]
    for n, one in enumerate(boxes):
        for other in boxes[:n]:
            apart = (
                one[2] <= other[0] or other[2] <= one[0] or one[3] <= other[1] or other[3] <= one[1]
            )
            assert apart


def test_a_solid_needs_no_advice() -> None:
    x, _ = places()
    judged = judge_square(printed_square("A1", 30.0, 30.0, x < 0), PATCH, WHITE)
    assert judged.good == 6
    assert judged.around is judged.pieces
    assert judged.share("holds") == 1
    assert judged.sentence == "all 6 pieces are good, wherever they are cut"


def test_a_square_is_looked_at_once_for_all_that_it_is_laid_beside(monkeypatch) -> None:
    looked: list[str] = []

    def look(swatch: Swatch, thresholds: Thresholds) -> Seen:
        looked.append(swatch.id)
        return see_swatch(swatch, thresholds)

    monkeypatch.setattr(pieces, "see_swatch", look)
    x, _ = places()
    square, twin = (printed_square("A1", 30.0, 80.0, x < 0) for _ in range(2))
    first = judge_square(square, PATCH, WHITE, around=False)
    assert judge_square(square, PATCH, WHITE, around=False) == first
    black = Background("black", (20.0, 0.0, 0.0))
    assert judge_square(square, PATCH, black, around=False) != first
    assert looked == ["A1"]
    small = (PieceRule("patch", Fraction(2), Fraction(2), 4),)
    judge_square(square, small, WHITE, around=False)
    judge_square(square, PATCH, WHITE, Thresholds(viewing_inches=24.0), around=False)
    assert judge_square(twin, PATCH, WHITE, around=False) == first
    assert len(looked) == 4, "other pieces, another distance, another square of the same name"


def test_what_was_seen_of_a_square_goes_with_it() -> None:
    x, _ = places()
    square = printed_square("A1", 30.0, 30.0, x < 0)
    before = len(pieces._PLAIN_EDGES)
    judge_square(square, PATCH, WHITE)
    assert len(pieces._PLAIN_EDGES) == before + 1
    del square
    gc.collect()
    assert len(pieces._PLAIN_EDGES) <= before


def test_a_stack_without_pieces_is_judged_as_nothing() -> None:
    x, _ = places()
    judged = judge_square(printed_square("A1", 30.0, 30.0, x < 0), (), WHITE)
    assert judged.pieces == ()
    assert judged.good == 0


def test_melting_map_is_one_where_the_flower_is() -> None:
    x, y = places()
    flower = np.hypot(x - 5, y - 5) < 2
    square = printed_square("A1", 25.0, 96.0, flower)
    bad = melting_map(see_swatch(square, LIMITS), beside_background(WHITE, LIMITS))
    assert bad.shape == (200, 200)
    assert bad[flower].mean() > 0.9
    assert bad[~flower].mean() < 0.01


@settings(max_examples=30)
@given(
    ground=st.floats(0, 100),
    motif=st.floats(0, 100),
    edge=st.floats(0, 10),
    background=st.floats(0, 100),
)
def test_shares_sum_to_one_and_turning_changes_nothing(
    ground: float, motif: float, edge: float, background: float
) -> None:
    x, y = places()
    beside = beside_background(Background("b", (background, 0.0, 0.0)), LIMITS)
    across = judge_piece(
        see_swatch(printed_square("A1", ground, motif, x < edge), LIMITS), beside, BOX
    )
    down = judge_piece(
        see_swatch(printed_square("A1", ground, motif, y < edge), LIMITS), beside, BOX
    )
    assert across.holds + across.soft + across.melts == pytest.approx(1)
    assert across.melts == pytest.approx(down.melts, abs=0.02)
    assert across.verdict in ("holds", "soft", "melts")


def test_paint_is_what_it_says() -> None:
    from colorcore.color.spaces import lab_from_linear, linear_from_coded

    x, _ = places()
    lab = lab_from_linear(linear_from_coded(paint(25.0, 96.0, x < 5)))
    assert lab[0, 0, 0] == pytest.approx(96, abs=0.3)
    assert lab[0, -1, 0] == pytest.approx(25, abs=0.3)
