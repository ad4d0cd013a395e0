"""Which plain thing is paper, which a grey card, and which is neither."""

from dataclasses import replace

import cv2
import numpy as np
import pytest

from colorcore.finding.model import FoundSquare, FoundThing
from colorcore.light import undo_light
from colorcore.light.choosing import brightest_square
from colorcore.light.paper import (
    is_plain,
    is_woven_square,
    look_at,
    paper_at,
    pick_paper,
    plain_regions,
    sheets_of,
)
from colorcore.light.sampling import reduce_photo
from tests.light.pictures import fill, make_table, quad, ramp

TABLE = make_table(surface=(45, 1, 4))
PAPER = TABLE.things[0].outline
SQUARES = np.stack([square.corners for square in TABLE.squares])


def sheet(lab_y: float, light=0.95, tint=(1.0, 1.0, 1.0)):
    picture = TABLE.picture.copy()
    fill(picture, PAPER, np.full(3, lab_y) * np.array(tint))
    photo = replace(TABLE, picture=picture).photo(light)
    return look_at(reduce_photo(photo), PAPER), reduce_photo(photo)


@pytest.mark.parametrize("tint", [(1, 1, 1), (1.0, 0.75, 0.4), (0.8, 0.95, 1.1)])
def test_paper_by_lamp_or_sky_is_plain(tint):
    found, _ = sheet(0.8, tint=tint)
    assert is_plain(found)


@pytest.mark.parametrize("tint", [(0.55, 1.0, 0.5), (1.0, 0.5, 0.95)])
def test_green_and_pink_paper_is_not(tint):
    found, _ = sheet(0.8, tint=tint)
    assert not is_plain(found)


@pytest.mark.parametrize(
    ("long", "turn", "roughness", "woven"),
    [
        (1.0, 0, 0.02, True),
        (1.1, 30, 0.016, True),
        (1.0, 0, 0.011, False),  # a square card without a weave
        (1.3, 30, 0.024, False),  # letter paper in a dim room
    ],
)
def test_a_square_with_a_weave_is_cloth(long, turn, roughness, woven):
    found, _ = sheet(0.8)
    angle = np.radians(turn)
    spun = np.array([[np.cos(angle), np.sin(angle)], [-np.sin(angle), np.cos(angle)]])
    outline = np.array([(0, 0), (long, 0), (long, 1), (0, 1)]) * 200 @ spun
    assert is_woven_square(replace(found, outline=outline, roughness=roughness)) == woven


def test_a_print_is_not_plain():
    picture = TABLE.picture.copy()
    for k in range(12):
        fill(picture, quad(1020 + 11 * k, 300, 5, 200), np.full(3, 0.3))
    small = reduce_photo(replace(TABLE, picture=picture).photo(0.95))
    assert not is_plain(look_at(small, PAPER))


def test_a_dark_sheet_among_light_squares_is_the_grey_card():
    for level, kinds in ((0.88, (1, 0)), (0.18, (0, 1))):
        found, small = sheet(level)
        papers, greys = pick_paper([found], brightest_square(small, SQUARES))
        assert (len(papers), len(greys)) == kinds


def test_the_grey_card_beside_paper_is_told_by_its_step():
    white, small = sheet(0.88)
    grey, _ = sheet(0.18)
    blue, _ = sheet(0.18, tint=(0.4, 0.8, 1.6))
    papers, greys = pick_paper([white, grey, blue], brightest_square(small, SQUARES))
    assert papers == [white]
    assert greys == [grey]


def test_of_two_greys_beside_paper_the_card_has_its_tint():
    white, small = sheet(0.88)
    grey, _ = sheet(0.18)
    plank, _ = sheet(0.35, tint=(1.1, 1.0, 0.9))
    papers, greys = pick_paper([white, plank, grey], brightest_square(small, SQUARES))
    assert papers == [white]
    assert greys == [grey]


def test_a_white_part_of_a_print_is_no_paper():
    bare = make_table(surface=(45, 0, 1), paper=None, seed=5)
    square = bare.squares[7].corners
    x, y = square.mean(axis=0)
    picture = bare.picture.copy()
    fill(picture, square, np.full(3, 0.05))
    fill(picture, quad(x, y, 30, 42, 0), np.full(3, 0.88))
    found = replace(bare, picture=picture)
    assert undo_light(found.photo(0.95), found.finding(things=False)).reference == "none"


