import base64
import io

import numpy as np
import pytest
from PIL import Image

from colorcore.color.css import css_color
from colorcore.errors import OutputError
from colorcore.sheets.pictures import encode_picture, jpeg_uri, shrink


def test_shrink_averages_light_not_code() -> None:
    checks = (np.indices((64, 64)).sum(axis=0) % 2 * 255).astype(np.uint8)
    small = shrink(np.repeat(checks[..., None], 3, axis=2), 16)
    assert small.shape == (16, 16, 3)
    # IEC 61966-2-1: half the light of white is coded as 188, not as 128.
    assert np.abs(small.astype(int) - 188).max() <= 1


def test_shrink_keeps_shape_and_small_pictures() -> None:
    picture = np.zeros((50, 200, 3), dtype=np.uint8)
    assert shrink(picture, 100).shape == (25, 100, 3)
    assert shrink(picture, 200) is picture
    assert shrink(np.zeros((1, 4000, 3), dtype=np.uint8), 100).shape == (1, 100, 3)


def test_jpeg_uri_holds_the_picture_alone() -> None:
    picture = np.full((40, 60, 3), (200, 30, 60), dtype=np.uint8)
    head, data = jpeg_uri(picture).split(",")
    assert head == "data:image/jpeg;base64"
    opened = Image.open(io.BytesIO(base64.b64decode(data)))
    assert opened.size == (60, 40)
    assert not opened.getexif()
    assert np.abs(np.asarray(opened).astype(int) - picture).max() <= 3


def test_endings() -> None:
    picture = np.zeros((4, 4, 3), dtype=np.uint8)
    assert encode_picture(picture, ".PNG")[:4] == b"\x89PNG"
    assert encode_picture(picture, ".jpeg")[:2] == b"\xff\xd8"
    with pytest.raises(OutputError, match=r"\.jpg or \.png"):
        encode_picture(picture, ".gif")


@pytest.mark.parametrize(
    ("lab", "text"),
    [
        # W3C, CSS Color 4, and published conversions of the sRGB primaries (D65, 2 degrees).
        ((0.0, 0.0, 0.0), "#000000"),
        ((100.0, 0.0, 0.0), "#ffffff"),
        ((53.2408, 80.0925, 67.2032), "#ff0000"),
        ((32.2970, 79.1875, -107.8602), "#0000ff"),
        ((53.585, 0.0, 0.0), "#808080"),
    ],
)
def test_css_color(lab: tuple[float, float, float], text: str) -> None:
    assert css_color(lab) == text
