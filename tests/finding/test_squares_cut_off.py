"""Squares that run out of the picture: rendered photographs of layouts larger than they."""

import numpy as np
import pytest

from colorcore.finding import Finding, find_squares
from colorcore.finding.plane import Plane
from colorcore.finding.rigid import hold_shape, in_picture
from colorcore.photo import photo_from_array
from tests.bench.finding import match
from tests.scenes import Scene, make_scene


def find(scene: Scene) -> tuple[Finding, list[tuple[int, int, float]]]:
    finding = find_squares(photo_from_array(scene.pixels))
    truth = np.array([s.corners for s in scene.truth.squares])
    found = np.array([s.corners for s in finding.squares]).reshape(-1, 4, 2)
    return finding, match(truth, found)


@pytest.mark.parametrize("seed", [601, 607])
def test_squares_cut_off_by_the_edge_are_found_whole(seed: int) -> None:
    scene = make_scene("cut_off", seed, megapixels=1.0)
    finding, pairs = find(scene)
    half = {i for i, s in enumerate(scene.truth.squares) if s.visible_share > 0.5}
    assert len(half - {i for i, _, _ in pairs}) <= 1
    assert len(pairs) == len(finding.squares)
    cut = [share for i, _, share in pairs if scene.truth.squares[i].cut_off]
    assert len(cut) >= 5
    assert np.mean(cut) > 0.95
    flagged = {j for j, s in enumerate(finding.squares) if "cut-off" in s.flags}
    assert {j for i, j, _ in pairs if scene.truth.squares[i].visible_share < 0.9} <= flagged


@pytest.mark.parametrize(("kind", "seed"), [("table_edge", 700), ("side_light", 701)])
def test_a_floor_or_a_darker_table_at_the_edge_is_no_square(kind: str, seed: int) -> None:
    """Floor beyond the table and table in poorer light differ from the table between squares."""
    scene = make_scene(kind, seed, megapixels=1.0)
    finding, pairs = find(scene)
    assert len(pairs) == len(finding.squares) == len(scene.truth.squares)


def test_an_outline_of_which_half_shows_gets_the_size_of_the_others() -> None:
    plane = Plane(np.diag([0.01, 0.01, 1.0]), np.diag([100.0, 100.0, 1.0]))
    c, s = np.cos(0.05), np.sin(0.05)
    unit = np.array([[-50.0, -50], [50, -50], [50, 50], [-50, 50]])
    true = (unit @ np.array([[c, s], [-s, c]]) + [300, 200])[None]
    far = true.copy()
    far[0, 1] += 0.4 * (true[0, 1] - true[0, 0])
    far[0, 2] += 0.4 * (true[0, 2] - true[0, 3])
    shown = in_picture(far, 300, 400)
    shown[0, 1] = 0
    held = hold_shape(plane, far, shown, np.ones(2))
    assert np.abs(held - true).max() < 1e-3
    assert np.abs(far - true).max() > 30
