"""Pages on paper: everything of the work and nothing of the controls, black on white."""

import shutil
import subprocess
from pathlib import Path
from typing import Any

import pytest

from tests.app.web.browsing import settle, turn_to

pytestmark = pytest.mark.browser

HIDDEN = '[data-testid="stSidebar"], [data-testid="stHeader"], .stButton, .stDownloadButton'
COLORS = """
() => [...document.querySelectorAll('.stApp, .stApp *')].flatMap((e) => {
  const s = getComputedStyle(e);
  return e.innerText && e.getClientRects().length ? [[s.color, s.backgroundColor]] : [];
})
"""
WHITE = {"rgb(255, 255, 255)", "rgba(0, 0, 0, 0)"}


def test_pages_in_print(page: Any, address: str, begin: Any, tmp_path: Path) -> None:
    page.emulate_media(color_scheme="dark")
    page.goto(f"{address}/stacks?project={begin('Print')}")
    page.wait_for_selector(".card")
    settle(page)
    stacks = _printed(page, tmp_path, "How far to trust it")
    assert stacks.count(" apart") >= 42
    page.emulate_media(media="screen")
    turn_to(page, "Cut and sew")
    page.wait_for_selector("img")
    _printed(page, tmp_path, "Another arrangement")


def _printed(page: Any, folder: Path, last: str) -> str:
    """The words of a page on paper, looked at on the way."""
    page.emulate_media(media="print")
    assert not any(part.is_visible() for part in page.locator(HIDDEN).all())
    colors = page.evaluate(COLORS)
    assert {color for color, _ in colors} == {"rgb(0, 0, 0)"}
    assert {ground for _, ground in colors} <= WHITE
    if shutil.which("pdftotext") is None:
        pytest.skip("no pdftotext on this machine: apt-get install poppler-utils")
    path = folder / "page.pdf"
    path.write_bytes(page.pdf(format="Letter", print_background=False))
    told = subprocess.run(["pdftotext", "-layout", path, "-"], capture_output=True, text=True)
    text = " ".join(told.stdout.split())
    assert told.stdout.count("\f") >= 2, "all of it, not what one screen shows"
    assert last in text
    assert "Rename" not in text
    assert "Undo" not in text
    return text
