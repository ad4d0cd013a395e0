"""One server and one browser for all tests of the pages."""

from collections.abc import Callable, Iterator
from dataclasses import dataclass, field
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


@dataclass
class _Watch:
    """What went wrong on pages, and what they fetched from outside this machine."""

    faults: list[str] = field(default_factory=list)
    outside: list[str] = field(default_factory=list)

    def over(self, context: Any) -> Any:
        """A new page of a context, watched."""
        page = context.new_page()
        page.set_default_timeout(LONG_MS)
        page.on("pageerror", lambda error: self.faults.append(str(error)))
        page.on("request", lambda r: None if _is_own(r.url) else self.outside.append(r.url))
        page.on("dialog", lambda dialog: self.faults.append(f"dialog: {dialog.message}"))
        return page

    def check(self) -> None:
        assert self.faults == []
        assert self.outside == [], "the pages asked for something outside this machine"


@pytest.fixture
def watch() -> Iterator[_Watch]:
    watching = _Watch()
    yield watching
    watching.check()


@pytest.fixture
def open_page(browser: Any, watch: _Watch) -> Iterator[Callable[..., Any]]:
    """Give pages in contexts of their own, watched for faults and for what they fetch."""
    contexts: list[Any] = []

    def make(width: int = 1280, height: int = 1000, **options: Any) -> Any:
        context = browser.new_context(viewport={"width": width, "height": height}, **options)
        contexts.append(context)
        return watch.over(context)

    yield make
    for context in contexts:
        context.close()


@pytest.fixture(scope="session")
def familiar(browser: Any) -> Iterator[Any]:
    """A context that has fetched and compiled what pages share: a new one would begin with that."""
    context = browser.new_context(viewport={"width": 1280, "height": 1000})
    yield context
    context.close()


@pytest.fixture
def page(familiar: Any, watch: _Watch) -> Iterator[Any]:
    """A page that finds nothing kept by those before it."""
    opened = watch.over(familiar)
    yield opened
    if opened.url.startswith("http"):
        opened.evaluate("() => { localStorage.clear(); sessionStorage.clear() }")
    familiar.clear_cookies()
    opened.close()


def _is_own(url: str) -> bool:
    return url.startswith(("http://127.0.0.1:", "ws://127.0.0.1:", "data:", "blob:", "about:"))


@pytest.fixture(scope="module")
def workshop(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Any]:
    folder = tmp_path_factory.mktemp("projects")
    made = Workshop(folder / "projects.sqlite", folder / "s.sqlite")
    yield made
    made.projects.close()
