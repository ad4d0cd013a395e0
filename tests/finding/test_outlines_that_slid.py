"""Outlines half beside their square that the squares around them speak for."""

import numpy as np
import pytest

from colorcore.finding import find_squares
from colorcore.finding.doubts import try_again
from colorcore.finding.explain import explain
from colorcore.finding.scene import look
from colorcore.photo import photo_from_array
from tests.bench.finding import match, overlap
from tests.scenes import make_scene


def test_an_outline_that_slid_goes_back_to_its_square() -> None:
    """However sure it seemed."""
    seen = explain(look(photo_from_array(make_scene("gaps_board", 12, megapixels=1.0).pixels)))
    quads, chances = seen.group.quads, seen.group.sure
    middle = len(quads) // 2
    slid, unsure = quads.copy(), chances.copy()
    slid[middle] += 0.16 * (slid[middle, 1] - slid[middle, 0])
    assert overlap(slid[middle], quads[middle]) < 0.75
    others = np.arange(len(quads)) != middle
    for sure in (0.99, 0.6, 0.3):
        unsure[middle] = sure
        moved, after = try_again(seen.scene, slid, unsure)
        assert overlap(moved[middle], quads[middle]) > 0.95, sure
        assert after[middle] > 0.9, sure
        assert np.array_equal(moved[others], quads[others]), sure


@pytest.mark.parametrize(
    ("kind", "seed"), [("falloff", 1043), ("cut_off", 1042), ("mat_on_table", 1240)]
)
def test_no_print_draws_an_outline_off_its_square(kind: str, seed: int) -> None:
    scene = make_scene(kind, seed, megapixels=1.5)
    finding = find_squares(photo_from_array(scene.pixels))
    truth = np.array([s.corners for s in scene.truth.squares])
    found = np.array([s.corners for s in finding.squares])
    assert len(match(truth, found)) == len(found) == len(truth)
