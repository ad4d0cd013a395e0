"""Cuts that go around the bad parts of a square."""

from fractions import Fraction as F

import numpy as np
import pytest

from colorcore.cutting import PieceWanted
from colorcore.cutting.avoiding import badness_from_map, cut_around
from colorcore.cutting.kits import cut_stacks
from colorcore.pattern import read_pattern
from colorcore.pattern.layout import spread
from colorcore.pattern.units import read_units
from tests.cutting.test_guillotine import check_cutting


def spot_map(x: float, y: float, radius: float) -> np.ndarray:
    """A square of 10 in at 20 pixels per inch, bad within ``radius`` of (x, y)."""
    at = (np.arange(200) + 0.5) / 20
    return ((at[None, :] - x) ** 2 + (at[:, None] - y) ** 2 < radius**2).astype(float)


def test_badness_is_the_share_of_the_seam_line() -> None:
    left_half = np.zeros((200, 200))
    left_half[:, :100] = 1
    badness = badness_from_map(left_half, 10)
    assert badness(0, 0, 4, 4) == pytest.approx(1)
    assert badness(6, 0, 4, 4) == 0
    # A piece across the middle: all of one side, half of top and bottom.
    assert badness(3, 0, 4, 4) == pytest.approx(0.5, abs=0.02)


@pytest.mark.parametrize("spot", [(1.0, 1.0), (9.0, 1.5), (1.5, 8.5), (9.0, 9.0)])
def test_spare_room_is_put_where_the_square_is_bad(spot: tuple[float, float]) -> None:
    """Eight 2½ in squares leave half the square over: none of them touches the spot."""
    pieces = [PieceWanted("points", F(5, 2), F(5, 2), 8)]
    cutting, badness = cut_around(
        F(10), F(10), pieces, (8,), badness_from_map(spot_map(*spot, 1), 10)
    )
    check_cutting(cutting)
    assert sum(part.piece == 0 for part in cutting.parts) == 8
    assert max(badness) == 0


def test_yield_stays_the_best_and_no_plain_cutting_is_better() -> None:
    pieces = [PieceWanted("c", F(9, 2), F(9, 2), 2), PieceWanted("p", F(5, 2), F(5, 2), 8)]
    bad = badness_from_map(spot_map(5.5, 5, 1.2), 10)
    cutting, badness = cut_around(F(10), F(10), pieces, (2, 8), bad)
    check_cutting(cutting)
    assert [sum(p.piece == i for p in cutting.parts) for i in (0, 1)] == [2, 8]
    from colorcore.cutting import Guillotine

    plain = Guillotine(F(10), F(10), pieces).cutting((2, 8))
    plain_bad = sum(
        bad(float(p.x), float(p.y), float(p.width), float(p.height))
        for p in plain.parts
        if p.piece is not None
    )
    assert sum(badness) <= plain_bad + 1e-9


def test_against_every_placement_on_a_small_square() -> None:
    """One 3 x 2 piece in a 5 x 4: the best of all places that sums from either edge allow."""
    rng = np.random.default_rng(3)
    values = rng.random((6, 6))
    pieces = [PieceWanted("r", F(3), F(2), 1)]
    cutting, badness = cut_around(
        F(5), F(4), pieces, (1,), lambda x, y, w, h: float(values[int(x), int(y)] + w / 100)
    )
    check_cutting(cutting)
    every = [
        values[x, y] + w / 100
        for w, h in ((3, 2), (2, 3))
        for x in range(5 - w + 1)
        for y in range(4 - h + 1)
    ]
    assert sum(badness) == pytest.approx(min(every))


def test_many_pieces_fall_back_to_mirror_images() -> None:
    pieces = [PieceWanted("a", F(3, 2), F(3, 2), 30), PieceWanted("b", F(2), F(2), 4)]
    bad = badness_from_map(spot_map(9.5, 9.5, 0.6), 10)
    cutting, badness = cut_around(F(10), F(10), pieces, (24, 3), bad)
    check_cutting(cutting)
    assert sum(badness) < 1


def test_only_pieces_that_come_out_good_are_worth_cutting_around() -> None:
    layout = spread(read_units(read_pattern("gatepost-stars")), "throw")
    names = [f"A{i}" for i in range(14)]
    flower = badness_from_map(spot_map(1.7, 1.7, 1.4), 10)
    # Pale all over and a little less so to the right: every piece melts, wherever it is cut.
    pale = badness_from_map(np.broadcast_to(np.linspace(0.8, 0.2, 200), (200, 200)), 10)
    cuts = cut_stacks(layout, {"First chain": names}, badness={"A0": flower, "A1": pale})[0].cuts
    assert [cut.square for cut in cuts if cut.around] == ["A0"]
    # It would have saved a good deal of seam.
    plain = cuts[1].cutting
    _, least = cut_around(plain.width, plain.height, plain.pieces, plain.counts, pale)
    there = sum(
        pale(*map(float, (p.x, p.y, p.width, p.height))) for p in plain.parts if p.piece is not None
    )
    assert sum(least) < 0.75 * there
