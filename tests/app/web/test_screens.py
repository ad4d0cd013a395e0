"""Single pages without a browser: what they say when there is nothing, or when all goes wrong."""

import io
import logging
import re
from dataclasses import replace
from html import unescape
from pathlib import Path

import pytest
from PIL import Image
from streamlit.testing.v1 import AppTest

from app.web import needs, notices, session, steps
from app.web.frame import PAGES
from colorcore.pattern import read_pattern
from colorcore.sheets.cutting_parts import Legends
from sample_images import sample_paths
from tests.app.web.pages import (
    SCREENS,
    begin,
    button_of,
    html_of,
    own_workshop,
    run_page,
    said_on,
    stacks_page,
    troubles_on,
)

pytestmark = pytest.mark.usefixtures("measured_once")
NAMES = [name for name, _, _ in PAGES]


@pytest.fixture
def workshop(tmp_path, monkeypatch):
    with own_workshop(tmp_path, monkeypatch) as made:
        yield made


@pytest.mark.parametrize("name", NAMES)
def test_without_a_project_every_page_says_what_comes_first(workshop, name):
    page = run_page(name)
    assert not page.exception
    assert len(page.title) == 1
    said = [item.value for item in (*page.header, *page.markdown)]
    assert any(len(words) > 3 for words in said)
    if name not in ("photos", "stash"):
        assert page.header[0].value.startswith("First")
        assert len(page.button) == 1


def test_drawings_of_cutting_and_units_are_explained_and_keep_their_size_on_a_phone(workshop):
    stacks_page(workshop)
    page = run_page("sewing")
    told = [caption.value for caption in page.caption]
    legends = Legends()
    for words in (legends.cutting, legends.marking, legends.units, legends.rows):
        assert words in told
    shown = html_of(page)
    (wide,) = [words for words in shown if 'class="wide"' in words]
    assert "each patch carries the address of its square" in wide


def test_a_pattern_of_ones_own_goes_by_its_name(workshop):
    text = read_pattern("gatepost-stars").text.replace("Gatepost Stars", "Ida's *Lanterns*")
    begin(workshop, pattern=f"{text}\n")
    page = run_page("stacks")
    assert not page.exception
    (box,) = [box for box in page.selectbox if box.label == "Pattern"]
    assert "Ida's *Lanterns* (your own)" in box.options
    assert box.value == "own"


def test_a_pattern_kept_from_before_that_is_refused_by_now_can_be_left(workshop):
    text = read_pattern("gatepost-stars").text
    # Of 13 squares no 14 stars are cut.
    short = text.replace('"Stars" = 14', '"Stars" = 13')
    assert short != text
    begin(workshop, pattern=f"{short}\n")
    page = run_page("stacks")
    assert not page.exception
    (told,) = [unescape(words) for words in html_of(page) if "That did not work" in words]
    assert "your pattern: size 1, squares, Stars: expected at least 14, not 13" in told
    (box,) = [box for box in page.selectbox if box.label == "Pattern"]
    assert (box.value, "Your own" in box.options) == ("own", True)
    box.set_value("gatepost-stars").run()
    assert not any("your pattern" in words for words in html_of(page))


@pytest.mark.parametrize("name", ["squares", "stacks", "background"])
def test_what_nobody_foresaw_is_one_sentence(workshop, monkeypatch, caplog, name):
    project = workshop.projects.create("throw")
    path = sample_paths()[0]
    workshop.bring_photo(project, "grandmother.jpg", path.read_bytes())

    def fail(*_args: object, **_more: object) -> None:
        raise RuntimeError("grandmother.jpg cannot be")

    for method in ("finding", "measured", "bundle"):
        monkeypatch.setattr(workshop, method, fail)
    with caplog.at_level(logging.INFO):
        page = run_page(name)
    assert not page.exception
    # An html element of this version keeps what it shows in its protocol message.
    shown = " ".join(str(item.proto) for item in page.get("html"))
    assert "Something went wrong in the program itself" in shown
    assert "grandmother" not in shown
    assert not any(button.label == "Stop" for button in page.button)
    assert "RuntimeError" in caplog.text
    assert "grandmother" not in caplog.text


