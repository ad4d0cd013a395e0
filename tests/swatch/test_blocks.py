"""Light read in blocks: beforehand and at once, the same as square by square."""

from concurrent.futures import Executor, Future, ThreadPoolExecutor
from typing import Any

import numpy as np
import pytest

from colorcore.photo import Photo, photo_from_array
from colorcore.swatch.blocks import BlocksAhead, Window, begin_blocks, window_of


class Asked(Executor):
    """Does at once what it is asked, and counts."""

    def __init__(self) -> None:
        self.times = 0

    def submit(self, fn: Any, /, *args: Any, **kwargs: Any) -> "Future[Any]":
        self.times += 1
        done: Future[Any] = Future()
        done.set_result(fn(*args, **kwargs))
        return done


def photo_of(height: int, width: int) -> Photo:
    pixels = np.random.default_rng(7).integers(0, 256, (height, width, 3), dtype=np.uint8)
    return photo_from_array(pixels)


def square(left: float, top: float, side: float) -> np.ndarray:
    return np.array(
        [[left, top], [left + side, top + 3], [left + side - 2, top + side], [left - 4, top + side]]
    )


def test_light_read_beforehand_is_that_of_each_square_to_the_bit() -> None:
    photo = photo_of(1000, 1300)
    outlines = [square(x, y, 290.0) for y in (-20.0, 333.3, 701.7) for x in (5.5, 420.1, 995.0)]
    windows = [window_of(photo, corners, 96) for corners in outlines]
    assert {window.block for window in windows} == {3}
    alone = BlocksAhead(photo)
    with ThreadPoolExecutor(1) as pool:
        ahead = begin_blocks(photo, windows, pool)
        assert list(ahead._parts) == [3]
        for window in windows:
            assert np.array_equal(ahead.light(window), alone.light(window))


@pytest.mark.parametrize("block_pixels", [60.0, 190.0, 400.0, 3000.0])
@pytest.mark.parametrize("place", [(-300.0, -50.0), (2.2, 3.9), (391.0, 287.0), (900.0, 900.0)])
def test_a_window_holds_what_the_photo_shows_of_its_square(
    place: tuple[float, float], block_pixels: float
) -> None:
    photo = photo_of(307, 411)
    corners = square(*place, block_pixels)
    window = window_of(photo, corners, 64)
    assert 0 <= window.x0 < window.x1 <= photo.width
    assert 0 <= window.y0 < window.y1 <= photo.height
    light = BlocksAhead(photo).light(window)
    assert light.shape == (max(1, window.rows), max(1, window.columns), 4)
    # All that the photo has of the square, but for what is left of a block at the photo's end.
    low = np.clip(np.floor(corners.min(axis=0)), 0, (photo.width - 1, photo.height - 1))
    high = np.clip(np.ceil(corners.max(axis=0)), 1, (photo.width, photo.height))
    assert np.all(low >= (window.x0, window.y0))
    assert np.all(high < np.array([window.x1, window.y1]) + window.block)


def test_squares_far_apart_are_not_read_together() -> None:
    photo = photo_of(2000, 2000)
    corners = [square(10.0, 10.0, 200.0), square(1700.0, 1700.0, 200.0)]
    pool = Asked()
    ahead = begin_blocks(photo, [window_of(photo, c, 64) for c in corners], pool)
    assert pool.times == 0
    window = window_of(photo, corners[1], 64)
    assert np.array_equal(ahead.light(window), BlocksAhead(photo).light(window))


def test_squares_of_few_pixels_are_not_read_beforehand() -> None:
    photo = photo_of(300, 300)
    pool = Asked()
    begin_blocks(photo, [window_of(photo, square(10.0, 10.0, 100.0), 96)], pool)
    assert pool.times == 0


def test_a_block_is_the_mean_light_of_its_pixels() -> None:
    photo = photo_of(90, 120)
    window = Window(6, 9, 66, 69, 3)
    light = BlocksAhead(photo).light(window)[..., :3]
    pixels = photo.linearize(photo.pixels[9:69, 6:66])
    means = pixels.reshape(20, 3, 20, 3, 3).mean(axis=(1, 3))
    assert np.abs(light - means).max() < 2e-5
