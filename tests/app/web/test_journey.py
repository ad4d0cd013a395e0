"""A maker's whole way in a real browser: from a photo to the sheet, and back after a reload."""

import json
import re
from importlib.resources import files
from typing import Any

import pytest

from colorcore.stash import Stash
from colorcore.stash.exchange import import_json
from sample_images import sample_paths
from tests.app.web.browsing import eventually, settle, turn_to
from tests.stash.making import make_entry

pytestmark = pytest.mark.browser


def _open(page: Any, address: str, name: str, project: int) -> None:
    page.goto(f"{address}/{name}?project={project}")
    page.wait_for_selector("h1")
    ready = {"stacks": ".card", "squares": "polygon[tabindex]"}.get(name)
    if ready:
        page.wait_for_selector(ready, state="attached")
    settle(page)


def _stack_of(page: Any, square: str) -> str:
    row = page.locator(".row", has=page.locator(f'.face[data-id="{square}"]'))
    return str(row.get_attribute("data-stack"))


def _counts(page: Any) -> list[str]:
    return list(page.locator(".row .count").all_inner_texts()[:3])


def _points(page: Any, square: str) -> list[str]:
    """Corners as "x,y", rounded: the way to the server and back may cost the last digit."""
    points = page.locator(f'polygon[role][data-id="{square}"]').get_attribute("points")
    pairs = (point.split(",") for point in points.split())
    return [f"{float(x):.9f},{float(y):.9f}" for x, y in pairs]


def test_a_day_at_the_board(page, address, begin, tmp_path):
    _open(page, address, "stacks", begin("Harbour throw"))
    assert page.locator(".card").count() == 42
    assert _counts(page) == ["14 of 14"] * 3

    # Moving by drag: shown at once, kept, and locked there.
    first, second = page.locator(".row").nth(0), page.locator(".row").nth(1)
    name = second.get_attribute("data-stack")
    face = first.locator(".face").nth(0)
    square = face.get_attribute("data-id")
    box, target = face.bounding_box(), second.bounding_box()
    page.mouse.move(box["x"] + 40, box["y"] + 40)
    page.mouse.down()
    page.mouse.move(target["x"] + 200, target["y"] + 60, steps=6)
    page.mouse.up()
    eventually(lambda: _stack_of(page, square), name)
    card = page.locator(".card", has=page.locator(f'.face[data-id="{square}"]'))
    eventually(card.locator(".lock").count, 1)
    assert second.locator(".count").inner_text() == "15 of 14, 1 too many"

    # A reload in the middle loses nothing.
    page.reload()
    page.wait_for_selector(".card")
    eventually(lambda: _stack_of(page, square), name)

    # Dealing again leaves what is locked, and counts are right again.
    settle(page)
    page.get_by_role("button", name="Deal again around the locks").click()
    eventually(lambda: _counts(page), ["14 of 14"] * 3)
    assert _stack_of(page, square) == name

    # Undo, redo.
    settle(page)
    page.get_by_role("button", name="Undo", exact=True).click()
    eventually(second.locator(".count").inner_text, "15 of 14, 1 too many")
    settle(page)
    page.get_by_role("button", name="Redo", exact=True).click()
    eventually(lambda: _counts(page), ["14 of 14"] * 3)

    page.get_by_text("On the value axis", exact=True).click()
    eventually(page.locator(".cards.axis .background").count, 3)

    settle(page)
    page.get_by_role("link", name="Cut and sew").last.click()
    page.get_by_role("heading", name="Cut and sew", level=1).wait_for()
    page.get_by_role("button", name="Sheet to print (PDF)").wait_for()
    settle(page)
    for label, file in (("Sheet to print (PDF)", "plan.pdf"), ("Plan (JSON)", "plan.json")):
        with page.expect_download() as download:
            page.get_by_role("button", name=label).click()
        assert download.value.suggested_filename == file
        download.value.save_as(tmp_path / file)
    assert (tmp_path / "plan.pdf").read_bytes()[:5] == b"%PDF-"
    plan = json.loads((tmp_path / "plan.json").read_text(encoding="utf-8"))
    assert square in json.dumps(plan)
    assert page.locator('[class*="st-key-paper"] img').count() >= 3, "cutting is drawn on the page"
    assert page.get_by_role("tab").all_inner_texts() == ["Cutting", "Units", "Rows", "Finishing"]


