"""One server and one browser for all tests of the pages."""

import io
import json
from collections.abc import Callable, Iterator
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

import pytest
from PIL import Image

from app.web.workshop import Workshop
from sample_images import sample_paths, truth_path
from tests.app.web.browsing import FLAGS, LONG_MS, chromium, serving
from tests.app.web.film import write_film


@pytest.fixture(scope="session")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Where the server keeps its projects and its stash."""
    return tmp_path_factory.mktemp("app")


@pytest.fixture(scope="session")
def address(folder: Path) -> Iterator[str]:
    with serving(folder) as where:
        yield where


@pytest.fixture(scope="session")
def begin(address: str, folder: Path) -> Iterator[Callable[..., int]]:
    """Begin a project, with the first sample unless told otherwise, as another program would;
    return its number."""
    workshop = Workshop(folder / "projects.sqlite", folder / "s.sqlite")
    path = sample_paths()[0]

    def make(name: str, *, with_photo: bool = True) -> int:
        project = workshop.projects.create(name)
        if with_photo:
            workshop.bring_photo(project, path.name, path.read_bytes())
        return project

    yield make
    workshop.projects.close()


@pytest.fixture(scope="session")
def browser(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Any]:
    """A browser whose camera shows a film."""
    playwright = pytest.importorskip("playwright.sync_api", reason="playwright is not installed")
    path = chromium()
    if path is None:
        pytest.skip("no Chromium on this machine: apt-get install chromium")
    film = tmp_path_factory.mktemp("film") / "table.mjpeg"
    write_film(film)
    flags = [
        *FLAGS, "--use-fake-ui-for-media-stream", "--use-fake-device-for-media-stream",
        f"--use-file-for-fake-video-capture={film}",
    ]  # fmt: skip
    with playwright.sync_playwright() as driver:
        opened = driver.chromium.launch(executable_path=path, args=flags)
        yield opened
        opened.close()


@dataclass
class _Watch:
    """What went wrong on pages, and what they fetched from outside this machine."""

    faults: list[str] = field(default_factory=list)
    outside: list[str] = field(default_factory=list)
    _over: list[tuple[Any, str, Callable[[Any], None]]] = field(default_factory=list)

    def over(self, page: Any) -> Any:
        """The page, watched from now on."""
        for event, told in (("pageerror", self._error), ("request", self._request),
                            ("dialog", self._dialog)):  # fmt: skip
            page.on(event, told)
            self._over.append((page, event, told))
        return page

    def _error(self, error: Any) -> None:
        self.faults.append(str(error))

    def _request(self, request: Any) -> None:
        if not _is_own(request.url):
            self.outside.append(request.url)

    def _dialog(self, dialog: Any) -> None:
        self.faults.append(f"dialog: {dialog.message}")
        dialog.dismiss()

    def end(self) -> None:
        """Say what was seen, and look no longer: pages go on to the next test."""
        for page, event, told in self._over:
            page.remove_listener(event, told)
        assert self.faults == []
        assert self.outside == [], "the pages asked for something outside this machine"


@pytest.fixture
def watch() -> Iterator[_Watch]:
    watching = _Watch()
    yield watching
    watching.end()


@pytest.fixture(scope="session")
def familiar(browser: Any) -> Iterator[Any]:
    """The page of ``page``, which has compiled what all pages run."""
    yield from _kept_open(browser, 1280, 1000)


@pytest.fixture(scope="session")
def familiar_phone(browser: Any) -> Iterator[Any]:
    """The page of ``phone``."""
    yield from _kept_open(browser, 390, 844, has_touch=True, is_mobile=True, device_scale_factor=2)


@pytest.fixture
def page(familiar: Any, watch: _Watch) -> Iterator[Any]:
    """A page that finds nothing kept by those before it."""
    yield watch.over(familiar)
    _leave(familiar)


@pytest.fixture
def phone(familiar_phone: Any, watch: _Watch) -> Iterator[Any]:
    """Such a page on a phone, to be touched."""
    yield watch.over(familiar_phone)
    _leave(familiar_phone)


def _kept_open(browser: Any, width: int, height: int, **options: Any) -> Iterator[Any]:
    context = browser.new_context(viewport={"width": width, "height": height}, **options)
    context.set_default_timeout(LONG_MS)
    yield context.new_page()
    context.close()


def _leave(page: Any) -> None:
    """Go where no app is, with nothing kept: the next document begins as in a new window, while
    what it runs need not be compiled again."""
    if page.url.startswith("http"):
        page.evaluate("() => { localStorage.clear(); sessionStorage.clear() }")
    page.context.clear_cookies()
    page.goto("about:blank")
    page.emulate_media(media="null", color_scheme="null", reduced_motion="null")


def _is_own(url: str) -> bool:
    return url.startswith(("http://127.0.0.1:", "ws://127.0.0.1:", "data:", "blob:", "about:"))


@pytest.fixture(scope="module")
def workshop(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Any]:
    folder = tmp_path_factory.mktemp("projects")
    made = Workshop(folder / "projects.sqlite", folder / "s.sqlite")
    yield made
    made.projects.close()


@pytest.fixture(scope="session")
def without_paper() -> bytes:
    """The sample with all its squares, cut off between them and the paper at their left."""
    path = sample_paths()[0]
    truth = json.loads(truth_path(path).read_text(encoding="utf-8"))
    paper, squares = (
        [x for thing in truth[what] for x, _ in thing["corners"]]
        for what in ("references", "squares")
    )
    assert max(paper) < min(squares)
    with Image.open(path) as whole:
        left = round((max(paper) + min(squares)) / 2)
        data = io.BytesIO()
        whole.crop((left, 0, whole.width, whole.height)).save(data, "JPEG", quality=92)
    return data.getvalue()
