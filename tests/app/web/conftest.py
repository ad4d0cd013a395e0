"""One server and one browser for all tests of the pages."""

from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import pytest

from app.web.workshop import Workshop
from sample_images import sample_paths
from tests.app.web.browsing import FLAGS, LONG_MS, chromium, serving


@pytest.fixture(scope="session")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Where the server keeps its projects and its stash."""
    return tmp_path_factory.mktemp("app")


@pytest.fixture(scope="session")
def address(folder: Path) -> Iterator[str]:
    with serving(folder) as where:
        yield where


@pytest.fixture(scope="session")
def begin(address: str, folder: Path) -> Iterator[Callable[[str], int]]:
    """Begin a project with the first sample, as another program would; return its number."""
    workshop = Workshop(folder / "projects.sqlite", folder / "s.sqlite")
    path = sample_paths()[0]

    def make(name: str) -> int:
        project = workshop.projects.create(name)
        workshop.bring_photo(project, path.name, path.read_bytes())
        return project

    yield make
    workshop.projects.close()


@pytest.fixture(scope="session")
def browser() -> Iterator[Any]:
    playwright = pytest.importorskip("playwright.sync_api", reason="playwright is not installed")
    path = chromium()
    if path is None:
        pytest.skip("no Chromium on this machine: apt-get install chromium")
    with playwright.sync_playwright() as driver:
        opened = driver.chromium.launch(executable_path=path, args=FLAGS)
        yield opened
        opened.close()


@pytest.fixture
def open_page(browser: Any) -> Iterator[Callable[..., Any]]:
    """Give pages in contexts of their own, watched for faults and for what they fetch."""
    contexts: list[Any] = []
    faults: list[str] = []
    outside: list[str] = []

    def make(width: int = 1280, height: int = 1000, **options: Any) -> Any:
        context = browser.new_context(
            viewport={"width": width, "height": height}, accept_downloads=True, **options
        )
        contexts.append(context)
        opened = context.new_page()
        opened.set_default_timeout(LONG_MS)
        opened.on("pageerror", lambda error: faults.append(str(error)))
        opened.on("request", lambda r: None if _is_own(r.url) else outside.append(r.url))
        opened.on("dialog", lambda dialog: faults.append(f"dialog: {dialog.message}"))
        return opened

    yield make
    for context in contexts:
        context.close()
    assert faults == []
    assert outside == [], "the pages asked for something outside this machine"


@pytest.fixture
def page(open_page: Callable[..., Any]) -> Any:
    return open_page()


def _is_own(url: str) -> bool:
    return url.startswith(("http://127.0.0.1:", "ws://127.0.0.1:", "data:", "blob:", "about:"))


@pytest.fixture(scope="module")
def workshop(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Any]:
    folder = tmp_path_factory.mktemp("projects")
    made = Workshop(folder / "projects.sqlite", folder / "s.sqlite")
    yield made
    made.projects.close()
