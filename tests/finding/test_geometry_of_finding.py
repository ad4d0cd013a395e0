"""The parts of finding that are geometry: the plane, rows and columns, sides fitted to steps."""

import cv2
import numpy as np
import pytest

from colorcore.finding.blocks import true_aspects
from colorcore.finding.layout import lay_out, pitches
from colorcore.finding.model import address
from colorcore.finding.outlines import has_corners, order
from colorcore.finding.plane import fit_plane
from colorcore.finding.refine import sharpen
from colorcore.finding.whole import fit_whole
from colorcore.geometry import holds
from tests.finding.drawn import make_drawing

UNIT = np.array([[-0.5, -0.5], [0.5, -0.5], [0.5, 0.5], [-0.5, 0.5]])


def squares_at(places: list[tuple[float, float]], side: float = 80.0, degrees: float = 0.0):
    a = np.radians(degrees)
    turn = np.array([[np.cos(a), -np.sin(a)], [np.sin(a), np.cos(a)]])
    return np.array([(UNIT + p) @ turn.T * side + [500, 400] for p in places])


@pytest.mark.parametrize(("tilt", "turn"), [(0, 0), (30, 0), (30, 44), (20, -30)])
def test_the_plane_makes_all_squares_alike(tilt: float, turn: float) -> None:
    drawing = make_drawing(
        3, tilt=tilt, turn=turn, lean=6.0, width=400, height=300, prints=("solid",)
    )
    plane = fit_plane(drawing.quads, np.ones(len(drawing.quads)), (300, 400))
    flat = plane.straighten(drawing.quads)
    sides = np.linalg.norm(np.roll(flat, -1, axis=1) - flat, axis=2)
    assert np.abs(sides - 1).max() < 0.01
    assert np.allclose(plane.picture(flat), drawing.quads)


def test_one_column_of_rows_says_nothing_of_a_lean_across() -> None:
    """Long shapes one below the other, one of them cut short: its size is no sign of a tilt."""
    rng = np.random.default_rng(0)
    unit = np.array([[0.0, 0], [360, 0], [360, 128], [0, 128]])
    rows = np.array([unit + np.array([270 + 3 * k, 40 + 145 * k]) for k in range(7)])
    rows += rng.normal(0, 1.0, rows.shape)
    rows[2, [0, 3], 0] += 40
    flat = fit_plane(rows, np.ones(7), (1064, 798)).straighten(rows)
    sides = np.linalg.norm(np.roll(flat, -1, axis=1) - flat, axis=2)
    assert np.abs(np.log(np.delete(sides, 2, axis=0))).max() < 0.05


def test_the_aspect_of_what_lies_tilted_is_that_of_the_rectangle() -> None:
    """Against OpenCV's solution, one outline after the other."""
    rng = np.random.default_rng(0)
    boxes = np.array([[0.0, 0], [1, 0], [1, 1], [0, 1]]) * rng.uniform(20, 200, (50, 1, 2))
    quads = boxes + rng.uniform(0, 400, (50, 1, 2)) + rng.normal(0, 6, (50, 4, 2))
    lens = np.array([[510.0, 0, 300], [0, 510, 225], [0, 0, 1]])
    unit = np.array([[0, 0], [1, 0], [1, 1], [0, 1]], np.float32)
    found = true_aspects(quads, (450, 600))
    for quad, aspect in zip(quads, found, strict=True):
        matrix = cv2.getPerspectiveTransform(unit, quad.astype(np.float32))
        across, down = np.linalg.norm(np.linalg.solve(lens, matrix)[:, :2], axis=0)
        sides = np.linalg.norm(np.roll(quad, -1, axis=0) - quad, axis=1)
        plain = (sides[0] + sides[2]) / (sides[1] + sides[3])
        assert aspect == pytest.approx(np.clip(across / down, 0.8 * plain, 1.25 * plain), rel=1e-4)
    assert np.ptp(found) > 1
    in_line = np.array([[[0.0, 0], [10, 0], [20, 0], [0, 10]]])
    assert np.isfinite(true_aspects(in_line, (450, 600))).all()


def test_an_even_grid_is_numbered_row_by_row() -> None:
    places = [(c * 1.2, r * 1.3) for r in range(4) for c in range(5)]
    quads = squares_at(places)
    layout = lay_out(fit_plane(quads, np.ones(len(quads)), (800, 1000)), quads)
    assert layout.cells.tolist() == [[r, c] for r in range(4) for c in range(5)]
    assert layout.pitch == pytest.approx([1.2, 1.3], abs=0.01)


@pytest.mark.parametrize("degrees", [0, 20, -35, 44])
def test_missing_squares_leave_their_number_free(degrees: float) -> None:
    cells = [(r, c) for r in range(5) for c in range(6)]
    kept = [cell for k, cell in enumerate(cells) if k not in (0, 8, 9, 14, 27)]
    quads = squares_at([(c * 1.15, r * 1.15) for r, c in kept], degrees=degrees)
    layout = lay_out(fit_plane(quads, np.ones(len(quads)), (800, 1000)), quads)
    assert [tuple(c) for c in layout.cells.tolist()] == kept


