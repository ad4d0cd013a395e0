"""Edge-to-edge cutting against brute force and against what every quilter knows by heart."""

from fractions import Fraction as F
from functools import cache
from itertools import product

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from colorcore.cutting import Cutting, Guillotine, PieceWanted
from colorcore.errors import CuttingError


def brute_force(width: int, height: int, pieces: list[tuple[int, int, int]]) -> set[tuple]:
    """Every count that any cut at any whole unit gives: no shrinking, no skipping."""

    @cache
    def all_counts(w: int, h: int) -> frozenset[tuple[int, ...]]:
        found = {(0,) * len(pieces)}
        for i, (a, b, most) in enumerate(pieces):
            if most and ((a <= w and b <= h) or (b <= w and a <= h)):
                found.add(tuple(int(j == i) for j in range(len(pieces))))
        halves = [(all_counts(x, h), all_counts(w - x, h)) for x in range(1, w)]
        halves += [(all_counts(w, y), all_counts(w, h - y)) for y in range(1, h)]
        for first, second in halves:
            for p, q in product(first, second):
                found.add(
                    tuple(min(x + y, m) for x, y, (_, _, m) in zip(p, q, pieces, strict=True))
                )
        return frozenset(found)

    counts = all_counts(width, height)
    return {
        c
        for c in counts
        if not any(d != c and all(x >= y for x, y in zip(d, c, strict=True)) for d in counts)
    }


def check_cutting(cutting: Cutting) -> None:
    """The parts tile the square, pieces have their size, and every line runs edge to edge."""
    area = sum(part.width * part.height for part in cutting.parts)
    assert area == cutting.width * cutting.height
    for part in cutting.parts:
        if part.piece is not None:
            piece = cutting.pieces[part.piece]
            assert {part.width, part.height} == {piece.width, piece.height}
            if piece.fixed:
                assert part.width == piece.width
    rooms = [(F(0), F(0), cutting.width, cutting.height)]
    for line in cutting.lines:
        for room in rooms:
            x, y, w, h = room
            if line.x0 == line.x1 and (line.y0, line.y1) == (y, y + h) and x < line.x0 < x + w:
                rooms.remove(room)
                rooms += [(x, y, line.x0 - x, h), (line.x0, y, x + w - line.x0, h)]
                break
            if line.y0 == line.y1 and (line.x0, line.x1) == (x, x + w) and y < line.y0 < y + h:
                rooms.remove(room)
                rooms += [(x, y, w, line.y0 - y), (x, line.y0, w, y + h - line.y0)]
                break
        else:
            raise AssertionError(f"{line} runs from edge to edge of no part")
    assert sorted(rooms) == sorted((p.x, p.y, p.width, p.height) for p in cutting.parts)


piece_lists = st.lists(
    st.tuples(st.integers(2, 6), st.integers(2, 6), st.integers(1, 3)), min_size=1, max_size=2
)


@settings(max_examples=60, derandomize=True)
@given(width=st.integers(3, 9), height=st.integers(3, 9), pieces=piece_lists)
def test_finds_what_brute_force_finds(
    width: int, height: int, pieces: list[tuple[int, int, int]]
) -> None:
    wanted = [PieceWanted(f"p{i}", F(w), F(h), most) for i, (w, h, most) in enumerate(pieces)]
    search = Guillotine(F(width), F(height), wanted)
    assert set(search.frontier()) == brute_force(width, height, pieces)
    for counts in search.frontier():
        cutting = search.cutting(counts)
        made = [sum(p.piece == i for p in cutting.parts) for i in range(len(wanted))]
        assert tuple(made) == counts
        check_cutting(cutting)


@pytest.mark.parametrize(
    ("size", "count"), [(F(5), 4), (F(5, 2), 16), (F(10, 3), 9), (F(9, 2), 4), (F(17, 4), 4)]
)
def test_a_ten_inch_square_gives(size: F, count: int) -> None:
    """Common practice, no source: four 5 in, sixteen 2½ in from a 10-inch square."""
    assert Guillotine(F(10), F(10), [PieceWanted("s", size, size, 99)]).frontier() == ((count,),)


def test_pinwheel_needs_a_cut_that_stops_halfway() -> None:
    """Four 2 x 3 around a 1 x 1 fill a 5 x 5 only with cuts that stop halfway: three is all."""
    search = Guillotine(F(5), F(5), [PieceWanted("r", F(3), F(2), 9)])
    assert search.frontier() == ((3,),)
    with_middle = Guillotine(
        F(5), F(5), [PieceWanted("r", F(3), F(2), 4), PieceWanted("m", F(1), F(1), 1)]
    )
    assert set(with_middle.frontier()) == brute_force(5, 5, [(3, 2, 4), (1, 1, 1)])
    assert (4, 1) not in with_middle.frontier()


def test_a_stripe_is_not_turned() -> None:
    turned = Guillotine(F(10), F(10), [PieceWanted("r", F(7), F(3), 9)])
    fixed = Guillotine(F(10), F(10), [PieceWanted("r", F(7), F(3), 9, fixed=True)])
    assert turned.frontier() == ((4,),)
    assert fixed.frontier() == ((3,),)


def test_asking_for_too_much_is_refused_in_words() -> None:
    search = Guillotine(F(10), F(10), [PieceWanted("5 in squares", F(5), F(5), 9)])
    with pytest.raises(CuttingError, match="5 5 in squares"):
        search.cutting((5,))


def test_trimmed_edges_lose_a_row() -> None:
    """2½ in squares need the full 10 in; after trimming an eighth all round only 3 x 3 are left."""
    trimmed = F(10) - 2 * F(1, 8)
    assert Guillotine(trimmed, trimmed, [PieceWanted("s", F(5, 2), F(5, 2), 99)]).frontier() == (
        (9,),
    )


@pytest.mark.parametrize(
    ("width", "height", "count", "tight"),
    [
        (F(5, 2), F(5, 2), 16, True), (F(5, 2), F(5, 2), 3, False), (F(3), F(3), 9, False),
        (F(10), F(2), 1, True), (F(2), F(10), 1, True),
    ],
)  # fmt: skip
def test_pieces_that_take_a_whole_side_are_known(
    width: F, height: F, count: int, tight: bool
) -> None:
    search = Guillotine(F(10), F(10), [PieceWanted("patch", width, height, 20, fixed=True)])
    assert search.cutting((count,)).takes_a_whole_side is tight
