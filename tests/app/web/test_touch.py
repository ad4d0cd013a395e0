"""With a finger on a phone: corners are dragged, cards are moved by their menu."""

from typing import Any

import pytest

from tests.app.web.browsing import eventually, settle, turn_to

pytestmark = pytest.mark.browser


def _drag(page: Any, start: tuple[float, float], by: tuple[float, float]) -> None:
    """One finger down, along and up, as the browser's own touch events."""
    client = page.context.new_cdp_session(page)
    for kind, share in (("touchStart", 0.0), ("touchMove", 0.5), ("touchMove", 1.0)):
        point = {"x": start[0] + by[0] * share, "y": start[1] + by[1] * share}
        client.send("Input.dispatchTouchEvent", {"type": kind, "touchPoints": [point]})
    client.send("Input.dispatchTouchEvent", {"type": "touchEnd", "touchPoints": []})


def test_a_corner_is_dragged_with_a_finger(phone: Any, address: str, begin: Any) -> None:
    phone.goto(f"{address}/squares?project={begin('Finger')}")
    square = phone.locator('polygon[role][data-id="B3"]')
    square.wait_for()
    settle(phone)
    before = square.get_attribute("points")
    square.tap()
    eventually(phone.locator(".handle").count, 4)
    handle = phone.locator(".handle").nth(0)
    handle.scroll_into_view_if_needed()
    box = handle.bounding_box()
    assert box["width"] >= 44 <= box["height"]
    others = [phone.locator(".handle").nth(n).bounding_box() for n in (1, 3)]
    assert all(abs(other["x"] - box["x"]) + abs(other["y"] - box["y"]) > 60 for other in others), (
        "a small square is brought nearer, so that a finger meets one corner"
    )
    _drag(phone, (box["x"] + 22, box["y"] + 22), (-12, -10))
    eventually(lambda: square.get_attribute("points") != before, True)
    phone.get_by_role("button", name="Forget my corrections").wait_for()


def test_a_card_is_moved_by_its_menu(phone: Any, address: str, begin: Any) -> None:
    phone.goto(f"{address}/stacks?project={begin('Thumb')}")
    phone.wait_for_selector(".card")
    settle(phone)
    name = phone.locator(".row").nth(1).get_attribute("data-stack")
    face = phone.locator(".row").nth(0).locator(".face").nth(1)
    square = face.get_attribute("data-id")
    face.tap()
    items = phone.locator(".menu button")
    assert items.count() >= 4
    assert all(item.bounding_box()["height"] >= 44 for item in items.all())
    box = phone.locator(".menu").bounding_box()
    assert box["x"] >= 0
    assert box["x"] + box["width"] <= 390
    phone.get_by_role("menuitem", name=f"Move to {name}").tap()
    row = phone.locator(".row", has=phone.locator(f'.face[data-id="{square}"]'))
    eventually(lambda: row.get_attribute("data-stack"), name)


EMPTY = """
() => [...document.querySelectorAll('[data-testid=stMain] [data-testid=stHorizontalBlock]')]
  .filter((block) => block.getClientRects().length).map((block) => {
    const shows = (c) => c.textContent.trim() || c.querySelector('img');
    const inside = [...block.children].filter(shows);
    const last = Math.max(...inside.map((c) => c.getBoundingClientRect().bottom));
    return Math.round(block.getBoundingClientRect().bottom - last);
  })
"""


def test_columns_without_content_leave_no_gaps_on_a_phone(
    phone: Any, address: str, begin: Any
) -> None:
    """Squares that are cut alike stand in rows of three, and mostly there is one."""
    project = begin("Gaps")
    phone.goto(f"{address}/stacks?project={project}")
    phone.wait_for_selector(".card")
    turn_to(phone, "Cut and sew")
    phone.get_by_text("Cut 14 squares like this").first.wait_for()
    settle(phone)
    gaps = phone.evaluate(EMPTY)
    assert len(gaps) > 5
    assert max(gaps) <= 1
