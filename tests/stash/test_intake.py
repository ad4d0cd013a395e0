"""A folder of photos into the stash: bad ones, known ones, stops, and every kind of executor."""

from concurrent.futures import Executor, Future, ProcessPoolExecutor, ThreadPoolExecutor
from fractions import Fraction

import cv2
import pytest

from colorcore.errors import Lack, StashError
from colorcore.stash import Kind, Stash
from colorcore.stash.intake import IntakeSettings, add_photos
from colorcore.stash.measuring import Subject
from tests.scenes import make_scene, save_scene
from tests.stash.pictures import Table

COLORS = [(28.0, 8.0, -30.0), (40.0, 50.0, 25.0), (70.0, 0.0, 30.0), (55.0, -30.0, 10.0)]


@pytest.fixture(scope="session")
def shelf(tmp_path_factory):
    """Four photos of a folded piece each, one broken file, one copy under another name."""
    folder = tmp_path_factory.mktemp("shelf")
    for n, color in enumerate(COLORS):
        table = Table(width=300, height=230, seed=n).lay((40, 40, 170, 170), color)
        table.paper(200, 60, 8)
        cv2.imwrite(str(folder / f"piece {n}.png"), table.photograph()[..., ::-1])
    (folder / "broken.jpg").write_bytes(b"\xff\xd8\xff" + b"no picture" * 20)
    (folder / "twin.png").write_bytes((folder / "piece 0.png").read_bytes())
    return folder


@pytest.fixture
def stash(tmp_path):
    with Stash(tmp_path / "stash.sqlite") as opened:
        yield opened


def photos(shelf):
    return sorted(shelf.glob("piece *.png"))


def test_a_folder_with_a_bad_photo_and_a_twin(stash, shelf):
    said = []
    paths = [*photos(shelf), shelf / "broken.jpg", shelf / "twin.png", shelf / "gone.jpg"]
    settings = IntakeSettings(amount=Fraction(3, 2), unit="yards", place="shelf 4")
    intake = add_photos(
        stash, paths, settings=settings, progress=lambda done, total, words: said.append(done)
    )
    assert intake.added == ("piece 0", "piece 1", "piece 2", "piece 3")
    assert [path.rpartition("/")[2] for path, _ in intake.skipped] == ["broken.jpg", "gone.jpg"]
    assert all(words for _, words in intake.skipped)
    assert len(intake.known) == 1
    entry = stash.entry("piece 1")
    assert (entry.amount, entry.unit, entry.place) == (Fraction(3, 2), "yards", "shelf 4")
    assert (entry.kind, entry.reference) == (Kind.SOLID, "paper")
    assert entry.lab == pytest.approx(COLORS[1], abs=2.5)
    assert intake.notes == ()
    assert said[-1] <= len(paths)


def test_again_adds_nothing(stash, shelf):
    add_photos(stash, photos(shelf)[:2])
    again = add_photos(stash, photos(shelf)[:3])
    assert again.added == ("piece 2",)
    assert len(again.known) == 2
    assert len(stash.entries()) == 3


class StopsAfter(Executor):
    """Runs so many jobs and then is interrupted, as by Ctrl-C."""

    def __init__(self, jobs):
        self.left = jobs

    def submit(self, fn, /, *args, **kwargs):
        if not self.left:
            raise KeyboardInterrupt
        self.left -= 1
        future = Future()
        future.set_result(fn(*args, **kwargs))
        return future


def test_goes_on_after_a_stop_without_duplicates(stash, shelf):
    with pytest.raises(KeyboardInterrupt):
        add_photos(stash, photos(shelf), executor=StopsAfter(2), at_once=1)
    assert len(stash.entries()) == 2
    assert len(add_photos(stash, photos(shelf)).added) == 2
    assert len(stash.entries()) == 4
    assert len({entry.source for entry in stash.entries()}) == 4


def test_threads_and_processes_keep_the_same(tmp_path, shelf):
    kept = []
    for number, pool in enumerate((ThreadPoolExecutor(2), ProcessPoolExecutor(2), None)):
        with Stash(tmp_path / f"{number}.sqlite") as stash:
            if pool is None:
                add_photos(stash, photos(shelf)[:3])
            else:
                with pool:
                    add_photos(stash, photos(shelf)[:3], executor=pool, at_once=3)
            kept.append(sorted((e.name, e.lab, e.source) for e in stash.entries()))
    assert kept[0] == kept[1] == kept[2]
    assert len(kept[0]) == 3


def dies(job):
    import os

    os._exit(1)


def test_a_worker_that_dies_is_said(stash, shelf, monkeypatch):
    monkeypatch.setattr("colorcore.stash.intake._measure", dies)
    with (
        ProcessPoolExecutor(1) as pool,
        pytest.raises(StashError, match="run the same command again"),
    ):
        add_photos(stash, photos(shelf), executor=pool)


@pytest.mark.parametrize(
    ("subject", "amount", "unit"),
    [(Subject.FAT_QUARTER, Fraction(1), "fat quarters"), (Subject.SPOOL, Fraction(1), "spools"),
     (Subject.PIECE, Fraction(1, 4), "yards")],
)  # fmt: skip
def test_amounts_that_are_usual(stash, shelf, subject, amount, unit):
    intake = add_photos(
        stash, photos(shelf)[:1], settings=IntakeSettings(subject=subject, name="Fir")
    )
    entry = stash.entry("Fir")
    assert (entry.amount, entry.unit) == (amount, unit)
    assert (entry.kind is Kind.THREAD) == (subject is Subject.SPOOL)
    assert any("quarter of a yard" in note.words for note in intake.notes) == (unit == "yards")


def test_colours_that_are_guesses_are_said(stash, tmp_path):
    table = Table(width=420, height=320).lay((100, 60, 280, 240), COLORS[1])
    cv2.imwrite(str(tmp_path / "no paper.png"), table.photograph()[..., ::-1])
    intake = add_photos(stash, [tmp_path / "no paper.png"])
    (told,) = [note.words for note in intake.notes if "without a reference" in note.words]
    assert told.startswith("no paper was measured without a reference, so its colour is a guess")
    paths = [tmp_path / f"cloth {n}.png" for n in range(9)]
    for n, path in enumerate(paths):
        table = Table(width=420, height=320).lay((101 + n, 60, 280, 240), COLORS[1])
        cv2.imwrite(str(path), table.photograph()[..., ::-1])
    notes = add_photos(stash, paths[:2]).notes
    assert any(n.words.startswith("cloth 0 and cloth 1 were measured") for n in notes)
    # More names than can be read are counted.
    notes = add_photos(stash, paths[2:]).notes
    assert any(n.words.startswith("7 of 7 were measured") for n in notes)


def test_wrong_settings():
    with pytest.raises(StashError, match="square"):
        IntakeSettings(square_inches=0)
    with pytest.raises(StashError, match="piece"):
        IntakeSettings(piece_inches=float("nan"))


def test_what_looks_like_squares_says_so(stash, tmp_path):
    path = tmp_path / "shelf.jpg"
    save_scene(make_scene("touching", 2, megapixels=1.5, rows=3, columns=3), path)
    came = add_photos(stash, [path])
    assert came.added == ("shelf",)
    (note,) = [note for note in came.notes if "looks like" in note.words]
    assert note.words.startswith("shelf was kept as one piece, but looks like 9 squares")
    assert note.words.endswith("add the photo again as squares.")
    assert note.lack == Lack.SUBJECT
