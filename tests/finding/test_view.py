"""The picture as finding looks at it."""

import numpy as np
import pytest

from colorcore.finding.view import make_view
from colorcore.photo import photo_from_array
from tests.finding.drawn import make_drawing


@pytest.mark.parametrize("share", [0.5, 0.3])
def test_colors_of_a_dark_photo_are_as_far_apart_as_those_of_a_bright_one(share: float) -> None:
    pixels = make_drawing(5, surface="wood", rows=3, columns=4, width=900, height=675).pixels
    bright = make_view(photo_from_array(pixels))
    dark = make_view(photo_from_array((pixels * share).astype(np.uint8)))
    assert dark.lab.std(axis=(0, 1)) == pytest.approx(bright.lab.std(axis=(0, 1)), rel=0.25)
    # What is not dark is left as it is.
    lightness = float(np.percentile(bright.lab[..., 0], 99))
    less = make_view(photo_from_array((pixels * 0.8).astype(np.uint8)))
    assert np.percentile(less.lab[..., 0], 99) < 0.9 * lightness


def test_a_black_picture_stays_black() -> None:
    view = make_view(photo_from_array(np.zeros((300, 400, 3), np.uint8)))
    assert float(view.lab.max()) == 0.0
