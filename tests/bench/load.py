"""Several makers at once, each doing the whole job over and over, on one server on this machine.

    python -m tests.bench.load --makers 8 --minutes 10

Each maker has a project and a rendered photo of her own. Every round she brings the photo, looks
at the squares, moves one, loses the connection in the middle, deals again, takes both back, tries
a background, takes that back too, and downloads her measured squares, which must name her photo
and nobody else's. Prints the rounds done, what went wrong, and the server's memory minute by
minute: the lowest, the median and the highest of a look every second.
"""

import argparse
import asyncio
import json
import tempfile
import time
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

import numpy as np
from playwright.async_api import TimeoutError, async_playwright

from app.web.workshop import Workshop
from tests.app.web.browsing import FLAGS, LONG_MS, QUIET, chromium, free_port, start
from tests.bench.app import resident_mb
from tests.scenes import make_scene

_PATIENCE_MS = LONG_MS * 4
#: Whoever clicked twice waits so long for the second step before she clicks again.
_AWHILE_MS = 20_000
_BACKGROUNDS = ("navy", "white", "#f4efe6", "black", "grey")


@dataclass
class Tally:
    """What the makers did: seconds of each round, what went wrong in words, and how often two
    clicks on Undo were taken for one."""

    seconds: list[float] = field(default_factory=list)
    wrong: list[str] = field(default_factory=list)
    merged: int = 0


@dataclass(frozen=True)
class Minute:
    """The server's resident memory over one minute, MB."""

    lowest: float
    median: float
    highest: float

    def __str__(self) -> str:
        return f"{self.lowest:.0f} to {self.highest:.0f} MB, median {self.median:.0f}"


async def _settle(page: Any) -> None:
    await page.evaluate("() => { window.quietSince = null }")
    await page.wait_for_function(QUIET, timeout=_PATIENCE_MS, polling=100)


async def _open(page: Any, address: str, name: str, project: int) -> None:
    await page.goto(f"{address}/{name}?project={project}")
    await page.wait_for_selector("h1")
    await _settle(page)


async def _told(page: Any, words: str) -> None:
    """Wait as a person does who goes on when the page says what was done: right after a click it
    may not have begun to answer, and looks as if it had nothing to do."""
    await page.get_by_text(words, exact=True).wait_for()
    await _settle(page)


async def _stack_of(page: Any, square: str) -> str:
    row = page.locator(".row", has=page.locator(f'.face[data-id="{square}"]'))
    return str(await row.get_attribute("data-stack"))


async def _round(
    page: Any, address: str, project: int, photo: Path, turn: int, tally: Tally
) -> None:
    """The whole job once."""
    await _open(page, address, "", project)
    if turn == 0:
        await page.set_input_files("input[type=file] >> nth=0", [str(photo)])
    await page.get_by_alt_text("Photo 1").first.wait_for()
    await _settle(page)
    await _open(page, address, "squares", project)
    await page.wait_for_selector("polygon[tabindex]", state="attached")
    await _open(page, address, "stacks", project)
    await page.wait_for_selector(".card")
    await _settle(page)
    face = page.locator(".row").nth(0).locator(".face").nth(turn % 5)
    square = await face.get_attribute("data-id")
    target = await page.locator(".row").nth(1).get_attribute("data-stack")
    await face.focus()
    await page.keyboard.press("Alt+ArrowDown")
    await _told(page, f"Newest step: moved {square}.")
    # The connection drops and comes back: nothing that was shown may be lost.
    await page.context.set_offline(True)
    await asyncio.sleep(1)
    await page.context.set_offline(False)
    await page.reload()
    await page.wait_for_selector(".card")
    await _settle(page)
    if await _stack_of(page, square) != target:
        raise AssertionError(f"{square} is not where it was moved to")
    undo = page.get_by_role("button", name="Undo", exact=True)
    await page.get_by_role("button", name="Deal again around the locks").click()
    await _told(page, "Newest step: dealt again.")
    # Twice at once, as those do who want two steps back. Two clicks that come while the server has
    # not looked are one to Streamlit: who still reads after a while that only one step was taken
    # back clicks again.
    await undo.click()
    await undo.click()
    both = page.get_by_text(f"Taken back: moved {square}.", exact=True)
    try:
        await both.wait_for(timeout=_AWHILE_MS)
    except TimeoutError:
        tally.merged += 1
        await undo.click()
        await both.wait_for()
    await _settle(page)
    await _open(page, address, "background", project)
    ground = _BACKGROUNDS[turn % len(_BACKGROUNDS)]
    await page.get_by_label("Try another background").fill(ground)
    await page.get_by_role("button", name="Add").click()
    await _told(page, f"Newest step: added the background {ground} to compare.")
    await undo.click()
    await _told(page, f"Taken back: added the background {ground} to compare.")
    await _open(page, address, "sewing", project)
    await page.get_by_role("button", name="Measured squares (JSON)").wait_for()
    await _settle(page)
    async with page.expect_download() as download:
        await page.get_by_role("button", name="Measured squares (JSON)").click()
    bundle = Path(await (await download.value).path()).read_text(encoding="utf-8")
    if photo.name not in bundle:
        raise AssertionError(f"the measured squares do not name {photo.name}")
    for other in photo.parent.glob("*.jpg"):
        if other != photo and other.name in bundle:
            raise AssertionError(f"the squares of {photo.name} name {other.name}")
    json.loads(bundle)