def test_a_refused_colour_begins_with_a_capital_and_a_file_keeps_its_name():
    def page() -> None:
        from app.web.notices import told
        from colorcore.color.parse import parse_color
        from colorcore.errors import PhotoError

        with told():
            parse_color("no such colour")
        with told():
            raise PhotoError("my table.jpg is empty.")

    ran = AppTest.from_function(page).run()
    assert not ran.exception
    shown = [unescape(str(item.proto)) for item in ran.get("html")]
    assert "<p>The colour 'no such colour' is" in shown[0].replace("\\'", "'")
    assert "<p>my table.jpg is empty." in shown[1]


@pytest.mark.parametrize("name", ["stacks", "background"])
def test_photos_without_squares_are_named_and_the_way_to_them_is_shown(workshop, monkeypatch, name):
    # A page alone knows no other pages to link to.
    ways: list[tuple[str, str]] = []
    monkeypatch.setattr(needs, "show_next", lambda *shown: ways.extend(shown))
    project = workshop.projects.create("throw")
    good = sample_paths()[0]
    workshop.bring_photo(project, good.name, good.read_bytes())
    for shade in (150, 170):
        data = io.BytesIO()
        Image.new("RGB", (800, 600), (shade, shade, shade)).save(data, "PNG")
        workshop.bring_photo(project, f"table-{shade}.png", data.getvalue())
    page = run_page(name)
    assert not page.exception
    shown = [str(item.proto) for item in page.get("html") if "That did not work" in str(item.proto)]
    assert len(shown) == 2
    for words, place in zip(
        shown, ("Photo 2, table-150.png: ", "Photo 3, table-170.png: "), strict=True
    ):
        assert f"{place}No squares were found" in words
        assert "Take this photo out on the page" in words
        assert "--" not in words
    assert not any(button.label == "Stop" for button in page.button)
    assert ways == [("photos", "Photos"), ("squares", "Check the squares")]


def test_a_photo_uploaded_is_in_the_project(workshop):
    page = run_page("photos")
    assert not page.exception
    path = sample_paths()[0]
    page.file_uploader[0].upload(path.name, path.read_bytes(), "image/jpeg").run()
    assert not page.exception
    (info,) = workshop.projects.list()
    assert info.photos == 1
    assert any(button.label == "Check the squares" for button in page.button)


def test_photos_are_in_their_order_where_they_lie_below_each_other(workshop):
    project = workshop.projects.create("several")
    for shade in (120, 140, 160):
        data = io.BytesIO()
        Image.new("RGB", (160, 120), (shade, shade, shade)).save(data, "PNG")
        workshop.bring_photo(project, f"{shade}.png", data.getvalue())
    page = run_page("photos")
    assert not page.exception
    # In the order of the page's own elements, as a phone and a reader of screens have them.
    told = [item.value for item in page.caption if item.value.startswith("Photo ")]
    assert [words.split(",")[0] for words in told] == ["Photo 1", "Photo 2", "Photo 3"]


def test_while_the_photo_can_be_taken_again_what_would_better_it_is_said(workshop):
    assert any("a grey card if you have one" in item.value for item in run_page("photos").markdown)
    workshop.bundle(begin(workshop))
    page = run_page("squares")
    assert not page.exception
    assert "Trust: C" in [item.value for item in page.subheader]
    assert "a grey card or a 24-patch chart beside the paper would settle it" in said_on(page)


def test_two_outlines_on_the_same_cloth_are_told_where_they_are_corrected(workshop):
    choices = begin(workshop)
    (photo,) = choices.photos
    assert "cover the same cloth" not in troubles_on(run_page("squares"))
    _, width, height = workshop.preview(photo.sha256)
    first = workshop.finding(photo, choices.square_inches).squares[0].corners / [width, height]
    aside = first + 0.6 * (first[1] - first[0])
    drawn = replace(photo, add=tuple(tuple(map(tuple, q.tolist())) for q in (first, aside)))
    new = choices.with_photo(drawn)
    workshop.projects.save(workshop.projects.list()[0].id, new, "drew two")
    page = run_page("squares")
    assert not page.exception
    assert "A1 and A2 cover the same cloth: one of the two is wrong." in troubles_on(page)
    board = run_page("stacks")
    assert not board.exception
    assert "A1 and A2: two outlines cover the same cloth" in said_on(board)


