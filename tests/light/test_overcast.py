"""Light with edges where the table does not tell: it is hidden by it, mirrors it, or is another."""

from dataclasses import replace

import numpy as np
import pytest

from colorcore.geometry import holds
from colorcore.light import undo_light
from colorcore.light.local import LocalLight
from colorcore.light.overcast import Overcast
from colorcore.measuring import measure_photo
from colorcore.photo import photo_from_array
from tests.light.pictures import make_table, quad
from tests.scenes import make_scene

TABLE = make_table()
#: As an arm throws it, across the third column of squares and a little more.
BAND = (405, 575)


def _photo_under(factor):
    light = np.ones((900, 1200, 3), np.float32)
    light[:, BAND[0] : BAND[1]] = factor
    return TABLE.photo(0.6 * light)


def _finding_with_hidden_table():
    """What lies in the band is no table to finding: it is too dark or too light there."""
    finding = TABLE.finding()
    surface = finding.surface.copy()
    surface[:, BAND[0] // 4 : BAND[1] // 4] = False
    return replace(finding, surface=surface)


def _flagged(calibration):
    return [
        bool({"shadow", "sunlit"} & set(calibration.flags(square.corners)))
        for square in TABLE.squares
    ]


@pytest.mark.parametrize(("factor", "flag"), [(0.5, "shadow"), (1.6, "sunlit")])
def test_squares_where_shadow_or_sun_hides_the_table_are_flagged_and_doubted(factor, flag):
    calibration = undo_light(_photo_under(factor), _finding_with_hidden_table())
    for square, lab in zip(TABLE.squares, TABLE.labs, strict=True):
        beside = flag in calibration.flags(square.corners)
        assert beside or square.column != 2
        assert not (beside and square.column in (0, 4))
        if square.column == 2:
            doubt = calibration.lab_sd(square.corners, lab)[0]
            # Two of them reach what the step changes: its logarithm by the slope of L*.
            slope = 116 / 3 * ((lab[0] + 16) / 116)
            assert 2 * doubt > 0.8 * abs(np.log(factor)) * slope
    assert any("take it again" in note for note in calibration.notes)


def test_what_lies_there_in_another_colour_is_no_shadow():
    red = np.array([0.8, 0.35, 0.3], np.float32)
    assert not any(_flagged(undo_light(_photo_under(red), _finding_with_hidden_table())))


def test_under_even_light_nothing_is_overcast():
    """Nor by the squares' own shadow, which hides a little of the table beside each."""
    light = np.ones((900, 1200, 3), np.float32)
    for square in TABLE.squares:
        x, y = square.corners.mean(axis=0)
        foot = quad(x + 4, y + 4, 144, 144).round().astype(int)
        light[foot[0, 1] : foot[2, 1], foot[0, 0] : foot[2, 0]] = 0.6
    table = replace(
        TABLE, picture=np.where(_uncovered()[..., None], TABLE.picture * light, TABLE.picture)
    )
    assert not any(_flagged(undo_light(table.photo(0.9), TABLE.finding())))


def _uncovered():
    import cv2

    bare = np.ones(TABLE.picture.shape[:2], np.uint8)
    for square in TABLE.squares:
        cv2.fillPoly(bare, [np.round(square.corners).astype(np.int32)], 0)
    return bare > 0


def _errors(kind, seed, **options):
    """Errors of L* (N,) against the truth, over the standard deviation too (N,)."""
    scene = make_scene(kind, seed, megapixels=1.0, **options)
    errors, doubts = [], []
    for swatch in measure_photo(photo_from_array(scene.pixels), alone=True).squares:
        middle = np.mean(swatch.corners, axis=0)[None]
        for square in scene.truth.squares:
            if holds(square.corners, middle).any():
                errors.append(abs(swatch.lab[0] - square.lab[0]))
                doubts.append(errors[-1] / swatch.lab_sd[0])
    return np.array(errors), np.array(doubts)


@pytest.mark.parametrize("seed", [1564, 1566])
def test_a_mat_is_no_shadow_on_the_table(seed):
    """Paper lies beside the mat: undone as a shadow, the mat made its squares lighter by 40 L*."""
    errors, _ = _errors("mat_on_table", seed)
    assert np.median(errors) < 1.5


@pytest.mark.parametrize("seed", [1563, 1565])
def test_what_a_glossy_table_mirrors_does_not_light_the_squares(seed):
    """Undone as a patch of sun, a window's mirror image made squares darker by 20 L*."""
    errors, _ = _errors("glossy_table", seed)
    assert np.median(errors) < 1.0
    assert np.percentile(errors, 95) < 4.0


@pytest.mark.parametrize("seed", [1801, 1803, 1804])
def test_the_shadow_of_a_hand_is_mostly_undone_and_doubted_as_much_as_squares_are_off(seed):
    """Doubted alone, it left them up to 31 L* off."""
    errors, doubts = _errors("hand_shadow", seed)
    assert 4 < errors.max() < 18
    assert np.mean(doubts < 3) > 0.97


def _overcast(places, step):
    none = np.zeros(len(places), bool)
    return Overcast(places, np.repeat(step[:, None], 3, axis=1), step != 0, none, none)


def test_what_is_mirrored_perhaps_is_doubted_beside_a_shadow_elsewhere():
    """Many places of bare table, read for the shadow, must not outvote the few that are lighter."""
    table = np.stack(np.meshgrid(np.arange(0.0, 1000, 8), np.arange(0.0, 300, 8)), -1).reshape(
        -1, 2
    )
    shadow = _overcast(table, np.where(table[:, 0] > 800, -0.5, 0.0))
    ring = np.array([[50.0, 150], [250, 150], [150, 50], [150, 250]])
    mirrored = _overcast(ring, np.full(4, 0.4))
    nothing = np.zeros((0, 2)), np.zeros((0, 3)), np.zeros(0, bool)
    local = LocalLight(*nothing, overcast=(shadow, mirrored))
    assert local.flags(quad(150, 150, 120, 120)) == ("sunlit",)
    assert local.log_sd(quad(150, 150, 120, 120)) == pytest.approx(0.2)
    assert local.flags(quad(900, 150, 120, 120)) == ("shadow",)
    assert local.flags(quad(500, 150, 120, 120)) == ()


def test_shadow_beside_sun_does_not_come_to_nothing():
    ring = np.array([[50.0, 150], [250, 150], [150, 50], [150, 250]])
    mixed = _overcast(ring, np.array([-0.4, -0.4, 0.5, 0.5]))
    nothing = np.zeros((0, 2)), np.zeros((0, 3)), np.zeros(0, bool)
    step = LocalLight(*nothing, overcast=(mixed,)).overcast_step(quad(150, 150, 120, 120))
    assert step == pytest.approx(-0.45)
