"""How rough a table is, read in few rows, is what all rows say."""

import cv2
import numpy as np
import pytest

from colorcore.finding.evidence import blurred_rows, roughness


@pytest.mark.parametrize("size", [2, 3, 6])
def test_rows_are_blurred_as_a_blurred_picture_shows_them(size: int) -> None:
    picture = np.random.default_rng(size).uniform(0, 100, (53, 71, 4)).astype(np.float32)
    whole = cv2.blur(picture, (size, size))[::5, :, :3]
    np.testing.assert_allclose(blurred_rows(picture, size, 5), whole, rtol=1e-5)


def test_a_rougher_table_is_said_to_be_rougher() -> None:
    grain = np.random.default_rng(1).normal(0, 1, (300, 400, 4)).astype(np.float32)
    table = np.ones((300, 400), bool)
    smooth, rough = (roughness(50 + sd * grain, table, 60.0) for sd in (2.0, 8.0))
    assert rough == pytest.approx(4 * smooth, rel=0.01)
