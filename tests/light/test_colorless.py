"""Photos turned grey tell values, not colours."""

import cv2
import numpy as np
import pytest

from colorcore.color.spaces import linear_from_lab
from colorcore.light import undo_light
from colorcore.light.colorless import is_grey
from colorcore.photo import photo_from_array
from tests.light.pictures import fill, make_table
from tests.scenes import make_scene


def as_jpeg(pixels: np.ndarray, quality: int) -> np.ndarray:
    stored = cv2.imencode(".jpg", pixels[..., ::-1], [cv2.IMWRITE_JPEG_QUALITY, quality])[1]
    return cv2.imdecode(stored, cv2.IMREAD_COLOR)[..., ::-1]


@pytest.mark.parametrize("quality", [0, 40, 95])
def test_a_grey_photo_is_told_and_its_colours_are_in_doubt(quality):
    table = make_table()
    photo = table.photo(0.95)
    grey = np.repeat(cv2.cvtColor(photo.pixels, cv2.COLOR_RGB2GRAY)[..., None], 3, axis=2)
    grey = as_jpeg(grey, quality) if quality else grey
    colored = undo_light(photo, table.finding())
    calibration = undo_light(photo_from_array(grey), table.finding())
    assert any("photo is grey" in note for note in calibration.notes)
    assert not any("photo is grey" in note for note in colored.notes)
    corners = np.stack([square.corners for square in table.squares])
    sd = calibration.lab_sd(corners, table.labs)
    assert np.all(np.abs(table.labs[:, 1:]) < 2 * sd[:, 1:])
    assert np.all(sd > colored.lab_sd(corners, table.labs))
    assert calibration.trust >= max(colored.trust, "B")


def test_white_on_white_and_dim_rooms_are_no_grey_photos():
    table = make_table(surface=(92, 0, 1))
    for square in table.squares:
        fill(table.picture, square.corners, linear_from_lab(np.array([94.0, 0, 1.5])))
    for level in (0.95, 0.03):
        assert not is_grey(photo_from_array(as_jpeg(table.photo(level).pixels, 90)))


@pytest.mark.parametrize("kind", ["black_on_black", "white_on_white"])
def test_photographs_of_grey_bundles_are_no_grey_photos(kind):
    assert not is_grey(photo_from_array(make_scene(kind, 7, megapixels=0.5).pixels))