def test_keys_do_what_the_mouse_does_on_the_board(page, address, begin):
    _open(page, address, "stacks", begin("By keys"))
    face = page.locator(".row").nth(0).locator(".face").nth(0)
    square = face.get_attribute("data-id")
    face.focus()
    page.keyboard.press("ArrowRight")
    assert _focused(page) == page.locator(".row .face").nth(1).get_attribute("data-id")
    page.keyboard.press("ArrowLeft")
    page.keyboard.press("Alt+ArrowDown")
    name = page.locator(".row").nth(1).get_attribute("data-stack")
    eventually(lambda: _stack_of(page, square), name)
    eventually(lambda: _focused(page), square)
    settle(page)
    page.keyboard.press("Enter")
    assert page.locator(".menu button").count() >= 4
    page.keyboard.press("Escape")
    assert page.locator(".menu").count() == 0
    assert page.locator('.face[tabindex="0"]').count() == 1, "one stop for Tab, arrows from there"


def _focused(page: Any) -> object:
    return page.evaluate(
        "() => { let a = document.activeElement;"
        " while (a?.shadowRoot?.activeElement) a = a.shadowRoot.activeElement;"
        " return a?.dataset?.id }"
    )


def test_corners_by_mouse_and_keys(page, address, begin):
    _open(page, address, "squares", begin("Corners"))
    assert page.locator("polygon[tabindex]").count() == 42
    page.locator('polygon[data-id="B3"]').focus()
    page.keyboard.press("Enter")
    handles = page.locator(".handle")
    assert handles.count() == 4
    before = _points(page, "B3")
    box = handles.nth(0).bounding_box()
    page.mouse.move(box["x"] + 22, box["y"] + 22)
    page.mouse.down()
    page.mouse.move(box["x"] + 17, box["y"] + 16, steps=4)
    page.mouse.up()
    dragged = _points(page, "B3")
    assert dragged != before
    page.get_by_role("button", name="Forget my corrections").wait_for()
    settle(page)
    page.locator(".handle").nth(2).focus()
    page.keyboard.press("Shift+ArrowRight")
    nudged = _points(page, "B3")
    assert nudged[0] == dragged[0]
    assert nudged[2] != dragged[2]
    page.wait_for_timeout(500)  # Keys rest for 0.3 s before they are told.
    settle(page)
    assert _points(page, "B3")[2] == nudged[2], "kept as the maker drew it"
    page.get_by_role("button", name="Forget my corrections").click()
    eventually(lambda: _points(page, "B3"), before)


def test_taking_out_and_adding_squares_and_marks_by_keys_too(page, address, begin):
    _open(page, address, "squares", begin("Take out"))
    page.locator('polygon[data-id="C4"]').focus()
    page.keyboard.press("Delete")
    eventually(page.locator("polygon[tabindex]").count, 41)
    # At once: undo must win over what is still on its way.
    page.get_by_role("button", name="Undo", exact=True).click()
    eventually(page.locator("polygon[tabindex]").count, 42)
    settle(page)

    page.get_by_role("button", name="Not a square").click()
    box = page.locator('polygon[data-id="C4"]').bounding_box()
    page.mouse.click(box["x"] + box["width"] / 2, box["y"] + box["height"] / 2)
    eventually(page.locator("polygon[tabindex]").count, 41)
    settle(page)
    page.get_by_role("button", name="Add a square").click()
    page.mouse.click(box["x"] + box["width"] / 2, box["y"] + box["height"] / 2)
    eventually(page.locator("polygon[tabindex]").count, 42)
    settle(page)

    page.get_by_role("button", name="This is background fabric").click()
    cross = page.locator(".pointer")
    cross.focus()
    for _ in range(3):
        page.keyboard.press("Shift+ArrowRight")
    page.keyboard.press("Enter")
    eventually(page.locator('polygon[data-id="background"]').count, 1)
    page.get_by_role("button", name="Forget my corrections").wait_for()


