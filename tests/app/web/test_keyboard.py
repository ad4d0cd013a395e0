"""The whole job by keys alone: Tab, Enter, arrows; nothing is clicked."""

from collections.abc import Callable
from typing import Any

import pytest

from sample_images import sample_paths
from tests.app.web.browsing import eventually, settle

pytestmark = pytest.mark.browser

MOST_TABS = 60
FOCUSED = """
() => {
  let e = document.activeElement;
  while (e?.shadowRoot?.activeElement) e = e.shadowRoot.activeElement;
  const label = e?.getAttribute('aria-label') || e?.labels?.[0]?.innerText || e?.innerText || '';
  return [e?.tagName.toLowerCase() || '', e?.className?.toString() || '', label.trim()];
}
"""


def _tab_to(page: Any, is_there: Callable[[str, str, str], bool]) -> None:
    """Press Tab until the focus is there; fail if it never comes there."""
    seen = []
    for _ in range(MOST_TABS):
        page.keyboard.press("Tab")
        tag, kind, label = page.evaluate(FOCUSED)
        if is_there(tag, kind, label):
            return
        seen.append(label[:30])
    raise AssertionError(f"not reached by Tab; passed {seen}")


def _press(page: Any, words: str) -> None:
    _tab_to(page, lambda tag, _, label: tag in ("button", "a") and words in label)
    page.keyboard.press("Enter")


def _heading(page: Any, words: str) -> None:
    page.get_by_role("heading", name=words, level=1).wait_for()
    settle(page)


def test_from_a_photo_to_the_sheet(page: Any, address: str, begin: Callable[..., int]) -> None:
    page.goto(f"{address}/?project={begin('By keys alone', with_photo=False)}")
    page.evaluate("addEventListener('pointerdown', () => pressed++, true); window.pressed = 0")
    page.wait_for_selector("h1")
    settle(page)
    with page.expect_file_chooser() as chooser:
        _press(page, "Upload")
    chooser.value.set_files(str(sample_paths()[0]))
    page.get_by_role("button", name="Check the squares").wait_for()
    settle(page)
    _press(page, "Check the squares")

    _heading(page, "Check the squares")
    page.wait_for_selector("polygon[tabindex]", state="attached")
    settle(page)
    _tab_to(page, lambda tag, *_: tag == "polygon")
    page.keyboard.press("ArrowRight")
    page.keyboard.press("Enter")
    _tab_to(page, lambda _, kind, label: "handle" in kind and "bottom right" in label)
    page.keyboard.press("Shift+ArrowRight")
    page.get_by_role("button", name="Forget my corrections").wait_for()
    settle(page)
    _press(page, "Deal the stacks")

    _heading(page, "Stacks")
    page.wait_for_selector(".card")
    settle(page)
    _tab_to(page, lambda _, kind, __: "face" in kind)
    page.keyboard.press("Enter")
    page.locator(".menu").wait_for()
    page.keyboard.press("ArrowDown")
    page.keyboard.press("Escape")
    name = page.locator(".row").nth(1).get_attribute("data-stack")
    page.keyboard.press("Alt+ArrowDown")
    eventually(page.locator(f'.row[data-stack="{name}"] .lock').count, 1)
    settle(page)
    _press(page, "Deal again around the locks")
    eventually(lambda: page.locator(".row .count").all_inner_texts()[:3], ["14 of 14"] * 3)
    settle(page)

    _tab_to(page, lambda _, kind, __: "face" in kind)
    page.keyboard.press("Enter")
    page.get_by_role("menuitem", name="Find a substitute").wait_for()
    page.keyboard.press("ArrowUp")
    page.keyboard.press("Enter")
    _heading(page, "Swap")
    _tab_to(page, lambda tag, _, label: tag == "input" and "Which square" in label)

    _press(page, "Cut and sew")
    _heading(page, "Cut and sew")
    page.get_by_role("button", name="Sheet to print (PDF)").wait_for()
    settle(page)
    with page.expect_download() as download:
        _press(page, "Sheet to print (PDF)")
    assert download.value.suggested_filename == "plan.pdf"
    page.get_by_role("tab", name="Cutting").wait_for()
    _tab_to(page, lambda _, __, label: label == "Cutting")
    page.keyboard.press("ArrowRight")
    page.keyboard.press("ArrowRight")
    assert page.get_by_role("tab", selected=True).inner_text() == "Rows"
    assert page.evaluate("() => window.pressed") == 0


RINGED = """
() => {
  const e = document.activeElement;
  if (e === document.body || e.dataset.testid === 'stMain') return true;
  const ring = (of) => of && getComputedStyle(of).outlineStyle !== 'none';
  return ring(e) || ring(e.closest('[data-baseweb="select"], .react-aria-ComboBox'));
}
"""


def test_where_the_focus_is_shows_on_every_way(page: Any, address: str, begin: Any) -> None:
    page.goto(f"{address}/stacks?project={begin('Rings')}")
    page.wait_for_selector(".card")
    settle(page)
    seen = []
    # Those of the board show theirs within it.
    while len(seen) < MOST_TABS and not page.evaluate("() => !!document.activeElement.shadowRoot"):
        page.keyboard.press("Tab")
        seen.append((page.evaluate(FOCUSED)[2][:40], page.evaluate(RINGED)))
    assert len(seen) > 15
    without = [label for label, ringed in seen[:-1] if not ringed]
    assert without == []
