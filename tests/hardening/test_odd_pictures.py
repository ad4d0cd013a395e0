"""Small pictures of anything at all: what is found there has corners, and nothing breaks."""

import cv2
import numpy as np
import pytest

from colorcore.finding import find_squares
from colorcore.photo import photo_from_array
from tests.hardening import amount

CASES = 40 * amount.TIMES


def _drawing(rng: np.random.Generator) -> np.ndarray:
    """A picture of lines, ellipses, polygons, letters and frames over noise or shades."""
    height, width = (int(n) for n in rng.integers(64, 140, 2))
    ramp = np.linspace(*rng.integers(0, 256, 2), width)[None, :, None]
    picture = np.clip(ramp + rng.normal(0, rng.choice([0, 3, 40]), (height, width, 3)), 0, 255)
    picture = np.ascontiguousarray(picture.astype(np.uint8))
    for _ in range(int(rng.integers(0, 9))):
        ink = tuple(int(n) for n in rng.integers(0, 256, 3))
        thick = int(rng.choice([-1, 1, 2, 9]))
        x, y, u, v = (int(n) for n in rng.integers(-20, 220, 4))
        match int(rng.integers(5)):
            case 0:
                cv2.line(picture, (x, y), (u, v), ink, abs(thick))
            case 1:
                axes = (abs(u) // 2 + 1, abs(v) // 2 + 1)
                cv2.ellipse(picture, (x, y), axes, u, 0, 360, ink, thick)
            case 2:
                cv2.rectangle(picture, (x, y), (u, v), ink, thick)
            case 3:
                cv2.putText(picture, "quilt", (x, abs(y)), cv2.FONT_HERSHEY_SIMPLEX, 1, ink, 2)
            case _:
                cv2.fillPoly(picture, [rng.integers(-20, 220, (4, 1, 2)).astype(np.int32)], ink)
    return picture


def test_anything_drawn_is_looked_at_without_harm():
    for number in range(CASES):
        rng = np.random.default_rng([amount.FIRST, number])
        finding = find_squares(photo_from_array(_drawing(rng)))
        for square in (*finding.squares, *finding.doubtful):
            assert np.isfinite(square.corners).all(), f"case {number}"
            assert 0 <= square.confidence <= 1, f"case {number}"
        assert finding.squares or finding.reason, f"case {number}"


@pytest.mark.parametrize("across", [18, 20, 23])
def test_a_thing_too_small_to_be_a_mat(across):
    """Its rim is too thin to show what a table would look like."""
    picture = np.full((64, 64, 3), 235, np.uint8)
    cv2.circle(picture, (32, 32), across // 2, (40, 90, 30), -1)
    assert len(find_squares(photo_from_array(picture)).squares) <= 1
