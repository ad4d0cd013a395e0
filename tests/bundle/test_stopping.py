"""Measuring tells every step, and a step that refuses ends it there."""

import numpy as np
import pytest

import colorcore.swatch.measuring as squares
from colorcore import measuring
from colorcore.errors import FindingError, NothingFoundError
from colorcore.finding import Hints
from colorcore.photo import open_photo, photo_from_array
from sample_images import sample_paths


class Stopped(BaseException):
    """What a page raises when its maker pressed 'Stop'."""


@pytest.fixture(scope="module")
def photo():
    return open_photo(sample_paths()[0])


@pytest.fixture
def begun(monkeypatch):
    """Outlines of the squares that were begun."""
    seen, real = [], squares.look_at_square

    def counted(photo, light, corners, *more, **named):
        seen.append(corners)
        return real(photo, light, corners, *more, **named)

    monkeypatch.setattr(squares, "look_at_square", counted)
    return seen


def test_every_step_is_told_in_order(photo):
    told = []
    done = measuring.measure_photo(photo, progress=lambda *step: told.append(step))
    assert [words for _, _, words in told[:2]] == ["Finding the squares", "Undoing the light"]
    steps = [done for done, _, _ in told]
    assert steps == sorted(steps)
    assert told[-1][0] == told[-1][1] == 2 + len(done.squares)
    assert len(told) >= len(done.squares)


@pytest.mark.parametrize("last", [0, 1, 2, 5])
def test_a_step_that_refuses_ends_it(photo, begun, last):
    before = []

    def refuse(done: int, total: int, words: str) -> None:
        if done >= last:
            before.append(len(begun))
            raise Stopped(words)

    with pytest.raises(Stopped):
        measuring.measure_photo(photo, progress=refuse)
    # What the threads had in hand is finished, nothing new is begun.
    assert len(begun) <= before[0] + 2 * measuring._THREADS
    assert len(begun) < 42


def test_that_nothing_was_found_is_told_from_hints_that_cannot_be(photo):
    with pytest.raises(FindingError) as caught:
        measuring.measure_photo(photo, hints=Hints(grid=(90, 90)))
    assert not isinstance(caught.value, NothingFoundError)
    bare = photo_from_array(np.full((400, 600, 3), 128, np.uint8))
    with pytest.raises(NothingFoundError):
        measuring.measure_photo(bare)
