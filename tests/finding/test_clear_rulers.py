"""Clear rulers with a grid: what shows through them is no cloth, whatever their lines look like."""

import cv2
import numpy as np
import pytest

from colorcore.finding import find_squares
from colorcore.finding.evidence import weigh_sides
from colorcore.finding.through import are_fields, goes_on, runs_through
from colorcore.photo import photo_from_array
from tests.bench.finding import match
from tests.finding.drawn import draw_surface, lay_ruler, make_drawing
from tests.scenes import make_scene

_SURFACES = ("plain", "wood", "carpet", "mat", "tablecloth", "gingham")


@pytest.mark.parametrize("seed", [115, 133, 154])
def test_a_ruler_beside_the_layout_adds_no_row_to_it(seed: int) -> None:
    """Where the next row would lie, two places on the ruler were taken for squares."""
    rng = np.random.default_rng(seed)
    drawing = make_drawing(
        seed, surface=_SURFACES[seed % 6], rows=3, columns=4, width=1000, height=750, fill=0.5
    )
    corners = drawing.quads.reshape(-1, 2)
    low, high = corners.min(axis=0), corners.max(axis=0)
    side = np.sqrt(cv2.contourArea(drawing.quads[0].astype(np.float32)))
    middle = (low[0] + high[0]) / 2 + rng.uniform(-0.3, 0.3) * side
    pixels = lay_ruler(
        drawing.pixels,
        seed,
        middle=(middle, high[1] + rng.uniform(0.6, 0.8) * side),
        inches=((24.0, 6.0), (24.0, 12.5), (12.5, 12.5))[seed % 3],
        inch=side / rng.uniform(5, 10),
        turn=rng.uniform(-6, 6),
    )
    found = np.array([s.corners for s in find_squares(photo_from_array(pixels)).squares])
    assert len(match(drawing.quads, found)) == len(found) == len(drawing.quads)


@pytest.mark.parametrize("seed", [1, 5])
def test_squares_with_gridded_rulers_about_them_are_found(seed: int) -> None:
    scene = make_scene("gridded_ruler", seed, megapixels=1.0)
    truth = np.array([s.corners for s in scene.truth.squares])
    found = np.array([s.corners for s in find_squares(photo_from_array(scene.pixels)).squares])
    assert len(match(truth, found)) == len(found) == len(truth)


def _fields(pixels: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """Return a picture's CIELAB and four outlines of 60 pixels that meet in its middle."""
    lab = cv2.cvtColor(pixels.astype(np.float32) / 255, cv2.COLOR_RGB2Lab)
    places = [(340, 240), (400, 240), (340, 300), (400, 300)]
    unit = np.array([[0, 0], [60, 0], [60, 60], [0, 60.0]])
    return lab, np.array([unit + place for place in places])


def test_between_lines_the_table_goes_on_and_ends_at_cloth() -> None:
    table = np.clip(draw_surface(np.random.default_rng(3), "wood", 600, 800), 0, 255)
    ruled = lay_ruler(table.astype(np.uint8), 3, middle=(400, 300), inches=(12, 6), inch=60, turn=0)
    lab, fields = _fields(ruled)
    assert are_fields(lab, fields).all()
    covered = ruled.copy()
    for k, quad in enumerate(fields.astype(int)):
        (x0, y0), (x1, y1) = quad[0], quad[2]
        rng = np.random.default_rng(k)
        covered[y0:y1, x0:x1] = np.clip(rng.normal(60 + 50 * k, 20, (60, 60, 3)), 0, 255)
    lab, fields = _fields(covered)
    assert not are_fields(lab, fields).any()


def test_an_outline_on_the_bare_table_holds_what_goes_on_beyond_it() -> None:
    table = np.clip(draw_surface(np.random.default_rng(5), "wood", 600, 800), 0, 255)
    lab, quads = _fields(table.astype(np.uint8))
    channels = np.dstack([lab, np.ones(lab.shape[:2], np.float32)])
    sides = weigh_sides(channels, quads, 3.0)
    assert goes_on(runs_through(lab, quads), sides, 3.0).all()
    table[240:360, 340:460] = 255 - table[240:360, 340:460][::-1]
    lab, quads = _fields(table.astype(np.uint8))
    channels = np.dstack([lab, np.ones(lab.shape[:2], np.float32)])
    whole = quads[:1] * 0 + np.array([[340, 240], [460, 240], [460, 360], [340, 360.0]])
    sides = weigh_sides(channels, whole, 3.0)
    assert not goes_on(runs_through(lab, whole), sides, 3.0).any()


def test_past_the_edge_of_the_picture_nothing_is_known_to_go_on() -> None:
    rng = np.random.default_rng(2)
    noise = rng.normal(50, 9, (120, 120, 3)).astype(np.float32)
    corners = np.array([[-20, -20], [55, -20], [55, 55], [-20, 55]], np.float64)
    outlines = corners + 65.0 * np.array([[[0, 0]], [[1, 0]], [[0, 1]], [[1, 1]]])
    assert not are_fields(noise, outlines).any()
