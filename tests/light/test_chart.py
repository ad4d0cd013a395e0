"""Finding and reading the 24-patch chart: turned, mirrored, covered, tinted, absent."""

import numpy as np
import pytest

from colorcore.color.charts import chart_linear
from colorcore.color.spaces import coded8_from_linear
from colorcore.finding.model import FoundSquare
from colorcore.light.chart import find_chart, read_chart
from colorcore.light.sampling import reduce_photo
from colorcore.photo import photo_from_array
from tests.light.pictures import fill, paint_chart, quad

KNOWN = chart_linear()


def picture(degrees: float, *, mirrored: bool = False, pitch: float = 38.0):
    canvas = np.full((900, 1200, 3), 0.35, np.float32)
    rng = np.random.default_rng(int(degrees) + mirrored)
    for _ in range(8):
        x, y = rng.choice([100, 1100]), rng.uniform(80, 820)
        fill(canvas, quad(x, y, 120, 120, rng.uniform(-9, 9)), rng.uniform(0.03, 0.8, 3))
    return canvas, paint_chart(canvas, 600, 450, pitch, degrees, mirrored=mirrored)


def photo_of(canvas: np.ndarray, curve: float = 1.0, tint=(1.0, 1.0, 1.0)):
    lit = np.clip(canvas * np.array(tint), 0, 1) ** curve
    noise = np.random.default_rng(0).normal(0, 1.0, canvas.shape)
    return photo_from_array(np.clip(coded8_from_linear(lit) + noise, 0, 255).astype(np.uint8))


def find(photo, squares=()):
    return find_chart(photo, reduce_photo(photo), KNOWN, squares)


@pytest.mark.parametrize("mirrored", [False, True])
@pytest.mark.parametrize("degrees", [0, 37, 90, 171, 270, 315])
def test_found_at_any_turn_and_mirrored(degrees, mirrored):
    canvas, centers = picture(degrees, mirrored=mirrored)
    chart = find(photo_of(canvas))
    assert chart is not None
    assert np.abs(chart.centers - centers).max() < 4
    assert chart.mirrored == mirrored
    assert chart.usable.sum() >= 22


@pytest.mark.parametrize(("curve", "tint"), [(0.75, (0.9, 0.9, 0.9)), (1.2, (1.0, 0.75, 0.45))])
def test_found_under_a_tone_curve_and_a_tint(curve, tint):
    canvas, centers = picture(12)
    chart = find(photo_of(canvas, curve, tint))
    assert chart is not None
    assert np.abs(chart.centers - centers).max() < 4


def test_partly_covered_patches_are_left_out():
    canvas, centers = picture(20)
    fill(canvas, quad(*(centers[0] + centers[7]) / 2, 90, 90, 20), np.array([0.02, 0.5, 0.05]))
    chart = find(photo_of(canvas))
    assert chart is not None
    assert not chart.usable[[0, 1, 6, 7]].any()
    assert chart.usable[[3, 4, 5, 10, 11, 15, 18, 20, 23]].all()
    assert np.abs(chart.centers - centers).max() < 5


def test_read_from_an_outline_of_its_patches_or_of_its_frame():
    canvas, centers = picture(20)
    photo = photo_of(canvas)
    for grown in (6.0, 6.4):
        outline = quad(600, 450, grown * 38, (grown - 2) * 38, 20)
        for start in range(4):
            chart = read_chart(photo, KNOWN, np.roll(outline, start, axis=0))
            assert chart is not None
            assert np.abs(chart.centers - centers).max() < 5


def test_nothing_is_made_of_what_is_no_chart():
    rng = np.random.default_rng(7)
    canvas = np.full((900, 1200, 3), 0.2, np.float32)
    for row in range(6):
        for column in range(8):
            fill(canvas, quad(200 + 60 * column, 200 + 60 * row, 50, 50), rng.uniform(0.03, 0.8, 3))
    photo = photo_of(canvas)
    assert find(photo) is None
    assert read_chart(photo, KNOWN, quad(600, 450, 300, 200)) is None


def test_squares_in_the_chart_s_colours_are_squares():
    canvas = np.full((900, 1200, 3), 0.1, np.float32)
    squares = []
    for number, linear in enumerate(chart_linear()):
        row, column = divmod(number, 6)
        corners = quad(150 + 180 * column, 150 + 180 * row, 150, 150)
        fill(canvas, corners, np.clip(linear, 0, 1))
        squares.append(FoundSquare(corners, row, column, 1.0))
    photo = photo_of(canvas)
    assert find(photo, [s.corners for s in squares]) is None
