"""References that make cloth or paper lighter than either can be."""

from dataclasses import replace

import numpy as np
import pytest

from colorcore.color.spaces import linear_from_lab
from colorcore.finding.model import FoundThing
from colorcore.light import Reference, undo_light
from tests.light.pictures import Table, fill, make_table, quad, ramp

LIGHT = 0.95 * ramp((900, 1200), 0.4, 0.2)
CARD = quad(1080, 650, 150, 200, 2)


@pytest.fixture(scope="module")
def table() -> Table:
    return make_table()


def with_card(table: Table, lightness: float) -> Table:
    picture = table.picture.copy()
    fill(picture, CARD, linear_from_lab(np.array([lightness, 0, 0])))
    return replace(table, picture=picture)


def told(notes: tuple[str, ...]) -> list[str]:
    return [note for note in notes if "would be lighter" in note]


def test_a_point_on_the_table_stays_used_but_is_not_trusted(table):
    photo, finding = table.photo(LIGHT), table.finding(things=False)
    right = undo_light(photo, finding, white=(1080.0, 300.0))
    wrong = undo_light(photo, finding, white=(1080.0, 500.0))
    assert not told(right.notes)
    assert right.trust in "ABC"
    assert wrong.trust == "D"
    assert "cannot be right" in wrong.trust_words
    assert "Point again" in told(wrong.notes)[0]

    assert wrong.reference == "paper"


def test_a_dark_sheet_that_was_found_is_told_in_other_words(table):
    bare = with_card(make_table(paper=None), 70)
    finding = replace(bare.finding(), things=(FoundThing("sheet", CARD),))
    calibration = undo_light(bare.photo(LIGHT), finding)
    assert calibration.reference == "paper"
    assert calibration.trust == "D"
    assert "what was taken for the paper" in told(calibration.notes)[0]


def test_paper_lighter_than_white_beside_the_point_tells_where_squares_do_not(table):
    """A card of L* 80 is taken for paper, and no square is lighter than L* 75."""
    dim = with_card(table, 80)
    light_squares = [i for i, lab in enumerate(table.labs) if lab[0] > 75]
    for index in light_squares:
        fill(dim.picture, dim.squares[index].corners, linear_from_lab(np.array([60.0, 4, 4])))
    photo = dim.photo(LIGHT)
    card = Reference(kind="paper", outline=CARD)
    alone = undo_light(photo, dim.finding(things=False), references=[card])
    beside = undo_light(photo, dim.finding(), references=[card])
    assert not told(alone.notes)
    assert told(beside.notes)[0].startswith("Another sheet")
    assert beside.trust == "D"


def test_white_cloth_one_shining_square_and_a_dim_room_are_no_reason():
    white = make_table(seed=5)
    labs = np.array([[94.5 + 0.2 * (i % 6), 0, 1] for i in range(len(white.squares))])
    for square, lab in zip(white.squares, labs, strict=True):
        fill(white.picture, square.corners, linear_from_lab(lab))
    fill(white.picture, white.squares[7].corners, np.full(3, 1.3))
    for level in (0.6, 0.15):
        calibration = undo_light(white.photo(level * LIGHT), white.finding())
        assert not told(calibration.notes)
        assert calibration.trust in "ABC"
