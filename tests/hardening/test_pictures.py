"""Broken pictures: a photo or one sentence, never anything else."""

import time

import numpy as np
import pytest

from colorcore.errors import PhotoError
from colorcore.photo import Photo, photo_from_bytes
from tests.hardening import amount
from tests.hardening.corpus import cases

CASES, PARTS = 3000 * amount.TIMES, 6
MOST_SECONDS = 10.0
MOST_MEGABYTES = 1500.0
"""140 megapixels of four channels of 16 bits, and what is there besides."""


@pytest.mark.parametrize("part", range(PARTS))
def test_every_file_opens_or_is_one_sentence(part, capfd):
    opened = 0
    for number, (name, data) in enumerate(cases(1000 + part + amount.FIRST, CASES // PARTS)):
        began = time.process_time()
        amount.forget_peak()
        before = amount.peak_megabytes()
        what = f"{name}, case {number} of part {part}"
        try:
            photo = photo_from_bytes(data, "trip.jpg", max_pixels=200_000)
        except PhotoError as error:
            text = str(error)
            assert text.startswith("trip.jpg: "), what
            assert "\n" not in text, what
            assert text.endswith("."), what
        else:
            opened += 1
            assert isinstance(photo, Photo), what
            assert photo.width * photo.height <= 200_000, what
            assert np.isfinite(photo.linear(0, 0, 64, 64)).all(), what
        assert time.process_time() - began < MOST_SECONDS, what
        assert amount.peak_megabytes() - before < MOST_MEGABYTES, what
    assert opened > CASES // PARTS // 12
