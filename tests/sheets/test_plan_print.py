"""The sheet in a real browser: on paper, on a phone, for those who cannot see it."""

import json
import re
import shutil
import subprocess
from dataclasses import replace
from html import escape
from pathlib import Path

import pytest

from colorcore.sheets.environment import style
from colorcore.sheets.plan_page import plan_page
from colorcore.sheets.view import view_plan
from tests.sheets.making import make_bundle, make_photo, make_plan, seen_again

FLAGS = (
    "--headless", "--no-sandbox", "--disable-gpu", "--disable-quic", "--no-first-run",
    "--disable-background-networking", "--disable-component-update", "--disable-sync",
    "--hide-scrollbars",
)  # fmt: skip


@pytest.fixture(scope="module")
def sheet() -> str:
    bundle = make_bundle()
    # A warning above the figures, as most photos bring one, leaves the photo less of the page.
    doubted = replace(bundle.photos[0], trust="C", trust_words="order can be relied on")
    bundle = replace(bundle, photos=(doubted,))
    return plan_page(view_plan(make_plan(bundle, spare=3), bundle), photos=[make_photo(bundle)])


def browse(folder: Path, *options: str, page: str) -> str:
    path = folder / "page.html"
    path.write_text(page, encoding="utf-8")
    browser = shutil.which("chromium") or shutil.which("chromium-browser")
    if browser is None:
        pytest.skip("no Chromium on this machine: apt-get install chromium")
    done = subprocess.run(
        [browser, *FLAGS, f"--user-data-dir={folder / 'browser'}", *options, path.as_uri()],
        capture_output=True,
        text=True,
        timeout=120,
        check=True,
    )
    return done.stdout


def measured(page: str, width: int) -> str:
    """Return a page that holds ``page`` at a width in pixels and writes down what overflows."""
    return (
        f'<!doctype html><iframe id="f" style="width:{width}px;height:900px;border:0" '
        f'srcdoc="{escape(page, quote=True)}"></iframe><script>'
        "document.getElementById('f').onload = (event) => {"
        " const inside = event.target.contentDocument;"
        " const wide = [...inside.querySelectorAll('body *')].filter((e) => !e.closest('.pan')"
        " && !e.closest('.unseen') && e.getBoundingClientRect().right > inside.documentElement"
        ".clientWidth + 1).map((e) => e.tagName + '.' + e.getAttribute('class'));"
        " document.body.textContent = 'RESULT' + JSON.stringify({"
        " page: inside.documentElement.scrollWidth, wide: wide}) + 'END'; };</script>"
    )


@pytest.mark.parametrize("width", [390, 820, 1440])
def test_nothing_reaches_over_the_edge(sheet: str, tmp_path: Path, width: int) -> None:
    dom = browse(tmp_path, "--dump-dom", "--virtual-time-budget=10000", page=measured(sheet, width))
    found = re.search(r"RESULT(.*)END", dom, re.DOTALL)
    assert found is not None
    result = json.loads(found[1])
    assert result == {"page": width, "wide": []}


def printed(sheet: str, folder: Path, paper: str) -> tuple[Path, list[str]]:
    """Print a sheet; return its PDF and the words of every page."""
    assert sheet.count("@page {") == 1
    page = sheet.replace("@page {", f"@page {{ size: {paper};")
    pdf = folder / "sheet.pdf"
    browse(folder, "--no-pdf-header-footer", f"--print-to-pdf={pdf}", page=page)
    if shutil.which("pdftotext") is None:
        pytest.skip("no pdftotext on this machine: apt-get install poppler-utils")
    text = subprocess.run(
        ["pdftotext", "-layout", pdf, "-"], capture_output=True, text=True, check=True
    ).stdout
    return pdf, text.split("\f")[:-1]


@pytest.mark.parametrize(("paper", "points"), [("letter", (612, 792)), ("A4", (595, 842))])
def test_printed(sheet: str, tmp_path: Path, paper: str, points: tuple[int, int]) -> None:
    pdf, pages = printed(sheet, tmp_path, paper)
    told = subprocess.run(["pdfinfo", pdf], capture_output=True, text=True, check=True).stdout
    size = re.search(r"Page size: +([\d.]+) x ([\d.]+)", told)
    assert size is not None
    assert [float(v) for v in size.groups()] == pytest.approx(points, abs=1)
    assert 4 <= len(pages) <= 6
    # The photo shares the first page with the figures, and each stack begins a page of its own.
    assert "Where every square lies" in pages[0]
    assert "kitchen table 1.jpg" in pages[0]
    for name in ("Star points", "Fill one", "Fill two"):
        begins = [page for page in pages[1:] if page.strip().splitlines()[0].find(name) >= 0]
        assert len(begins) == 1, name
    for square in make_bundle().squares:
        cards = sum(len(re.findall(rf"\b{square.id}\b", page)) for page in pages[1:])
        assert cards >= 1, square.id
    assert any("rotary cutter" in page for page in pages)


