"""The seams that melt are marked where they are: a dark square with a white strip on white."""

import re
from fractions import Fraction
from xml.etree import ElementTree

import numpy as np
import pytest

from colorcore.contrast import Background
from colorcore.pattern import PieceRule
from colorcore.sheets.seams import describe_seams, draw_seams
from tests.stacking.making import make_swatch

PIECE = (PieceRule("patch", Fraction(5), Fraction(5), 4),)
WHITE = Background("white <cotton>", (97.0, 0.0, 0.0))


def _square(picture: np.ndarray, lightness: float) -> object:
    return make_swatch("B3", (lightness, 0.0, 0.0), picture=picture)


@pytest.fixture
def dark() -> np.ndarray:
    return np.full((200, 200, 3), 40, np.uint8)


def test_a_dark_solid_on_white_has_no_marks(dark):
    drawn = draw_seams(_square(dark, 16.0), PIECE, WHITE)
    ElementTree.fromstring(drawn)
    assert "#111" not in drawn
    assert "no seam of them melts" in describe_seams(_square(dark, 16.0), PIECE, WHITE)


def test_a_white_square_on_white_is_marked_all_around(dark):
    drawn = draw_seams(_square(dark + 205, 96.0), PIECE, WHITE)
    assert len(re.findall("h-.34z", drawn)) == 16
    assert "100\u00a0% of the seams" in describe_seams(_square(dark + 205, 96.0), PIECE, WHITE)


def test_only_the_white_edge_is_marked(dark):
    """A white strip along the square's top: the tops of the two upper pieces melt, no others."""
    dark[:30] = 245
    drawn = draw_seams(_square(dark, 46.0), PIECE, WHITE)
    marks = [
        (float(x), float(y)) for x, y in re.findall(r'd="M([\d.]+) ([\d.]+)l.17 .3h-.34z"', drawn)
    ]
    tops = [y for _, y in marks if y < 0.5]
    assert len(tops) == 2
    assert all(y < 2 for _, y in marks)


def test_names_are_text_not_markup(dark):
    drawn = draw_seams(_square(dark, 16.0), PIECE, WHITE)
    assert "<cotton>" not in drawn
    assert "white &lt;cotton&gt;" in drawn
