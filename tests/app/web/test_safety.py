"""Private and safe: for this computer alone, words as text, no traceback, nothing lost."""

import io
import re
import signal
import socket
import urllib.error
import urllib.request
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from PIL import Image

from colorcore.stash import Stash
from sample_images import sample_paths
from tests.app.web.browsing import eventually, free_port, serving, settle, start, turn_to
from tests.stash.making import make_entry

COUNTING = """
window.pressed = 0;
window.typed = 0;
addEventListener('pointerdown', (e) => { window.pressed += e.isTrusted ? 1 : 0; }, true);
addEventListener('keydown', (e) => { window.typed += e.isTrusted ? 1 : 0; }, true);
"""
EVIL = "<img src=x onerror=alert(1)>"


def _own_addresses() -> list[str]:
    """Addresses of this computer other than 127.0.0.1, as another device would use them."""
    with socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as trial:
        try:
            trial.connect(("192.0.2.1", 9))
            return ["127.0.0.2", str(trial.getsockname()[0])]
        except OSError:
            return ["127.0.0.2"]


def test_only_this_computer_is_answered(address: str) -> None:
    port = int(address.rpartition(":")[2])
    with urllib.request.urlopen(f"{address}/_stcore/health") as answer:
        assert answer.status == 200
    for other in _own_addresses():
        if other != "127.0.0.1":
            with socket.socket() as trial:
                trial.settimeout(2)
                assert trial.connect_ex((other, port)) != 0, other


def test_usage_is_not_told_and_forged_requests_are_refused(address: str) -> None:
    text = Path("app/web/.streamlit/config.toml").read_text(encoding="utf-8")
    assert "gatherUsageStats = false" in text
    assert "enableXsrfProtection = true" in text
    request = urllib.request.Request(f"{address}/_stcore/upload_file/0/0", data=b"x", method="PUT")
    with pytest.raises(urllib.error.HTTPError) as refused:
        urllib.request.urlopen(request)
    with refused.value as answer:
        assert answer.code in (400, 403)


@pytest.mark.browser
def test_names_and_notes_are_text(page: Any, address: str, begin: Any, folder: Path) -> None:
    with Stash(folder / "s.sqlite") as stash:
        entry = stash.add(make_entry(f"Blue {EVIL}"))
        stash.describe(entry.id, place=EVIL, note=f"![x](http://192.0.2.1/x.png) {EVIL}")
    picture = io.BytesIO()
    noise = np.random.default_rng(1).integers(0, 255, (64, 64, 3), dtype=np.uint8)
    Image.fromarray(noise).save(picture, "PNG")
    page.goto(f"{address}/?project={begin(f'{EVIL} ![x](http://192.0.2.1/x.png)')}")
    page.wait_for_selector("h1")
    settle(page)
    file = {"name": f"{EVIL}.png", "mimeType": "image/png", "buffer": picture.getvalue()}
    page.set_input_files("input[type=file] >> nth=0", [file])
    eventually(page.get_by_text(EVIL, exact=False).count, page.get_by_text(EVIL).count())
    page.get_by_alt_text(re.compile("^Photo 2")).wait_for()
    settle(page)
    assert page.get_by_text(f"{EVIL}.png").count() >= 1
    assert page.locator("img[onerror], img[src=x]").count() == 0
    turn_to(page, "Stash")
    page.get_by_text(f"Blue {EVIL}").first.wait_for()
    settle(page)
    assert page.locator("img[onerror], img[src=x]").count() == 0


def test_what_is_logged_names_no_photo(address: str, folder: Path) -> None:
    log = (folder / "app.log").read_text(encoding="utf-8")
    assert "Bundle Stacks: http://127.0.0.1" in log
    for word in ("Traceback", "onerror", *(path.stem for path in sample_paths())):
        assert word not in log, word


@pytest.mark.browser
def test_a_first_time_in_four_clicks_and_a_crash(page: Any, tmp_path: Path) -> None:
    port = free_port()
    process, address = start(tmp_path, port=port)
    try:
        page.goto(address)
        page.evaluate(COUNTING)
        page.wait_for_selector("h1")
        settle(page)
        # One: choose the photo. Two: check. Three: deal. Nothing needs to be read or typed.
        with page.expect_file_chooser() as chooser:
            page.get_by_role("button", name=re.compile("^Upload|Browse")).first.click()
        chooser.value.set_files(str(sample_paths()[0]))
        page.get_by_role("button", name="Check the squares").click()
        page.wait_for_selector("polygon[tabindex]", state="attached")
        page.get_by_role("button", name="Deal the stacks").click()
        page.wait_for_selector(".card")
        eventually(page.locator(".card").count, 42)
        settle(page)
        # The fourth, on a photo in the system's own dialog, is not the page's.
        assert page.evaluate("() => [window.pressed, window.typed]") == [3, 0]
        face = page.locator(".row").nth(0).locator(".face").nth(0)
        square = face.get_attribute("data-id")
        name = page.locator(".row").nth(1).get_attribute("data-stack")
        face.focus()
        page.keyboard.press("Alt+ArrowDown")
        page.locator(".lock").wait_for()
        where = page.url
    finally:
        process.send_signal(signal.SIGKILL)
        process.wait(20)
    page.goto("about:blank")
    with serving(tmp_path, port=port):
        page.goto(where)
        page.wait_for_selector(".card")
        row = page.locator(".row", has=page.locator(f'.face[data-id="{square}"]'))
        eventually(lambda: row.get_attribute("data-stack"), name)
