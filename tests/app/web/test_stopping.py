"""Long work is stopped within one photo, says so, and goes on when it is asked to."""

import io
from pathlib import Path
from typing import Any

import pytest
from PIL import Image

from app.web.workshop import Workshop
from sample_images import sample_paths
from tests.app.web.browsing import eventually, settle

pytestmark = pytest.mark.browser


@pytest.fixture
def large(folder: Path) -> int:
    """A project with one large photo that nobody has measured yet; its number."""
    with Image.open(sample_paths()[0]) as opened:
        picture = opened.resize((opened.width * 3, opened.height * 3), Image.Resampling.BICUBIC)
    data = io.BytesIO()
    picture.save(data, "JPEG", quality=80)
    workshop = Workshop(folder / "projects.sqlite", folder / "s.sqlite")
    project = workshop.projects.create("Large photo")
    workshop.bring_photo(project, "large.jpg", data.getvalue())
    workshop.projects.close()
    return project


def test_one_photo_is_stopped_and_goes_on(page: Any, address: str, large: int) -> None:
    page.goto(f"{address}/stacks?project={large}")
    page.get_by_role("button", name="Stop", exact=True).click()
    page.get_by_text("Measuring was stopped.").wait_for()
    settle(page)
    assert page.locator(".card").count() == 0
    # Another page does not begin it anew behind the maker's back.
    page.get_by_role("link", name="Background").first.click()
    page.get_by_role("heading", name="Background", level=1).wait_for()
    settle(page)
    go_on = page.get_by_role("button", name="Go on measuring")
    assert go_on.count() == 1
    page.get_by_role("link", name="Stacks").first.click()
    page.get_by_role("heading", name="Stacks", level=1).wait_for()
    settle(page)
    go_on.click()
    page.wait_for_selector(".card")
    eventually(page.locator(".card").count, 42)
    settle(page)
    assert go_on.count() == 0