def test_beside_the_photo_there_is_room_for_words(page, address, begin):
    _open(page, address, "squares", begin("Windows"))
    usual = page.viewport_size
    for width in (1001, 1100, usual["width"]):
        page.set_viewport_size({**usual, "width": width})
        settle(page)
        page.get_by_alt_text(re.compile("^Photo 1")).wait_for()
        photo = page.get_by_alt_text(re.compile("^Photo 1")).bounding_box()
        beside = page.get_by_test_id("stForm").bounding_box()
        assert beside["x"] > photo["x"] + photo["width"], "beside, not below"
        assert beside["width"] >= 200
        assert photo["width"] >= 0.36 * width
        assert beside["x"] + beside["width"] <= width
        # No word is cut off, nor broken: a field's name is as high as one line.
        for words in ("Rows", "Columns", "Deal the stacks"):
            name = page.get_by_text(words, exact=True)
            assert name.bounding_box()["height"] < 30
            assert name.evaluate("e => e.scrollWidth <= e.clientWidth")
        take_out = page.get_by_role("button", name="Take out").bounding_box()
        assert take_out["y"] == page.get_by_role("button", name="Larger").bounding_box()["y"]


def test_several_photos_also_as_heic_and_one_under_another_name(page, address, begin, tmp_path):
    sample = sample_paths()[0]
    (tmp_path / "again.jpg").write_bytes(sample.read_bytes())
    _open(page, address, "", begin("Twice"))
    other = str(sample_paths()[2])
    page.set_input_files("input[type=file] >> nth=0", [str(tmp_path / "again.jpg"), other])
    page.get_by_text(
        f"again.jpg is the same picture as {sample.name}, which is in this project already; it was "
        "not added again.",
        exact=True,
    ).wait_for()
    eventually(page.get_by_role("button", name="Take out").count, 2)
    assert page.locator(".trouble").count() == 0, "nothing went wrong"
    settle(page)
    heic = next(path for path in sample_paths() if path.suffix == ".heic")
    page.set_input_files("input[type=file] >> nth=0", [str(heic)])
    eventually(page.get_by_role("button", name="Take out").count, 3)
    settle(page)
    assert page.get_by_text(heic.name, exact=True).count() == 1
    assert page.get_by_alt_text(re.compile("^Photo 3")).evaluate("i => i.naturalWidth") > 300


def test_what_is_no_picture_and_files_of_other_kinds_are_told_in_our_words(
    page, address, begin, tmp_path
):
    (tmp_path / "letter.jpg").write_text("not a picture, <b>really</b>")
    _open(page, address, "", begin("Other kinds"))
    page.set_input_files("input[type=file] >> nth=0", [str(tmp_path / "letter.jpg")])
    shown = page.locator(".trouble p")
    shown.wait_for()
    assert re.fullmatch(r".*letter\.jpg: .+\.", shown.inner_text())
    assert "Traceback" not in page.content()
    settle(page)
    text = {"name": "notes.txt", "mimeType": "text/plain", "buffer": b"blue, green"}
    photo = {"name": "b.jpg", "mimeType": "image/jpeg", "buffer": sample_paths()[2].read_bytes()}
    page.set_input_files("input[type=file] >> nth=0", [text, photo])
    page.locator(".trouble p", has_text="notes.txt: not a picture that can be opened").wait_for()
    eventually(page.get_by_role("button", name="Take out").count, 2)
    assert "not allowed" not in page.content()

    settle(page)
    turn_to(page, "Stash")
    if not page.get_by_role("button", name="Measure and keep").is_visible():
        page.get_by_text("Add photos", exact=True).click()
    page.set_input_files(".st-key-upload-stash input[type=file]", [text])
    page.get_by_role("button", name="Measure and keep").click()
    page.get_by_text("notes.txt: not a picture that can be opened").wait_for()
    settle(page)
    page.set_input_files(".st-key-stash-back input[type=file]", [text])
    page.get_by_role("button", name="Take it into the stash").click()
    page.locator(".trouble p", has_text="notes.txt: no stash file; choose a table").wait_for()
    settle(page)
    table = {"name": "mine.csv", "mimeType": "text/csv", "buffer": b"blue, green"}
    page.get_by_role("button", name="Remove notes.txt").click()
    settle(page)
    page.set_input_files(".st-key-stash-back input[type=file]", [table])
    page.get_by_role("button", name="Take it into the stash").click()
    page.locator(".trouble p", has_text="mine.csv, line 1: the column 'name' is missing").wait_for()


def test_two_makers_at_once_do_not_meet(page, phone, address, begin):
    pages = [page, phone]
    for one, name in zip(pages, ("Maker one", "Maker two"), strict=True):
        _open(one, address, "stacks", begin(name))
    first = pages[0].locator(".row").nth(0).locator(".face").nth(0)
    square = first.get_attribute("data-id")
    name = pages[0].locator(".row").nth(1).get_attribute("data-stack")
    first.focus()
    pages[0].keyboard.press("Alt+ArrowDown")
    eventually(lambda: _stack_of(pages[0], square), name)
    settle(pages[0])
    pages[1].reload()
    pages[1].wait_for_selector(".card")
    assert _stack_of(pages[1], square) != name