def test_a_part_of_the_table_beside_paper_is_no_grey_card():
    spot = quad(1080, 600, 150, 110, 3)
    for level, reference in ((None, "paper"), (0.18, "paper+grey card")):
        table = make_table(surface=(45, 0, 1))
        picture = table.picture.copy()
        # A table of that value, but for what a fold or the light makes of it here and there.
        fill(picture, spot, np.full(3, level) if level else picture[600, 1150] * 1.02)
        things = (*table.things, FoundThing("sheet", spot))
        found = replace(table, picture=picture, things=things)
        assert undo_light(found.photo(0.95), found.finding()).reference == reference


@pytest.mark.parametrize(
    ("outline", "reference"),
    [
        (quad(1100, 620, 150, 110, 3), "paper+grey card"),
        (quad(1060, 620, 270, 50, 3), "paper"),
        (quad(1170, 620, 150, 110, 3), "paper"),
    ],
)
def test_a_grey_sleeve_is_no_grey_card(outline, reference):
    # It is longer than cards are, or reaches in from beyond the picture's edge.
    picture = TABLE.picture.copy()
    fill(picture, outline, np.full(3, 0.3))
    found = replace(TABLE, picture=picture, things=(*TABLE.things, FoundThing("other", outline)))
    assert undo_light(found.photo(0.95), found.finding()).reference == reference


@pytest.mark.parametrize(("ruled", "reference"), [(False, "paper+grey card"), (True, "paper")])
def test_a_clear_ruler_on_a_grey_table_is_no_grey_card(ruled, reference):
    outline = quad(1080, 620, 150, 120, 4)
    picture = TABLE.picture.copy()
    fill(picture, outline, np.full(3, 0.24))
    top_left, top_right, _, bottom_left = outline
    for along, across in ((top_right, bottom_left), (bottom_left, top_right)) if ruled else ():
        for share in np.linspace(0.08, 0.92, 11):
            start = top_left + share * (along - top_left)
            ends = [np.round(16 * end).astype(int) for end in (start, start + across - top_left)]
            cv2.line(picture, *map(tuple, ends), (0.215,) * 3, 1, cv2.LINE_AA, 4)
    found = replace(TABLE, picture=picture, things=(*TABLE.things, FoundThing("other", outline)))
    assert undo_light(found.photo(0.95), found.finding()).reference == reference


def test_the_search_finds_the_sheet_and_no_square():
    small = reduce_photo(TABLE.photo(0.95 * ramp((900, 1200), 0.3, 0.2)))
    regions = plain_regions(small, TABLE.finding(things=False))
    middles = [r.mean(axis=0) for r in regions]
    assert any(np.linalg.norm(m - PAPER.mean(axis=0)) < 15 for m in middles)
    for square in TABLE.squares:
        assert all(np.linalg.norm(m - square.corners.mean(axis=0)) > 60 for m in middles)


def test_a_point_grows_to_the_sheet_s_edge_under_uneven_light():
    small = reduce_photo(TABLE.photo(0.95 * ramp((900, 1200), 1.5, 0.8)))
    grown = paper_at(small, (1080.0, 300.0))
    lengths = np.ptp(grown.outline, axis=0)
    assert np.allclose(lengths, np.ptp(PAPER, axis=0), atol=14)


def test_a_clipped_sheet_is_known_as_clipped():
    found, _ = sheet(0.88, light=1.6)
    assert found.full.min() > 0.9
    fine, _ = sheet(0.88, light=0.95)
    assert fine.full.max() < 0.05


def test_a_sheet_that_was_outlined_as_a_square_still_serves():
    finding = TABLE.finding(things=False)
    wrong = FoundSquare(quad(1080, 300, 165, 205, 4), 1, 5, 0.8)
    mixed = replace(finding, squares=(*finding.squares, wrong))
    calibration = undo_light(TABLE.photo(0.95), mixed)
    assert calibration.reference == "paper"
    assert np.allclose(calibration.references[0].outline.mean(axis=0), PAPER.mean(axis=0), atol=8)


def test_without_paper_nothing_is_taken_for_it():
    for surface in ((45, 1, 4), (93, 0, 1), (20, 0, 0)):
        bare = make_table(surface=surface, paper=None, seed=5)
        assert undo_light(bare.photo(0.95), bare.finding()).reference == "none"


