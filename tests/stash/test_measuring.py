"""Pieces of every form in drawn photos whose colours are known."""

import cv2
import numpy as np
import pytest

from colorcore.color.difference import ciede2000
from colorcore.color.spaces import coded8_from_linear, lab_from_linear, linear_from_lab
from colorcore.errors import ColorError, StashError
from colorcore.photo import photo_from_array
from colorcore.stash.measuring import Subject, measure_pieces
from tests.scenes import make_scene
from tests.stash.pictures import Table

NAVY = (28.0, 8.0, -30.0)
RED = (40.0, 50.0, 25.0)


def measure(table, **settings):
    return measure_pieces(photo_from_array(table.photograph(), "test"), **settings)


def off(piece, lab):
    return float(ciede2000(np.array(piece.swatch.lab), np.array(lab)))


def test_a_folded_piece_beside_paper_in_falling_warm_light():
    table = Table(tint=(1.0, 0.9, 0.7)).lay((150, 150, 520, 380), NAVY).paper(600, 200, 22)
    (piece,) = measure(table)
    assert piece.subject is Subject.PIECE
    assert off(piece, NAVY) < 1.5
    assert piece.reference == "paper"
    assert piece.swatch.reads_as_solid
    # The paper is 22 pixels an inch: the square measured is as large as it says.
    side = np.ptp(np.array(piece.swatch.corners)[:, 0])
    assert piece.swatch.side_inches == pytest.approx(side / 22, rel=0.1)
    assert "no-scale" not in piece.swatch.flags


def test_a_print_that_lies_askew():
    dots = (90.0, 0.0, 5.0)
    table = Table().lay((150, 150, 520, 480), RED, dots=dots, turn=20.0).paper(620, 200, 22)
    (piece,) = measure(table)
    share = np.pi / 16
    mean = linear_from_lab(np.array(RED)) * (1 - share) + linear_from_lab(np.array(dots)) * share
    assert off(piece, lab_from_linear(mean)) < 2.0
    assert not piece.swatch.reads_as_solid
    assert piece.swatch.print_scale_inches == pytest.approx(24 / 22, rel=0.2)
    outline = np.array(piece.swatch.corners)
    assert outline[:, 0].min() > 150
    assert outline[:, 0].max() < 560


def test_several_pieces_come_in_reading_order():
    table = Table().lay((360, 150, 560, 450), RED).lay((80, 120, 300, 420), NAVY)
    pieces = measure(table.paper(640, 200, 20))
    assert [p.swatch.id for p in pieces] == ["A1", "A2"]
    assert off(pieces[0], NAVY) < 1.5
    assert off(pieces[1], RED) < 1.5


def test_a_piece_that_reaches_out_of_the_picture():
    (piece,) = measure(Table().lay((0, 250, 520, 675), RED).paper(600, 100, 22))
    assert off(piece, RED) < 1.5


def test_wound_thread_is_measured_away_from_the_ends_and_the_shaded_sides():
    table = Table().wind((300, 200, 420, 460), RED).paper(560, 200, 22)
    (piece,) = measure(table, subject=Subject.SPOOL)
    assert off(piece, RED) < 2.5
    x = np.array(piece.swatch.corners)[:, 0]
    assert x.min() > 315
    assert x.max() < 405


def test_white_cloth_beside_white_paper_is_told_from_it():
    white = (93.0, 0.0, 4.0)
    (piece,) = measure(Table().lay((100, 150, 500, 480), white).paper(600, 200, 22))
    assert off(piece, white) < 1.0


def test_white_cloth_alone_is_not_its_own_reference():
    (piece,) = measure(Table().lay((250, 150, 620, 480), (93.0, 0.0, 4.0)))
    assert piece.reference == "none"
    assert piece.trust == "D"
    assert piece.swatch.lab[0] <= 93.5
    assert "no-scale" in piece.swatch.flags


def test_cloth_that_fills_the_picture_is_one_piece_however_chequered():
    table = Table(width=300, height=225).lay(
        (0, 0, 300, 225), (60.0, -20.0, 30.0), dots=(30.0, -20.0, 20.0), step=20
    )
    pieces = measure(table)
    assert len(pieces) == 1
    assert not pieces[0].swatch.reads_as_solid
    assert pieces[0].squares == 0


def test_squares_edge_to_edge_that_fill_the_picture_are_noticed():
    scene = make_scene("touching", 2, megapixels=1.5, rows=3, columns=3)
    (piece,) = measure_pieces(photo_from_array(scene.pixels, "shelf"))
    assert piece.subject is Subject.PIECE
    assert piece.squares == len(scene.truth.squares) == 9
    assert len(measure_pieces(photo_from_array(scene.pixels), subject=Subject.SQUARES)) == 9


@pytest.mark.parametrize(("kind", "seed"), [("gaps_board", 903), ("gaps_cloth", 903)])
def test_squares_that_lie_apart_are_squares_where_the_table_is_like_cloth(kind, seed):
    scene = make_scene(kind, seed, megapixels=1.5)
    pieces = measure_pieces(photo_from_array(scene.pixels, "shelf"))
    assert {piece.subject for piece in pieces} == {Subject.SQUARES}
    assert len(pieces) >= len(scene.truth.squares) - 1


