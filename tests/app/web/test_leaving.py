"""A link that is clicked while a page still works, and what was chosen or typed just before: the
link is followed, and the choice is kept."""

import io
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from PIL import Image

from app.web.workshop import Workshop
from colorcore.stash import Stash
from sample_images import sample_paths
from tests.app.web.browsing import eventually, serving, settle
from tests.stash.making import make_entry

pytestmark = pytest.mark.browser

#: How long a finger stays on the mouse, ms.
PRESSED_MS = 80


@pytest.fixture(scope="module")
def home(workshop: Workshop) -> Path:
    return workshop.projects.path.parent


@pytest.fixture(scope="module")
def held(home: Path) -> Iterator[str]:
    with serving(home, program="tests.app.web.held") as address:
        yield address


@pytest.fixture(scope="module")
def dealt(workshop: Workshop) -> int:
    path = sample_paths()[0]
    number = workshop.projects.create("dealt")
    workshop.bring_photo(number, path.name, path.read_bytes())
    choices = workshop.projects.load(number)
    workshop.projects.complete(number, choices, workshop.deal(choices)[0])
    return number


@pytest.fixture
def project(workshop: Workshop, dealt: int) -> int:
    number = workshop.projects.create("left")
    workshop.projects.save(number, workshop.projects.load(dealt), "began here")
    return number


@pytest.fixture
def at(page: Any, held: str, project: int) -> Callable[[str], Any]:
    def open_page(name: str) -> Any:
        page.goto(f"{held}/{name}?project={project}")
        page.get_by_test_id("stSidebarNavLink").first.wait_for()
        settle(page)
        return page

    return open_page


@pytest.fixture(autouse=True)
def let_go(home: Path) -> Iterator[None]:
    """No test leaves runs held."""
    yield
    for what in ("pages", "again"):
        _let_go(home, what)


def _hold(home: Path, what: str) -> Callable[[], bool]:
    """Hold runs of the page from now on; give what says whether one is held."""
    held = home / f"held-{what}"
    held.unlink(missing_ok=True)
    (home / f"hold-{what}").touch()
    return held.exists


def _let_go(home: Path, what: str) -> None:
    (home / f"hold-{what}").unlink(missing_ok=True)


def _press(page: Any, what: Any) -> None:
    box = what.bounding_box()
    page.mouse.move(box["x"] + box["width"] / 2, box["y"] + box["height"] / 2)
    page.mouse.down()
    page.wait_for_timeout(PRESSED_MS)
    page.mouse.up()


def _link(page: Any, title: str) -> Any:
    return page.get_by_test_id("stSidebarNavLink").filter(has_text=title)


def _arrived(page: Any, title: str) -> None:
    page.get_by_role("heading", name=title, level=1, exact=True).wait_for(timeout=20_000)
    settle(page)
    assert page.get_by_role("heading", level=1).all_inner_texts() == [title]


def test_a_link_is_followed_though_the_page_before_begins_anew_meanwhile(at, home):
    page = at("squares")
    begins_anew = _hold(home, "again")
    page.get_by_role("button", name="Deal the stacks").click()
    eventually(begins_anew, True)
    follows_link = _hold(home, "pages")
    _press(page, _link(page, "Stash"))
    eventually(follows_link, True)
    _let_go(home, "again")
    page.wait_for_timeout(1000)  # The run of the page before begins anew, in vain.
    _let_go(home, "pages")
    _arrived(page, "Stash")


def test_a_link_is_followed_at_once_while_a_pane_is_open(at):
    page = at("stacks")
    page.get_by_role("button", name="Bring a pattern of your own").click()
    page.get_by_test_id("stPopoverBody").wait_for()
    _press(page, _link(page, "Stash"))
    _arrived(page, "Stash")


def test_a_background_that_was_typed_is_kept_when_a_link_is_clicked_next(
    at, home, workshop, project
):
    page = at("stacks")
    page.get_by_role("textbox", name="Background fabric").fill("navy")
    _hold(home, "pages")
    page.keyboard.press("Tab")
    eventually(lambda: workshop.projects.load(project).background, "navy", 20)
    _press(page, _link(page, "Stash"))
    _let_go(home, "pages")
    _arrived(page, "Stash")
    assert workshop.projects.load(project).background == "navy"


@pytest.mark.parametrize(
    ("name", "choice", "step"),
    [
        ("sewing", "A4", "chose measures, paper or yardage"),
        ("squares", "5 in", "set squares of 5 inches"),
    ],
)
def test_a_choice_is_kept_before_anything_is_shown_anew(
    at, home, workshop, project, name, choice, step
):
    page = at(name)
    _hold(home, "pages")
    page.get_by_test_id("stButtonGroup").get_by_text(choice, exact=True).click()
    eventually(lambda: workshop.projects.steps(project)[0], step, 20)
    _press(page, _link(page, "Stash"))
    _let_go(home, "pages")
    _arrived(page, "Stash")
    assert workshop.projects.steps(project)[0] == step


