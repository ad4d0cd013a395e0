"""A fabric from elsewhere is cut to the size of the square whose place it takes."""

from dataclasses import replace

import numpy as np
import pytest

from colorcore.color.spaces import lab_from_linear, linear_from_coded
from colorcore.contrast import Thresholds
from colorcore.making import plan_making
from colorcore.stacking.checking import check_pieces
from colorcore.substitutes.model import Candidate, Origin
from colorcore.substitutes.standing_in import with_stand_in
from colorcore.substitutes.trial import Trial, can_deal, exchanged
from tests.substitutes.making import bundle, pattern, plan, striped

SQUARE = next(s.id for s in bundle().squares)
FOCAL = plan().stacks[0].placements[0].square


def put_in(cloth):
    return next(s for s in with_stand_in(bundle(), SQUARE, cloth).squares if s.id == SQUARE)


@pytest.mark.parametrize(("shown", "samples"), [(6.5, 130), (3.0, 60), (24.0, 480), (0.5, 400)])
def test_a_print_keeps_its_scale_whatever_part_of_the_cloth_its_photo_shows(shown, samples):
    cloth = striped((40.0, 10.0, -20.0), period=shown / 2, spread=30.0, side_inches=shown,
                    samples=samples)  # fmt: skip
    square = put_in(cloth)
    assert square.side_inches == 10.0
    pixels = len(square.picture)
    assert square.picture.shape == (pixels, pixels, 3)
    assert pixels <= 640
    row = np.asarray(lab_from_linear(linear_from_coded(square.picture[pixels // 2])))[:, 0]
    changes = int((np.abs(np.diff(row)) > 10).sum())
    # Two changes of tone in each repeat; what is mirrored at an edge may add to a stripe's width.
    repeats = 10.0 / (shown / 2)
    assert repeats <= changes + 1 <= 2 * repeats + 1
    assert float(row.mean()) == pytest.approx(40.0, abs=4.0)


def test_what_is_not_the_cloth_stays_marked():
    cloth = striped((40.0, 10.0, -20.0), side_inches=5.0, samples=100)
    valid = np.ones((100, 100), dtype=bool)
    valid[:, :10] = False
    square = put_in(replace(cloth, valid=valid))
    assert square.valid.shape == (200, 200)
    # The mirror doubles the strip at the left, where it lies within the square now.
    assert (~square.valid).sum() == 2 * 10 * 200
    fine = put_in(replace(striped((40.0, 0.0, 0.0), side_inches=0.5, samples=100),
                          valid=np.ones((100, 100), dtype=bool)))  # fmt: skip
    assert fine.valid.all()


def test_cloth_of_the_square_s_own_size_is_taken_as_it_is():
    cloth = striped((40.0, 10.0, -20.0))
    assert put_in(cloth).picture is cloth.picture


def test_a_yard_of_which_a_photo_shows_a_part_can_be_cut():
    """What stands in is a square of the pattern's size, as the yardage gives it."""
    cloth = striped((28.0, 10.0, -20.0), period=1.0, spread=8.0, side_inches=6.5)
    yard = Candidate("Yard", Origin.STASH, cloth, 12)
    trial = Trial(plan(), bundle(), pattern(), Thresholds(), FOCAL)
    outcome, trouble = can_deal(trial, yard)
    assert (trouble, outcome is None) == ("", False)
    made, _ = exchanged(trial, yard)
    checked = check_pieces(outcome.plan, made, pattern())
    assert not any("cuts squares of 10 in" in words for words in checked.second_look)
    assert FOCAL in [square.id for square in made.squares]
    cuts = plan_making(outcome.plan, made, pattern()).cuts
    assert FOCAL in [cut.square for stack in cuts for cut in stack.cuts]
