"""What is judged to be a square: not paper, not the table's own tiles, nothing round; and what is
unsure is said to be."""

import cv2
import numpy as np
import pytest

from colorcore.finding import Finding, choose, find_squares
from colorcore.photo import photo_from_array
from tests.bench.finding import match
from tests.bench.finding_fit import fit_logistic
from tests.finding.drawn import make_drawing


def outlines(finding: Finding) -> np.ndarray:
    return np.array([s.corners for s in finding.squares]).reshape(-1, 4, 2)


def test_paper_just_where_one_more_square_would_lie_is_none() -> None:
    drawing = make_drawing(31, rows=3, columns=4, width=1100, height=750, fill=0.7)
    pixels = drawing.pixels.copy()
    last = drawing.quads[-1]
    side = float(np.linalg.norm(last[1] - last[0]))
    left, top = last[:, 0].max() + 0.2 * side, last[:, 1].min()
    paper = np.array([[0, 0], [0.77, 0], [0.77, 1], [0, 1]]) * 1.05 * side + [left, top]
    cv2.fillConvexPoly(pixels, np.round(paper).astype(np.int32), (247, 247, 245))
    finding = find_squares(photo_from_array(pixels))
    found = outlines(finding)
    assert len(match(drawing.quads, found)) == len(found) == 12


@pytest.mark.parametrize("tile", [0.95, 1.0, 1.15])
def test_tiles_of_the_table_are_no_squares(tile: float) -> None:
    drawing = make_drawing(12, rows=4, columns=5, width=1200, height=900, fill=0.62, shadow=0.15)
    rng = np.random.default_rng(2)
    cloth = np.zeros(drawing.pixels.shape[:2], np.uint8)
    for quad in drawing.quads:
        cv2.fillConvexPoly(cloth, np.round(quad).astype(np.int32), 1)
    floor = np.full(drawing.pixels.shape, (176, 168, 158), np.float32)
    step = tile * float(np.linalg.norm(drawing.quads[0][1] - drawing.quads[0][0]))
    for at in np.arange(0.3 * step, 1200, step):
        floor[:, round(at) : round(at) + 3] *= 0.72
        floor[round(at) : round(at) + 3] *= 0.72
    floor = np.clip(cv2.GaussianBlur(floor, (0, 0), 0.8) + rng.normal(0, 2, floor.shape), 0, 255)
    shown = cv2.dilate(cloth, np.ones((5, 5), np.uint8))[..., None] > 0
    pixels = np.where(shown, drawing.pixels, floor.astype(np.uint8))
    found = outlines(find_squares(photo_from_array(pixels)))
    assert len(found) == len(match(drawing.quads, found)) >= 19


@pytest.mark.parametrize("name", ["page", "immunohistochemistry"])
@pytest.mark.parametrize("turned", [0, 1])
def test_photographs_with_many_small_things_have_no_squares(name: str, turned: int) -> None:
    """Photographs that scikit-image carries (skimage.data): print, cells."""
    from skimage import data

    picture = np.asarray(getattr(data, name)())
    picture = picture if picture.ndim == 3 else np.dstack([picture] * 3)
    finding = find_squares(photo_from_array(np.ascontiguousarray(np.rot90(picture, turned))))
    assert finding.squares == ()
    assert finding.reason


@pytest.mark.parametrize("sides", [3, 6, 60])
def test_things_with_other_shapes_are_no_squares(sides: int) -> None:
    pixels = np.full((600, 800, 3), (150, 130, 110), np.uint8)
    rng = np.random.default_rng(sides)
    for row in range(3):
        for column in range(4):
            angle = 0.3 + np.arange(sides) * 2 * np.pi / sides
            ring = 60 * np.array([np.cos(angle), np.sin(angle)]).T
            ring += np.array([130 + 180 * column, 120 + 180 * row])
            color = rng.integers(10, 250, 3).tolist()
            cv2.fillPoly(pixels, [np.round(ring).astype(np.int32)], color)
    assert find_squares(photo_from_array(pixels)).squares == ()


def test_a_square_that_hardly_differs_from_the_table_is_not_dropped_in_silence() -> None:
    drawing = make_drawing(14, rows=4, columns=5, width=1000, height=800)
    pixels = drawing.pixels.astype(np.float32)
    # Squares in the middle take the table's look but for a faint rim.
    table = np.median(pixels[:30].reshape(-1, 3), axis=0)
    for k in (6, 12):
        inside = np.zeros(pixels.shape[:2], np.uint8)
        cv2.fillConvexPoly(inside, np.round(drawing.quads[k]).astype(np.int32), 1)
        noise = np.random.default_rng(k).normal(0, 2, pixels.shape)
        pixels = np.where(inside[..., None] > 0, table * 0.97 + noise, pixels)
    finding = find_squares(photo_from_array(np.clip(pixels, 0, 255).astype(np.uint8)))
    assert len(match(drawing.quads, outlines(finding))) >= 18
    told = np.array([s.corners for s in (*finding.squares, *finding.doubtful)])
    assert len(match(drawing.quads, told)) == 20
    assert all(s.confidence < 0.5 for s in finding.doubtful)


def test_an_even_small_picture_is_no_error() -> None:
    for side in (1, 8, 40, 90):
        even = np.full((side, side, 3), 90, np.uint8)
        assert find_squares(photo_from_array(even)).squares == ()


def test_outlines_in_the_way_are_told_whichever_comes_first() -> None:
    unit = np.array([[0.0, 0], [10, 0], [10, 10], [0, 10]])
    quads = np.array([unit, unit + 4, unit + 40])
    assert choose.clear(quads, np.array([unit + np.array([9, 0]), unit + 41]), 0.3).tolist() == [
        True, True, False,
    ]  # fmt: skip
    assert choose.clear(quads, quads[:0], 0.3).all()


def test_the_fit_finds_the_weights_that_made_the_answers() -> None:
    rng = np.random.default_rng(3)
    known = rng.normal(0, [1.0, 3.0, 0.2], (6000, 3)) + np.array([0, 1, 5])
    true = np.array([1.0, 1.5, -0.7, 2.0])
    right = rng.random(6000) < 1 / (1 + np.exp(-(true[0] - 10 + known @ true[1:])))
    found = fit_logistic(known, right, np.zeros(4), 0.1, balanced=False)
    assert np.allclose(found[1:], true[1:], atol=0.35)
    assert found[0] + 5 * found[3] == pytest.approx(1.0, abs=0.2)
