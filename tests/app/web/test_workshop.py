"""Projects with what is made from them: the whole way, without a browser."""

import threading
from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np
import pytest

from app.web.boarding import after_report
from app.web.following import as_counted, corrected, without
from app.web.memory import Memory
from app.web.workshop import chosen_pattern
from colorcore.errors import PatternError, PhotoError, ProjectError
from colorcore.project import Choices
from sample_images import sample_paths


@pytest.fixture(scope="module")
def project(workshop):
    number = workshop.projects.create("throw")
    path = sample_paths()[0]
    workshop.bring_photo(number, f"../../{path.name}", path.read_bytes())
    return number


def test_names_are_never_paths(workshop, project):
    (photo,) = workshop.projects.load(project).photos
    assert photo.name == sample_paths()[0].name


def test_the_same_photo_is_brought_once(workshop, project):
    workshop.bring_photo(project, "again.jpg", sample_paths()[0].read_bytes())
    assert len(workshop.projects.load(project).photos) == 1


def test_what_is_no_picture_is_refused_by_its_content(workshop, project):
    with pytest.raises(PhotoError, match=r"trip\.jpg"):
        workshop.bring_photo(project, "trip.jpg", b"MZ this is a program")
    assert len(workshop.projects.load(project).photos) == 1


def test_from_photo_to_plan(workshop, project):
    choices = workshop.projects.load(project)
    bundle = workshop.bundle(choices)
    assert len(bundle.squares) == 42
    assert not workshop.is_dealt(choices)
    choices, plan = workshop.deal(choices)
    assert workshop.is_dealt(choices)
    assert sum(len(stack.placements) for stack in plan.stacks) == 42
    assert workshop.plan(choices).stacks == plan.stacks
    preview, width, height = workshop.preview(choices.photos[0].sha256)
    assert preview[:2] == b"\xff\xd8"
    assert width > height > 1000
    assert workshop.thumbnail(bundle.squares[0], 96, value=True)[:2] == b"\xff\xd8"


def test_a_plan_tells_whether_it_was_dealt_or_laid_by_hand(workshop, project):
    choices, dealt = workshop.deal(workshop.projects.load(project))
    assert dealt.proof.startswith("Optimal")
    assert workshop.plan(choices).proof == dealt.proof
    star = dealt.stacks[0].placements[0].square
    report = {"what": "move", "id": star, "to": dealt.stacks[1].name}
    moved, _ = after_report(choices, report)
    assert workshop.plan(moved).proof.startswith("Laid by hand")
    # The same squares in the same places: what is known of them is another matter.
    again, anew = workshop.deal(moved)
    assert workshop.plan(again).proof == anew.proof
    assert anew.proof != workshop.plan(moved).proof


def test_dealing_again_keeps_locks(workshop, project):
    choices, plan = workshop.deal(workshop.projects.load(project))
    lightest = plan.stacks[1].placements[-1].square
    locked = choices.with_lock(lightest, "Stars")
    again, new = workshop.deal(locked)
    assert dict(again.places)[lightest] == "Stars"
    moved = [s for s, stack in choices.places if dict(again.places)[s] != stack]
    assert len(moved) <= 4
    assert {p.square for p in new.stacks[0].placements} >= {lightest}


def test_what_was_said_stays_with_its_square_when_another_photo_comes(workshop):
    project = workshop.projects.create("two photos")
    first, second = (sample_paths()[n] for n in (0, 3))
    workshop.bring_photo(project, first.name, first.read_bytes())
    choices, plan = workshop.deal(workshop.projects.load(project))
    star = plan.stacks[0].placements[0].square
    kept = workshop.stand_in(workshop.bundle(choices).squares[0])
    said = replace(choices.with_lock(star, "Stars"), swaps=(("B3", kept, "Plum"),))
    workshop.projects.save(project, said, "said")
    workshop.bring_photo(project, second.name, second.read_bytes())
    more = workshop.projects.load(project)
    assert dict(more.locks) == {f"1-{star}": "Stars"}
    assert [swap[0] for swap in more.swaps] == ["1-B3"]
    dealt, _ = workshop.deal(more)
    assert dict(dealt.places)[f"1-{star}"] == "Stars"
    now = {s.id: s for s in workshop.bundle(more).squares}
    assert now["1-B3"].lab == workshop.bundle(choices).squares[0].lab


