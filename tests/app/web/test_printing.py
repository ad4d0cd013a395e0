"""Pages on paper: everything of the work and nothing of the controls, black on white."""

import shutil
import subprocess
from pathlib import Path
from typing import Any

import pytest

from tests.app.web.browsing import settle

pytestmark = pytest.mark.browser

HIDDEN = '[data-testid="stSidebar"], [data-testid="stHeader"], .stButton, .stDownloadButton'
COLORS = """
() => [...document.querySelectorAll('.stApp, .stApp *')].flatMap((e) => {
  const s = getComputedStyle(e);
  return e.innerText && e.getClientRects().length ? [[s.color, s.backgroundColor]] : [];
})
"""
WHITE = {"rgb(255, 255, 255)", "rgba(0, 0, 0, 0)"}


@pytest.mark.parametrize(
    ("name", "ready", "last"),
    [("stacks", ".card", "How far to trust it"), ("sewing", "img", "Another arrangement")],
)
def test_a_page_in_print(
    open_page: Any, address: str, begin: Any, tmp_path: Path, name: str, ready: str, last: str
) -> None:
    page = open_page(color_scheme="dark")
    project = begin(f"Print {name}")
    for part in ("stacks", name):
        page.goto(f"{address}/{part}?project={project}")
        page.wait_for_selector(".card" if part == "stacks" else ready)
        settle(page)
    page.emulate_media(media="print", color_scheme="dark")
    assert not any(part.is_visible() for part in page.locator(HIDDEN).all())
    colors = page.evaluate(COLORS)
    assert {color for color, _ in colors} == {"rgb(0, 0, 0)"}
    assert {ground for _, ground in colors} <= WHITE
    if shutil.which("pdftotext") is None:
        pytest.skip("no pdftotext on this machine: apt-get install poppler-utils")
    path = tmp_path / "page.pdf"
    path.write_bytes(page.pdf(format="Letter", print_background=False))
    told = subprocess.run(["pdftotext", "-layout", path, "-"], capture_output=True, text=True)
    text = " ".join(told.stdout.split())
    assert told.stdout.count("\f") >= 2, "all of it, not what one screen shows"
    assert last in text
    assert "Rename" not in text
    assert "Undo" not in text
    if name == "stacks":
        assert text.count(" apart") >= 42
