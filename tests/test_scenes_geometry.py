"""Where the truth says that edges are, the rendered picture has them."""

from typing import Any

import cv2
import numpy as np
import pytest
from numpy.typing import NDArray

from colorcore.geometry import area, side_lengths
from tests.scenes import Scene, make_scene

Points = NDArray[np.float64]

WHITE_SOLIDS: dict[str, Any] = {
    "megapixels": 2.0,
    "surface": "black_table",
    "theme": "white",
    "families": ("solid",),
}
"""White cloth on a black table, whose edges are told best."""


def edge_offsets(scene: Scene) -> NDArray[np.float64]:
    """Return by how many pixels each side of each square (n * 4,) as rendered lies outside its
    true place.

    Light along normals to a side is averaged; the edge is where it is half way between inside and
    outside, found by area, which neither blur nor teeth can bias.
    """
    grey = scene.linear_camera().astype(np.float32).mean(axis=-1)
    return np.concatenate([_offsets(grey, square.corners) for square in scene.truth.squares])


def _offsets(grey: NDArray[np.float32], corners: Points) -> NDArray[np.float64]:
    reach = np.arange(-9.75, 10.0, 0.5)
    offsets = []
    for a, b in zip(corners, np.roll(corners, -1, axis=0), strict=True):
        along = (b - a) / np.linalg.norm(b - a)
        outward = np.array([along[1], -along[0]])
        t = np.linspace(0.15, 0.85, 400)[:, None, None]
        places = a + (b - a) * t + outward * reach[None, :, None] - 0.5
        rows = cv2.remap(
            grey,
            places[..., 0].astype(np.float32),
            places[..., 1].astype(np.float32),
            cv2.INTER_LINEAR,
        )
        profile = rows.mean(axis=0)
        inside, outside = profile[:6].mean(), profile[-6:].mean()
        share = (profile - outside) / (inside - outside)
        offsets.append(float(share.sum() * 0.5 - 10.0))
    return np.array(offsets)


@pytest.mark.parametrize("pinked", [False, True])
def test_edges_lie_where_the_truth_says(pinked: bool) -> None:
    # White cloth on a black table: the shadow, which darkens the table only, hardly counts.
    scene = make_scene(
        "few",
        5,
        **WHITE_SOLIDS,
        pinked=pinked,
        crumpled=0.0,
        noise=0.0,
        tilt=12.0,
        hand=8.0,
        rows=2,
        columns=2,
    )
    offsets = edge_offsets(scene)
    assert np.abs(offsets).max() < 0.6
    assert abs(offsets.mean()) < 0.15


def test_crumpled_cloth_keeps_its_mean_edge() -> None:
    scene = make_scene(
        "few",
        6,
        **WHITE_SOLIDS,
        crumpled=1.0,
        noise=0.0,
        rows=2,
        columns=2,
    )
    offsets = edge_offsets(scene)
    # Ten inches are some 300 pixels here, so that cloth bows by two or three of them.
    assert np.abs(offsets).max() < 3.0
    assert abs(offsets.mean()) < 0.6


@pytest.mark.parametrize("lens", [-0.02, 0.02])
def test_corners_follow_the_lens(lens: float) -> None:
    choices: dict[str, Any] = {
        **WHITE_SOLIDS,
        "crumpled": 0.0,
        "noise": 0.0,
        "rows": 3,
        "columns": 4,
        "reference": "none",
    }
    bent = make_scene("few", 5, **choices, lens=lens)
    straight = make_scene("few", 5, **choices, lens=0.0)
    moved = np.array(
        [
            np.abs(a.corners - b.corners).max()
            for a, b in zip(bent.truth.squares, straight.truth.squares, strict=True)
        ]
    )
    assert moved.max() > 5
    offsets = edge_offsets(bent)
    # Sides of bent squares bow by a pixel or so, outwards on one side and inwards on the other.
    assert abs(offsets.mean()) < 0.2
    assert np.abs(offsets).max() < 2.0


def test_corners_run_clockwise_from_the_top_left() -> None:
    for seed in (1, 2, 3):
        truth = make_scene("turned", seed, megapixels=0.3).truth
        for square in truth.squares:
            assert area(square.corners) > 0
            top_left, _, bottom_right, _ = square.corners
            assert top_left[1] < bottom_right[1]
            assert square.corners[:, 1].argmin() in (0, 1)


def test_squares_have_the_size_that_the_scale_says() -> None:
    truth = make_scene("gaps_board", 4, megapixels=1.0, tilt=0.0, crumpled=0.0, lens=0.0).truth
    for square in truth.squares:
        wanted = truth.side_inches * truth.pixels_per_inch
        assert side_lengths(square.corners) == pytest.approx(np.full(4, wanted), rel=1e-6)


def test_uncovered_squares_are_wholly_visible() -> None:
    apart = make_scene("gaps_board", 4, megapixels=0.3).truth
    assert all(s.visible_share == 1 and not s.cut_off for s in apart.squares)


@pytest.mark.parametrize("first_on_top", [False, True])
def test_shingled_squares_show_a_strip(first_on_top: bool) -> None:
    lapped = make_scene(
        "shingled",
        4,
        megapixels=0.3,
        lap=(0.4, 1.0),
        jitter=0.0,
        hand=0.0,
        crumpled=0.0,
        tilt=0.0,
        first_on_top=first_on_top,
    ).truth
    top = 0 if first_on_top else max(s.column for s in lapped.squares)
    for square in lapped.squares:
        wanted = 1.0 if square.column == top else 0.4
        assert square.visible_share == pytest.approx(wanted, abs=0.01)
        assert area(square.visible) / area(square.corners) == pytest.approx(wanted, abs=0.02)


def test_tilt_makes_the_far_side_shorter() -> None:
    truth = make_scene("tilted", 2, megapixels=0.3, tilt=30.0, hand=0.0, jitter=0.0).truth
    sides = np.array([side_lengths(s.corners).mean() for s in truth.squares])
    assert sides.max() / sides.min() > 1.15
