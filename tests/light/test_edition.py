"""Which edition of the 24-patch chart lies in a photo: seen by published cameras, behind curves."""

import numpy as np
import pytest
from numpy.typing import NDArray

from colorcore.color.charts import AFTER_2014, BEFORE_2014, chart_lab_d50
from colorcore.color.spaces import lab_from_linear, lab_from_xyz, linear_from_coded, white_xyz
from colorcore.light.chart import ReadChart
from colorcore.light.field import fit_field
from colorcore.light.learning import edition_of
from colorcore.light.responses import FAMILIES
from colorcore.light.samples import Samples
from colorcore.light.undo import undo_light
from tests.light.pictures import make_table, paint_chart
from tests.scenes import sensor, spectra

Array = NDArray[np.float64]

PLACES = np.stack(np.meshgrid(np.arange(6) * 40.0 + 20, np.arange(4) * 40.0 + 20), -1)
OLDER = np.stack(list(spectra.chart_reflectances("BabelColor Average").values()))


def lab_d50(reflectances: Array) -> Array:
    weights = spectra.illuminant("D50")[:, None] * spectra.observer()
    xyz = reflectances @ (weights / weights.sum(axis=0) * white_xyz("D50"))
    return np.asarray(lab_from_xyz(xyz, "D50"))


def newer_chart() -> Array:
    """Reflectances (24, 81) that meet the newer edition's values: those of older charts, changed
    smoothly over the spectrum, for none of newer ones are published."""
    bumps = np.exp(-0.5 * ((spectra.WAVELENGTHS - np.array([[450], [545], [620]])) / 60) ** 2)
    weights = np.zeros((24, 3))
    for _ in range(20):
        here = OLDER * np.exp(weights @ bumps)
        slopes = [(lab_d50(here * np.exp(1e-4 * bump)) - lab_d50(here)) / 1e-4 for bump in bumps]
        missing = chart_lab_d50(AFTER_2014) - lab_d50(here)
        weights += np.linalg.solve(np.stack(slopes, axis=-1), missing[..., None])[..., 0]
    return np.asarray(OLDER * np.exp(weights @ bumps))


CHARTS = {AFTER_2014: newer_chart(), BEFORE_2014: OLDER}
EVEN = fit_field(
    Samples(
        PLACES.reshape(-1, 2), np.zeros((24, 3)), np.full(24, 0.01), np.zeros(24, np.intp),
        np.zeros((1, 3)), np.array([False]), np.zeros((24, 2), np.intp),
    ),
    (240, 160),
)  # fmt: skip


def seen_chart(
    edition: str, camera: str, light: str, tone: str, rng: np.random.Generator
) -> ReadChart:
    """A chart whose patches are off by a percent, as made charts are, slightly unevenly lit."""
    error = np.array([1 + rng.normal(0, 0.02), 1, 1 + rng.normal(0, 0.03)])
    set_up = spectra.set_up_camera(camera, {light: 1.0}, error)
    patches = CHARTS[edition] * np.exp(rng.normal(0, 0.01, (24, 1)))
    linear = (set_up.see(patches, light) * set_up.gains) @ set_up.matrix.T
    slope = (PLACES.reshape(-1, 2) - 120) / 100 @ rng.normal(0, 0.02, 2)
    linear = np.clip(0.8 * linear * np.exp(slope)[:, None], 0, 1)
    coded = sensor.tone_table(tone)[(linear * 65535 + 0.5).astype(int)] / 255.0
    seen = np.asarray(linear_from_coded(coded)) * np.exp(rng.normal(0, 0.003, (24, 3)))
    places = PLACES.reshape(-1, 2)
    corners = places[[0, 5, 23, 18]]
    return ReadChart(places, seen, np.zeros(24), np.ones(24, bool), corners, False, 0.0)


@pytest.mark.parametrize("edition", [AFTER_2014, BEFORE_2014])
def test_the_edition_is_told_by_its_colours(edition):
    assert np.abs(lab_d50(CHARTS[AFTER_2014]) - chart_lab_d50(AFTER_2014)).max() < 0.01
    rng = np.random.default_rng(6)
    told = [
        edition_of([seen_chart(edition, camera, light, tone, rng)], EVEN, FAMILIES) == edition
        for camera in ("nikon", "sigma")
        for light in ("D65", "A", "FL2", "LED-B3")
        for tone in ("srgb", "phone", "contrast")
        for _ in range(3)
    ]
    assert np.mean(told) > 0.8


@pytest.mark.parametrize("edition", [AFTER_2014, BEFORE_2014])
def test_the_level_is_that_of_the_edition_seen(edition):
    """The white patch of the older edition is 1.3 L* lighter than that of the newer."""
    table = make_table(paper=None, columns=3)
    paint_chart(table.picture, 900, 450, 60, 3, edition=edition)
    photo = table.photo()
    calibration = undo_light(photo, table.finding())
    assert f"made {edition}" in " ".join(calibration.notes)
    off = []
    for square, lab in zip(table.squares, table.labs, strict=True):
        x, y = square.corners.mean(axis=0)
        seen = photo.linear(int(x) - 20, int(y) - 20, int(x) + 20, int(y) + 20).mean(axis=(0, 1))
        off.append(lab_from_linear(calibration.color_at(seen, np.array([x, y])))[0] - lab[0])
    assert np.abs(np.median(off)) < 0.3
