"""Projects are kept step by step, and every step can be undone."""

from dataclasses import replace
from datetime import UTC, datetime, timedelta

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from colorcore.errors import ProjectError
from colorcore.project import Choices, ProjectPhoto, Projects
from colorcore.project import store as store_module
from colorcore.project.model import choices_from_json

FULL = Choices(
    photos=(
        ProjectPhoto(
            "ab" * 32, "kitchen table.heic", grid=(6, 7), corners=((0, 0), (1, 0), (1, 1), (0, 1)),
            ignore=((0.5, 0.25),), add=(((0.1, 0.1), (0.2, 0.1), (0.2, 0.2), (0.1, 0.2)),),
            white=(0.9, 0.1),
        ),
    ),
    pattern="stars", background="#f4efe6", locks=(("B3", "fill"), ("D5", "out")),
    places=(("B3", "fill"), ("B4", "")), dealt_for="x", more=(("page", "stacks"),),
)  # fmt: skip


@pytest.fixture
def projects(tmp_path):
    ticks = iter(datetime(2026, 1, 1, tzinfo=UTC) + timedelta(seconds=i) for i in range(10**6))
    with Projects(tmp_path / "projects.sqlite", now=lambda: next(ticks)) as opened:
        yield opened


def test_choices_survive_a_restart(projects):
    number = projects.create("  Autumn   throw ")
    projects.save(number, FULL, "brought photos")
    with Projects(projects.path) as later:
        assert later.load(number) == FULL
        assert later.name(number) == "Autumn throw"
        assert [(p.id, p.photos) for p in later.list()] == [(number, 1)]


def test_undo_and_redo(projects):
    number = projects.create("throw")
    first = replace(FULL, locks=())
    projects.save(number, first, "brought photos")
    projects.save(number, FULL, "locked B3")
    projects.save(number, FULL, "nothing new")
    assert projects.steps(number) == ("locked B3", None)
    assert projects.undo(number) == "locked B3"
    assert projects.load(number) == first
    assert projects.redo(number) == "locked B3"
    assert projects.load(number) == FULL
    assert [projects.undo(number) for _ in range(3)] == ["locked B3", "brought photos", None]
    assert projects.load(number) == Choices()
    other = replace(FULL, background="#000")
    projects.save(number, other, "another way")
    assert projects.steps(number) == ("another way", None)
    assert projects.redo(number) is None


def test_old_versions_are_let_go(projects, monkeypatch):
    monkeypatch.setattr(store_module, "MOST_VERSIONS", 5)
    number = projects.create("throw")
    for i in range(20):
        projects.save(number, replace(FULL, background=f"#0000{i:02}"), f"step {i}")
    undone = 0
    while projects.undo(number):
        undone += 1
    assert undone == 4
    assert projects.load(number).background == "#000015"


def test_several_projects(projects):
    one, two = projects.create("one"), projects.create("two")
    projects.save(one, FULL, "x")
    assert projects.load(two) == Choices()
    assert [p.name for p in projects.list()] == ["one", "two"]
    projects.remove(one)
    assert [p.name for p in projects.list()] == ["two"]
    projects.restore(one)
    projects.rename(one, "first")
    assert projects.name(one) == "first"


def test_photos_are_kept_once(projects):
    projects.put_picture("a" * 64, b"jpeg")
    projects.put_picture("a" * 64, b"jpeg")
    assert projects.picture("a" * 64) == b"jpeg"
    with pytest.raises(ProjectError, match="missing"):
        projects.picture("b" * 64)


@pytest.mark.parametrize("name", ["", "  \n ", "x" * 201])
def test_names_that_cannot_be(projects, name):
    with pytest.raises(ProjectError):
        projects.create(name)


def test_no_such_project(projects):
    with pytest.raises(ProjectError, match="no project 7"):
        projects.load(7)


def test_a_project_whose_step_is_gone_is_said(projects):
    number = projects.create("throw")
    projects._file.db.execute("DELETE FROM version")
    with pytest.raises(ProjectError, match="damaged; bring back a backup"):
        projects.load(number)


@pytest.mark.parametrize(
    "text", ["", "[]", "{}", FULL.to_json().replace("10.0", "-1"),
             FULL.to_json().replace("0.25", "NaN"), "[" * 100000],
)  # fmt: skip
def test_damaged_choices_are_said(text):
    with pytest.raises(ProjectError, match="damaged"):
        choices_from_json(text)


@given(
    st.lists(st.tuples(st.text(), st.text()), max_size=4),
    st.text(),
    st.floats(0.1, 999),
    st.lists(st.tuples(st.floats(0, 1), st.floats(0, 1)), max_size=3),
)
def test_choices_round_trip(locks, background, inches, points):
    photo = ProjectPhoto("0" * 64, background, ignore=tuple(points))
    choices = Choices(
        photos=(photo,), locks=tuple(locks), background=background, square_inches=inches
    )
    assert choices_from_json(choices.to_json()) == choices


def test_hints_are_in_pixels():
    hints = FULL.photos[0].hints(4000, 3000)
    assert hints.grid == (6, 7)
    assert hints.ignore == ((2000.0, 750.0),)
    assert np.array_equal(hints.corners, [[0, 0], [4000, 0], [4000, 3000], [0, 3000]])
    assert hints.add[0][2].tolist() == [800.0, 600.0]


def test_what_was_removed_is_listed_and_comes_back(tmp_path):
    with Projects(tmp_path / "p.sqlite") as projects:
        number = projects.create("Guest room")
        projects.remove(number)
        assert projects.list() == []
        assert [info.name for info in projects.removed()] == ["Guest room"]
        projects.restore(number)
        assert projects.removed() == []
        assert [info.id for info in projects.list()] == [number]


def test_every_step_changes_the_mark(tmp_path):
    """Also when the clock stands still."""
    noon = datetime(2026, 1, 1, 12, tzinfo=UTC)
    with Projects(tmp_path / "p.sqlite", now=lambda: noon) as projects:
        number = projects.create("Guest room")
        marks = [projects.mark(number)]
        projects.save(number, Choices(background="white"), "white")
        marks.append(projects.mark(number))
        projects.undo(number)
        marks.append(projects.mark(number))
        assert len(set(marks)) == 3


def test_swaps_are_kept(tmp_path):
    swapped = Choices(swaps=(("B3", "0" * 64, "Quarry blue (stash)"),))
    with Projects(tmp_path / "p.sqlite") as projects:
        number = projects.create("Guest room")
        projects.save(number, swapped, "took Quarry blue for B3")
        assert projects.load(number) == swapped


def test_what_follows_by_itself_is_part_of_the_step_it_follows_from(projects):
    number = projects.create("Autumn throw")
    brought = Choices(pattern="gatepost-stars")
    projects.save(number, brought, "chose a pattern")
    projects.save(number, replace(brought, size="queen"), "chose a size")
    projects.undo(number)
    before = projects.mark(number)
    dealt = replace(brought, places=(("A1", "Stars"),))
    assert projects.complete(number, brought, dealt)
    assert projects.load(number) == dealt
    assert projects.mark(number) != before, "pages show it"
    assert projects.steps(number) == ("chose a pattern", "chose a size")
    assert not projects.complete(number, brought, brought), "the project has moved on since"
    assert projects.load(number) == dealt
    projects.undo(number)
    assert projects.load(number) == Choices()
    projects.redo(number)
    assert projects.load(number) == dealt
