"""The page of the stash without a browser."""

import io
from fractions import Fraction

import pytest
from PIL import Image

from app.web import notices
from tests.app.web.pages import button_of, own_workshop, run_page, said_on, troubles_on
from tests.stash.making import make_entry


@pytest.fixture
def workshop(tmp_path, monkeypatch):
    with own_workshop(tmp_path, monkeypatch) as made:
        yield made


def test_how_much_there_is_of_a_fabric_is_said_when_it_comes_and_corrected_later(workshop):
    picture = io.BytesIO()
    Image.new("RGB", (320, 240), (60, 90, 130)).save(picture, "PNG")
    page = run_page("stash")
    page.file_uploader[0].upload("denim.png", picture.getvalue(), "image/png").run()
    page.text_input[1].input("a lot").run()
    page.button[0].click().run()
    assert "'a lot' is no amount" in troubles_on(page)
    page.text_input[1].input("1 1/2 yards").run()
    page.button[0].click().run()
    assert not page.exception
    assert "1\u00bd yards" in said_on(page)

    (field,) = [f for f in page.text_input if f.label == "How much there is"]
    field.input("2 squares")
    button_of(page, "Keep").click().run()
    assert "denim is kept in yards" in troubles_on(page)
    (field,) = [f for f in page.text_input if f.label == "How much there is"]
    field.input("3 yards")
    button_of(page, "Keep").click().run()
    assert "3 yards" in said_on(page)
    with workshop.stash() as stash:
        assert stash.entry("denim").amount == 3


def test_what_is_taken_out_in_quick_succession_is_all_gone(workshop):
    """Clicks that come together are one run of the page: none may end it before the next."""
    page = run_page("stash")
    for name in ("denim", "linen", "twill"):
        picture = io.BytesIO()
        Image.new("RGB", (320, 240), (60 + 10 * len(name), 90, ord(name[0]))).save(picture, "PNG")
        page.file_uploader[0].upload(f"{name}.png", picture.getvalue(), "image/png").run()
        page.button[0].click().run()
    for button in [b for b in page.button if b.label == "Take it out of the stash"][:2]:
        button.click()
    page.run()
    assert not page.exception
    with workshop.stash() as stash:
        assert len(stash.entries()) == 1


def test_a_form_of_the_stash_is_kept_whole_or_not_at_all_and_undone_at_once(workshop):
    with workshop.stash() as stash:
        stash.add(make_entry("denim", place="shelf 1"))
    page = run_page("stash")

    def keep(**fields: str) -> None:
        for field in page.text_input:
            if field.label in fields:
                field.input(fields[field.label])
        button_of(page, "Keep").click().run()

    def shown() -> dict[str, str | None]:
        labels = ("Name", "Where kept", "Use from it")
        return {f.label: f.value for f in page.text_input if f.label in labels and f.form_id}

    keep(**{"Name": "indigo", "Where kept": "shelf 9", "Use from it": "20"})
    assert "only 1\u00bd yards left" in troubles_on(page)
    with workshop.stash() as stash:
        (entry,) = stash.entries()
    assert (entry.name, entry.place) == ("denim", "shelf 1")
    keep(**{"Name": "indigo", "Where kept": "shelf 9", "Use from it": "1"})
    with workshop.stash() as stash:
        (entry,) = stash.entries()
        assert (entry.name, entry.amount) == ("indigo", Fraction(1, 2))
    assert shown() == {"Name": "indigo", "Where kept": "shelf 9", "Use from it": ""}
    button_of(page, "Undo the newest change").click().run()
    assert shown() == {"Name": "denim", "Where kept": "shelf 1", "Use from it": ""}
    with workshop.stash() as stash:
        (entry,) = stash.entries()
    assert (entry.name, entry.amount) == ("denim", Fraction(3, 2))


def test_all_of_the_stash_is_put_together_only_when_it_is_asked_for(workshop, monkeypatch):
    with workshop.stash() as stash:
        stash.add(make_entry("denim"))

    def fail(_stash: object) -> None:
        raise AssertionError("nobody asked for it")

    monkeypatch.setattr("colorcore.stash.json_files.export_json", fail)
    page = run_page("stash")
    assert not page.exception
    assert "denim" in said_on(page)
    assert not troubles_on(page)


def test_no_option_of_the_terminal_is_named_on_the_page_of_the_stash(workshop):
    picture = io.BytesIO()
    Image.new("RGB", (320, 240), (60, 90, 130)).save(picture, "PNG")
    page = run_page("stash")
    page.file_uploader[0].upload("denim.png", picture.getvalue(), "image/png").run()
    page.button[0].click().run()
    # The frame around all pages tells what came of a step; this page runs without it.
    told = "\n".join(page.session_state[notices._NOTES])
    assert told.startswith("Added: denim.")
    assert "a quarter of a yard was assumed" in told
    assert "--" not in told
