"""Strips from yardage against published tables and worked examples."""

from fractions import Fraction as F
from math import ceil

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from colorcore.cutting import PieceWanted
from colorcore.cutting.yardage import (
    Enough,
    missing_length,
    plan_backing,
    plan_batting,
    plan_binding,
    plan_border,
    plan_strips,
    squares_from,
)
from colorcore.errors import CuttingError
from colorcore.lengths import Measure, round_up_yards

# quilterscache.com, 'Math Charts' (17 June 2002): squares per yard, 44 in usable width.
SQUARES_PER_YARD = {
    "1": 1584, "3/2": 696, "15/8": 437, "2": 396, "5/2": 238, "23/8": 180, "3": 168, "7/2": 120,
    "31/8": 99, "4": 99, "9/2": 72, "39/8": 63, "5": 56, "11/2": 48, "47/8": 42, "6": 42,
    "13/2": 30, "7": 30, "8": 20, "17/2": 20, "71/8": 16, "9": 16, "19/2": 12, "10": 12,
    "21/2": 12, "11": 12, "23/2": 9, "12": 9, "25/2": 6,
}  # fmt: skip

# The same page: squares per fat quarter, 18 x 22 in.
SQUARES_PER_FAT_QUARTER = {
    "2": 99, "5/2": 56, "23/8": 42, "3": 42, "7/2": 30, "31/8": 20, "4": 20, "9/2": 16,
    "39/8": 12, "5": 12, "11/2": 12, "47/8": 9, "6": 9, "13/2": 6, "55/8": 6,
}  # fmt: skip


@pytest.mark.parametrize(("size", "count"), SQUARES_PER_YARD.items())
def test_squares_per_yard(size: str, count: int) -> None:
    assert squares_from(F(size), F(44), F(36)) == count


@pytest.mark.parametrize(("size", "count"), SQUARES_PER_FAT_QUARTER.items())
def test_squares_per_fat_quarter(size: str, count: int) -> None:
    assert squares_from(F(size), F(22), F(18)) == count


def test_strips_of_a_worked_example() -> None:
    """quiltingboard.com, post of 11 August 2013: 63 squares of 9½ in from 42 in cloth are 16
    strips, 152 in, with one square left over from the last strip."""
    plan = plan_strips([PieceWanted("squares", F(19, 2), F(19, 2), 63)])
    assert sum(k.strips for k in plan.kinds) == 16
    assert plan.length == 152
    assert {n for k in plan.kinds for _, n in k.pieces} == {4, 3}


def test_strips_of_another_worked_example() -> None:
    """judysquiltsandthings.blogspot.com, 3 May 2011: 88 squares of 4½ in from 40 in cloth are 11
    strips, 49½ in; 16 triangles of 4 in come from 8 squares of 4⅞ in, one strip more."""
    squares = PieceWanted("squares", F(9, 2), F(9, 2), 88)
    assert plan_strips([squares], usable=F(40)).length == F(99, 2)
    with_triangles = [squares, PieceWanted("triangles", F(39, 8), F(39, 8), 8)]
    assert plan_strips(with_triangles, usable=F(40)).length == F(99, 2) + F(39, 8)


def test_binding_of_a_worked_example() -> None:
    """castillejacotton.blogspot.com, 2 June 2013: 50 x 60 in from 40 in cloth less 2 in a strip
    takes 6 strips."""
    assert plan_binding(F(50), F(60), usable=F(40)).strips == 6


def test_binding_reaches_around_after_its_joins() -> None:
    """Nine strips of 42 in, joined on the slant, are 9 x (42 - 2 1/2) = 355 1/2 in long."""
    assert plan_binding(F(90), F(90)).strips == 10
    assert plan_binding(F(88), F("89.75")).strips == 9


def test_backing_of_a_worked_example_both_ways() -> None:
    """quiltingboard.com, post of 11 December 2015: a backing of 65 x 78 in takes 2 x 65 = 130 in
    (3⅝ yd) or 2 x 78 = 156 in (4⅓ yd), as the seam goes."""
    ways = plan_backing(F(57), F(70))
    assert [(b.panels, b.panel_length, b.length, b.upright) for b in ways] == [
        (2, 65, 130, False),
        (2, 78, 156, True),
    ]
    assert round_up_yards(ways[0].length) == F(29, 8)


def test_backing_of_three_panels() -> None:
    """A forum's worked example (quiltersclubofamerica.com, thread 24983): a quilt of 112 x 88 in
    with 4 in on every side takes 3 widths of 96 in from 42 in cloth."""
    upright = next(b for b in plan_backing(F(112), F(88)) if b.upright)
    assert (upright.panels, upright.panel_length) == (3, 96)


def test_backing_of_one_width() -> None:
    """stcroixquilters.com, 'Quilt Backing': a top 40 in wide needs one width of cloth if the
    margins are small; with 1 in on either side that is 42 in."""
    assert plan_backing(F(40), F(45), overhang=F(1))[0].panels == 1


@pytest.mark.parametrize("usable", [F(1, 4), F(1, 2)])
def test_cloth_as_narrow_as_a_seam_makes_no_backing(usable: F) -> None:
    with pytest.raises(CuttingError, match="too narrow"):
        plan_backing(F(40), F(45), usable=usable)