def test_what_was_said_follows_a_square_that_a_better_photo_shows_again(workshop, without_paper):
    project = workshop.projects.create("seen twice")
    better = sample_paths()[0]
    workshop.bring_photo(project, "bare.jpg", without_paper)
    choices, plan = workshop.deal(workshop.projects.load(project))
    star = plan.stacks[0].placements[0].square
    fill = plan.stacks[1].placements[0].square
    kept = workshop.stand_in(workshop.bundle(choices).squares[0])
    said = replace(choices.with_lock(star, "Stars"), swaps=((fill, kept, "Plum"),), tries=("A1",))
    workshop.projects.save(project, said, "said")
    workshop.bring_photo(project, better.name, better.read_bytes())
    more = workshop.projects.load(project)
    assert dict(more.locks) == {f"1-{star}": "Stars"}
    now = as_counted(workshop, more)
    there = workshop.bundle(more).counted
    assert there[f"1-{star}"].startswith("2-"), "counted in the photo with paper"
    assert dict(now.locks) == {there[f"1-{star}"]: "Stars"}
    assert [swap[0] for swap in now.swaps] == [there[f"1-{fill}"]]
    assert now.tries == (there["1-A1"],) == ("2-A1",)
    dealt, _ = workshop.deal(more)
    assert dict(dealt.places)[there[f"1-{star}"]] == "Stars"
    assert as_counted(workshop, dealt) == dealt

    # Without the better photo they mean the same squares as in the beginning.
    back = without(workshop, dealt, dealt.photos[1])
    assert (back.locks, back.swaps, back.tries) == (said.locks, said.swaps, ("A1",))

    # Taken out of the better photo by hand, a square is counted in the other one again.
    photo = dealt.photos[1]
    opened = workshop.photo(photo.sha256)
    (corners,) = (s.corners for s in workshop.bundle(dealt).squares if s.id == there[f"1-{star}"])
    middle = np.mean(corners, axis=0) / (opened.width, opened.height)
    away = replace(photo, ignore=(tuple(middle.tolist()),))
    assert dict(corrected(workshop, dealt, away).locks) == {f"1-{star}": "Stars"}


def test_what_was_said_follows_its_square_when_rows_are_counted_anew(workshop, project):
    """A row taken out above it: what was B3 is A3, and of a square that is gone nothing stays."""
    choices = workshop.projects.load(project)
    photo = choices.photos[0]
    finding = workshop.finding(photo, choices.square_inches)
    opened = workshop.photo(photo.sha256, photo.name)
    size = np.array([opened.width, opened.height])
    above = [tuple(s.corners.mean(axis=0) / size) for s in finding.squares if s.row == 0]
    assert len(above) == 7
    said = choices.with_lock("B3", "Stars").with_lock("A2", "out")
    new = corrected(workshop, said, replace(photo, ignore=tuple(above)))
    assert new.locks == (("A3", "Stars"),)
    back = corrected(workshop, new, photo)
    assert back.locks == (("B3", "Stars"),)


def test_nothing_to_do_without_photos(workshop):
    with pytest.raises(ProjectError, match="no photo"):
        workshop.bundle(Choices())


def test_patterns():
    assert chosen_pattern(Choices()).name
    with pytest.raises(PatternError, match="your pattern"):
        chosen_pattern(Choices(pattern="name = 3\n"))


def test_memory_makes_each_thing_once():
    memory, made, gate = Memory(2), [], threading.Barrier(4)

    def make() -> int:
        made.append(1)
        return 7

    def ask() -> None:
        gate.wait()
        assert memory.get("a", make) == 7

    threads = [threading.Thread(target=ask) for _ in range(4)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert len(made) == 1
    memory.get("b", make)
    memory.get("c", make)
    memory.get("a", make)
    assert len(made) == 4


@dataclass(frozen=True)
class _Sheet:
    words: str
    pictures: tuple[np.ndarray, ...]


def test_memory_lets_go_of_the_oldest_when_its_room_is_full():
    memory = Memory(100, most_bytes=2_500_000)
    for number in range(50):
        memory.get(number, lambda: _Sheet("", (np.zeros((1000, 1000), np.uint8),)))
    assert [number for number in range(50) if number in memory] == [48, 49]
    assert memory.kept_bytes == 2_000_000
    memory.get(48, lambda: pytest.fail("it is kept"))
    memory.get("file", lambda: {"plan.pdf": bytes(600_000)})
    assert 48 in memory, "asked for last"
    assert 49 not in memory


def test_memory_counts_once_what_results_share():
    memory = Memory(100, most_bytes=2_500_000)
    whole = np.zeros((1000, 1000), np.uint8)
    for number in range(10):
        memory.get(number, lambda: _Sheet("", (whole[:500], whole[500:], whole)))
    assert len(memory) == 10
    assert memory.kept_bytes == whole.nbytes
    memory.get("other", lambda: np.zeros(2_000_000, np.uint8))
    assert memory.kept_bytes == 2_000_000, "it goes with the last of them"
    assert len(memory) == 1


def test_memory_keeps_the_newest_however_large():
    memory = Memory(100, most_bytes=10)
    assert len(memory.get("large", lambda: bytes(5000))) == 5000
    assert "large" in memory


def test_pages_hold_no_computing():
    """Neither arrays nor colour formulas in what shows: that is for the library."""
    root = Path(__file__).parents[3]
    pages, library = (sorted((root / part).rglob("*.py")) for part in ("app/web", "colorcore"))
    assert pages
    assert library
    for path in pages:
        text = path.read_text(encoding="utf-8")
        if "import streamlit" in text:
            assert "import numpy" not in text, path
            assert "import cv2" not in text, path
    for path in library:
        assert "streamlit" not in path.read_text(encoding="utf-8"), path
