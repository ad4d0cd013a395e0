"""Cut sizes of patches against published instructions, and patches as they look when sewn."""

from fractions import Fraction as F

import numpy as np
import pytest

from colorcore.pattern.layout import area_and_center
from colorcore.pattern.patches import (
    FlippedCorner,
    Patch,
    Shape,
    Strip,
    Then,
    cut_needs,
    facets,
)


def half(side: str) -> Patch:
    return Patch("h", Shape.HALF_SQUARE, F(side), F(side), ("a", "b"))


def quarter(side: str) -> Patch:
    return Patch("q", Shape.QUARTER_SQUARE, F(side), F(side), ("a", "b", "a", "b"))


def geese(width: str) -> Patch:
    return Patch("g", Shape.GEESE, F(width), F(width) / 2, ("goose", "sky", "sky"))


@pytest.mark.parametrize(
    ("finished", "cut"),
    [
        # quilterscache.com, 'Washington Star 2': 2 in triangles from 2 7/8 in squares.
        ("2", "2 7/8"),
        # allpeoplequilt.com, 'Pinwheel Star' (1 October 2019): 3 in from 3 7/8 in squares.
        ("3", "3 7/8"),
        # quilterscache.com, "Kite's Tail": squares 7/8 in larger than finished, 4 7/8 in for 4 in.
        ("4", "4 7/8"),
    ],
)
def test_half_square_triangles(finished: str, cut: str) -> None:
    whole, part = cut.split()
    for need in cut_needs(half(finished)):
        assert need.width == need.height == F(whole) + F(part)
        assert need.count == F(1, 2)
        assert need.then is Then.CUT_ONCE


@pytest.mark.parametrize(
    ("finished", "cut"),
    [
        # quilterscache.com, "Kite's Tail": squares 1 1/4 in larger than finished, 5 1/4 for 4 in,
        # cut on both diagonals.
        ("4", F(21, 4)),
        # allpeoplequilt.com, 'Pinwheel Star': 3 in from 4 1/4 in and 6 in from 7 1/4 in squares.
        ("3", F(17, 4)),
        ("6", F(29, 4)),
    ],
)
def test_quarter_square_triangles(finished: str, cut: F) -> None:
    needs = cut_needs(quarter(finished))
    assert {(n.width, n.height, n.count, n.then) for n in needs} == {
        (cut, cut, F(1, 4), Then.CUT_TWICE)
    }


def test_flying_geese_of_a_published_unit() -> None:
    """allpeoplequilt.com, 'Pinwheel Star': a goose of 3 x 6 in from a quarter of a 7 1/4 in square
    and two halves of a 3 7/8 in square."""
    goose, *sky = cut_needs(geese("6"))
    assert (goose.width, goose.count) == (F(29, 4), F(1, 4))
    assert [(n.width, n.count) for n in sky] == [(F(31, 8), F(1, 2))] * 2


def test_corners_sewn_on_and_flipped_of_a_published_unit() -> None:
    """quilterscache.com, 'Washington Star 2': two 2 1/2 in squares on a 2 1/2 x 4 1/2 in rectangle
    make a goose that finishes 2 x 4 in."""
    patch = Patch(
        "p", Shape.FLIPPED_CORNERS, F(4), F(2), ("ground",),
        (FlippedCorner("bottom left", F(2), "star"), FlippedCorner("bottom right", F(2), "star")),
    )  # fmt: skip
    assert [(n.fabric, n.width, n.height, n.count) for n in cut_needs(patch)] == [
        ("ground", F(9, 2), F(5, 2), 1),
        ("star", F(5, 2), F(5, 2), 1),
        ("star", F(5, 2), F(5, 2), 1),
    ]


def test_plain_pieces_and_strips_gain_half_an_inch() -> None:
    """Quarter-inch seams: common practice, no source."""
    plain = cut_needs(Patch("s", Shape.PLAIN, F(4), F(2), ("a",)))
    assert [(n.width, n.height) for n in plain] == [(F(9, 2), F(5, 2))]
    strips = Patch("r", Shape.STRIP_SET, F(6), F(3), (), (), (Strip(F(2), "a"), Strip(F(4), "b")))
    assert [(n.fabric, n.width, n.height, n.then) for n in cut_needs(strips)] == [
        ("a", F(5, 2), F(7, 2), Then.STRIP),
        ("b", F(9, 2), F(7, 2), Then.STRIP),
    ]


@pytest.mark.parametrize(
    "patch",
    [
        half("3"),
        quarter("4"),
        geese("4"),
        Patch("s", Shape.PLAIN, F(5), F(2), ("a",)),
        Patch("r", Shape.STRIP_SET, F(6), F(3), (), (), (Strip(F(2), "a"), Strip(F(4), "b"))),
        Patch(
            "c", Shape.FLIPPED_CORNERS, F(4), F(4), ("a",),
            tuple(
                FlippedCorner(at, F(2), "b")
                for at in ("top left", "top right", "bottom right", "bottom left")
            ),
        ),
        Patch("d", Shape.FLIPPED_CORNERS, F(5), F(3), ("a",),
              (FlippedCorner("top right", F(3), "b"), FlippedCorner("bottom left", F(1), "c"))),
    ],
    ids=lambda p: p.shape.value,
)  # fmt: skip
def test_facets_tile_the_patch(patch: Patch) -> None:
    shown = facets(patch)
    total = sum(area_and_center(np.array(f.polygon, dtype=float))[0] for f in shown)
    assert total == pytest.approx(float(patch.width * patch.height))
    points = {p for f in shown for p in f.polygon}
    assert all(0 <= x <= patch.width and 0 <= y <= patch.height for x, y in points)


def test_a_corner_is_a_triangle_where_it_was_sewn() -> None:
    patch = Patch(
        "c", Shape.FLIPPED_CORNERS, F(4), F(4), ("a",), (FlippedCorner("top right", F(2), "b"),)
    )
    corner = next(f for f in facets(patch) if f.fabric == "b")
    assert set(corner.polygon) == {(4, 0), (2, 0), (4, 2)}
