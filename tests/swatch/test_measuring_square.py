"""Reads-as colour, value spread, flags: of flat pictures whose truth is known exactly."""

from dataclasses import replace

import cv2
import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from colorcore.color.spaces import coded8_from_linear, lab_from_linear
from colorcore.finding import FoundSquare
from colorcore.photo import photo_from_array
from colorcore.sheets.view import words_for
from colorcore.swatch import measure_square
from tests.swatch.making import (
    EvenLight,
    dots,
    grain,
    linear_of,
    measured,
    outline_of,
    paint,
    photo_of,
    scattered,
    stripes,
)

LIGHT, DARK = (88.0, 0.0, 5.0), (25.0, 10.0, -20.0)


def test_reads_as_is_the_mean_in_linear_light() -> None:
    which = stripes(1.0, 0.0, 0.5)
    swatch = measured(paint(which, LIGHT, DARK))
    inner = which[9:-9, 9:-9].mean()
    light, dark = linear_of(LIGHT, DARK)
    truth = lab_from_linear(light * (1 - inner) + dark * inner)
    assert np.abs(swatch.lab - truth).max() < 0.5
    # The mean of the coded values would be far off: that mistake has to show.
    assert abs(swatch.lab[0] - (LIGHT[0] + DARK[0]) / 2) > 8


def test_the_table_at_the_edge_stays_out() -> None:
    cloth = paint(np.zeros((300, 300), np.int64), LIGHT)
    cloth[:6], cloth[-6:], cloth[:, :6], cloth[:, -6:] = 0, 0, 0, 0
    assert measured(cloth).lab[0] == pytest.approx(LIGHT[0], abs=0.2)


def test_what_is_covered_is_not_measured() -> None:
    cloth = paint((np.mgrid[0:300, 0:300][1] >= 150).astype(np.int64), LIGHT, DARK)
    left = np.array([[12.0, 12.0], [160.0, 12.0], [160.0, 312.0], [12.0, 312.0]])
    swatch = measured(cloth, visible=left)
    assert np.abs(np.subtract(swatch.lab, LIGHT)).max() < 0.3
    assert swatch.valid is not None
    assert 0.45 < swatch.valid.mean() < 0.55


def test_value_spread_is_between_light_and_dark_parts() -> None:
    swatch = measured(paint(stripes(1.0), LIGHT, DARK))
    assert swatch.value_spread == pytest.approx(LIGHT[0] - DARK[0], abs=2)
    assert swatch.busyness == pytest.approx((LIGHT[0] - DARK[0]) / 2, rel=0.1)
    assert not swatch.reads_as_solid


def test_faint_tone_on_tone_reads_as_a_solid() -> None:
    near = (DARK[0] + 4, DARK[1], DARK[2])
    assert measured(grain(paint(dots(1.0, 0.35), DARK, near), 1)).reads_as_solid


@pytest.mark.parametrize("size", [0.06, 0.1])
def test_scattered_dots_make_a_print_of_light_cloth(size: float) -> None:
    swatch = measured(grain(paint(dots(0.9, size), LIGHT, (45.0, 0.0, 5.0)), 2))
    # Their ground is all that quantiles and a palette see.
    assert swatch.value_spread < 7
    assert swatch.palette[0].share > 0.9
    assert not swatch.reads_as_solid
    assert swatch.print_scale_inches == pytest.approx(0.9, abs=0.1)
    assert words_for(swatch).endswith("small low-volume print")


def test_lint_a_pin_and_noise_leave_a_solid_solid() -> None:
    cloth = paint(np.zeros((300, 300), np.int64), DARK)
    cloth[40:42, 60:100] = 180
    cloth[200:202, 20:50] = 180
    cv2.circle(cloth, (240, 240), 6, (150, 150, 150), -1)
    swatch = measured(grain(cloth, 3, 2.0))
    assert swatch.reads_as_solid


def test_prints_disappear_with_distance() -> None:
    photo = photo_of(paint(dots(0.4, 0.12), LIGHT, (60.0, 0.0, 0.0)))
    found = FoundSquare(outline_of(photo), 0, 0, 1.0)
    near, far = (
        measure_square(photo, EvenLight(), found, side_inches=10.0, reading_inches=d)
        for d in (36.0, 1200.0)
    )
    assert far.busyness < 0.5 * near.busyness
    assert not near.reads_as_solid
    assert far.reads_as_solid
    assert near.lab == far.lab


def test_large_contrasting_print_is_flagged_as_strong() -> None:
    large = measured(paint(scattered(4, 4.5, 10), LIGHT, DARK, DARK))
    small = measured(paint(dots(0.5, 0.15), LIGHT, DARK))
    assert "strong-print" in large.flags
    assert "strong-print" not in small.flags


def test_clipped_parts_are_flagged_and_add_doubt() -> None:
    cloth = paint(np.zeros((300, 300), np.int64), LIGHT)
    cloth[:100] = 255
    swatch = measured(cloth)
    assert "clipped" in swatch.flags
    assert swatch.lab_sd[0] > 1.0
    assert "clipped" not in measured(paint(np.zeros((300, 300), np.int64), LIGHT)).flags


def test_a_square_of_few_pixels_is_measured_and_flagged() -> None:
    swatch = measured(paint(np.zeros((60, 60), np.int64), LIGHT))
    assert "few-pixels" in swatch.flags
    assert swatch.picture.shape == (60, 60, 3)
    assert swatch.lab[0] == pytest.approx(LIGHT[0], abs=0.3)


