"""Squares on a patterned tablecloth, among whose steps their own sides are lost."""

import numpy as np
import pytest

from colorcore.finding import find_squares
from colorcore.photo import photo_from_array
from tests.bench.finding import match
from tests.scenes import Scene, make_scene


def _found(scene: Scene) -> tuple[int, int, int]:
    """Return how many squares there are, how many are found, and how many outlines are false."""
    finding = find_squares(photo_from_array(scene.pixels))
    truth = np.array([s.corners for s in scene.truth.squares])
    found = np.array([s.corners for s in finding.squares])
    right = len(match(truth, found))
    return len(truth), right, len(found) - right


def test_what_hides_the_pattern_between_squares_is_one() -> None:
    there, right, false = _found(make_scene("gaps_cloth", 1048, megapixels=1.5))
    assert right >= there - 1
    assert false == 0


@pytest.mark.parametrize("seed", [1060, 1061])
def test_an_empty_place_that_shows_the_pattern_is_none(seed: int) -> None:
    there, right, false = _found(make_scene("gaps_cloth", seed, megapixels=1.0, missing=0.2))
    assert right == there
    assert false == 0


def test_the_checks_of_a_tablecloth_are_no_squares_beside_the_layout() -> None:
    """Seven were taken for squares; one, beside which a square hides the checks, still is."""
    there, right, false = _found(make_scene("gaps_cloth", 1531, megapixels=1.5))
    assert right == there
    assert false <= 1