async def _maker(
    browser: Any, address: str, project: int, photo: Path, until: float, tally: Tally
) -> None:
    context = await browser.new_context(viewport={"width": 1100, "height": 900})
    context.set_default_timeout(_PATIENCE_MS)
    page = await context.new_page()
    page.on("pageerror", lambda error: tally.wrong.append(f"{photo.name}: {error}"))
    turn = 0
    while time.monotonic() < until:
        began = time.monotonic()
        try:
            await _round(page, address, project, photo, turn, tally)
        except Exception as error:
            tally.wrong.append(f"{photo.name}, round {turn}: {error}")
        else:
            tally.seconds.append(time.monotonic() - began)
        turn += 1
    await context.close()


async def _watch(pid: int, until: float) -> list[Minute]:
    """The server's memory, looked at every second: what a look once a minute shows is chance, since
    a step in work holds a few hundred MB for a second or two."""
    seen: list[Minute] = []
    while time.monotonic() < until:
        end = min(time.monotonic() + 60, until)
        looks = [resident_mb(pid)]
        while time.monotonic() < end:
            await asyncio.sleep(1)
            looks.append(resident_mb(pid))
        seen.append(Minute(min(looks), float(np.median(looks)), max(looks)))
        print(f"minute {len(seen):2d}: {seen[-1]}", flush=True)
    return seen


def _growth(mb: list[float]) -> float:
    """MB a minute of the straight line through the second half of the minutes."""
    half = len(mb) // 2
    return float(np.polyfit(range(half, len(mb)), mb[half:], 1)[0]) if len(mb) - half > 1 else 0.0


async def _run(folder: Path, makers: int, minutes: float) -> None:
    photos = folder / "photos"
    photos.mkdir()
    workshop = Workshop(folder / "projects.sqlite", folder / "s.sqlite")
    work = []
    for number in range(makers):
        scene = make_scene("gaps_board", 300 + number, megapixels=3.0, rows=6, columns=7)
        path = photos / f"maker-{number}.jpg"
        path.write_bytes(scene.jpeg)
        work.append((workshop.projects.create(f"maker {number}"), path))
    workshop.projects.close()
    process, address = start(folder, port=free_port())
    print(f"at rest: {resident_mb(process.pid):.0f} MB", flush=True)
    tally = Tally()
    async with async_playwright() as driver:
        browser = await driver.chromium.launch(executable_path=chromium(), args=FLAGS)
        until = time.monotonic() + 60 * minutes
        watch = asyncio.create_task(_watch(process.pid, until))
        await asyncio.gather(*(_maker(browser, address, *which, until, tally) for which in work))
        memory = await watch
        await browser.close()
    log = (folder / "app.log").read_text(encoding="utf-8")
    process.terminate()
    process.wait(30)
    print(
        f"{makers} makers, {minutes:g} min: {len(tally.seconds)} rounds, "
        f"median {np.median(tally.seconds or [0]):.0f} s, {len(tally.wrong)} went wrong, "
        f"{tally.merged} times two clicks were one; "
        "in the second half of the minutes the lowest memory grows by "
        f"{_growth([minute.lowest for minute in memory]):.1f} MB a minute, "
        f"the median by {_growth([minute.median for minute in memory]):.1f}"
    )
    print("\n".join(tally.wrong[:10]))
    if "Traceback" in log:
        print("the server's log holds a traceback:\n" + log[-2000:])


def main() -> None:
    """Print what happened."""
    parser = argparse.ArgumentParser(description=(__doc__ or "").splitlines()[0])
    parser.add_argument("--makers", type=int, default=8)
    parser.add_argument("--minutes", type=float, default=10)
    args = parser.parse_args()
    with tempfile.TemporaryDirectory() as name:
        asyncio.run(_run(Path(name), args.makers, args.minutes))


if __name__ == "__main__":
    main()