def test_border_strips_reach_around() -> None:
    joined, side, across = plan_border("border", F(48), F(56), F(4))
    assert (side, across) == (F(113, 2), F(113, 2))
    assert joined.height == F(9, 2)
    # n strips of 42 in joined with n - 1 seams of two quarter-inch allowances.
    run = joined.strips * 42 - (joined.strips - 1) * F(1, 2)
    assert run >= 2 * side + 2 * across > (joined.strips - 1) * 42 - (joined.strips - 2) * F(1, 2)


def test_batting_and_shrinkage() -> None:
    assert plan_batting(F(60), F(72)) == (68, 80)
    washed = plan_strips([PieceWanted("s", F(5), F(5), 32)], shrinkage=0.03)
    # 42 in wash to 40.74 in: still eight squares a strip, four strips, and 20 in need 20.62 in.
    assert sum(k.strips for k in washed.kinds) == 4
    assert washed.length == F(20) / (1 - F(3, 100))
    with pytest.raises(CuttingError, match="Shrinkage"):
        plan_strips([PieceWanted("s", F(5), F(5), 32)], shrinkage=2)


def test_like_heights_share_strips() -> None:
    """Squares and rectangles of 2½ in: 20 of 4½ in and 16 of 2½ in are 130 in, four strips of
    42 in; apart they would take three and one."""
    plan = plan_strips(
        [PieceWanted("r", F(9, 2), F(5, 2), 20), PieceWanted("s", F(5, 2), F(5, 2), 16)]
    )
    assert sum(k.strips for k in plan.kinds) == 4
    assert plan.length == 10


def brute_force_strips(pieces: list[tuple[int, int]], width: int) -> int:
    """Fewest strips for (length, count), by trying every strip for every piece."""
    items = sorted((length for length, count in pieces for _ in range(count)), reverse=True)
    best = len(items)

    def place(n: int, rooms: tuple[int, ...]) -> None:
        nonlocal best
        if len(rooms) >= best:
            return
        if n == len(items):
            best = len(rooms)
            return
        for i in {rooms.index(r) for r in rooms if r >= items[n]}:
            place(n + 1, (*rooms[:i], rooms[i] - items[n], *rooms[i + 1 :]))
        place(n + 1, (*rooms, width - items[n]))

    place(0, ())
    return best


@settings(max_examples=40, derandomize=True)
@given(
    pieces=st.lists(
        st.tuples(st.integers(2, 10), st.integers(1, 3)),
        min_size=1,
        max_size=3,
        unique_by=lambda p: p[0],
    )
)
def test_fewest_strips_as_brute_force(pieces: list[tuple[int, int]]) -> None:
    wanted = [PieceWanted(str(n), F(n), F(12), count, fixed=True) for n, count in pieces]
    plan = plan_strips(wanted, usable=F(11))
    assert sum(k.strips for k in plan.kinds) == brute_force_strips(pieces, 11)
    for i, (_, count) in enumerate(pieces):
        made = sum(n * k.strips for k in plan.kinds for j, n in k.pieces if j == i)
        assert made == count
    assert plan.proof == "No fewer strips give these pieces."


def test_too_long_a_piece_is_refused() -> None:
    with pytest.raises(CuttingError, match="usable width"):
        plan_strips([PieceWanted("sash", F(60), F(50), 1)])


def test_enough_says_what_is_left_or_missing() -> None:
    assert Enough("Background", F(72), F(60)).ok
    short = Enough("Background", F(36), F(41))
    assert not short.ok
    assert "5 in too short" in short.told(Measure())
    assert "12.7 cm too short: 104.1 cm are needed" in short.told(Measure(metric=True))
    assert "just enough, with nothing" in Enough("Background", F(41), F(41)).told(Measure())
    tight = Enough("Background", F(42), F(41))
    assert tight.ok
    assert "just enough: 1 in for straightening its ends" in tight.told(Measure())


def test_what_is_missing_is_whole_strips() -> None:
    """Of 5 in at hand a strip of 3 in is cut, and what is left gives none."""
    strips = [(F(2), 1), (F(3), 4)]
    assert missing_length(strips, F(0)) == 14
    assert missing_length(strips, F(5)) == 9
    assert missing_length(strips, F(4)) == 11
    assert missing_length(strips, F(14)) == 0
    # Washed, a strip takes more of the cloth than it is high.
    assert missing_length([(F(9), 2)], F(9), shrinkage=0.1) == 20
    assert missing_length([(F(9), 2)], F(10), shrinkage=0.1) == 10


@given(st.lists(st.tuples(st.integers(1, 20), st.integers(1, 6)), max_size=5), st.integers(0, 200))
def test_what_is_at_hand_and_what_is_missing_give_all_strips(
    strips: list[tuple[int, int]], have: int
) -> None:
    total = sum(height * number for height, number in strips)
    missing = missing_length([(F(height), number) for height, number in strips], F(have))
    assert total - have <= missing <= total
    # Less than a strip of what is at hand is of no use, as long as there is one to be cut.
    assert missing == 0 or have - (total - missing) < max(height for height, _ in strips)


def test_yards_round_up_to_eighths() -> None:
    assert round_up_yards(F(152)) == F(ceil(152 / 4.5), 8) == F(17, 4)
