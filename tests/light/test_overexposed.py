"""White paper at the camera's limit: how far over it nobody can tell, and so it is said."""

import numpy as np
import pytest

from colorcore.color.spaces import coded8_from_linear, lab_from_linear, linear_from_coded
from colorcore.light import Reference, undo_light
from colorcore.light.overexposed import excess_sd
from colorcore.photo import photo_from_array
from tests.bench.color_accuracy import finding_of, score
from tests.light.pictures import Table, make_table, ramp
from tests.scenes import make_scene


def test_lighter_squares_leave_more_open():
    usual = np.linspace(0.03, 0.75, 40)
    sds = [excess_sd(np.minimum(usual * gain, 1.0)) for gain in (0.7, 1.0, 1.5, 2.5)]
    assert np.all(np.diff(sds) > 0.03)
    assert sds[0] < 0.35


def test_few_squares_and_none_tell_little():
    nothing = excess_sd(np.zeros(0))
    assert 0.5 < nothing < 0.9
    few, many = excess_sd(np.full(2, 0.15)), excess_sd(np.full(40, 0.15))
    assert many < few < nothing


@pytest.mark.parametrize("gain", [1.3, 1.6, 2.2])
def test_doubt_covers_a_clipped_sheet(gain):
    table = make_table()
    calibration = undo_light(table.photo(gain), table.finding())
    assert calibration.trust == "D"
    assert "that is overexposed" in calibration.trust_words
    assert any("tap to darken" in note for note in calibration.notes)
    shown = np.clip(_truth(table) * gain, 0, 1)
    corners = np.stack([square.corners for square in table.squares])
    lab = lab_from_linear(calibration.color_at(shown, corners.mean(axis=1)))
    off = np.abs(lab - table.labs)[:, 0]
    assert np.mean(off < 2 * calibration.lab_sd(corners, lab)[:, 0]) > 0.9


def _truth(table: Table) -> np.ndarray:
    corners = np.stack([square.corners for square in table.squares])
    middles = np.floor(corners.mean(axis=1)).astype(int)
    return table.picture[middles[:, 1], middles[:, 0]].astype(np.float64)


def test_paper_just_below_the_limit_is_trusted_as_ever():
    table = make_table()
    usual = undo_light(table.photo(0.95), table.finding())
    near = undo_light(table.photo(1.08), table.finding())
    assert near.trust == usual.trust
    assert near.trust_words == usual.trust_words


def test_a_measured_cloth_beside_clipped_paper_tells_the_level():
    table = make_table()
    photo = table.photo(1.6)
    paper = undo_light(photo, table.finding())
    corners, lab = table.squares[3].corners, tuple(table.labs[3])
    fabric = Reference(kind="fabric", outline=table.squares[6].corners, lab=tuple(table.labs[6]))
    sheet = Reference(kind="paper", outline=table.things[0].outline)
    both = undo_light(photo, table.finding(), references=[sheet, fabric])
    assert both.trust != "D"
    assert both.lab_sd(corners, lab)[0] < 0.7 * paper.lab_sd(corners, lab)[0]
    assert any("left out" in note for note in both.notes)


def test_an_overexposed_photograph():
    scene = make_scene("gaps_wood", 31, megapixels=1.0, rows=4, columns=5)
    linear = linear_from_coded(scene.pixels.astype(np.float32) / 255)
    photo = photo_from_array(coded8_from_linear(np.clip(1.8 * linear, 0, 1)))
    finding = finding_of(scene.truth)
    calibration = undo_light(photo, finding)
    result = score(photo, scene.truth, calibration, finding)
    off = np.abs(result.measured - result.true)[:, 0]
    assert calibration.trust == "D"
    assert np.median(off) > 4
    assert np.mean(off < 2 * result.doubt[:, 0]) > 0.9


def test_cloth_lighter_than_clipped_paper_is_no_wrong_reference():
    table = make_table()
    light = 1.8 * ramp((900, 1200), -0.5, 0.0)
    calibration = undo_light(table.photo(light), table.finding())
    corners = np.stack([square.corners for square in table.squares])
    there = 1.8 * np.exp(0.5 * corners[:, :, 0].mean(axis=1) / 1200)
    shown = np.clip(_truth(table) * there[:, None], 0, 1)
    lab = lab_from_linear(calibration.color_at(shown, corners.mean(axis=1)))
    assert np.sort(lab[:, 0])[-3] > 100
    assert "overexposed" in calibration.trust_words
    assert not any("would be lighter" in note for note in calibration.notes)
