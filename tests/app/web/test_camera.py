"""From the camera button to found squares: Chromium plays a rendered table as its camera."""

import re
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import cv2
import pytest

from tests.app.web.browsing import FLAGS, LONG_MS, chromium, eventually, settle
from tests.scenes import make_scene

pytestmark = pytest.mark.browser

ROWS, COLUMNS = 4, 5


@pytest.fixture(scope="module")
def film(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A film of one picture: JPEG frames after each other are Motion JPEG."""
    scene = make_scene(
        "gaps_board", 7, megapixels=2.0, rows=ROWS, columns=COLUMNS, missing=0.0, bundle=3
    )
    small = cv2.resize(scene.pixels, (1280, 960), interpolation=cv2.INTER_AREA)
    _, frame = cv2.imencode(".jpg", small[..., ::-1], [cv2.IMWRITE_JPEG_QUALITY, 95])
    path = tmp_path_factory.mktemp("film") / "table.mjpeg"
    path.write_bytes(frame.tobytes() * 5)
    return path


@pytest.fixture
def page(film: Path, browser: Any) -> Iterator[Any]:
    """A page whose camera shows the film. ``browser`` is asked for first: it says what lacks."""
    flags = [
        *FLAGS, "--use-fake-ui-for-media-stream", "--use-fake-device-for-media-stream",
        f"--use-file-for-fake-video-capture={film}",
    ]  # fmt: skip
    opened = browser.browser_type.launch(executable_path=chromium(), args=flags)
    made = opened.new_context(viewport={"width": 1280, "height": 1000}).new_page()
    made.set_default_timeout(LONG_MS)
    yield made
    opened.close()


def test_a_photo_is_taken_and_its_squares_are_found(page: Any, address: str, begin: Any) -> None:
    project = begin("Camera")
    page.goto(f"{address}/?project={project}")
    page.wait_for_selector("h1")
    settle(page)
    page.get_by_role("button", name="Take out").click()
    eventually(page.get_by_role("button", name="Take out").count, 0)
    settle(page)
    page.get_by_role("tab", name="Use the camera").click()
    assert page.locator("video").count() == 0, "nothing is filmed before it is asked for"
    page.get_by_text("Turn the camera on").click()
    page.wait_for_function("() => document.querySelector('video')?.videoWidth > 0")
    page.get_by_role("button", name="Take Photo").click()
    picture = page.get_by_alt_text(re.compile("^Photo 1"))
    picture.wait_for()
    settle(page)
    page.get_by_role("button", name="Check the squares").click()
    page.wait_for_selector("polygon[tabindex]", state="attached")
    settle(page)
    assert page.locator("polygon[role]:not(.doubtful)").count() == ROWS * COLUMNS
    page.get_by_text("Squares found").wait_for()
