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
from tests.app.web.browsing import serving, settle, turn_to
from tests.stash.making import make_entry

pytestmark = pytest.mark.browser

RULES = ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa"]
# What darkness can change: everything else was seen in the light.
COLORS = ["color-contrast", "link-in-text-block"]
TITLES = [title for _, title, _ in PAGES]


def _faults(page: Any, rules: Sequence[str] = RULES) -> list[str]:
    found = page.evaluate("rules => axe.run(document, {runOnly: rules})", rules)
    return [
        f"{fault['impact']} {fault['id']}: {node['target']} {node['html'][:120]}"
        for fault in found["violations"]
        if fault["impact"] in ("serious", "critical")
        for node in fault["nodes"]
    ]


def _look(page: Any, title: str) -> list[str]:
    """Turn to a page; return its faults, in the light and in the dark."""
    page.emulate_media(color_scheme="light")
    turn_to(page, title)
    faults = [f"light {title} {fault}" for fault in _faults(page)]
    page.emulate_media(color_scheme="dark")
    page.wait_for_function(
        "() => getComputedStyle(document.querySelector('.stApp')).colorScheme === 'dark'"
    )
    settle(page)
    return faults + [f"dark {title} {fault}" for fault in _faults(page, COLORS)]


def _look_at_all(page: Any, address: str) -> list[str]:
    page.goto(address)
    page.wait_for_selector("h1")
    page.evaluate(_axe())
    return [fault for title in TITLES for fault in _look(page, title)]


def _axe() -> str:
    pytest.importorskip("axe_playwright_python", reason="axe-playwright-python is not installed")
    return files("axe_playwright_python").joinpath("axe.min.js").read_text(encoding="utf-8")


def test_pages_of_a_project(page: Any, address: str, begin: Callable[[str], int]) -> None:
    assert _look_at_all(page, f"{address}/stacks?project={begin('Access')}") == []


def test_what_opens_over_a_page(
    page: Any, address: str, begin: Callable[[str], int], folder: Path
) -> None:
    with Stash(folder / "s.sqlite") as stash:
        stash.add(make_entry("Slate"))
    page.emulate_media(color_scheme="dark")
    page.goto(f"{address}/stacks?project={begin('Opened')}")
    page.wait_for_selector("h1")
    page.evaluate(_axe())
    faults = []
    for title, opener in (("Stash", "Change"), ("Stacks", "Bring a pattern of your own")):
        turn_to(page, title)
        page.get_by_role("button", name=opener).first.click()
        page.locator('[data-testid="stPopoverBody"]').wait_for()
        page.wait_for_timeout(500)  # It fades in.
        faults += [f"{title} {fault}" for fault in _faults(page)]
    assert faults == []


def test_empty_pages_from_which_the_sample_is_one_click_away(page: Any, tmp_path: Path) -> None:
    with serving(tmp_path) as address:
        assert _look_at_all(page, address) == []
        turn_to(page, "Photos")
        page.get_by_role("button", name="Use the sample bundle").click()
        page.wait_for_selector("polygon[tabindex]", state="attached")
        assert page.locator("polygon[tabindex]").count() == 42


def test_no_page_is_wider_than_a_phone(
    phone: Any, address: str, begin: Callable[[str], int]
) -> None:
    phone.goto(f"{address}/?project={begin('Phone')}")
    phone.wait_for_selector("h1")
    for title in TITLES:
        turn_to(phone, title)
        wide, seen = phone.evaluate(
            "() => { const m = document.querySelector('[data-testid=stMain]');"
            " return [m.scrollWidth, m.clientWidth] }"
        )
        assert wide <= seen == 390, title


def test_motion_is_reduced_for_those_who_ask(
    page: Any, address: str, begin: Callable[[str], int]
) -> None:
    page.emulate_media(reduced_motion="reduce")
    page.goto(f"{address}/?project={begin('Still')}")
    page.wait_for_selector("h1")
    settle(page)
    longest = page.evaluate(
        "() => Math.max(...[...document.querySelectorAll('*')].flatMap(e => { const s ="
        " getComputedStyle(e); return [s.transitionDuration, s.animationDuration]"
        ".flatMap(d => d.split(',').map(parseFloat)) }))"
    )
    assert longest < 0.01