def test_a_light_plank_beside_white_cloth_is_no_paper():
    bare = make_table(surface=(45, 8, 20), paper=None, seed=5)
    picture = bare.picture.copy()
    for square in bare.squares[:3]:
        fill(picture, square.corners, np.full(3, 0.8))
    for tint, reference in (((1.15, 0.62, 0.36), "none"), ((0.8, 0.8, 0.78), "paper")):
        lit = picture.copy()
        fill(lit, quad(1080, 300, 150, 260, 4), np.array(tint) * 0.95)
        photo = replace(bare, picture=lit).photo(0.9)
        assert undo_light(photo, bare.finding()).reference == reference


def test_the_tiles_of_a_floor_are_no_paper():
    floor = make_table(surface=(88, 0, 2), paper=None, seed=1)
    picture = floor.picture.copy()
    joints = np.zeros(picture.shape[:2], bool)
    for k in range(5):
        joints[k::60] = joints[:, k::80] = True
    picture[joints & (np.abs(picture - picture[2, 2]).max(axis=2) < 1e-4)] = 0.3
    photo = replace(floor, picture=picture).photo(0.95)
    assert undo_light(photo, floor.finding()).reference == "none"


def test_a_bright_spot_of_a_grained_table_is_no_paper():
    bare = make_table(surface=(45, 1, 4), paper=None, seed=5)
    rng = np.random.default_rng(7)
    grain = np.exp(rng.normal(0, 0.12, bare.picture.shape[:2])).astype(np.float32)
    picture = bare.picture * grain[..., None]
    for side, reference in ((24.0, "none"), (90.0, "paper")):
        spotted = picture.copy()
        fill(spotted, quad(1080, 300, side, 1.3 * side, 4), np.full(3, 0.85))
        photo = replace(bare, picture=spotted).photo(0.95)
        assert undo_light(photo, bare.finding()).reference == reference


def test_a_sheet_full_in_red_is_no_white_beside_a_grey_card():
    table = make_table(surface=(45, 1, 4))
    picture = table.picture.copy()
    card = quad(1080, 600, 150, 110, 3)
    fill(picture, card, np.full(3, 0.18))
    things = (*table.things, FoundThing("sheet", card))
    lit = replace(table, picture=picture, things=things)
    photo = lit.photo(np.array([1.5, 1.0, 0.7]))
    calibration = undo_light(photo, lit.finding())
    assert calibration.reference == "grey card"
    assert any("paper is overexposed and was left out" in note for note in calibration.notes)
    neutral = photo.linear(1040, 580, 1120, 620).reshape(-1, 3).mean(axis=0)
    true = calibration.color_at(neutral, card.mean(axis=0))
    assert np.allclose(true, 0.18, rtol=0.02)


def test_a_grey_card_may_be_as_grainy_as_its_darkness_makes_it():
    """Photons' noise grows with the root of their number: what is grain on paper is twice that on
    a card a fifth as light. Cloth in the paper's own light has no such excuse."""
    picture = TABLE.picture.copy()
    card = quad(1080, 600, 150, 150)
    fill(picture, PAPER, np.full(3, 0.88))
    fill(picture, card, np.full(3, 0.18))
    rng = np.random.default_rng(8)
    grain = rng.standard_normal((*picture.shape[:2], 1)) * np.sqrt(0.18 / picture)
    picture *= (1 + 0.09 * grain).astype(np.float32)
    small = reduce_photo(replace(TABLE, picture=picture).photo(0.9))
    found = look_at(small, card)
    assert not is_plain(found)
    assert is_plain(found, dimmer=look_at(small, PAPER).level - found.level)
    things = (FoundThing("sheet", PAPER), FoundThing("sheet", card))
    sheets = sheets_of(small, replace(TABLE.finding(), things=things), search=False)
    assert len(sheets) == 2


def test_a_grey_card_is_not_taken_for_paper_beside_clipped_paper():
    """A phone's curve lifts the card to half of full scale, the paper being far over it."""
    table = make_table()
    card = quad(1080, 650, 150, 200, 2)
    picture = table.picture.copy()
    fill(picture, card, np.full(3, 0.18))
    both = replace(table, picture=picture, things=(*table.things, FoundThing("sheet", card)))
    lifted = replace(both, picture=np.asarray(picture**0.7, np.float32))
    finding = both.finding()
    for gain in (1.6, 2.2):
        calibration = undo_light(lifted.photo(gain), finding)
        outlines = [r.outline for r in calibration.references if r.kind == "paper"]
        assert not any(np.allclose(outline, card) for outline in outlines)
        assert calibration.trust == "D" or calibration.reference == "grey card"