def test_a_strip_is_measured_but_its_scale_is_a_guess() -> None:
    strip = measured(paint(np.zeros((80, 300), np.int64), LIGHT))
    assert "no-scale" in strip.flags
    assert strip.lab[0] == pytest.approx(LIGHT[0], abs=0.3)
    assert "no-scale" not in measured(paint(np.zeros((260, 300), np.int64), LIGHT)).flags


def test_a_square_almost_outside_the_photo_is_still_measured() -> None:
    photo = photo_from_array(np.full((100, 100, 3), 120, np.uint8))
    corners = np.array([[96.0, 96.0], [196.0, 96.0], [196.0, 196.0], [96.0, 196.0]])
    swatch = measure_square(photo, EvenLight(), FoundSquare(corners, 0, 0, 0.6), side_inches=10.0)
    assert np.isfinite(swatch.lab).all()
    assert swatch.valid is not None
    assert swatch.lab_sd[0] >= 0.5


def test_address_place_and_outline_are_kept() -> None:
    swatch = measured(paint(np.zeros((200, 200), np.int64), LIGHT), place=(1, 2))
    assert (swatch.id, swatch.row, swatch.column) == ("B3", 1, 2)
    assert swatch.corners[2] == (212.0, 212.0)
    assert swatch.fabric == -1


@pytest.mark.parametrize("turns", [1, 2, 3])
def test_turning_the_photo_keeps_the_colours(turns: int) -> None:
    cloth = grain(paint(scattered(6, 1.5), LIGHT, DARK, (55.0, 40.0, 20.0)), 6)
    first = measured(cloth)
    turned = measured(np.ascontiguousarray(np.rot90(cloth, turns)))
    assert np.abs(np.subtract(first.lab, turned.lab)).max() < 0.05
    assert turned.value_spread == pytest.approx(first.value_spread, abs=0.5)
    assert turned.print_scale_inches == pytest.approx(first.print_scale_inches, rel=0.1)
    assert len(turned.palette) == len(first.palette)


@settings(max_examples=15)
@given(gain=st.floats(0.4, 1.1), seed=st.integers(0, 5))
def test_a_gain_that_the_light_undoes_changes_nothing(gain: float, seed: int) -> None:
    class Dimmed(EvenLight):
        def apply(self, linear: np.ndarray, corners: np.ndarray) -> np.ndarray:
            return linear / np.float32(gain)

    linear = linear_of((75.0, 5.0, 5.0), (40.0, 0.0, -20.0))[dots(1.1, 0.35, seed, seed)]
    bright, dim = (photo_of(coded8_from_linear(linear * g)) for g in (1.0, gain))
    found = FoundSquare(outline_of(bright), 0, 0, 1.0)
    first = measure_square(bright, EvenLight(), found, side_inches=10.0)
    second = measure_square(dim, Dimmed(), found, side_inches=10.0)
    # Rounding to 8 bits moves a flat ink by up to half a code, 0.7 units of b* in the darks here.
    assert np.abs(np.subtract(first.lab, second.lab)).max() < 0.9


def test_numbers_are_rounded_as_files_keep_them() -> None:
    swatch = measured(grain(paint(scattered(1, 1.0), LIGHT, DARK, DARK), 1))
    for value in (*swatch.lab, *swatch.lab_sd):
        assert round(value, 3) == value
    assert replace(swatch).lab == swatch.lab


@pytest.mark.parametrize("strength", [0.0, 0.35, 0.7, 1.0])
def test_fine_prints_are_doubted_as_far_as_sharpening_may_move_them(strength: float) -> None:
    off, stated = [], []
    for pitch in (0.15, 0.22, 0.3, 0.45, 0.6):
        for colors in ((LIGHT, DARK), (DARK, LIGHT), ((60.0, 30.0, 20.0), (95.0, 0.0, 0.0))):
            which = dots(pitch, 0.3 * pitch, 0.01, 0.02)
            # The lens blurs light; the camera sharpens codes.
            cloth = coded8_from_linear(cv2.GaussianBlur(linear_of(*colors)[which], (0, 0), 0.6))
            soft = cv2.GaussianBlur(cloth, (0, 0), 1.2)
            swatch = measured(cv2.addWeighted(cloth, 1 + strength, soft, -strength, 0))
            inner = which[9:-9, 9:-9].mean()
            first, second = linear_of(*colors)
            truth = lab_from_linear(first * (1 - inner) + second * inner)
            off.append(abs(swatch.lab[0] - truth[0]))
            stated.append(swatch.lab_sd[0])
    assert np.mean(np.array(off) < 2 * np.array(stated)) > 0.8
    assert np.all(np.array(off) < 3 * np.array(stated))
    assert min(stated) > 0.5


def test_neither_plain_cloth_nor_a_raw_photo_is_doubted_for_sharpening() -> None:
    plain = measured(paint(np.zeros((300, 300), np.int64), LIGHT))
    assert plain.lab_sd == (0.5, 0.5, 0.5)
    photo = photo_of(paint(dots(0.3, 0.1), LIGHT, DARK))
    found = FoundSquare(outline_of(photo), 0, 0, 1.0)
    coded = measure_square(photo, EvenLight(), found, side_inches=10.0)
    raw = measure_square(replace(photo, scene_linear=True), EvenLight(), found, side_inches=10.0)
    assert raw.lab_sd[0] == 0.5 < coded.lab_sd[0]
