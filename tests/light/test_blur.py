"""A blurred photo is called blurred, and nothing is invented."""

import cv2
import numpy as np
import pytest

from colorcore.finding.model import Finding
from colorcore.light import undo_light
from colorcore.light.blur import is_blurred, step_widths
from colorcore.photo import photo_from_array
from tests.bench.color_accuracy import finding_of
from tests.light.pictures import make_table, ramp
from tests.scenes import make_scene


def blur(pixels: np.ndarray, sigma: float) -> np.ndarray:
    return np.asarray(cv2.GaussianBlur(pixels, (0, 0), sigma))


def test_a_blurred_photo_is_told_so_and_no_sun_is_invented():
    scene = make_scene("gaps_wood", 31, megapixels=0.7, rows=4, columns=5)
    finding = finding_of(scene.truth)
    side = float(np.median([np.ptp(square.corners[:, 0]) for square in finding.squares]))
    sharp = undo_light(photo_from_array(scene.pixels), finding)
    smeared = undo_light(photo_from_array(blur(scene.pixels, 0.06 * side)), finding)
    assert not any("blurred" in note for note in sharp.notes)
    assert any("hold the camera still" in note for note in smeared.notes)
    assert not any("sun" in note for note in smeared.notes)


@pytest.mark.parametrize("kind", ["blurred", "low_quality", "white_on_white", "shingled"])
def test_slight_blur_and_weak_edges_are_not_told(kind):
    scene = make_scene(kind, 33, megapixels=0.8)
    assert not is_blurred(photo_from_array(scene.pixels), finding_of(scene.truth))


def test_widths_follow_the_blur_and_not_the_light():
    table = make_table()
    finding = table.finding()
    even, uneven = table.photo(0.95), table.photo(0.95 * ramp((900, 1200), 0.9, 0.6))
    sharp = np.quantile(step_widths(even, finding), 0.25)
    assert np.quantile(step_widths(uneven, finding), 0.25) < 1.3 * sharp
    before = float(sharp)
    for sigma in (4.0, 8.0, 12.0):
        photo = photo_from_array(blur(even.pixels, sigma))
        # Rise over steepest slope of a Gaussian's edge; what counts as blurred is 7 of 140 pixels.
        # Whole pixels and noise make slopes steeper, never gentler.
        wide = sigma * np.sqrt(2 * np.pi) / 7
        seen = float(np.median(step_widths(photo, finding)))
        assert max(0.6 * wide, before) < seen < 1.05 * wide
        before = seen


def test_without_squares_nothing_is_said():
    table = make_table()
    none = Finding((), (), (), table.finding().surface, 0.25)
    assert not is_blurred(photo_from_array(blur(table.photo(0.95).pixels, 20)), none)
