"""Straightening: in linear light, area by area, to the right place."""

import cv2
import numpy as np
import pytest

from colorcore.color.spaces import lab_from_linear
from colorcore.photo import photo_from_array
from colorcore.swatch.rectifying import inner_mask, picture_side, rectify

SQUARE = np.array([[10.0, 10.0], [394.0, 10.0], [394.0, 394.0], [10.0, 394.0]])


def test_fine_black_and_white_blend_in_linear_light() -> None:
    # Half the light of white is L* 76.07 (CIE 015:2018: 116 * 0.5 ** (1/3) - 16).
    pixels = np.zeros((404, 404, 3), dtype=np.uint8)
    pixels[:, ::2] = 255
    patch = rectify(photo_from_array(pixels), SQUARE, side=192)
    lab = lab_from_linear(patch.linear.mean(axis=(0, 1), dtype=np.float64))
    assert lab[0] == pytest.approx(76.07, abs=0.05)
    assert patch.linear.std() < 0.02


def test_samples_lie_where_the_outline_says() -> None:
    y, x = np.mgrid[0:300, 0:300]
    pixels = np.stack([x // 2 + 20, y // 2 + 20, 0 * x + 90], axis=-1).astype(np.uint8)
    photo = photo_from_array(pixels)
    corners = np.array([[60.0, 40.0], [240.0, 70.0], [260.0, 250.0], [30.0, 220.0]])
    patch = rectify(photo, corners, side=64)
    matrix = cv2.getPerspectiveTransform(
        np.array([[0, 0], [64, 0], [64, 64], [0, 64]], np.float32), corners.astype(np.float32)
    )
    for column, row in ((0, 0), (63, 5), (31, 40), (10, 63)):
        center = np.array([[[column + 0.5, row + 0.5]]])
        px, py = cv2.perspectiveTransform(center, matrix)[0, 0]
        seen = patch.linear[row, column]
        for value, place in ((seen[0], px), (seen[1], py)):
            coded = 1.055 * value ** (1 / 2.4) - 0.055
            # Pixel k has its centre at k + 0.5 and is coded k // 2 + 20.
            assert coded * 255 == pytest.approx((place - 0.5) / 2 + 20 - 0.25, abs=0.8)


def test_outside_the_photo_does_not_show() -> None:
    photo = photo_from_array(np.full((100, 100, 3), 120, np.uint8))
    corners = np.array([[-50.0, 10.0], [50.0, 10.0], [50.0, 110.0], [-50.0, 110.0]])
    patch = rectify(photo, corners, side=50)
    assert not patch.shows[:, :24].any()
    assert not patch.shows[-4:].any()
    assert patch.shows[:44, 26:].all()


def test_only_the_visible_part_shows() -> None:
    photo = photo_from_array(np.full((404, 404, 3), 120, np.uint8))
    left = np.array([[10.0, 10.0], [202.0, 10.0], [202.0, 394.0], [10.0, 394.0]])
    patch = rectify(photo, SQUARE, side=192, visible=left)
    assert patch.shows[:, :95].all()
    assert not patch.shows[:, 97:].any()


def test_clipped_at_the_top_in_one_channel_and_at_the_bottom_in_all() -> None:
    pixels = np.full((404, 404, 3), 120, np.uint8)
    pixels[:200, :, 0] = 255
    pixels[300:] = 0
    patch = rectify(photo_from_array(pixels), SQUARE, side=192)
    assert patch.clipped[:90].all()
    assert not patch.clipped[100:140].any()
    assert patch.clipped[150:].all()


def test_no_more_samples_than_the_photo_has_pixels() -> None:
    assert picture_side(SQUARE) == 192
    assert picture_side(SQUARE / 8) == 48
    assert picture_side(SQUARE / 1000) == 16


def test_margin_is_kept_out_on_all_sides() -> None:
    mask = inner_mask(100, 0.03)
    assert mask[3:97, 3:97].all()
    assert mask.sum() == 94 * 94
