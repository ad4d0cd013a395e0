"""No page has a serious fault of access, empty or full, light or dark; and none is too wide.

Checked with axe-core 4.12 against the rules of WCAG 2.0 to 2.2, levels A and AA.
"""

from collections.abc import Callable, Sequence
from importlib.resources import files
from pathlib import Path
from typing import Any

import pytest

from app.web.frame import PAGES
from colorcore.stash import Stash
from tests.app.web.browsing import serving, settle
from tests.stash.making import make_entry

pytestmark = pytest.mark.browser

RULES = ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa"]
# What darkness can change: everything else was seen in the light.
COLORS = ["color-contrast", "link-in-text-block"]
NAMES = [name for name, _, _ in PAGES]


def _faults(page: Any, rules: Sequence[str] = RULES) -> list[str]:
    found = page.evaluate("rules => axe.run(document, {runOnly: rules})", rules)
    return [
        f"{fault['impact']} {fault['id']}: {node['target']} {node['html'][:120]}"
        for fault in found["violations"]
        if fault["impact"] in ("serious", "critical")
        for node in fault["nodes"]
    ]


def _look(page: Any, address: str, name: str) -> list[str]:
    page.emulate_media(color_scheme="light")
    page.goto(address)
    page.wait_for_selector("h1")
    settle(page)
    page.evaluate(_axe())
    faults = [f"light {name} {fault}" for fault in _faults(page)]
    page.emulate_media(color_scheme="dark")
    page.wait_for_function(
        "() => getComputedStyle(document.querySelector('.stApp')).colorScheme === 'dark'"
    )
    settle(page)
    return faults + [f"dark {name} {fault}" for fault in _faults(page, COLORS)]


def _axe() -> str:
    pytest.importorskip("axe_playwright_python", reason="axe-playwright-python is not installed")
    return files("axe_playwright_python").joinpath("axe.min.js").read_text(encoding="utf-8")


def test_pages_of_a_project(page: Any, address: str, begin: Callable[[str], int]) -> None:
    project = begin("Access")
    order = ["stacks", *(name for name in NAMES if name != "stacks")]
    faults = [
        fault
        for name in order
        for fault in _look(page, f"{address}/{_path(name)}?project={project}", name)
    ]
    assert faults == []


def test_what_opens_over_a_page(
    page: Any, address: str, begin: Callable[[str], int], folder: Path
) -> None:
    with Stash(folder / "s.sqlite") as stash:
        stash.add(make_entry("Slate"))
    page.emulate_media(color_scheme="dark")
    faults = []
    for name, opener in (("stash", "Change"), ("stacks", "Bring a pattern of your own")):
        page.goto(f"{address}/{name}?project={begin('Opened')}")
        page.wait_for_selector("h1")
        settle(page)
        page.evaluate(_axe())
        page.get_by_role("button", name=opener).first.click()
        page.locator('[data-testid="stPopoverBody"]').wait_for()
        page.wait_for_timeout(500)  # It fades in.
        faults += [f"{name} {fault}" for fault in _faults(page)]
    assert faults == []


def test_empty_pages(page: Any, tmp_path: Path) -> None:
    with serving(tmp_path) as address:
        faults = [
            fault for name in NAMES for fault in _look(page, f"{address}/{_path(name)}", name)
        ]
    assert faults == []


def test_no_page_is_wider_than_a_phone(
    open_page: Callable[..., Any], address: str, begin: Callable[[str], int]
) -> None:
    page = open_page(390, 844, has_touch=True, is_mobile=True)
    project = begin("Phone")
    for name in NAMES:
        page.goto(f"{address}/{_path(name)}?project={project}")
        page.wait_for_selector("h1")
        settle(page)
        wide, seen = page.evaluate(
            "() => { const m = document.querySelector('[data-testid=stMain]');"
            " return [m.scrollWidth, m.clientWidth] }"
        )
        assert wide <= seen == 390, name


def test_motion_is_reduced_for_those_who_ask(
    open_page: Callable[..., Any], address: str, begin: Callable[[str], int]
) -> None:
    page = open_page(reduced_motion="reduce")
    page.goto(f"{address}/?project={begin('Still')}")
    page.wait_for_selector("h1")
    settle(page)
    longest = page.evaluate(
        "() => Math.max(...[...document.querySelectorAll('*')].flatMap(e => { const s ="
        " getComputedStyle(e); return [s.transitionDuration, s.animationDuration]"
        ".flatMap(d => d.split(',').map(parseFloat)) }))"
    )
    assert longest < 0.01


def _path(name: str) -> str:
    return "" if name == "photos" else name
