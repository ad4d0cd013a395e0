"""Camera raw: linear light, against a negative whose camera is known."""

import sys

import numpy as np
import pytest

from colorcore.errors import PhotoError
from colorcore.photo import open_photo
from tests.photo.negatives import write_negative
from tests.photo.profiles import SRGB, to_xyz_d65


def _patches(values: np.ndarray) -> np.ndarray:
    return np.kron(values, np.ones((80, 80, 1)))


def test_a_negative_opens_in_linear_light(tmp_path):
    pytest.importorskip("rawpy", reason="the extra 'raw' is not installed")
    grey = np.array([[[v] * 3 for v in (0.05, 0.1, 0.2, 0.4, 0.8)]])
    write_negative(tmp_path / "a.dng", _patches(grey), np.linalg.inv(to_xyz_d65(SRGB)))
    photo = open_photo(tmp_path / "a.dng")
    assert photo.scene_linear
    light = photo.linear(0, 0, photo.width, photo.height)
    middles = light[40, 40::80].astype(float)
    assert middles.shape == (5, 3)
    assert np.allclose(middles[:, 1] / middles[4, 1], grey[0, :, 1] / 0.8, rtol=0.01)
    assert np.allclose(middles / middles[:, 1:2], 1, atol=0.02)


def test_a_negative_keeps_its_colours(tmp_path):
    """A camera with other primaries and a green cast comes out in sRGB primaries."""
    pytest.importorskip("rawpy", reason="the extra 'raw' is not installed")
    mixing = np.array([[0.8, 0.15, 0.05], [0.2, 0.7, 0.1], [0.05, 0.25, 0.7]])
    neutral = np.array([0.6, 1.0, 0.7])
    srgb = np.array([[[0.2, 0.2, 0.2], [0.3, 0.1, 0.08], [0.1, 0.25, 0.12], [0.1, 0.12, 0.3]]])
    camera = (srgb @ mixing.T) * neutral
    xyz_to_camera = np.diag(neutral) @ mixing @ np.linalg.inv(to_xyz_d65(SRGB))
    write_negative(tmp_path / "a.dng", _patches(camera), xyz_to_camera, tuple(neutral))
    photo = open_photo(tmp_path / "a.dng")
    middles = photo.linear(0, 0, photo.width, photo.height)[40, 40::80].astype(float)
    middles *= 0.2 / middles[0].mean()
    assert np.allclose(middles, srgb[0], atol=0.012)


def test_without_rawpy_one_sentence(tmp_path, monkeypatch):
    write_negative(tmp_path / "a.dng", np.full((80, 80, 3), 0.5), np.eye(3))
    monkeypatch.setitem(sys.modules, "rawpy", None)
    with pytest.raises(PhotoError, match="extra 'raw'"):
        open_photo(tmp_path / "a.dng")


def test_a_damaged_negative(tmp_path):
    pytest.importorskip("rawpy", reason="the extra 'raw' is not installed")
    (tmp_path / "a.dng").write_bytes(b"FUJIFILMCCD-RAW 0201" + bytes(3000))
    with pytest.raises(PhotoError, match="neither"):
        open_photo(tmp_path / "a.dng")
