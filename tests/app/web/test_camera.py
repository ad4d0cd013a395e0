"""From the camera button to found squares: Chromium plays a rendered table as its camera."""

import re
from typing import Any

import pytest

from tests.app.web.browsing import eventually, settle
from tests.app.web.film import COLUMNS, ROWS

pytestmark = pytest.mark.browser


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
