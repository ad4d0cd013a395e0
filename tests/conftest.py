"""Settings of all tests."""

import os
import pickle
import subprocess
import sys
from collections.abc import Callable, Iterator
from functools import lru_cache
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import Any

import pytest
from hypothesis import settings

# What was compiled is kept, even where Python was told not to: workers and the many programs that
# tests start would each compile the same again.
os.environ.pop("PYTHONDONTWRITEBYTECODE", None)
sys.dont_write_bytecode = False

if "PYTEST_XDIST_WORKER" in os.environ:
    # There is a worker for every core: threads of its own would only wait for the others'. Read by
    # OpenCV and NumPy when they are first imported, here and in the programs that tests start.
    os.environ.setdefault("OPENCV_FOR_THREADS_NUM", "1")
    os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")

PAGES = "pages"
_CORES = len(os.sched_getaffinity(0)) if hasattr(os, "sched_getaffinity") else os.cpu_count() or 1


@pytest.hookimpl(optionalhook=True)
def pytest_xdist_auto_num_workers() -> int | None:
    """One worker more than there are cores: the one that drives the pages mostly waits for them."""
    return None if "PYTEST_XDIST_AUTO_NUM_WORKERS" in os.environ else _CORES + 1


def pytest_configure(config: pytest.Config) -> None:
    """Let groups be given out in the order below instead of by how many tests they have; and let
    what tests import be compiled once, where it never was: workers would each compile all of it, at
    the same time."""
    config.option.loadscopereorder = False
    begins_workers = getattr(config.option, "tx", None) and not hasattr(config, "workerinput")
    if begins_workers and not any(Path(__file__).parent.glob("__pycache__/test_*.pyc")):
        subprocess.run(
            [sys.executable, "-m", "pytest", "-p", "no:xdist", "--collect-only", "-qq"],
            cwd=config.rootpath, stdout=subprocess.DEVNULL, check=False,
        )  # fmt: skip


@pytest.hookimpl(tryfirst=True)
def pytest_collection_modifyitems(config: pytest.Config, items: list[pytest.Item]) -> None:
    """Say which tests share what is slow to make, for ``--dist loadgroup``: all that need server or
    browser, else those of a file. The former begin, since they take longest one after the other;
    those of finding share nothing, and one by one they even out the end."""
    grouped = [(_group(item), item) for item in items]
    order = {PAGES: 0, "": 2}
    grouped.sort(key=lambda each: order.get(each[0], 1))
    items[:] = [item for _, item in grouped]
    if config.pluginmanager.hasplugin("xdist"):
        for group, item in grouped:
            if group:
                item.add_marker(pytest.mark.xdist_group(group))


def _group(item: pytest.Item) -> str:
    if {"address", "browser"} & set(getattr(item, "fixturenames", ())):
        return PAGES
    return "" if item.path.parent.name == "finding" else item.nodeid.partition("::")[0]


# How long an example takes tells of the machine's other work, not of the code.
settings.register_profile("untimed", deadline=None)
settings.load_profile("untimed")


@pytest.fixture(autouse=True, scope="session")
def _data_folder_of_nobody() -> Iterator[None]:
    """The programs that tests start keep nothing in the folders of the person who runs them, and
    find nothing there."""
    with (
        TemporaryDirectory(ignore_cleanup_errors=True) as folder,
        pytest.MonkeyPatch.context() as patch,
    ):
        patch.setenv("XDG_DATA_HOME", folder)
        yield


@pytest.fixture
def measured_once(monkeypatch: pytest.MonkeyPatch) -> None:
    """Let a photo be looked at anew only where it is another one or something else is said of it:
    what a step of measuring gives follows from what it is given."""
    from colorcore import measuring

    for name in ("find_squares", "undo_light", "measure_squares"):
        monkeypatch.setattr(measuring, name, _taken_once(getattr(measuring, name)))


@pytest.fixture
def small_quilts(monkeypatch: pytest.MonkeyPatch) -> None:
    """Let the pictures of a quilt beside its sheet be small: painting them takes half of the time
    of ``bundlestacks cut``."""
    monkeypatch.setattr("colorcore.sheets.cutting_outputs._LONG_SIDE", 400)


@lru_cache
def _taken_once(step: Callable[..., Any]) -> Callable[..., Any]:
    kept: dict[tuple[object, ...], tuple[Any, Any]] = {}

    def take(photo: Any, *before: Any, **said: Any) -> Any:
        photo = photo.whole()
        # What the steps before made is kept beside the result, so that no other gets its id; who is
        # told of the progress changes nothing, nor what is worked out beforehand.
        asked = {
            name: value
            for name, value in said.items()
            if not callable(value) and name not in ("ahead", "small")
        }
        key = (photo.sha256, photo.width, *map(id, before), pickle.dumps(asked))
        if key not in kept:
            kept[key] = before, step(photo, *before, **said)
        return kept[key][1]

    return take