def test_what_a_form_of_the_stash_says_is_kept_before_anything_is_shown_anew(at, home):
    with Stash(home / "s.sqlite") as stash:
        stash.add(make_entry("Slate", place="shelf 1"))
    page = at("stash")
    page.get_by_role("button", name="Change").first.click()
    page.get_by_role("textbox", name="Where kept").last.fill("shelf 9")

    def places() -> list[str]:
        with Stash(home / "s.sqlite") as stash:
            return [entry.place for entry in stash.entries()]

    _hold(home, "pages")
    page.get_by_role("button", name="Keep", exact=True).click()
    eventually(places, ["shelf 9"], 20)


def test_photos_for_the_stash_are_all_measured_though_the_page_is_left(at, home):
    names = ["birch", "cedar", "hazel", "larch", "rowan", "willow"]
    page = at("stash")
    if not page.get_by_role("button", name="Measure and keep").is_visible():
        page.get_by_text("Add photos", exact=True).click()
    files = [_cloth(name) for name in names]
    page.set_input_files(".st-key-upload-stash input[type=file]", files)
    page.get_by_role("button", name="Remove willow.png").wait_for()
    settle(page)
    page.get_by_role("button", name="Measure and keep").click()
    page.get_by_text("Measuring photo 1 of 6").first.wait_for()
    _press(page, _link(page, "Photos"))
    _arrived(page, "Bring photos of your bundle")

    def kept() -> set[str]:
        with Stash(home / "s.sqlite") as stash:
            return {entry.name for entry in stash.entries()} & set(names)

    eventually(kept, set(names))
    _press(page, _link(page, "Stash"))
    _arrived(page, "Stash")
    page.get_by_text("Added: birch, cedar, hazel, larch, rowan and willow.").wait_for()
    told = page.get_by_text("a quarter of a yard was assumed")
    assert told.count() == 1, "of all of them once"


def _cloth(name: str) -> dict[str, Any]:
    """A photo of one piece of woven cloth on a table, as an upload."""
    noise = np.random.default_rng(list(name.encode()))
    picture = np.full((1800, 2400, 3), (200, 180, 150), np.uint8)
    cloth = noise.integers(30, 200, 3) + noise.integers(-12, 13, (1000, 1400, 1))
    picture[400:1400, 500:1900] = np.clip(cloth, 0, 255)
    data = io.BytesIO()
    Image.fromarray(picture).save(data, "PNG", compress_level=1)
    return {"name": f"{name}.png", "mimeType": "image/png", "buffer": data.getvalue()}


def test_a_corner_that_was_moved_by_keys_is_told_before_a_link_is_followed(at, workshop, project):
    page = at("squares")
    page.wait_for_selector("polygon[tabindex]", state="attached")
    # The rest after the last key never comes.
    page.evaluate(
        """() => { const real = window.setTimeout;
        window.setTimeout = (f, ms, ...more) => ms === 300 ? 0 : real(f, ms, ...more); }"""
    )
    page.locator('polygon[role][tabindex="0"]').focus()
    page.keyboard.press("Enter")
    page.locator(".handle").first.wait_for()
    page.keyboard.press("ArrowRight")
    link = _link(page, "Stash").bounding_box()
    page.mouse.move(link["x"] + 40, link["y"] + 10)
    page.mouse.down()
    eventually(lambda: str(workshop.projects.steps(project)[0]).startswith("moved"), True, 20)
    page.mouse.up()
    _arrived(page, "Stash")


def test_what_was_typed_is_not_overtaken_by_a_tap(at, workshop, project):
    """For a finger, leaving the field and clicking is one moment."""
    page = at("stacks")
    field = page.get_by_role("textbox", name="Background fabric")
    field.fill("navy")
    field.evaluate(
        """(field, link) => { field.blur(); link.click(); }""",
        _link(page, "Stash").element_handle(),
    )
    _arrived(page, "Stash")
    assert workshop.projects.load(project).background == "navy"


def test_a_name_that_is_still_in_its_field_comes_with_the_click(at, workshop):
    page = at("stash")
    page.get_by_role("button", name="New, rename, remove").click()
    page.get_by_role("textbox", name="Name").last.fill("Guest room")
    _press(page, page.get_by_role("button", name="Begin a new project"))
    eventually(lambda: "Guest room" in {p.name for p in workshop.projects.list()}, True, 20)


def test_a_page_is_not_left_for_what_was_clicked_before_another_link(at, home, workshop, project):
    """Taking a substitute leads to the board, but not later on, who went elsewhere meanwhile."""
    page = at("stacks")
    page.locator(".face").first.click()
    page.get_by_role("menuitem", name="Find a substitute").click()
    page.get_by_role("button", name="Take this one").first.wait_for()
    settle(page)
    _hold(home, "pages")
    page.get_by_role("button", name="Take this one").first.click()
    eventually(lambda: str(workshop.projects.steps(project)[0]).startswith("took"), True)
    _press(page, _link(page, "Stash"))
    _let_go(home, "pages")
    _arrived(page, "Stash")
    _press(page, _link(page, "Swap"))
    _arrived(page, "Swap")
