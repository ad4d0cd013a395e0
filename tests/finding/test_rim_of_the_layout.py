"""What lies beside the rows and columns: the table's edge, its checks and boards are no squares."""

import cv2
import numpy as np
import pytest

from colorcore.finding import find_squares
from colorcore.finding.beyond import own_share, own_step, runs_on
from colorcore.finding.evidence import weigh_sides
from colorcore.photo import photo_from_array
from tests.bench.finding import match
from tests.finding.drawn import make_drawing
from tests.scenes import make_scene


def outlines(pixels: np.ndarray) -> np.ndarray:
    finding = find_squares(photo_from_array(pixels))
    return np.array([s.corners for s in finding.squares]).reshape(-1, 4, 2)


def test_the_side_of_a_square_ends_at_its_corners_and_that_of_a_board_runs_on() -> None:
    channels = np.zeros((400, 600, 4), np.float32)
    channels[..., 0], channels[..., 3] = 60, 30
    channels[100:200, 100:200] = [30, 5, 5, 0]
    channels[:, 400:] = [80, 0, 10, 30]
    square = np.array([[100, 100], [200, 100], [200, 200], [100, 200]], np.float64)
    board = square + np.array([300.0, 0])
    on = runs_on(channels, np.array([square, board]), 0.2)
    assert on[0].max() < 0.05
    np.testing.assert_allclose(on[1], [0, 0, 0, 1], atol=1e-6)
    sides = weigh_sides(channels, np.array([square, board]), 1.0)
    assert own_step(sides, on)[0] > 0.95
    assert own_step(sides, on)[1] < 0.05
    np.testing.assert_allclose(own_share(sides, on), [1, 0], atol=0.05)


@pytest.mark.parametrize(("step", "on"), [(10, 1.0), (1, 0.0)], ids=["checks", "hardly a step"])
def test_where_two_stripes_of_a_tablecloth_cross_their_color_runs_on(step: int, on: float) -> None:
    """Each stripe is table, where they cross is none."""
    channels = np.zeros((300, 300, 4), np.float32)
    channels[..., 0], channels[..., 3] = 80, 30
    channels[100:200, :, 0] -= step
    channels[:, 100:200, 0] -= step
    channels[100:200, 100:200, 3] = 0
    crossing = np.array([[[100, 100], [200, 100], [200, 200], [100, 200]]], np.float64)
    np.testing.assert_allclose(runs_on(channels, crossing, 0.2), np.full((1, 4), on), atol=0.03)


@pytest.mark.parametrize(
    ("kind", "seed"),
    [("gaps_cloth", 827), ("glossy_table", 924)],
    ids=["rows on a dotted cloth", "paper off the picture"],
)
def test_squares_in_plain_rows_are_found_and_nothing_beside_them(kind: str, seed: int) -> None:
    scene = make_scene(kind, seed, megapixels=1.5)
    truth = np.array([s.corners for s in scene.truth.squares])
    found = outlines(scene.pixels)
    assert len(match(truth, found)) == len(found) == len(truth)


def test_two_light_squares_that_look_like_one_sheet_are_two() -> None:
    drawing = make_drawing(
        3, rows=4, columns=5, width=1200, height=900, fill=0.75, gap=0.05, jitter=0.005, lean=0.3
    )
    pixels = drawing.pixels.copy()
    left, right = drawing.quads[[7, 8]]
    crease = np.array([left[1], right[0], right[3], left[2]])
    for quad, shade in ((left, 236), (right, 236), (crease, 220)):
        cv2.fillConvexPoly(pixels, np.round(quad).astype(np.int32), (shade, shade, shade - 4))
    found = outlines(pixels)
    assert len(match(drawing.quads, found)) == len(found) == 20


def test_nothing_is_seen_of_a_gap_that_is_too_narrow() -> None:
    channels = np.random.default_rng(0).normal(0, 9, (60, 60, 4)).astype(np.float32)
    square = np.array([[[20, 20], [40, 20], [40, 40], [20, 40]]], np.float64)
    assert runs_on(channels, square, 0.0).tolist() == [[0, 0, 0, 0]]
    assert runs_on(channels, square[:0], 0.2).shape == (0, 4)
