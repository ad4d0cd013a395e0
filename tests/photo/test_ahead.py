"""A photo that is looked at while it is being decoded shows what it shows when it is opened."""

import io
import os
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path

import cv2
import numpy as np
import pytest
from PIL import Image

from colorcore.errors import PhotoError
from colorcore.photo import begin_opening, open_photo
from colorcore.photo.decoding import PREVIEW_PIXELS
from tests.photo.profiles import P3, make_profile

# Neither side is of whole blocks, and the pixels suffice for a preview by fours.
W, H = 3801, 2603


def _large_jpeg(orientation: int = 1, **options: object) -> bytes:
    y, x = np.mgrid[0:H, 0:W].astype(np.float32)
    waves = [x * 255 / W, y * 255 / H, 127 + 90 * np.sin(x / 40) * np.cos(y / 60)]
    pixels = np.stack(waves, axis=2).astype(np.uint8)
    exif = Image.Exif()
    exif[0x0112] = orientation
    kept = io.BytesIO()
    Image.fromarray(pixels).save(kept, "JPEG", quality=90, exif=exif, **options)
    return kept.getvalue()


@pytest.fixture(scope="module")
def large(tmp_path_factory) -> Path:
    path = tmp_path_factory.mktemp("photos") / "large.jpg"
    path.write_bytes(_large_jpeg())
    return path


def test_shows_the_same_before_and_after_it_is_decoded(large):
    with ThreadPoolExecutor(1) as pool:
        ahead = begin_opening(large, pool)
        early = {side: ahead.small(side) for side in (W // 4, 700, 3000, 5000)}
        whole = ahead.whole()
    photo = open_photo(large)
    assert (ahead.width, ahead.height) == (photo.width, photo.height) == (W, H)
    assert np.array_equal(whole.pixels, photo.pixels)
    for side, (seen, scale) in early.items():
        for other in (whole, photo):
            again, same = other.small(side)
            assert same == scale
            assert np.array_equal(again, seen)


def test_the_preview_is_the_picture_reduced_by_area(large):
    photo = open_photo(large)
    assert photo.preview is not None
    assert photo.preview.shape == (-(-H // 4), -(-W // 4), 3)
    assert photo.preview.shape[0] * photo.preview.shape[1] > PREVIEW_PIXELS
    seen, scale = photo.small(round(W / 4))
    full = photo.pixels[: H // 4 * 4, : W // 4 * 4]
    area = cv2.resize(full, (W // 4, H // 4), interpolation=cv2.INTER_AREA).astype(int)
    away = np.abs(seen[: H // 4, : W // 4].astype(int) - area)
    assert scale == pytest.approx(1 / 4, abs=1e-4)
    assert away.mean() < 1
    assert away.max() < 12


@pytest.mark.parametrize("orientation", [3, 6, 7])
def test_the_preview_is_turned_with_its_picture(tmp_path, orientation):
    path = tmp_path / "turned.jpg"
    path.write_bytes(_large_jpeg(orientation))
    photo = open_photo(path)
    assert photo.preview is not None
    size = (photo.preview.shape[1], photo.preview.shape[0])
    area = cv2.resize(photo.pixels, size, interpolation=cv2.INTER_AREA)
    assert np.abs(photo.preview.astype(int) - area).mean() < 1.5


def test_a_profile_holds_for_the_preview_as_well(tmp_path):
    path = tmp_path / "wide.jpg"
    path.write_bytes(_large_jpeg(icc_profile=make_profile(P3)))
    photo = open_photo(path)
    assert not photo.encoding.is_srgb
    seen, _ = photo.small(round(W / 4))
    linear, _ = photo.small_linear(round(W / 4))
    coded = np.clip(linear, 0, 1)
    coded = np.where(coded < 0.0031308, 12.92 * coded, 1.055 * coded ** (1 / 2.4) - 0.055) * 255
    assert np.abs(seen - coded).mean() < 1.5


def test_small_photos_and_those_of_many_scans_have_none(tmp_path, large):
    small = tmp_path / "small.jpg"
    Image.open(large).resize((W // 2, H // 2)).save(small)
    scans = tmp_path / "scans.jpg"
    scans.write_bytes(_large_jpeg(progressive=True))
    for path in (small, scans):
        with ThreadPoolExecutor(1) as pool:
            ahead = begin_opening(path, pool)
            seen, _ = ahead.small(500)
        assert ahead.preview is None
        assert np.array_equal(seen, open_photo(path).small(500)[0])


def test_what_decoding_shows_is_told_when_the_pixels_are_asked_for(tmp_path, monkeypatch, large):
    def fail(data: object, flags: int) -> None:
        return None

    monkeypatch.setattr(cv2, "imdecode", fail)
    monkeypatch.setattr(cv2, "imread", lambda *given: None)
    with ThreadPoolExecutor(1) as pool:
        ahead = begin_opening(large, pool)
        for ask in (ahead.whole, lambda: ahead.pixels, lambda: ahead.small(500)):
            with pytest.raises(PhotoError, match=r"large\.jpg: the picture is damaged"):
                ask()


def test_without_files_in_memory_the_pixels_are_the_same(monkeypatch, large):
    usual = open_photo(large).pixels
    monkeypatch.delattr(os, "memfd_create", raising=False)
    assert np.array_equal(open_photo(large).pixels, usual)


@pytest.mark.parametrize("refuses", [False, True])
def test_where_files_in_memory_cannot_be_read_the_pixels_are_the_same(monkeypatch, large, refuses):
    def read(*given: object) -> None:
        if refuses:
            raise cv2.error("this reader fills no array")

    usual = open_photo(large).pixels
    monkeypatch.setattr(cv2, "imread", read)
    assert np.array_equal(open_photo(large).pixels, usual)


def test_a_file_that_is_no_photo_is_told_at_once(tmp_path):
    with ThreadPoolExecutor(1) as pool:
        for name, data, why in (
            ("none.jpg", None, "no such file"),
            ("empty.jpg", b"", "is empty"),
            ("text.jpg", b"squares", "not a picture"),
        ):
            path = tmp_path / name
            if data is not None:
                path.write_bytes(data)
            with pytest.raises(PhotoError, match=why):
                begin_opening(path, pool)