def test_rows_that_start_and_drift_unevenly_stay_rows() -> None:
    rng = np.random.default_rng(5)
    places, rows = [], []
    for row in range(5):
        start = rng.uniform(-0.35, 0.35)
        for column in range(5):
            drift = 0.05 * column * (-1) ** row
            places.append((start + column * 1.15, row * 1.25 + drift))
            rows.append(row)
    quads = squares_at(places)
    layout = lay_out(fit_plane(quads, np.ones(len(quads)), (800, 1000)), quads)
    assert layout.cells[:, 0].tolist() == rows
    for row in range(5):
        columns = layout.cells[layout.cells[:, 0] == row, 1].tolist()
        assert columns == sorted(set(columns))


def test_no_two_squares_share_an_address() -> None:
    rng = np.random.default_rng(9)
    places = [(c * 1.2 + rng.normal(0, 0.2), r * 1.2 + rng.normal(0, 0.2))
              for r in range(6) for c in range(7)]  # fmt: skip
    quads = squares_at(places)
    cells = lay_out(fit_plane(quads, np.ones(len(quads)), (800, 1000)), quads).cells
    assert len({tuple(c) for c in cells.tolist()}) == len(places)


def test_one_square_has_no_pitch() -> None:
    assert np.isnan(pitches(np.zeros((1, 2)))).all()


def test_addresses_go_on_past_z() -> None:
    assert [address(0, 0), address(25, 2), address(26, 0), address(52, 9)] == [
        "A1", "Z3", "AA1", "BA10",
    ]  # fmt: skip


def test_order_starts_at_the_top_left_and_runs_clockwise() -> None:
    quad = np.array([[10.0, 0], [10, 10], [0, 10], [0, 0]])
    assert order(quad[[2, 0, 3, 1]]).tolist() == [[0, 0], [10, 0], [10, 10], [0, 10]]


def test_a_sliver_is_no_rectangle() -> None:
    upright = UNIT * 50
    sheared = UNIT @ np.array([[50.0, 0], [45, 50]])
    assert has_corners(np.array([upright, sheared, UNIT * 3])).tolist() == [True, False, False]


@pytest.mark.parametrize("size", [60, 400])
def test_sides_are_found_to_a_fraction_of_a_pixel(size: int) -> None:
    """A pale square whose true edge lies between pixels: each pixel holds its covered share, and a
    lens blurs it a little, as all do."""
    true = np.array([[20.3, 22.7], [20.3 + size, 22.7], [20.3 + size, 22.7 + size],
                     [20.3, 22.7 + size]])  # fmt: skip
    canvas = size + 60
    edge = np.arange(canvas + 1, dtype=float)

    def cover(low: float, high: float) -> np.ndarray:
        return np.clip(np.minimum(edge[1:], high) - np.maximum(edge[:-1], low), 0, 1)

    share = np.outer(cover(22.7, 22.7 + size), cover(20.3, 20.3 + size))
    share = cv2.GaussianBlur(share, (0, 0), 0.8)
    pixels = np.round(60 + 150 * share).astype(np.uint8)[..., None].repeat(3, axis=2)
    rough = true + np.array([[1.2, -0.8], [-1.0, 1.1], [0.9, 0.7], [-0.6, -1.0]]) * size / 150
    found, spread = sharpen(pixels, rough[None])
    assert np.abs(found[0] - true).max() < 0.12
    assert spread.max() < 0.01


@pytest.mark.parametrize("degrees", [0.0, 5.0])
def test_a_square_is_moved_as_a_whole_past_the_frames_of_its_print(degrees: float) -> None:
    """A print with a frame that is a far stronger step than the square's own edge: side by side
    the frame would win, but only the edges lie a known side apart."""
    pixels = np.full((240, 240, 3), 120, np.uint8)
    square = squares_at([(0.0, 0.0)], 120.0, degrees)[0] - [380, 280]
    for share, value in ((1.0, 135), (0.8, 20), (0.7, 235)):
        inner = square.mean(axis=0) + share * (square - square.mean(axis=0))
        cv2.fillConvexPoly(pixels, np.round(inner * 16).astype(np.int32), (value,) * 3, shift=4)
    channels = cv2.GaussianBlur(pixels, (0, 0), 0.8).astype(np.float32)
    plane = fit_plane(square[None], np.ones(1), (240, 240))
    rough = square[None] + [7.0, -6.0]
    found = fit_whole(channels, plane, rough, 3.0)[0]
    assert np.abs(found - square).max() < 4.0


@pytest.mark.parametrize("way", [1, -1], ids=["clockwise", "the other way"])
def test_which_points_an_outline_holds(way: int) -> None:
    (quad,) = squares_at([(0.0, 0.0)], degrees=20.0)
    inside = quad.mean(axis=0) + 0.98 * (quad - quad.mean(axis=0))
    outside = quad.mean(axis=0) + 1.02 * (quad - quad.mean(axis=0))
    assert holds(quad[::way], inside).all()
    assert not holds(quad[::way], outside).any()
    assert holds(quad[::way], np.zeros((0, 2))).shape == (0,)
