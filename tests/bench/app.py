"""How quick the pages are: from the command to the first page, from a move to the board, memory.

    python -m tests.bench.app

Figures of a browser depend on the machine: the start is printed beside a floor measured in the
same run, a Streamlit page of one line started and drawn in the same way.
"""

import re
import subprocess
import sys
import tempfile
import time
import urllib.request
from dataclasses import replace
from pathlib import Path
from typing import Any

from app.web.workshop import Workshop, chosen_pattern
from sample_images import sample_paths
from tests.app.web.browsing import FLAGS, LONG_MS, chromium, free_port, settle, start

REPEATS = 5


def _one_line_page(browser: Any, folder: Path) -> tuple[float, float]:
    """Seconds from Streamlit's own command to an answer, and to a page of one line drawn."""
    script, port = folder / "one_line.py", free_port()
    script.write_text("import streamlit as st\nst.title('One line')\n", encoding="utf-8")
    page = browser.new_page()
    begun = time.perf_counter()
    command = [sys.executable, "-m", "streamlit", "run", str(script), "--server.headless=true"]
    command += [f"--server.port={port}", "--browser.gatherUsageStats=false"]
    process = subprocess.Popen(command, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL)
    while True:
        try:
            with urllib.request.urlopen(f"http://127.0.0.1:{port}/_stcore/health"):
                break
        except OSError:
            time.sleep(0.02)
    answers = time.perf_counter() - begun
    page.goto(f"http://127.0.0.1:{port}")
    page.wait_for_selector("h1")
    drawn = time.perf_counter() - begun
    page.close()
    process.terminate()
    process.wait(20)
    return answers, drawn


def _first_page(browser: Any, folder: Path) -> tuple[float, float]:
    """Seconds from the command to an answer, and to the first page drawn."""
    page = browser.new_page()
    begun = time.perf_counter()
    process, address = start(folder, port=free_port())
    answers = time.perf_counter() - begun
    page.goto(address)
    page.get_by_role("button", name="Use the sample bundle").wait_for()
    drawn = time.perf_counter() - begun
    page.close()
    process.terminate()
    process.wait(20)
    return answers, drawn


def resident_mb(pid: int) -> float:
    """What a process holds in memory, in MB."""
    status = Path(f"/proc/{pid}/status").read_text(encoding="ascii")
    found = re.search(r"VmRSS:\s+(\d+)", status)
    return int(found[1]) / 1024 if found else 0.0


def _prepare(folder: Path, photos: int) -> int:
    workshop = Workshop(folder / "projects.sqlite", folder / "s.sqlite")
    project = workshop.projects.create(f"{photos} photos")
    for path in (sample_paths()[0], sample_paths()[3])[:photos]:
        workshop.bring_photo(project, path.name, path.read_bytes())
    if photos > 1:
        choices = workshop.projects.load(project)
        # The larger size of the star pattern takes two bundles.
        sizes = chosen_pattern(choices).sizes
        size = next(size.name for size in sizes if size.bundles == photos)
        workshop.projects.save(project, replace(choices, size=size), "two bundles")
    workshop.projects.close()
    return project


MOVED = """
async () => {
  const hosts = [...document.querySelectorAll('*')].filter((e) => e.shadowRoot);
  const root = hosts.map((h) => h.shadowRoot.querySelector('[data-part=board]')).find(Boolean);
  const face = root.querySelector('.row .face');
  const id = face.dataset.id;
  face.focus();
  const begun = performance.now();
  face.dispatchEvent(new KeyboardEvent('keydown',
    {key: 'ArrowDown', altKey: true, bubbles: true, composed: true}));
  await new Promise((done) => requestAnimationFrame(() => requestAnimationFrame(done)));
  const shown = performance.now() - begun;
  const locked = () => [...root.querySelectorAll('.card')]
    .find((c) => c.querySelector('.face').dataset.id === id)?.querySelector('.lock');
  while (!locked()) await new Promise((done) => setTimeout(done, 5));
  return [shown, performance.now() - begun];
}
"""


def _moves(page: Any, address: str, project: int) -> tuple[int, float, float]:
    page.goto(f"{address}/stacks?project={project}")
    page.wait_for_selector(".card")
    settle(page)
    cards = page.locator(".card").count()
    shown, kept = [], []
    for _ in range(REPEATS):
        first, second = page.evaluate(MOVED)
        shown.append(first)
        kept.append(second)
        settle(page)
    return cards, min(shown), min(kept)


def main() -> None:
    """Print the tables."""
    from playwright.sync_api import sync_playwright

    with tempfile.TemporaryDirectory() as name, sync_playwright() as driver:
        folder = Path(name)
        browser = driver.chromium.launch(executable_path=chromium(), args=FLAGS)
        empty = folder / "empty"
        empty.mkdir()
        floors, ours = [], []
        for _ in range(REPEATS):
            floors.append(_one_line_page(browser, empty))
            ours.append(_first_page(browser, empty))
        print("| from the command | s | Streamlit with one line, s |\n|---|---|---|")
        for n, words in enumerate(("until it answers", "until the first page is drawn")):
            figures = [min(times[n] for times in which) for which in (ours, floors)]
            print(f"| {words} | {figures[0]:.2f} | {figures[1]:.2f} |")

        process, address = start(folder, port=free_port())
        print(f"\n| sessions | memory MB |\n|---|---|\n| 0 | {resident_mb(process.pid):.0f} |")
        one, two = _prepare(folder, 1), _prepare(folder, 2)
        pages: list[Any] = []
        for count in (1, 2, 4, 8):
            while len(pages) < count:
                pages.append(browser.new_page())
                pages[-1].set_default_timeout(LONG_MS * 4)
                pages[-1].goto(f"{address}/stacks?project={one}")
                pages[-1].wait_for_selector(".card")
                settle(pages[-1])
            print(f"| {count} | {resident_mb(process.pid):.0f} |")
        for page in pages[1:]:
            page.close()
        print("\n| squares on the board | shown, ms | kept and answered, ms |\n|---|---|---|")
        for project in (one, two):
            cards, shown, kept = _moves(pages[0], address, project)
            print(f"| {cards} | {shown:.0f} | {kept:.0f} |")
        process.terminate()
        process.wait(20)
        browser.close()


if __name__ == "__main__":
    main()
