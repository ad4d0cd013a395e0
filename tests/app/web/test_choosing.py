"""Choosing in the browser: a substitute taken and put back, plans and backgrounds side by side."""

import re
from pathlib import Path
from typing import Any

import pytest

from app.web.workshop import Workshop
from colorcore.stash import Stash
from sample_images import sample_paths
from tests.app.web.browsing import eventually, settle, turn_to
from tests.stash.making import make_entry, make_swatch

pytestmark = pytest.mark.browser


@pytest.fixture
def dealt(begin: Any, folder: Path) -> Any:
    """A project dealt as its page would; the squares of a stack, and a fabric like its first."""
    workshop = Workshop(folder / "projects.sqlite", folder / "s.sqlite")
    project = begin("Choosing")
    choices, plan = workshop.deal(workshop.projects.load(project))
    workshop.projects.save(project, choices, "dealt")
    square = plan.stacks[0].placements[0].square
    own = next(s for s in workshop.bundle(choices).squares if s.id == square)
    with Stash(folder / "s.sqlite") as stash:
        stash.add(make_entry("Slate twin", swatch=make_swatch(own.lab)))
    workshop.projects.close()
    return project, square, plan.stacks[0].name


def _choose(page: Any, label: str, option: str) -> None:
    page.get_by_role("combobox", name=label).fill(option)
    page.get_by_role("option", name=option, exact=True).click()
    settle(page)


def test_a_substitute_is_taken_and_put_back(page: Any, address: str, dealt: Any) -> None:
    project, square, stack = dealt
    page.goto(f"{address}/swap?project={project}")
    page.wait_for_selector("h1")
    settle(page)
    _choose(page, "Which square", square)
    card = page.locator(
        '[data-testid="stVerticalBlock"]', has=page.get_by_role("heading", name="Slate twin")
    ).last
    assert card.get_by_alt_text(re.compile(f"^{square}: ")).count() == 1
    assert card.get_by_alt_text(re.compile("^Slate twin: ")).count() == 1
    boxes = [image.bounding_box() for image in card.locator("img").all()]
    assert boxes[0]["y"] == pytest.approx(boxes[1]["y"], abs=2), "side by side"
    assert boxes[1]["x"] > boxes[0]["x"] + boxes[0]["width"]
    card.get_by_role("button", name="Take this one").click()

    page.get_by_role("heading", name="Stacks", level=1).wait_for()
    page.wait_for_selector(".card")
    settle(page)
    face = page.locator(f'.face[data-id="{square}"]')
    assert "Slate twin" in face.get_attribute("aria-label")
    row = page.locator(".row", has=face)
    assert row.get_attribute("data-stack") == stack
    assert page.locator(f'.card:has(.face[data-id="{square}"]) .lock').count() == 1

    turn_to(page, "Swap")
    page.get_by_text(re.compile("Slate twin.*stands in for it")).wait_for()
    settle(page)
    page.get_by_role("button", name=f"Put {square} back").click()
    eventually(page.get_by_text("stands in for it").count, 0)
    turn_to(page, "Stacks")
    page.wait_for_selector(".card")
    settle(page)
    assert "Slate twin" not in face.get_attribute("aria-label")


def test_two_plans_side_by_side(page: Any, address: str, dealt: Any, folder: Path) -> None:
    project, _, stack = dealt
    workshop = Workshop(folder / "projects.sqlite", folder / "s.sqlite")
    other = workshop.projects.create("Kettlebarrow beside")
    path = sample_paths()[3]
    workshop.bring_photo(other, path.name, path.read_bytes())
    workshop.projects.close()
    page.goto(f"{address}/swap?project={project}")
    page.wait_for_selector("h1")
    settle(page)
    _choose(page, "Set it beside this one", "Kettlebarrow beside")
    ours = page.get_by_alt_text(re.compile(f"^{stack} of This project: "))
    theirs = page.get_by_alt_text(re.compile(f"^{stack} of Kettlebarrow beside: "))
    one, two = ours.bounding_box(), theirs.bounding_box()
    assert one["y"] == pytest.approx(two["y"], abs=2)
    assert two["x"] >= one["x"] + one["width"]
    assert ours.evaluate("i => i.naturalWidth") == theirs.evaluate("i => i.naturalWidth") > 300
    assert ours.get_attribute("src") != theirs.get_attribute("src")
    for image in (ours, theirs):
        assert len(image.get_attribute("alt").partition(": ")[2].split(", ")) == 14
    assert page.get_by_text(re.compile(r"^\d+ hold, \d+ soft, \d+ melt")).count() == 6


def test_backgrounds_side_by_side_and_one_used(page: Any, address: str, dealt: Any) -> None:
    project, _, _ = dealt
    page.goto(f"{address}/background?project={project}")
    page.get_by_role("heading", name="Where it melts").wait_for()
    settle(page)
    pictures = page.get_by_alt_text(re.compile("^A close view of the quilt on"))
    assert pictures.count() == 4
    one, two = (pictures.nth(n).bounding_box() for n in (0, 1))
    assert one["y"] == pytest.approx(two["y"], abs=2)
    assert two["x"] >= one["x"] + one["width"]
    assert len({image.get_attribute("src") for image in pictures.all()}) == 4
    first = page.get_by_role("heading", name=re.compile(r"^1\. ")).inner_text()
    page.get_by_role("button", name="Use it").first.click()
    used = page.locator(
        '[data-testid="stVerticalBlock"]', has=page.get_by_text("the background of this project")
    ).last
    eventually(lambda: used.get_by_role("heading").inner_text(), first)
    settle(page)
    turn_to(page, "Stacks")
    page.wait_for_selector(".card")
    settle(page)
    field = page.get_by_role("textbox", name="Background fabric")
    eventually(lambda: field.input_value() in first, True)
