"""Trust in plain words, and standard deviations that are honest."""

from dataclasses import replace

import numpy as np
import pytest

from colorcore.light import undo_light
from colorcore.light.trust import grade
from tests.light.pictures import make_table, ramp


@pytest.mark.parametrize(
    ("reference", "total", "order", "tone_open", "letter", "words"),
    [
        ("chart", 0.8, 0.5, False, "A", "values are good to 0.8"),
        ("paper+grey card", 2.2, 0.6, False, "B", "paper and grey card"),
        ("paper", 7.0, 0.6, True, "C", "camera's own processing is unknown"),
        ("paper", 7.0, 4.0, True, "D", "right order"),
        ("paper", 4.0, 1.0, False, "C", "check contrast by eye"),
        ("none", 9.0, 1.0, True, "D", "the light was guessed"),
    ],
)
def test_grades(reference, total, order, tone_open, letter, words):
    given, sentence = grade(reference, np.full(5, total), np.full(5, order), tone_open)
    assert given == letter
    assert words in sentence
    assert sentence.endswith(".")


def test_a_photo_without_squares_gets_the_lowest_grade():
    assert grade("paper", np.zeros(0), np.zeros(0), False)[0] == "D"


def test_a_reference_that_cannot_be_relied_on_is_never_graded_above_d():
    tight = np.full(5, 0.5)
    letter, words = grade("paper", tight, tight, False, doubtful="but that is overexposed")
    assert letter == "D"
    assert words.startswith("Measured against paper, but that is overexposed: squares")


def test_order_is_never_less_sure_than_the_whole():
    table = make_table()
    calibration = undo_light(table.photo(0.95), table.finding())
    for square, lab in zip(table.squares, table.labs, strict=True):
        whole = calibration.lab_sd(square.corners, lab)
        assert calibration.order_sd(square.corners, lab) <= whole[0]
        assert min(whole) > 0


def test_doubt_grows_away_from_what_was_seen():
    table = make_table()
    finding = table.finding()
    seen = finding.surface.copy()
    seen[:, 100:] = False
    photo = table.photo(0.95 * ramp((900, 1200), 0.6, 0.2))
    whole = undo_light(photo, finding)
    part = undo_light(photo, replace(finding, surface=seen))
    corners, lab = table.squares[3].corners, (50.0, 0.0, 0.0)
    assert part.order_sd(corners, lab) > whole.order_sd(corners, lab)


def test_strong_colours_are_less_sure_than_greys():
    table = make_table()
    calibration = undo_light(table.photo(0.95), table.finding())
    corners = table.squares[0].corners
    grey = calibration.lab_sd(corners, (50.0, 0.0, 0.0))
    red = calibration.lab_sd(corners, (50.0, 60.0, 40.0))
    assert red[1] > grey[1]
    assert red[2] > grey[2]
