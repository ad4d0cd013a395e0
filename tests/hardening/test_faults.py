"""A disk that is full and a clock that jumps: said in one sentence, and nothing is lost."""

import os
import random
import resource
import subprocess
import sys
from concurrent.futures import ThreadPoolExecutor
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest

from colorcore.errors import ProjectError
from colorcore.project import Choices, Projects
from colorcore.stash import Stash, default_path
from tests.stash.making import make_entry

HOME = Path(__file__).parents[2]


def _demo_without_room(room: int, out: Path) -> subprocess.CompletedProcess[str]:
    """Run the demo where the kernel lets no file grow beyond so many bytes, as a full disk does."""
    return subprocess.run(
        [sys.executable, "-m", "app", "demo", "--out", str(out)],
        cwd=HOME, capture_output=True, text=True, timeout=120, check=False,
        # Else Python keeps what it compiles, cut short, for every run that follows.
        env={**os.environ, "PYTHONDONTWRITEBYTECODE": "1"},
        preexec_fn=lambda: resource.setrlimit(resource.RLIMIT_FSIZE, (room, room)),
    )  # fmt: skip


@pytest.mark.parametrize("room", [100, 40_000, 600_000])
def test_a_full_disk_leaves_the_folder_as_it_was(tmp_path, room):
    out = tmp_path / "out"
    out.mkdir()
    (out / "plan.json").write_text("an older plan")
    came = _demo_without_room(room, out)
    assert came.returncode == 2, came.stderr
    assert came.stderr.startswith(f"bundlestacks: {out}: ")
    assert "the disk is full; make room" in came.stderr
    assert came.stderr.count("\n") == 1
    assert [p.name for p in out.iterdir()] == ["plan.json"]
    assert (out / "plan.json").read_text() == "an older plan"


def test_a_full_disk_on_which_the_stash_cannot_even_be_looked_at_is_said(tmp_path, monkeypatch):
    monkeypatch.setenv("XDG_DATA_HOME", str(tmp_path))
    with Stash(default_path()) as stash:
        stash.add(make_entry("indigo"))
    came = _demo_without_room(100, tmp_path / "out")
    assert came.returncode == 2, came.stderr
    assert came.stderr.startswith(f"bundlestacks: {default_path()}: the disk")
    assert "make room if it is full" in came.stderr
    assert came.stderr.count("\n") == 1
    with Stash(default_path()) as stash:
        assert len(stash.entries()) == 1


def test_a_full_disk_loses_no_step_of_a_project(tmp_path):
    path = tmp_path / "projects.sqlite"
    rng = random.Random(3)
    with Projects(path) as projects:
        number = projects.create("throw")
        db = projects._file.db
        (pages,) = db.execute("PRAGMA page_count").fetchone()
        db.execute(f"PRAGMA max_page_count = {pages + 12}")
        kept = 0

        def fill():
            nonlocal kept
            for step in range(1, 1000):
                choices = projects.load(number).with_option(
                    f"step {step}", rng.randbytes(900).hex()
                )
                projects.save(number, choices, f"step {step}")
                kept = step

        with pytest.raises(ProjectError, match="the disk is full; make room"):
            fill()
        assert kept > 1
        with pytest.raises(ProjectError, match="the disk is full"):
            projects.put_picture("0" * 64, bytes(100_000))
    with Projects(path) as projects:
        assert projects.steps(number) == (f"step {kept}", None)
        assert len(projects.load(number).option(f"step {kept}", "")) == 1800
        projects.put_picture("0" * 64, bytes(100_000))
        assert projects.picture("0" * 64) == bytes(100_000)


def _jumping(rng: random.Random):
    """A clock that goes anywhere between the years 1 and 9998."""
    return lambda: datetime(1, 1, 2, tzinfo=UTC) + timedelta(days=rng.randrange(3_650_000))


def test_a_jumping_clock_confuses_no_project(tmp_path):
    rng = random.Random(4)
    done = [Choices()]
    at = 0
    marks = set()
    with Projects(tmp_path / "p.sqlite", now=_jumping(rng)) as projects:
        number = projects.create("throw")
        for turn in range(150):
            deed = rng.choice(["save", "save", "undo", "redo"])
            if deed == "save":
                choices = done[at].with_option("turn", str(turn))
                projects.save(number, choices, f"turn {turn}")
                done[at + 1 :] = [choices]
                at += 1
            elif deed == "undo":
                at -= projects.undo(number) is not None
            else:
                at += projects.redo(number) is not None
            assert projects.load(number) == done[at]
            marks.add(projects.mark(number))
        assert 0 <= at < len(done)
        assert len(marks) > 75
        other = projects.create("wall")
        projects.remove(other)
        assert [info.id for info in projects.list()] == [number]
        assert [info.id for info in projects.removed()] == [other]


def test_a_jumping_clock_confuses_no_stash(tmp_path):
    with Stash(tmp_path / "s.sqlite", now=_jumping(random.Random(5))) as stash:
        for n in range(20):
            stash.add(make_entry(f"cloth {n}"))
        stash.remove_all(["cloth 3", "cloth 4"])
        assert len(stash.entries()) == 18
        stash.undo()
        assert len(stash.entries()) == 20
        stash.undo()
        assert {e.name for e in stash.entries()} == {f"cloth {n}" for n in range(19)}


def test_threads_that_share_a_file_do_not_meet_within_a_step(tmp_path):
    """As the sessions of the pages do."""

    def work(name: str) -> list[str]:
        number = projects.create(name)
        for step in range(25):
            projects.put_picture(f"{name} {step}", name.encode() * 50)
            projects.save(number, projects.load(number).with_option("step", str(step)), f"{step}")
            if step % 5 == 4:
                assert projects.undo(number) == str(step)
        assert projects.load(number).option("step", "") == "23"
        return [projects.picture(f"{name} {step}").decode() for step in range(25)]

    with Projects(tmp_path / "p.sqlite") as projects, ThreadPoolExecutor(8) as pool:
        names = [f"maker {n}" for n in range(8)]
        for name, read in zip(names, pool.map(work, names), strict=True):
            assert read == [name * 50] * 25
