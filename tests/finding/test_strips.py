"""Strips side by side, and what looks like them: rendered photographs."""

import numpy as np
import pytest

from colorcore.finding import find_squares
from colorcore.finding.context import keep_company, lies_between
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


@pytest.mark.parametrize("seed", [1052, 1059])
def test_strips_that_show_as_two_large_squares_are_parted(seed: int) -> None:
    assert _all_and_nothing_else("strips", seed)


def test_a_strip_is_not_lost_to_the_steps_of_its_own_print() -> None:
    assert _all_and_nothing_else("strips", 1046)


def test_a_board_of_the_table_beside_strips_is_none() -> None:
    assert _all_and_nothing_else("strips", 1049)


def test_the_stripes_of_a_print_are_no_strips() -> None:
    assert _all_and_nothing_else("touching", 1053)


def test_one_large_square_of_a_bold_print_is_no_block_of_squares_without_seams() -> None:
    assert _all_and_nothing_else("one_large", 700)


def _all_and_nothing_else(kind: str, seed: int) -> bool:
    scene = make_scene(kind, seed, megapixels=1.5)
    finding = find_squares(photo_from_array(scene.pixels))
    truth = np.array([s.corners for s in scene.truth.squares])
    found = np.array([s.corners for s in finding.squares]).reshape(-1, 4, 2)
    return len(match(truth, found)) == len(found) == len(truth)


def test_in_a_single_row_what_has_a_square_on_either_side_lies_between() -> None:
    """No distance from row to row is known there."""
    square = np.array([[0.0, 0], [40, 0], [40, 40], [0, 40]])
    row = square + np.array([[50.0 * k + 20, 60] for k in range(6)])[:, None]
    known = row[[0, 1, 2, 4, 5]]
    company = keep_company(fit_plane(known, np.ones(5), (160, 340)), known)
    places = np.array([row[3], row[5] + [50, 0], row[3] + [0, 50]])
    assert lies_between(company, places).tolist() == [True, False, False]


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
