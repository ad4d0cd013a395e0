"""One server and one browser for all tests of the pages."""

from collections.abc import Iterator
from typing import Any

import pytest

from tests.app.web.browsing import FLAGS, LONG_MS, chromium, serving


@pytest.fixture(scope="session")
def address(tmp_path_factory: pytest.TempPathFactory) -> Iterator[str]:
    with serving(tmp_path_factory.mktemp("app")) as where:
        yield where


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
def page(browser: Any) -> Iterator[Any]:
    context = browser.new_context(viewport={"width": 1280, "height": 1000}, accept_downloads=True)
    opened = context.new_page()
    opened.set_default_timeout(LONG_MS)
    faults: list[str] = []
    opened.on("pageerror", lambda error: faults.append(str(error)))
    outside: list[str] = []
    opened.on(
        "request",
        lambda r: None if _is_own(r.url) else outside.append(r.url),
    )
    yield opened
    context.close()
    assert faults == []
    assert outside == [], "the pages asked for something outside this machine"


def _is_own(url: str) -> bool:
    return url.startswith(("http://127.0.0.1:", "ws://127.0.0.1:", "data:", "blob:", "about:"))
