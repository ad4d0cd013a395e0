"""The drawn outlines: there, readable, and not by colour alone."""

import numpy as np
import pytest

from colorcore.finding import Finding, FoundSquare, FoundThing
from colorcore.finding.overlay import draw_outlines
from colorcore.photo import photo_from_array

QUAD = np.array([[100.0, 80], [300, 80], [300, 280], [100, 280]])


def finding(**parts: object) -> Finding:
    empty = {"squares": (), "doubtful": (), "things": ()}
    return Finding(**{**empty, **parts}, surface=np.ones((4, 4), bool), surface_scale=0.01)  # type: ignore[arg-type]


def drawn_along_top(picture: np.ndarray) -> float:
    """Share of the outline's top side that is not the picture's grey."""
    return float(np.mean(np.abs(picture[78:83, 105:295].astype(int) - 128).max(axis=(0, 2)) > 40))


def test_a_square_is_outlined_all_along_and_the_photo_stays_as_it_was() -> None:
    photo = photo_from_array(np.full((400, 500, 3), 128, np.uint8))
    picture = draw_outlines(photo, finding(squares=(FoundSquare(QUAD, 1, 2, 0.99),)))
    assert picture.shape == (400, 500, 3)
    assert drawn_along_top(picture) == 1.0
    assert (photo.pixels == 128).all()
    assert (picture[300:] == 128).all()


def test_doubt_shows_in_the_line_itself() -> None:
    photo = photo_from_array(np.full((400, 500, 3), 128, np.uint8))
    picture = draw_outlines(photo, finding(doubtful=(FoundSquare(QUAD, 0, 0, 0.3),)))
    assert 0.3 < drawn_along_top(picture) < 0.95


def test_each_kind_of_outline_differs_without_colour() -> None:
    photo = photo_from_array(np.full((400, 500, 3), 128, np.uint8))
    pictures = [
        draw_outlines(photo, finding(squares=(FoundSquare(QUAD, 0, 0, 0.99),))),
        draw_outlines(photo, finding(doubtful=(FoundSquare(QUAD, 0, 0, 0.3),))),
        draw_outlines(photo, finding(things=(FoundThing("sheet", QUAD),))),
    ]
    grey = [np.abs(p.astype(int).mean(axis=2) - 128) > 40 for p in pictures]
    for one, two in ((0, 1), (0, 2), (1, 2)):
        assert (grey[one] ^ grey[two]).sum() > 0.1 * grey[one].sum()


def test_a_square_is_labelled_with_another_name() -> None:
    photo = photo_from_array(np.full((400, 500, 3), 128, np.uint8))
    found = finding(squares=(FoundSquare(QUAD, 1, 2, 0.99),))
    own, other = draw_outlines(photo, found), draw_outlines(photo, found, names={"B3": "2-C4"})
    assert (own != other).any()
    assert (draw_outlines(photo, found, names={"A1": "2-C4"}) == own).all()


@pytest.mark.parametrize("side", [30.0, 3000.0])
def test_labels_fit_pictures_of_any_size(side: float) -> None:
    size = int(side * 1.5)
    photo = photo_from_array(np.full((size, size, 3), 128, np.uint8))
    quad = np.array([[0, 0], [side, 0], [side, side], [0, side]])
    square = FoundSquare(quad, 27, 11, 0.99)
    picture = draw_outlines(photo, finding(squares=(square,)), max_side=1000)
    assert max(picture.shape) <= 1000
    assert (picture != 128).any()