@pytest.mark.parametrize("paper", ["letter", "A4"])
def test_two_photos_share_a_page_and_a_stack_of_eighteen_takes_one(
    tmp_path: Path, paper: str
) -> None:
    bundle = make_bundle(4, 7, photos=2)
    photos = [make_photo(bundle, photo) for photo in (0, 1)]
    page = plan_page(view_plan(make_plan(bundle, spare=2), bundle), photos=photos)
    _, pages = printed(page, tmp_path, paper)
    assert sum("kitchen table 1.jpg" in p and "kitchen table 2.jpg" in p for p in pages[1:]) >= 1
    names = ("Star points", "Fill one", "Fill two")
    begins = [
        next(n for n, p in enumerate(pages[1:], 1) if name in p.strip().splitlines()[0])
        for name in names
    ]
    assert begins == list(range(begins[0], begins[0] + 3))


@pytest.mark.parametrize("paper", ["letter", "A4"])
def test_what_stands_above_the_photos_is_on_their_page(tmp_path: Path, paper: str) -> None:
    """Where warnings leave no room for a photo on the first page, both are on the second."""
    bundle = make_bundle(6, 7, photos=2)
    warnings = tuple(f"Warning {n}: it is too dark to be measured well." for n in range(9))
    doubted = tuple(replace(p, trust="C", notes=warnings) for p in bundle.photos)
    again = seen_again(bundle.squares[0], 0, 0)
    left = tuple(s for s in bundle.squares if s.id != again.address)
    bundle = replace(bundle, photos=doubted, squares=left, seen_again=(again,))
    photos = [make_photo(bundle, photo) for photo in (0, 1)]
    page = plan_page(view_plan(make_plan(bundle, spare=2), bundle), photos=photos)
    _, pages = printed(page, tmp_path, paper)
    first, second = (" ".join(page.split()) for page in pages[:2])
    assert "Where every square lies" not in first
    for words in (
        "Where every square lies", "under its address there.",
        "Photo 1, kitchen table 1.jpg", "Photo 2, kitchen table 2.jpg",
    ):  # fmt: skip
        assert words in second


@pytest.mark.parametrize("width", [380, 391, 402, 413, 424])
def test_no_line_ends_within_an_address(tmp_path: Path, width: int) -> None:
    """However wide the window is."""
    bundle = make_bundle(2, 3, photos=2)
    told = " and ".join(square.id for square in bundle.squares * 4)
    plan = replace(make_plan(bundle), second_look=(f"Look at {told}.",))
    sheet = plan_page(view_plan(plan, bundle), photos=[None, None])
    told_by = (
        "<script>onload = () => { const lines = [...document.querySelectorAll('.whole')]"
        ".map((e) => e.getClientRects().length); document.title = 'LINES' +"
        " JSON.stringify([lines.length, Math.max(...lines)]) + 'END'; }</script>"
    )
    # The sheet's own policy allows no script.
    page = re.sub(r"<meta http-equiv[^>]*>", "", sheet).replace("</body>", f"{told_by}</body>")
    dom = browse(tmp_path, "--dump-dom", f"--window-size={width},900", page=page)
    found = re.search(r"LINES(.*?)END</title>", dom)
    assert found is not None
    count, most = json.loads(found[1])
    assert count >= 24
    assert most == 1


def test_what_is_marked_with_a_tool_is_on_the_page_that_names_it(tmp_path: Path) -> None:
    """Wherever on a page the list comes to lie."""
    heights = range(200, 256, 2)
    parts = (
        f'<div style="break-before: page; height: {high}mm"></div>'
        f"<dl><dt><b>Tool {high}</b></dt><dd>Squares {high}</dd></dl>"
        for high in heights
    )
    body = "".join(parts)
    sheet = f"<!doctype html><style>{style('sheet')}{style('cutting')}</style><main>{body}</main>"
    _, pages = printed(sheet, tmp_path, "letter")
    named = [next(n for n, p in enumerate(pages) if f"Tool {high}" in p) for high in heights]
    assert all(f"Squares {high}" in pages[n] for high, n in zip(heights, named, strict=True))
    assert len(pages) > len(heights), "some lie at the end of a page"