def test_a_print_of_many_squares_with_lines_between_is_one_piece():
    scene = make_scene("tricky_prints", 1, megapixels=1.5)
    shown = scene.true_print("B2", 80.0)[:600, :800]
    picture = np.ascontiguousarray(coded8_from_linear(np.clip(shown, 0, 1)))
    pieces = measure_pieces(photo_from_array(picture, "patchwork"))
    assert [piece.subject for piece in pieces] == [Subject.PIECE]


def test_squares_are_each_their_own():
    table = Table().lay((60, 60, 260, 260), NAVY).lay((300, 60, 500, 260), RED)
    table.lay((60, 300, 260, 500), (70.0, 0.0, 30.0)).lay((300, 300, 500, 500), (20.0, 0.0, 3.0))
    pieces = measure(table.paper(620, 200, 22), square_inches=5.0)
    assert [p.swatch.id for p in pieces] == ["A1", "A2", "B1", "B2"]
    assert {p.subject for p in pieces} == {Subject.SQUARES}
    assert {p.swatch.side_inches for p in pieces} == {5.0}
    assert off(pieces[1], RED) < 1.5


def test_a_region_given_by_hand():
    table = Table().lay((150, 150, 520, 380), NAVY).paper(600, 200, 22)
    (piece,) = measure(table, region=(180, 180, 480, 340), piece_inches=15.0)
    assert off(piece, NAVY) < 1.5
    assert piece.swatch.side_inches == pytest.approx(8.0, rel=0.01)
    for wrong in ((0, 0, 2000, 20), (50, 50, 40, 90), (10, 10, 14, 300)):
        with pytest.raises(StashError, match="region"):
            measure(table, region=wrong)


def test_said_squares_that_are_not_there():
    with pytest.raises(StashError, match="no squares"):
        measure(Table(width=320, height=240), subject=Subject.SQUARES)


def test_white_that_is_not_in_the_picture():
    with pytest.raises(ColorError):
        measure(Table().lay((150, 150, 520, 380), NAVY), white=(5000.0, 20.0))


@pytest.mark.parametrize(("kind", "seed"), [("one_small", 9), ("one_small", 14), ("one_large", 15)])
def test_one_rendered_piece_is_found_and_true(kind, seed):
    """Photographs computed from spectra, paper beside the cloth: dark prints on wood and mats."""
    scene = make_scene(kind, seed, megapixels=0.7)
    (piece,) = measure_pieces(photo_from_array(scene.pixels, "scene"))
    truth = np.array(scene.truth.squares[0].corners, dtype=np.float32)
    for x, y in piece.swatch.corners:
        assert cv2.pointPolygonTest(truth[:, None], (float(x), float(y)), False) > 0
    assert piece.reference == "paper"
    assert off(piece, scene.truth.squares[0].lab) < 2.5


def test_a_print_without_paper_keeps_the_cameras_exposure_and_says_its_doubt():
    table = Table(width=600, height=450, fall=(1.0, 1.0), exposure=0.5)
    (piece,) = measure(table.lay((150, 90, 450, 360), NAVY))
    assert piece.reference == "none"
    assert piece.swatch.lab_sd[0] >= 10
    assert off(piece, NAVY) < 12


STACK = [NAVY, (70.0, 0.0, 30.0), RED, (35.0, -20.0, 15.0), (60.0, 5.0, -15.0)]


@pytest.mark.parametrize(("kind", "seed"), [("few", 45), ("gaps_board", 42), ("gaps_board", 44)])
def test_a_light_square_is_not_the_white_paper(kind, seed):
    """Photographs of several squares without any paper, of which the lightest are plain."""
    scene = make_scene(kind, seed, megapixels=1.0, reference="none")
    pieces = measure_pieces(photo_from_array(scene.pixels), subject=Subject.PIECE)
    assert {(piece.reference, piece.trust) for piece in pieces} == {("none", "D")}
    with_paper = make_scene(kind, seed, megapixels=1.0, reference="paper")
    pieces = measure_pieces(photo_from_array(with_paper.pixels), subject=Subject.PIECE)
    assert {piece.reference for piece in pieces} == {"paper"}


@pytest.mark.parametrize("upright", [False, True])
def test_a_stack_of_folded_edges_is_parted(upright):
    table = Table().stack((120, 60, 520, 560), STACK, upright=upright).paper(620, 200, 22)
    pieces = measure(table, subject=Subject.EDGES)
    assert len(pieces) == len(STACK)
    for piece, lab in zip(pieces, STACK, strict=True):
        assert off(piece, lab) < 4.0
        assert piece.reference == "paper"


def test_a_stack_that_fills_the_picture_is_parted():
    table = Table(width=600, height=450, fall=(1.0, 0.9)).stack((0, 0, 600, 450), STACK)
    pieces = measure(table, subject=Subject.EDGES)
    assert len(pieces) == len(STACK)
    lightness = [piece.swatch.lab[0] for piece in pieces]
    assert np.argsort(lightness).tolist() == np.argsort([lab[0] for lab in STACK]).tolist()


def test_one_folded_piece_is_no_stack():
    dots = (90.0, 0.0, 5.0)
    table = Table().lay((150, 150, 520, 480), RED, dots=dots, step=40).paper(620, 200, 22)
    assert len(measure(table, subject=Subject.EDGES)) == 1
