"""Take the pictures of pages and sheets that the README shows, from the rendered sample.

    python -m tests.app.web.take_screens

Needs Chromium and pdftoppm; writes into sample_images/screens.
"""

import io
import subprocess
import tempfile
from contextlib import ExitStack
from pathlib import Path
from typing import Any

from PIL import Image

import sample_images
from app.cli import main as bundlestacks
from app.web.workshop import Workshop
from colorcore.sheets.shape_drawings import draw_shapes
from tests.app.web.browsing import FLAGS, LONG_MS, chromium, serving, settle

PLACE = Path(sample_images.__file__).parent / "screens"
HEIGHTS = {"squares": 960, "background": 1080}
"""How high the window is, in pixels, for pages of which 860 show too little."""
PDF_PAGE = 4
"""A page of plan.pdf that shows how squares are cut."""


def keep(picture: bytes, name: str) -> None:
    """Write a picture into its place as WebP."""
    path = PLACE / f"{name}.webp"
    Image.open(io.BytesIO(picture)).convert("RGB").save(path, quality=80, method=6)
    print(f"{path.name}: {path.stat().st_size / 1000:.0f} kB")


def take_pages(browser: Any, folder: Path) -> None:
    """The pages, dealt as their buttons would."""
    workshop = Workshop(folder / "projects.sqlite", folder / "s.sqlite")
    project = workshop.projects.create("Harbour throw")
    path = sample_images.sample_paths()[0]
    workshop.bring_photo(project, path.name, path.read_bytes())
    choices, plan = workshop.deal(workshop.projects.load(project))
    workshop.projects.save(project, choices, "dealt")
    melting = plan.stacks[-1].placements[-1].square
    kettlebarrow = workshop.projects.create("Kettlebarrow")
    path = next(p for p in sample_images.sample_paths() if p.suffix == ".heic")
    workshop.bring_photo(kettlebarrow, path.name, path.read_bytes())
    workshop.projects.close()
    with serving(folder) as address:
        for scheme, name, page_name in (
            ("light", "squares", "squares"),
            ("light", "stacks", "stacks"),
            ("dark", "value-axis", "stacks"),
            ("light", "background", "background"),
            ("light", "swap", "swap"),
            ("dark", "cut-and-sew", "sewing"),
        ):
            size = {"width": 1280, "height": HEIGHTS.get(name, 860)}
            page = browser.new_page(viewport=size, color_scheme=scheme)
            page.set_default_timeout(LONG_MS)
            page.goto(f"{address}/{page_name}?project={project}")
            page.wait_for_selector("h1")
            settle(page)
            if name == "value-axis":
                page.get_by_role("radio", name="On the value axis").click()
                settle(page)
                page.get_by_text("The board", exact=True).scroll_into_view_if_needed()
                page.mouse.move(700, 500)
                page.mouse.wheel(0, 280)
            if name == "swap":
                page.get_by_role("combobox", name="Look also in the bundles of").click()
                page.get_by_role("option", name="Kettlebarrow").click()
                page.keyboard.press("Escape")
                settle(page)
                page.get_by_role("combobox", name="Which square").fill(melting)
                page.get_by_role("option", name=melting, exact=True).click()
                settle(page)
                page.get_by_role("heading", name="Looks like it").wait_for()
                page.mouse.move(700, 500)
                page.mouse.wheel(0, 520)
            if page_name == "stacks":
                page.wait_for_selector(".card")
            page.wait_for_timeout(1500)
            keep(page.screenshot(), name)
            page.close()


def take_sheets(browser: Any, folder: Path) -> None:
    """The sheet that the stacks are sorted by, and a page of the one for the cutting table."""
    photo = sample_images.sample_paths()[0]
    plan = folder / "stacks-out"
    stack = ["stack", str(photo), "--pattern", "gatepost-stars", "--background", "#f4efe6"]
    bundlestacks([*stack, "--out", str(plan), "--quiet"])
    bundlestacks(["cut", str(plan / "plan.json"), "--out", str(folder / "cut"), "--quiet"])
    page = browser.new_page(viewport={"width": 1000, "height": 1240}, color_scheme="light")
    page.goto((plan / "plan.html").as_uri())
    keep(page.screenshot(), "sheet-stacks")
    number = str(PDF_PAGE)
    command = ["pdftoppm", "-png", "-r", "100", "-f", number, "-l", number, "-singlefile"]
    subprocess.run([*command, folder / "cut" / "plan.pdf", folder / "page"], check=True)
    keep((folder / "page.png").read_bytes(), "sheet-cutting")


def main() -> None:
    """Take them all."""
    from playwright.sync_api import sync_playwright

    (PLACE / "patch-shapes.svg").write_text(draw_shapes(), encoding="utf-8")
    with ExitStack() as stack:
        folder = Path(stack.enter_context(tempfile.TemporaryDirectory()))
        driver = stack.enter_context(sync_playwright())
        browser = driver.chromium.launch(executable_path=chromium(), args=FLAGS)
        stack.callback(browser.close)
        take_sheets(browser, folder)
        take_pages(browser, folder)


if __name__ == "__main__":
    main()
