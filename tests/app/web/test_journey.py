"""A maker's whole way in a real browser: from a photo to the sheet, and back after a reload."""

import json
import re
from pathlib import Path
from typing import Any

import pytest

from sample_images import sample_paths
from tests.app.web.browsing import eventually, settle

pytestmark = pytest.mark.browser


def _begin(page: Any, address: str, name: str) -> None:
    page.goto(address)
    page.wait_for_selector("h1")
    settle(page)
    if page.get_by_role("button", name="New or rename").count():
        page.get_by_role("button", name="New or rename").click()
        page.get_by_label("Name", exact=True).fill(name)
        page.get_by_label("Name", exact=True).press("Tab")
        settle(page)
        page.get_by_role("button", name="Begin a new project").click()
        settle(page)


def _upload(page: Any, path: Path) -> None:
    page.set_input_files("input[type=file] >> nth=0", [str(path)])
    page.wait_for_selector("text=In this project")
    settle(page)


def _to_squares(page: Any, address: str, name: str) -> None:
    _begin(page, address, name)
    _upload(page, sample_paths()[0])
    page.get_by_role("button", name="Check the squares").click()
    page.wait_for_selector("polygon[tabindex]", state="attached")
    settle(page)


def _to_stacks(page: Any, address: str, name: str) -> None:
    _to_squares(page, address, name)
    page.get_by_role("button", name="Deal the stacks").click()
    page.wait_for_selector(".card")
    settle(page)


def _stack_of(page: Any, square: str) -> str:
    row = page.locator(".row", has=page.locator(f'.face[data-id="{square}"]'))
    return str(row.get_attribute("data-stack"))


def test_from_a_photo_to_the_sheet(page, address, tmp_path):
    _to_stacks(page, address, "Harbour throw")
    assert page.locator(".card").count() == 42
    counts = page.locator(".row .count").all_inner_texts()
    assert counts[:3] == ["14 of 14"] * 3

    # Moving by drag: shown at once, kept, and locked there.
    first, second = page.locator(".row").nth(0), page.locator(".row").nth(1)
    face = first.locator(".face").nth(0)
    square = face.get_attribute("data-id")
    box, target = face.bounding_box(), second.bounding_box()
    page.mouse.move(box["x"] + 40, box["y"] + 40)
    page.mouse.down()
    page.mouse.move(target["x"] + 200, target["y"] + 60, steps=6)
    page.mouse.up()
    settle(page)
    assert _stack_of(page, square) == second.get_attribute("data-stack")
    assert second.locator(".count").inner_text() == "15 of 14, 1 too many"
    card = page.locator(".card", has=page.locator(f'.face[data-id="{square}"]'))
    assert card.locator(".lock").inner_text() == "locked"

    # A reload in the middle loses nothing.
    page.reload()
    page.wait_for_selector(".card")
    settle(page)
    assert _stack_of(page, square) == second.get_attribute("data-stack")

    # Dealing again leaves what is locked, and counts are right again.
    page.get_by_role("button", name="Deal again around the locks").click()
    settle(page)
    assert page.locator(".row .count").all_inner_texts()[:3] == ["14 of 14"] * 3
    assert _stack_of(page, square) == second.get_attribute("data-stack")

    # Undo, redo.
    page.get_by_role("button", name="Undo").click()
    settle(page)
    assert second.locator(".count").inner_text() == "15 of 14, 1 too many"
    page.get_by_role("button", name="Redo").click()
    settle(page)

    page.get_by_role("link", name="Cut and sew").click()
    page.wait_for_selector("text=Take it along")
    page.get_by_role("button", name="Sheet to print (PDF)").wait_for()
    for label, name in (("Sheet to print (PDF)", "plan.pdf"), ("Plan (JSON)", "plan.json")):
        with page.expect_download() as download:
            page.get_by_role("button", name=label).click()
        assert download.value.suggested_filename == name
        download.value.save_as(tmp_path / name)
    assert (tmp_path / "plan.pdf").read_bytes()[:5] == b"%PDF-"
    plan = json.loads((tmp_path / "plan.json").read_text(encoding="utf-8"))
    assert square in json.dumps(plan)