def test_the_board_is_read_with_a_second_look_at_every_piece(workshop):
    page = stacks_page(workshop)
    shown = " ".join(item.value for item in page.text)
    assert "some pieces would melt along their seams" in shown
    assert "do not sew side by side" in shown
    assert any(item.value.startswith("Optimal") for item in page.caption)


def test_the_background_is_shown_once_beside_its_name(workshop):
    for page in (stacks_page(workshop), run_page("stacks")):
        shown = [str(item.proto) for item in page.get("html")]
        assert sum('class=\\"chip' in words for words in shown) == 1


def test_a_pattern_without_background_is_not_shown_on_one(workshop):
    begin(workshop, pattern="lamplight-rails")
    page = run_page("stacks")
    assert not page.exception
    assert not any("chip" in str(item.proto) for item in page.get("html"))
    assert "This pattern is sewn to no background." in [item.value for item in page.caption]


def test_the_colour_of_a_border_is_asked_for_and_what_is_no_colour_is_told(workshop, monkeypatch):
    monkeypatch.setattr(steps, "other_cloths", lambda *_: ("border",))
    # The pictures and files take long and say nothing of it.
    picture = sample_paths()[0].read_bytes()
    monkeypatch.setattr(steps, "quilt_picture", lambda *_: picture)
    monkeypatch.setattr(steps, "files", lambda *_: {})
    stacks_page(workshop)
    page = run_page("sewing")
    (field,) = [f for f in page.text_input if f.label == "Colour of the border"]
    field.input("navy").run()
    (project,) = workshop.projects.list()
    assert workshop.projects.load(project.id).option("cloth border") == "navy"
    assert workshop.projects.steps(project.id)[0] == "chose the colour of the border"
    (field,) = [f for f in page.text_input if f.label == "Colour of the border"]
    field.input("no such cloth").run()
    assert not page.exception
    assert workshop.projects.load(project.id).option("cloth border") == "navy"
    # The frame around all pages tells it; this page runs without it.
    assert "no such cloth" in page.session_state[notices._KEPT][0]


@pytest.mark.parametrize(("pattern", "asked"), [("gatepost-stars", 1), ("lamplight-rails", 0)])
def test_how_much_background_there_is_is_asked_where_any_is_cut(
    workshop, monkeypatch, pattern, asked
):
    picture = sample_paths()[0].read_bytes()
    monkeypatch.setattr(steps, "quilt_picture", lambda *_: picture)
    monkeypatch.setattr(steps, "files", lambda *_: {})
    begin(workshop, pattern=pattern)
    assert not run_page("stacks").exception
    page = run_page("sewing")
    assert not page.exception
    fields = [field for field in page.number_input if field.label.startswith("Background at hand")]
    assert len(fields) == asked
    if asked:
        fields[0].set_value(3.5).run()
        (project,) = workshop.projects.list()
        assert workshop.projects.load(project.id).option("background-yards") == "3.5"


def test_no_background_is_offered_that_no_cloth_can_be(workshop, monkeypatch):
    # The quilt's pictures take long and say nothing of it.
    monkeypatch.setattr(steps, "on_units", lambda *_: None)
    begin(workshop, background="white")
    page = run_page("background")
    assert not page.exception
    told = [item.value for item in page.text if item.value.startswith("No cloth is as light")]
    assert len(told) == 1
    titles = [item.value.replace("\\", "") for item in page.header]
    assert "1. white, #f6f6f6" in titles
    assert not any(title.endswith(". white") for title in titles)
    assert all("lab(" not in item.value for item in (*page.text, *page.markdown))
    # The project's own white is none of them: the cloth can be taken in its place.
    assert sum(button.label == "Use it" for button in page.button) == 4
    assert sum(button.label == "Drop it" for button in page.button) == 3


def test_what_keeps_a_bundle_from_being_dealt_is_told_once(workshop):
    begin(workshop, size="queen")
    page = run_page("background")
    assert not page.exception
    said = said_on(page) + troubles_on(page)
    assert said.count("wants 81 squares; there are 42") == 1
    assert not page.multiselect, "no square has pieces"


