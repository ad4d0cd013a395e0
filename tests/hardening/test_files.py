"""Files of stash and projects of which bytes were lost or changed, and what a browser reports that
is none of ours: what they hold, or one sentence."""

import json
import random
import time
from collections.abc import Callable
from pathlib import Path
from typing import Any

from app.web import boarding, outlining
from colorcore.project import Choices, ProjectPhoto, Projects
from colorcore.project.model import choices_from_json
from colorcore.stash import Stash
from colorcore.stash.json_files import export_json
from tests.hardening import amount
from tests.hardening.documents import altered, broken, broken_bytes
from tests.hardening.test_documents import sentence_of
from tests.stash.making import make_entry, make_swatch

CASES, REPORTS = 150 * amount.TIMES, 1500 * amount.TIMES
MOST_SECONDS = 10.0


def _broken_file(whole: bytes, rng: random.Random) -> bytes:
    if rng.random() < 0.3:
        return broken_bytes(whole, rng)
    data = bytearray(whole)
    for _ in range(rng.choice([1, 3, 30])):
        # Heads of file and pages hold what is trusted.
        page = 4096 * rng.randrange(max(len(data) // 4096, 1))
        reach = rng.choice([100, 100, 4096])
        data[min(page + rng.randrange(reach), len(data) - 1)] = rng.randrange(256)
    return bytes(data)


def _try_files(whole: bytes, path: Path, read: Callable[[], object], seed: int) -> None:
    rng, good = random.Random(seed + amount.FIRST), 0
    for number in range(CASES):
        for beside in path.parent.iterdir():
            beside.unlink()
        path.write_bytes(_broken_file(whole, rng))
        began = time.process_time()
        what = f"case {number} of seed {seed + amount.FIRST}"
        try:
            sentence = sentence_of(read)
        except Exception as fault:
            raise AssertionError(what) from fault
        assert sentence is None or sentence.strip(), what
        assert time.process_time() - began < MOST_SECONDS, what
        good += sentence is None
    assert 0 < good < CASES


def test_stash_files(tmp_path):
    path = tmp_path / "stash.sqlite"
    with Stash(path) as stash:
        for number in range(4):
            stash.add(make_entry(f"Fir {number}", swatch=make_swatch((30.0, -12.0, 8.0))))
        stash.remove_all(["Fir 1"])
    whole = path.read_bytes()

    def read() -> None:
        with Stash(path) as stash:
            b"".join(export_json(stash))
            stash.add(make_entry("Rust"))
            stash.undo()
            assert all(entry.name for entry in stash.entries())

    _try_files(whole, path, read, 11)


def test_project_files(tmp_path):
    path = tmp_path / "projects.sqlite"
    with Projects(path) as projects:
        number = projects.create("throw")
        projects.put_picture("0" * 64, bytes(5000))
        for step in range(4):
            choices = projects.load(number).with_option("step", str(step))
            projects.save(number, choices, f"step {step}")
    whole = path.read_bytes()

    def read() -> None:
        with Projects(path) as projects:
            for info in projects.list():
                projects.load(info.id)
                projects.steps(info.id)
                projects.undo(info.id)
                projects.redo(info.id)
                projects.save(info.id, Choices(), "a step")
            projects.picture("0" * 64)

    _try_files(whole, path, read, 12)


PLACES = (("A1", "Stars"), ("A2", "Stars"), ("B1", ""), ("B2", "out"))
BOARD_REPORTS = (
    {"what": "move", "id": "A1", "to": "Chain"}, {"what": "lock", "id": "A2", "locked": True},
    {"what": "lock", "id": "B1", "locked": True}, {"what": "move", "id": "B2", "to": ""},
)  # fmt: skip
CORNERS = [[0.1, 0.1], [0.3, 0.1], [0.3, 0.4], [0.1, 0.4]]
PHOTO_REPORTS = (
    {"what": "white", "point": [0.5, 0.5]}, {"what": "ignore", "point": [0.0, 1.0]},
    {"what": "added", "corners": CORNERS}, {"what": "removed", "id": "A1", "corners": CORNERS},
    {"what": "moved", "id": "A1", "corners": CORNERS},
    {"what": "moved", "id": "outer", "corners": CORNERS},
    {"what": "moved", "id": "background", "corners": CORNERS},
)  # fmt: skip


def _reports(known: tuple[Any, ...], seed: int) -> list[Any]:
    rng = random.Random(seed + amount.FIRST)
    change = (altered, broken)
    return [rng.choice(change)(rng.choice(known), rng) for _ in range(REPORTS)]


def test_reports_of_the_board():
    choices = Choices(places=PLACES)
    for report in _reports(BOARD_REPORTS, 13):
        after: list[tuple[Choices, str]] = []
        sentence_of(lambda report=report, after=after: after.append(
            boarding.after_report(choices, report)
        ))  # fmt: skip
        for changed, words in after:
            assert words.strip(), report
            assert choices_from_json(changed.to_json()) == changed, report
            assert {square for square, _ in changed.places} == {square for square, _ in PLACES}


def test_reports_of_the_photo():
    corners = tuple((x, y) for x, y in CORNERS)
    shown = (outlining.Outline("A1", "A1", corners, "A1, sure", doubtful=False),)
    photo = ProjectPhoto("0" * 64, "a.jpg", add=(corners,))
    for report in _reports(PHOTO_REPORTS, 14):
        after: list[ProjectPhoto] = []
        sentence_of(lambda report=report, after=after: after.append(
            outlining.after_report(photo, shown, report)
        ))  # fmt: skip
        for changed in after:
            assert outlining.say_step(report).strip(), report
            kept = Choices(photos=(changed,))
            assert choices_from_json(json.loads(json.dumps(kept.to_json()))) == kept, report
            changed.hints(4000, 3000)
