"""What is clicked while a page still works: nothing is lost, nothing is done twice or too far."""

from collections.abc import Callable, Iterator
from dataclasses import replace
from typing import Any

import pytest

from app.web.workshop import Workshop
from colorcore.project import Choices
from sample_images import sample_paths
from tests.app.web.browsing import eventually, serving, settle

pytestmark = pytest.mark.browser


@pytest.fixture(scope="module")
def slow(workshop: Workshop) -> Iterator[str]:
    with serving(workshop.projects.path.parent, program="tests.app.web.slowly") as address:
        yield address


@pytest.fixture(scope="module")
def dealt(workshop: Workshop) -> Choices:
    path = sample_paths()[0]
    project = workshop.projects.create("dealt")
    workshop.bring_photo(project, path.name, path.read_bytes())
    return workshop.deal(workshop.projects.load(project))[0]


@pytest.fixture
def project(workshop: Workshop, dealt: Choices) -> int:
    number = workshop.projects.create("clicked")
    workshop.projects.save(number, dealt, "began here")
    return number


@pytest.fixture
def board(page: Any, slow: str, project: int) -> Any:
    page.goto(f"{slow}/stacks?project={project}")
    page.wait_for_selector(".card")
    settle(page)
    return page


def _first(page: Any, count: int) -> list[str]:
    faces = page.locator(".row").nth(0).locator(".face")
    return [str(faces.nth(n).get_attribute("data-id")) for n in range(count)]


def _move(page: Any, square: str) -> None:
    page.locator(f'.face[data-id="{square}"]').focus()
    page.keyboard.press("Alt+ArrowDown")


def _press(page: Any, name: str) -> None:
    page.get_by_role("button", name=name, exact=True).click()


def _running(page: Any) -> None:
    page.wait_for_selector('[data-testid=stApp][data-test-script-state="running"]')


def _done(workshop: Workshop, project: int) -> Callable[[], tuple[str | None, str | None]]:
    """What undo and redo would do, asked again and again."""
    return lambda: workshop.projects.steps(project)


def test_a_deal_is_finished_and_kept_when_undo_is_clicked_while_it_runs(board, workshop, project):
    """That it takes a while is told in words."""
    words = "() => getComputedStyle(document.querySelector('.stApp'), '::after')"
    (square,) = _first(board, 1)
    _move(board, square)
    eventually(_done(workshop, project), (f"moved {square}", None))
    settle(board)
    _press(board, "Deal again around the locks")
    _running(board)
    board.wait_for_function(
        f"() => ({words})().content.includes('Working') && ({words})().opacity === '1'"
    )
    _press(board, "Undo")
    eventually(_done(workshop, project), (f"moved {square}", "dealt again"))
    settle(board)
    assert board.evaluate(f"() => ({words})().content") in ("none", "normal")
    assert board.get_by_text("Taken back: dealt again.", exact=True).count() == 1
    assert workshop.projects.steps(project) == (f"moved {square}", "dealt again")


def test_every_move_counts_while_the_page_still_looks_at_the_pieces(board, workshop, project):
    before = workshop.projects.mark(project)
    squares = _first(board, 5)
    for square in squares:
        _move(board, square)
    eventually(lambda: int(workshop.projects.mark(project)) - int(before), len(squares))
    settle(board)
    assert {square for square, _ in workshop.projects.load(project).locks} >= set(squares)
    assert board.locator(".row").nth(1).locator(".lock").count() == len(squares)


def test_moves_that_wait_together_are_all_kept(board, workshop, project):
    """The browser makes them in one go: of what waits together the server gets the newest."""
    before = workshop.projects.mark(project)
    squares = _first(board, 4)
    board.locator('[data-part="board"]').evaluate(
        """(part, squares) => { for (const id of squares)
        part.querySelector(`.face[data-id="${id}"]`).dispatchEvent(new KeyboardEvent(
        "keydown", { key: "ArrowDown", altKey: true, bubbles: true })); }""",
        squares,
    )
    eventually(lambda: int(workshop.projects.mark(project)) - int(before), len(squares))
    settle(board)
    assert {square for square, _ in workshop.projects.load(project).locks} >= set(squares)
    assert int(workshop.projects.mark(project)) - int(before) == len(squares), "each of them once"


def test_undo_takes_back_the_move_just_made_as_often_as_it_is_clicked(board, workshop, project):
    squares = _first(board, 4)
    for square in squares:
        _move(board, square)
    eventually(_done(workshop, project), (f"moved {squares[-1]}", None))
    # Each as soon as the one before counts, while the page still works on it: two that wait at
    # once are one to Streamlit.
    for last in (2, 1, 0):
        _press(board, "Undo")
        eventually(
            _done(workshop, project), (f"moved {squares[last]}", f"moved {squares[last + 1]}")
        )
    settle(board)
    assert workshop.projects.steps(project) == (f"moved {squares[0]}", f"moved {squares[1]}")


def test_a_choice_that_is_taken_back_while_it_is_dealt_for_is_not_made_again(
    board, workshop, project, dealt
):
    field = board.get_by_role("textbox", name="Background fabric")
    field.fill("navy")
    field.press("Enter")
    eventually(lambda: workshop.projects.load(project).background, "navy")
    _press(board, "Undo")
    eventually(lambda: workshop.projects.load(project).background, dealt.background)
    eventually(field.input_value, "#f4efe6")
    settle(board)
    chosen = "chose pattern, size or background"
    assert workshop.projects.steps(project) == ("began here", chosen)
    assert field.input_value() == "#f4efe6"


def test_marks_set_one_after_the_other_are_all_kept(page, slow, workshop, project):
    page.goto(f"{slow}/squares?project={project}")
    page.wait_for_selector("polygon[tabindex]", state="attached")
    settle(page)
    before = int(workshop.projects.mark(project))
    page.locator(".stage").scroll_into_view_if_needed()
    box = page.locator(".stage").bounding_box()
    for tool in ("This is the paper", "Not a square", "Add a square"):
        page.get_by_role("button", name=tool).click()
        page.mouse.click(box["x"] + 30, box["y"] + 30)
    eventually(lambda: int(workshop.projects.mark(project)) - before, 3)
    (photo,) = workshop.projects.load(project).photos
    assert photo.white, "the first mark"
    assert len(photo.ignore) == 1, "the second"
    assert len(photo.add) == 1, "the third"


def test_a_deal_that_follows_by_itself_is_taken_back_with_what_it_follows_from(
    page, slow, workshop, dealt
):
    project = workshop.projects.create("brought")
    bare = replace(dealt, places=(), dealt_for="", more=())
    workshop.projects.save(project, bare, "brought a photo")
    page.goto(f"{slow}/stacks?project={project}")
    page.wait_for_selector(".card")
    settle(page)
    assert workshop.projects.steps(project) == ("brought a photo", None)
    _press(page, "Undo")
    page.get_by_role("heading", name="First a photo").wait_for()
    settle(page)
    assert workshop.projects.steps(project) == (None, "brought a photo")
    _press(page, "Redo")
    page.wait_for_selector(".card")
    assert workshop.projects.load(project).places, "dealt as it was"
