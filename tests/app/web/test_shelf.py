"""Photos for the stash that are measured whatever page is shown."""

import io
import threading
from collections.abc import Callable
from typing import Any

import numpy as np
import pytest
from PIL import Image

from app.web.shelf import Progress, Shelf
from app.web.turns import Turns
from colorcore.errors import StashError
from colorcore.stash import Stash
from colorcore.stash import intake as intake_of_stash
from colorcore.stash.intake import IntakeSettings
from tests.app.web.browsing import eventually


@pytest.fixture
def where(tmp_path):
    return tmp_path / "s.sqlite"


@pytest.fixture
def turns() -> Turns:
    return Turns(1)


@pytest.fixture
def shelf(where, turns) -> Shelf:
    return Shelf(lambda: Stash(where), turns)


def _photo(name: str) -> tuple[str, bytes]:
    color = tuple(np.random.default_rng(list(name.encode())).integers(30, 220, 3).tolist())
    data = io.BytesIO()
    Image.new("RGB", (160, 120), color).save(data, "PNG")
    return f"{name}.png", data.getvalue()


def _names(where: Any) -> list[str]:
    with Stash(where) as stash:
        return sorted(entry.name for entry in stash.entries())


def _idle(shelf: Shelf) -> Callable[[], bool]:
    return lambda: (now := shelf.progress()) is None or now.stopped


def test_all_that_comes_is_kept_and_told_once(shelf, where):
    shelf.bring([_photo("birch"), ("list.txt", b"blue"), _photo("cedar")], IntakeSettings())
    shelf.bring([_photo("hazel"), _photo("birch")], IntakeSettings(place="shelf 2"))
    eventually(_idle(shelf), True, 60)
    assert _names(where) == ["birch", "cedar", "hazel"]
    with Stash(where) as stash:
        assert [entry.place for entry in stash.entries() if entry.name == "hazel"] == ["shelf 2"]
    told = shelf.take_outcome()
    assert told[0] == "Added: birch, cedar and hazel."
    assert any(words.startswith("list.txt: not a picture") for words in told)
    assert "birch is in the stash already." in told
    # Said of all together, not of each photo.
    assert len([words for words in told if "without a reference" in words]) == 1
    assert len([words for words in told if "a quarter of a yard was assumed" in words]) == 1
    assert shelf.take_outcome() == ()


def test_what_waits_since_a_stop_goes_on_or_is_left_out(where, turns):
    in_hand, go_on = threading.Semaphore(0), threading.Semaphore(0)

    def stash() -> Stash:
        in_hand.release()
        assert go_on.acquire(timeout=60)
        return Stash(where)

    shelf = Shelf(stash, turns)
    shelf.bring([_photo(name) for name in ("birch", "cedar", "hazel", "larch")], IntakeSettings())
    assert in_hand.acquire(timeout=60)
    shelf.stop()
    assert shelf.progress() == Progress(
        0, 4, ("birch.png", "cedar.png", "hazel.png", "larch.png"), False
    ), "the first one is in hand"
    assert shelf.take_outcome() == ()
    go_on.release()
    eventually(_idle(shelf), True, 60)
    assert shelf.progress() == Progress(1, 4, ("cedar.png", "hazel.png", "larch.png"), True)
    assert shelf.take_outcome()[0] == "Added: birch."
    shelf.go_on()
    assert in_hand.acquire(timeout=60)
    shelf.stop()
    go_on.release()
    eventually(_idle(shelf), True, 60)
    shelf.let_go()
    assert shelf.progress() is None
    assert _names(where) == ["birch", "cedar"]
    go_on.release()
    shelf.bring([_photo("larch")], IntakeSettings())
    eventually(lambda: _names(where), ["birch", "cedar", "larch"], 60)


def test_photos_wait_while_the_stash_cannot_be_written(where, turns):
    full = True

    def stash() -> Stash:
        if full:
            raise StashError("The disk is full.")
        return Stash(where)

    shelf = Shelf(stash, turns)
    shelf.bring([_photo("birch"), _photo("cedar")], IntakeSettings())
    eventually(_idle(shelf), True, 60)
    assert shelf.progress() == Progress(0, 2, ("birch.png", "cedar.png"), True)
    assert shelf.take_outcome() == ("The disk is full.",)
    full = False
    shelf.go_on()
    eventually(_idle(shelf), True, 60)
    assert _names(where) == ["birch", "cedar"]


def test_a_photo_that_fails_as_nobody_foresaw_stops_no_other(shelf, where, monkeypatch):
    measure = intake_of_stash.add_photos

    def fail(stash: Any, paths: Any, *, settings: IntakeSettings) -> Any:
        if settings.name == "birch":
            raise ZeroDivisionError("birch.png")
        return measure(stash, paths, settings=settings)

    monkeypatch.setattr(intake_of_stash, "add_photos", fail)
    shelf.bring([_photo("birch"), _photo("cedar")], IntakeSettings())
    eventually(_idle(shelf), True, 60)
    assert _names(where) == ["cedar"]
    (words,) = [words for words in shelf.take_outcome() if "Something went wrong" in words]
    assert words.startswith("birch.png: ")