def test_background_ranking_shows_what_melts(page, address, begin):
    _open(page, address, "background", begin("Backgrounds"))
    page.get_by_role("heading", name="Where it melts").wait_for()
    settle(page)
    page.get_by_label("Try another background").fill("navy")
    page.get_by_role("button", name="Add").click()
    eventually(page.get_by_role("heading", name=re.compile("navy")).count, 1)
    settle(page)
    for image in page.locator("img").all():
        assert image.get_attribute("alt") is not None


def test_projects_are_named_removed_and_brought_back(page, address, begin):
    _open(page, address, "", begin("Spare room"))
    page.get_by_role("button", name="New, rename, remove").click()
    page.get_by_label("Name", exact=True).fill("Guest room")
    page.get_by_label("Name", exact=True).press("Tab")
    page.get_by_role("button", name="Rename this one").click(timeout=20_000)
    settle(page)
    if not page.get_by_role("button", name="Remove this one").is_visible():
        page.get_by_role("button", name="New, rename, remove").click()
    page.get_by_role("button", name="Remove this one").click()
    page.get_by_text("Guest room was removed.").wait_for()
    page.get_by_role("button", name="Undo the removal").click()
    eventually(page.get_by_text("Guest room was removed.").count, 0)
    eventually(page.get_by_alt_text(re.compile("^Photo 1")).count, 1)


def test_a_pattern_of_ones_own(page, address, begin):
    _open(page, address, "stacks", begin("Own pattern"))
    page.get_by_role("button", name="Bring a pattern of your own").click()
    bad = {"name": "mine.toml", "mimeType": "text/plain", "buffer": b"name = 3\n"}
    page.set_input_files("input[type=file]", [bad])
    page.locator(".trouble p").wait_for()
    # Beside the file, which cannot be used.
    assert page.locator(".trouble p").inner_text().startswith("mine.toml: stack: expected 1 to 40")
    assert page.get_by_role("button", name="Use this pattern").count() == 0
    text = files("colorcore.pattern").joinpath("shipped/gatepost-stars.toml").read_text("utf-8")
    # As an editor may save it, with a mark at its beginning and two ends to each line.
    text = text.replace("Stars", "Beacons")
    saved = b"\xef\xbb\xbf" + text.replace("\n", "\r\n").encode()
    good = {"name": "mine.toml", "mimeType": "text/plain", "buffer": saved}
    settle(page)
    with page.expect_download() as download:
        page.get_by_role("button", name="The chosen pattern's file").click()
    assert download.value.suggested_filename == "my-pattern.toml"
    assert download.value.path().read_text("utf-8") == text.replace("Beacons", "Stars")
    page.set_input_files("input[type=file]", [good])
    page.get_by_text("Gatepost Beacons, for squares of 10 in: throw, 42 squares;").wait_for()
    assert page.locator(".trouble").count() == 0
    page.get_by_role("button", name="Use this pattern").click()
    page.get_by_role("heading", name="Beacons").wait_for()
    settle(page)
    if not page.get_by_role("button", name="The chosen pattern's file").is_visible():
        page.get_by_role("button", name="Bring a pattern of your own").click()
    with page.expect_download() as download:
        page.get_by_role("button", name="The chosen pattern's file").click()
    assert "Beacons" in download.value.path().read_text("utf-8"), "one's own can be had again"


def test_all_of_the_stash_can_be_taken_along(page, address, begin, folder, tmp_path):
    with Stash(folder / "s.sqlite") as stash:
        kept = stash.add(make_entry("Taken along")).name
        names = {entry.name for entry in stash.entries()}
    _open(page, address, "stash", begin("Takes the stash along"))
    with page.expect_download() as download:
        page.get_by_role("button", name="Everything (JSON)").click()
    download.value.save_as(tmp_path / "stash.json")
    with Stash(tmp_path / "other.sqlite") as other:
        import_json(other, tmp_path / "stash.json")
        assert kept in names == {entry.name for entry in other.entries()}
    with Stash(folder / "s.sqlite") as stash:
        stash.undo()