def test_locks_of_another_pattern_are_let_go_and_it_is_said(workshop):
    begin(workshop)
    (project,) = workshop.projects.list()
    page = run_page("stacks")
    locked = (
        workshop.projects.load(project.id).with_lock("B3", "Stars").with_lock("C1", "First chain")
    )
    workshop.projects.save(project.id, locked, "locked")
    other = replace(locked, pattern="lamplight-rails", size="")
    workshop.projects.save(project.id, other, "chose pattern, size or background")
    page = run_page("stacks")
    assert not page.exception
    assert "names no stack" not in troubles_on(page)
    now = workshop.projects.load(project.id)
    assert now.locks == ()
    assert workshop.is_dealt(now)
    told = page.session_state[notices._NOTES]
    assert told[0].startswith("2 squares are no longer locked: this pattern has no stack of that")
    # It follows from the newest step, and is taken back with it.
    workshop.undo(project.id)
    assert workshop.projects.load(project.id).locks == locked.locks


def test_locks_that_no_deal_can_keep_to_can_be_let_go_where_that_is_told(workshop):
    begin(workshop)
    (project,) = workshop.projects.list()
    page = run_page("stacks")
    dealt = workshop.projects.load(project.id)
    many = tuple((square, "Stars") for square, _ in dealt.places[:15])
    workshop.projects.save(project.id, replace(dealt, locks=many, dealt_for=""), "locked")
    page = run_page("stacks")
    assert "15 are locked" in troubles_on(page)
    button_of(page, "Unlock all").click().run()
    assert "15 are locked" not in troubles_on(page)
    assert workshop.is_dealt(workshop.projects.load(project.id))


def test_a_page_shows_what_was_said_of_a_square_where_it_is_counted_by_now(workshop, without_paper):
    project = workshop.projects.create("seen twice")
    workshop.bring_photo(project, "bare.jpg", without_paper)
    workshop.step(project, lambda choices: (choices.with_lock("B3", "Stars"), "locked B3"))
    path = sample_paths()[0]
    workshop.bring_photo(project, path.name, path.read_bytes())
    page = run_page("background")
    assert not page.exception
    assert workshop.projects.load(project).locks == (("2-B3", "Stars"),)
    # No line ends within an address.
    melting = [item.value for item in page.text if item.value.startswith("Mostly melting")]
    assert any("2-\u2060" in words for words in melting)
    assert not any(re.search(r"2-[A-Z]", words) for words in melting)
    # It came with the photo, and goes with it.
    assert workshop.projects.steps(project) == (f"brought {path.name}", None)
    workshop.undo(project)
    assert workshop.projects.load(project).locks == (("B3", "Stars"),)


def test_no_heavy_library_is_on_the_way_of_the_first_page():
    import subprocess
    import sys

    code = (
        "import sys, app.web.frame, app.web.workshop\n"
        "heavy = {'scipy', 'skimage', 'colour', 'typst', 'highspy', 'pandas', 'matplotlib'}\n"
        "print(sorted(heavy & {name.partition('.')[0] for name in sys.modules}))\n"
    )
    out = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert out.stdout.strip() == "[]", Path("app/web")


def test_projects_of_one_name_are_told_apart(workshop):
    numbers = [workshop.projects.create(name) for name in ("Throw", "Throw (2)", "Throw", "Throw")]
    assert [session.project_labels()[n] for n in numbers] == [
        "Throw", "Throw (2)", "Throw (3)", "Throw (4)",
    ]  # fmt: skip


def test_where_else_a_substitute_is_looked_for_is_still_chosen_on_the_next_visit(workshop):
    stacks_page(workshop)
    first = workshop.projects.list()[0].id
    other = workshop.projects.create("Kettlebarrow")
    workshop.bring_photo(other, "k.jpg", sample_paths()[1].read_bytes())
    page = AppTest.from_file(SCREENS / "swap.py", default_timeout=60)
    page.query_params["project"] = str(first)
    page.run()
    (box,) = page.multiselect
    assert box.value == []
    box.set_value([other]).run()
    # As if another page had been open meanwhile.
    kept = page.session_state["where-else"]
    back = AppTest.from_file(SCREENS / "swap.py", default_timeout=60)
    back.query_params["project"] = str(first)
    back.session_state["where-else"] = kept
    back.run()
    assert not back.exception
    assert back.multiselect[0].value == [other]
