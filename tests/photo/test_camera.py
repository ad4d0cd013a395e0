"""Which camera took a picture: tags of Exif as CIPA DC-008-2019 numbers them."""

import io

import numpy as np
import pillow_heif
import pytest
from PIL import Image

from colorcore.photo import photo_from_array
from colorcore.photo.camera import camera_of
from colorcore.photo.opening import photo_from_bytes

PICTURE = Image.fromarray(np.full((96, 128, 3), 120, np.uint8))


def tags(*, make: str | None = None, model: str | None = None, exposed: bool = True) -> Image.Exif:
    exif = Image.Exif()
    exif[0x0112] = 1
    if make:
        exif[0x010F] = make
    if model:
        exif[0x0110] = model
    if exposed:
        exif[0x8769] = {0x829A: (1, 60)}
    return exif


def stored(kind: str, exif: Image.Exif | None) -> bytes:
    buffer = io.BytesIO()
    PICTURE.save(buffer, kind, **({"exif": exif} if exif else {}))
    return buffer.getvalue()


@pytest.mark.parametrize("kind", ["JPEG", "PNG", "WEBP"])
def test_a_photographed_file_names_its_camera(kind):
    data = stored(kind, tags(make="Maker", model="Model 7\0"))
    assert camera_of(data) == "Maker Model 7"
    assert photo_from_bytes(data, "a").camera == "Maker Model 7"


def test_without_an_exposure_it_may_be_a_scan():
    assert camera_of(stored("JPEG", tags(make="Maker", exposed=False))) == ""
    assert camera_of(stored("JPEG", None)) == ""
    assert camera_of(stored("JPEG", tags())) == "a camera"
    assert photo_from_array(np.zeros((9, 9, 3), np.uint8)).camera == ""


def test_heic_comes_from_a_phone():
    pillow_heif.register_heif_opener()
    assert camera_of(stored("HEIF", None)) == "a phone"
    assert camera_of(stored("HEIF", tags(make="Maker"))) == "Maker"


def test_damaged_words_cost_nothing():
    data = stored("JPEG", tags(make="Maker"))
    place = data.index(b"Exif\0\0")
    assert camera_of(data[: place + 8] + b"\xff" * 60 + data[place + 68 :]) == ""
    assert camera_of(b"no picture") == ""