def test_keys_do_what_the_mouse_does(page, address):
    _to_stacks(page, address, "By keys")
    face = page.locator(".row").nth(0).locator(".face").nth(0)
    square = face.get_attribute("data-id")
    face.focus()
    page.keyboard.press("Alt+ArrowDown")
    settle(page)
    assert _stack_of(page, square) == page.locator(".row").nth(1).get_attribute("data-stack")
    focused = page.evaluate(
        "() => { let a = document.activeElement;"
        " while (a?.shadowRoot?.activeElement) a = a.shadowRoot.activeElement;"
        " return a?.dataset?.id }"
    )
    assert focused == square
    page.keyboard.press("Enter")
    menu = page.locator(".menu button")
    assert menu.count() >= 4
    page.keyboard.press("Escape")
    assert page.locator(".menu").count() == 0


def test_corners_by_mouse_and_keys(page, address):
    _to_squares(page, address, "Corners")
    assert page.locator("polygon[tabindex]").count() == 42
    page.locator('polygon[data-id="B3"]').focus()
    page.keyboard.press("Enter")
    handles = page.locator(".handle")
    assert handles.count() == 4
    before = page.locator('polygon[data-id="B3"]').get_attribute("points")
    box = handles.nth(0).bounding_box()
    page.mouse.move(box["x"] + 22, box["y"] + 22)
    page.mouse.down()
    page.mouse.move(box["x"] + 17, box["y"] + 16, steps=4)
    page.mouse.up()
    settle(page)
    dragged = page.locator('polygon[data-id="B3"]').get_attribute("points")
    assert dragged != before
    page.locator(".handle").nth(2).focus()
    page.keyboard.press("Shift+ArrowRight")
    page.wait_for_timeout(800)
    settle(page)
    nudged = page.locator('polygon[data-id="B3"]').get_attribute("points")
    assert nudged.split()[0] == dragged.split()[0]
    assert nudged.split()[2] != dragged.split()[2]
    page.get_by_role("button", name="Forget my corrections").click()
    settle(page)
    assert page.locator('polygon[data-id="B3"]').get_attribute("points") == before


def test_taking_a_square_out_and_bringing_it_back(page, address):
    _to_squares(page, address, "Take out")
    page.locator('polygon[data-id="C4"]').focus()
    page.keyboard.press("Delete")
    eventually(page.locator("polygon[tabindex]").count, 41)
    settle(page)
    page.get_by_role("button", name="Undo").click()
    eventually(page.locator("polygon[tabindex]").count, 42)


def test_what_is_no_picture_is_one_sentence(page, address, tmp_path):
    (tmp_path / "notes.jpg").write_text("not a picture, <b>really</b>")
    _begin(page, address, "Bad file")
    page.set_input_files("input[type=file] >> nth=0", [str(tmp_path / "notes.jpg")])
    page.wait_for_selector("text=That did not work")
    shown = page.locator("[data-testid=stText]").first.inner_text()
    assert re.search(r"notes\.jpg: .+\.$", shown)
    assert "Traceback" not in page.content()


def test_two_makers_at_once_do_not_meet(browser, address):
    contexts = [browser.new_context(viewport={"width": 1100, "height": 900}) for _ in range(2)]
    pages = [context.new_page() for context in contexts]
    for page, name in zip(pages, ("Maker one", "Maker two"), strict=True):
        page.set_default_timeout(120_000)
        _to_stacks(page, address, name)
    first = pages[0].locator(".row").nth(0).locator(".face").nth(0)
    square = first.get_attribute("data-id")
    first.focus()
    pages[0].keyboard.press("Alt+ArrowDown")
    settle(pages[0])
    pages[1].reload()
    pages[1].wait_for_selector(".card")
    settle(pages[1])
    name = pages[0].locator(".row").nth(1).get_attribute("data-stack")
    assert _stack_of(pages[0], square) == name
    assert _stack_of(pages[1], square) != name
    for context in contexts:
        context.close()


def test_background_ranking_shows_what_melts(page, address):
    _to_stacks(page, address, "Backgrounds")
    page.get_by_role("link", name="Background").click()
    page.wait_for_selector("text=Where it melts")
    settle(page)
    page.get_by_label("Try another background").fill("navy")
    page.get_by_role("button", name="Add").click()
    eventually(page.get_by_role("heading", name=re.compile("navy")).count, 1)
    for image in page.locator("img").all():
        assert image.get_attribute("alt") is not None
