"""Squares, references and none where a patch of sun or a shadow lies over the table."""

from dataclasses import replace

import cv2
import numpy as np
import pytest

from colorcore.light import Calibration, undo_light
from colorcore.light.model import Reference
from colorcore.measuring import measure_photo
from colorcore.photo import photo_from_array
from colorcore.swatch import measure_squares
from tests.light.pictures import fill, make_table, quad
from tests.scenes import make_scene

TABLE = make_table(surface=(60, 2, 6))
DOWN, ACROSS = np.mgrid[:900, :1200]
#: The sun falls on the left of a slanting line that crosses many squares.
SUNLIT = ACROSS + 0.5 * DOWN < 700
SUN, DIM = 2.2, 0.4


def _photo(table, sunlit, factor=SUN):
    light = np.where(sunlit, factor * DIM, DIM).astype(np.float32)
    return table.photo(cv2.GaussianBlur(light, (0, 0), 2)[..., None])


def _hidden(finding, sunlit):
    """Finding, with table in the sun taken for no table."""
    return replace(finding, surface=finding.surface & ~sunlit[::4, ::4])


def _errors(table, photo, finding) -> tuple[np.ndarray, np.ndarray, Calibration]:
    """Errors of L* (N,), over the standard deviation too (N,)."""
    calibration = undo_light(photo, finding)
    swatches = measure_squares(photo, calibration, finding.squares, side_inches=10.0)
    errors = np.abs(np.array([s.lab[0] for s in swatches]) - table.labs[:, 0])
    return errors, errors / np.array([s.lab_sd[0] for s in swatches]), calibration


def _marked(calibration, flag):
    return np.array([flag in calibration.flags(square.corners) for square in TABLE.squares])


@pytest.mark.parametrize("hidden", [True, False])
def test_sun_over_half_of_the_squares_is_undone_where_they_feel_it(hidden):
    """Doubted alone, or taken for planks along its edge, it left squares 31 L* off."""
    photo, finding = _photo(TABLE, SUNLIT), TABLE.finding()
    finding = _hidden(finding, SUNLIT) if hidden else finding
    errors, doubts, calibration = _errors(TABLE, photo, finding)
    assert np.median(errors) < 0.5
    assert errors.max() < 8
    assert doubts.max() < 2
    middles = np.array([square.corners.mean(axis=0) for square in TABLE.squares])
    inside = middles @ [1, 0.5] < 600
    assert _marked(calibration, "sunlit")[inside].all()
    assert not _marked(calibration, "shadow").any()


@pytest.mark.parametrize("factor", [0.45, 2.2])
def test_what_no_square_feels_is_neither_shadow_nor_sun(factor):
    """A dark plank, a light strip: what lies between the squares alone differs."""
    strip = SUNLIT & (ACROSS + 0.5 * DOWN > 590)
    finding = _hidden(TABLE.finding(), strip)
    picture = TABLE.picture.copy()
    bare = np.ones(SUNLIT.shape, np.uint8)
    for outline in [s.corners for s in TABLE.squares] + [t.outline for t in TABLE.things]:
        cv2.fillPoly(bare, [np.round(outline).astype(np.int32)], 0)
    picture[strip & (bare > 0)] *= factor
    table = replace(TABLE, picture=picture)
    errors, _, calibration = _errors(table, table.photo(0.9), finding)
    # One lies mostly within, so that its own edges say nothing.
    assert np.count_nonzero(_marked(calibration, "shadow") | _marked(calibration, "sunlit")) <= 1
    assert np.median(errors) < 0.5


def test_paper_beside_squares_in_the_sun_is_found_in_the_shade():
    """The sun makes light squares outshine it by far more than a grey card lies below paper."""
    white = replace(TABLE, picture=TABLE.picture.copy(), labs=TABLE.labs.copy())
    for k in (0, 1, 5, 6, 10):
        fill(white.picture, TABLE.squares[k].corners, np.full(3, 0.8))
        white.labs[k] = (91.7, 0, 0)
    photo = _photo(white, SUNLIT, factor=2.8)
    errors, _, calibration = _errors(white, photo, _hidden(white.finding(things=False), SUNLIT))
    assert calibration.reference == "paper"
    assert np.median(errors) < 0.6


def test_the_shaded_half_of_a_sheet_is_no_grey_card():
    table = make_table(surface=(22, 0, 2))
    photo = _photo(table, onto := SUNLIT | ((DOWN < 285) & (ACROSS > 960)))
    errors, _, calibration = _errors(table, photo, _hidden(table.finding(things=False), onto))
    assert calibration.reference == "paper"
    assert all(reference.outline[:, 1].min() > 280 for reference in calibration.references)
    assert np.median(errors) < 0.6


def test_paper_in_the_sun_is_known_by_the_table_around_it():
    """Beyond the squares the sunlit table is no table to finding, so that nothing told of it."""
    sunlit = SUNLIT | (ACROSS > 930)
    photo = _photo(TABLE, sunlit)
    errors, doubts, calibration = _errors(TABLE, photo, _hidden(TABLE.finding(), sunlit))
    assert calibration.reference == "paper"
    assert np.median(errors) < 0.5
    assert doubts.max() < 2


@pytest.mark.parametrize(("slant", "start"), [(-0.5, 640), (-0.9, 300)])
def test_where_too_few_squares_tell_the_level_by_paper_perhaps_in_the_sun_is_doubted(slant, start):
    sunlit = (ACROSS + slant * DOWN > start) | (ACROSS > 900)
    photo = _photo(TABLE, sunlit)
    errors, doubts, calibration = _errors(TABLE, photo, _hidden(TABLE.finding(), sunlit))
    assert errors.max() > 15
    assert doubts.max() < 2.5
    assert any("lay it where the light is" in note for note in calibration.notes)


def test_a_card_of_table_in_a_shadow_goes_when_the_paper_lies_outside():
    errors = _rendered("hand_shadow", 1802)
    assert np.median(errors) < 1.5


def _rendered(kind, seed):
    scene = make_scene(kind, seed, megapixels=2.0)
    measured = measure_photo(photo_from_array(scene.pixels), alone=True).squares
    true = {tuple(np.round(s.corners.mean(axis=0) / 30)): s.lab[0] for s in scene.truth.squares}
    return np.array(
        [
            abs(s.lab[0] - true[place])
            for s in measured
            if (place := tuple(np.round(np.mean(s.corners, axis=0) / 30))) in true
        ]
    )


def test_without_a_reference_the_level_is_that_of_squares_out_of_the_sun():
    bare = make_table(surface=(60, 2, 6), paper=None)
    photo = _photo(bare, SUNLIT)
    errors, doubts, calibration = _errors(bare, photo, _hidden(bare.finding(), SUNLIT))
    assert calibration.reference == "none"
    assert np.median(errors) < 7
    assert np.mean(doubts < 2) > 0.95


def test_of_one_square_alone_nothing_tells_whether_it_is_light():
    tables = [make_table(rows=n, columns=n, surface=(30, 2, 6), paper=None) for n in (1, 4)]
    few, many = (
        undo_light(table.photo(0.9), table.finding()).lab_sd(table.squares[0].corners, (50, 0, 0))[
            0
        ]
        for table in tables
    )
    assert few > 18
    assert many < 10


def test_what_the_maker_pointed_to_stays():
    photo = _photo(TABLE, SUNLIT)
    own = Reference(kind="grey card", outline=quad(1080, 300, 100, 140, 4))
    calibration = undo_light(photo, _hidden(TABLE.finding(), SUNLIT), references=[own])
    assert calibration.references == (own,)
