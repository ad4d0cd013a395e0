"""Strips side by side: rendered photographs of eight to seventeen precut strips each."""

import numpy as np
import pytest

from colorcore.finding import find_squares
from colorcore.finding.plane import fit_plane
from colorcore.finding.strips import hold_strips
from colorcore.photo import photo_from_array
from tests.bench.finding import match, overlap
from tests.scenes import make_scene


@pytest.mark.parametrize("seed", [600, 602, 608])
def test_strips_are_found_as_rectangles_also_plain_ones(seed: int) -> None:
    """Among them plain light ones, which could be paper, and some with hardly a gap."""
    scene = make_scene("strips", seed, megapixels=1.0)
    finding = find_squares(photo_from_array(scene.pixels))
    truth = np.array([s.corners for s in scene.truth.squares])
    found = np.array([s.corners for s in finding.squares]).reshape(-1, 4, 2)
    pairs = match(truth, found)
    assert len(pairs) == len(found) == len(truth)
    assert np.mean([share for _, _, share in pairs]) > 0.95
    assert [s.column for s in finding.squares] == list(range(len(truth)))
    assert {s.row for s in finding.squares} == {0}


@pytest.mark.parametrize("seed", [609, 638, 921])
def test_strips_of_which_most_gaps_close_are_parted(seed: int) -> None:
    scene = make_scene("strips", seed, megapixels=1.5)
    finding = find_squares(photo_from_array(scene.pixels))
    truth = np.array([s.corners for s in scene.truth.squares])
    found = np.array([s.corners for s in finding.squares]).reshape(-1, 4, 2)
    assert len(match(truth, found)) == len(found) == len(truth)
    assert [s.column for s in finding.squares] == list(range(len(truth)))


def test_a_strip_whose_ends_were_seen_aslant_becomes_a_rectangle_again() -> None:
    strip = np.array([[0.0, 0], [30, 0], [30, 240], [0, 240]])
    c, s = np.cos(0.02), np.sin(0.02)
    turn = np.array([[c, s], [-s, c]])
    true = np.array([(strip + np.array([60, 0]) * k) @ turn + [60, 40] for k in range(5)])
    seen = true.copy()
    seen[1, [0, 3]] += turn[1] * 14
    seen[1, [1, 2]] -= turn[1] * 14
    seen[3, [0, 1]] += turn[1] * [[9], [-9]]
    size = (340, 420)
    held = hold_strips(fit_plane(seen, np.ones(5), size), seen, size)
    assert min(overlap(seen[k], true[k]) for k in (1, 3)) < 0.96
    assert min(overlap(h, t) for h, t in zip(held, true, strict=True)) > 0.985
