"""What was confirmed is kept: through kills, full disks, other writers, and readers meanwhile."""

import os
import signal
import sqlite3
import subprocess
import sys
from contextlib import contextmanager
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from colorcore.errors import BundleError, Lack, StashError
from colorcore.stash import Stash
from tests.stash.making import make_entry

HOME = Path(__file__).parents[2]


@contextmanager
def writing(path, prefix, count):
    """A program that writes, stopped for good afterwards."""
    writer = subprocess.Popen(
        [sys.executable, "-m", "tests.stash.writer", str(path), prefix, str(count)],
        cwd=HOME, stdout=subprocess.PIPE, text=True,
    )  # fmt: skip
    with writer:
        try:
            yield writer
        finally:
            writer.kill()


def said_until(writer, count):
    """Read what a writer confirms until so many are."""
    confirmed = []
    for line in writer.stdout:
        confirmed.append(int(line))
        if len(confirmed) == count:
            break
    return confirmed


def is_sound(path):
    db = sqlite3.connect(path)
    try:
        return db.execute("PRAGMA integrity_check").fetchone()[0] == "ok"
    finally:
        db.close()


@pytest.mark.parametrize("after", [1, 37, 120])
def test_killed_amid_200_writes_every_confirmed_entry_is_there(tmp_path, after):
    path = tmp_path / "stash.sqlite"
    with writing(path, "cloth", 200) as writer:
        confirmed = said_until(writer, after)
        # Uncertain how far it gets before the signal: that is the point.
        writer.send_signal(signal.SIGKILL)
        confirmed += [int(line) for line in writer.stdout]
    assert len(confirmed) < 200, "the writer was done before it could be killed"
    with Stash(path) as stash:
        there = {entry.name for entry in stash.entries()}
        assert {f"cloth {n}" for n in confirmed} <= there
        assert len(there) <= len(confirmed) + 1
        assert all(stash.swatch(name).lab == (50.0, 20.0, 10.0) for name in there)
        stash.add(make_entry("afterwards"))
    assert is_sound(path)


def test_two_programs_write_at_once(tmp_path):
    path = tmp_path / "stash.sqlite"
    with writing(path, "left", 40) as left, writing(path, "right", 40) as right:
        for writer in (left, right):
            writer.communicate(timeout=120)
            assert writer.returncode == 0
    with Stash(path) as stash:
        names = [entry.name for entry in stash.entries()]
    assert sorted(names) == sorted(f"{p} {n}" for p in ("left", "right") for n in range(40))
    assert is_sound(path)


def test_a_reader_sees_whole_entries_while_another_program_writes(tmp_path):
    path = tmp_path / "stash.sqlite"
    Stash(path).close()
    seen = 0
    with writing(path, "cloth", 40) as writer:
        for line in writer.stdout:
            with Stash(path, read_only=True) as stash:
                entries = stash.entries()
            assert len(entries) >= max(seen, int(line) + 1)
            seen = len(entries)
    assert seen == 40


def test_a_full_disk_is_said_and_loses_nothing(tmp_path):
    path = tmp_path / "stash.sqlite"
    rng = np.random.default_rng(1)
    with Stash(path) as stash:
        stash.add(make_entry("Fir"))
        (pages,) = stash._db.execute("PRAGMA page_count").fetchone()
        stash._db.execute(f"PRAGMA max_page_count = {pages + 3}")
        noise = rng.integers(0, 256, (192, 192, 3)).astype(np.uint8)
        big = make_entry("Big").swatch
        with pytest.raises(StashError, match="the disk is full"):
            stash.add_all([make_entry(f"b{n}", swatch=replace(big, picture=noise)) for n in (1, 2)])
        assert [e.name for e in stash.entries()] == ["Fir"]
    with Stash(path) as stash:
        assert [e.name for e in stash.entries()] == ["Fir"]
    assert is_sound(path)


def test_locked_by_another_program_is_said(tmp_path, monkeypatch):
    monkeypatch.setattr("colorcore.database._WAIT_SECONDS", 0.2)
    path = tmp_path / "stash.sqlite"
    with Stash(path) as stash:
        stash.add(make_entry("Fir"))
        other = sqlite3.connect(path, isolation_level=None)
        other.execute("BEGIN IMMEDIATE")
        with pytest.raises(StashError, match="another program is writing"):
            stash.add(make_entry("Moss"))
        assert [e.name for e in stash.entries()] == ["Fir"]
        other.execute("ROLLBACK")
        other.close()
        stash.add(make_entry("Moss"))


def test_a_damaged_file_is_said(tmp_path):
    path = tmp_path / "stash.sqlite"
    with Stash(path) as stash:
        stash.add_all([make_entry(f"cloth {n}") for n in range(30)])
    content = bytearray(path.read_bytes())
    content[4096:12288] = b"\xff" * 8192
    path.write_bytes(content)

    def read_all():
        with Stash(path) as stash:
            return [stash.swatch(entry.id) for entry in stash.entries()]

    with pytest.raises(StashError, match=r"damaged|not a stash"):
        read_all()


@pytest.mark.parametrize(
    "damage",
    ["measured = '{'", "measured = '[]'", "measured = '[[1]'", "kind = 'wool'", "amount = '1/0'",
     "amount = 'some'"],
)  # fmt: skip
def test_an_entry_that_holds_what_was_never_written_is_said(tmp_path, damage):
    path = tmp_path / "stash.sqlite"
    with Stash(path) as stash:
        stash.add(make_entry("Fir"))
    with sqlite3.connect(path) as db:
        db.execute("PRAGMA ignore_check_constraints = ON")
        db.execute(f"UPDATE entry SET {damage}")
    db.close()
    with Stash(path) as stash, pytest.raises(BundleError, match="Fir"):
        stash.entries()


def test_damage_that_sqlite_itself_cannot_spell_is_said(tmp_path):
    path = tmp_path / "stash.sqlite"
    with Stash(path) as stash:
        stash.add(make_entry("Fir"))
    content = path.read_bytes()
    assert content.count(b"entry_color ON") == 1
    path.write_bytes(content.replace(b"entry_color ON", b"entry_\xc3olor ON"))
    with pytest.raises(StashError, match="is damaged; bring back a backup"):
        Stash(path)


@pytest.mark.skipif(
    not hasattr(os, "geteuid") or os.geteuid() == 0, reason="the superuser may write everywhere"
)
def test_a_folder_that_may_not_be_written_is_said(tmp_path):
    closed = tmp_path / "closed"
    closed.mkdir()
    closed.chmod(0o500)
    try:
        with pytest.raises(StashError):
            Stash(closed / "deeper" / "stash.sqlite")
    finally:
        closed.chmod(0o700)


def test_a_place_that_cannot_be_a_folder_is_said(tmp_path):
    (tmp_path / "file").write_text("")
    with pytest.raises(StashError, match="choose another place") as told:
        Stash(tmp_path / "file" / "stash.sqlite")
    assert told.value.lack == Lack.STASH_FILE
    with pytest.raises(StashError):
        Stash(tmp_path)


def test_written_to_through_a_read_only_door(tmp_path):
    path = tmp_path / "stash.sqlite"
    with Stash(path) as stash:
        stash.add(make_entry("Fir"))
    with (
        Stash(path, read_only=True) as stash,
        pytest.raises(StashError, match="may only be read"),
    ):
        stash.add(make_entry("Moss"))


def _add_migration(monkeypatch, script):
    from colorcore.stash import schema, store

    migrations = (*schema.STASH_FILE.migrations, ("trial", script))
    monkeypatch.setattr(store, "STASH_FILE", replace(schema.STASH_FILE, migrations=migrations))


def test_an_older_stash_is_brought_up_to_date_once(tmp_path, monkeypatch):
    path = tmp_path / "stash.sqlite"
    with Stash(path) as stash:
        stash.add(make_entry("Fir"))
    _add_migration(monkeypatch, "ALTER TABLE entry ADD COLUMN washed INTEGER NOT NULL DEFAULT 0")
    with pytest.raises(StashError, match="brought up to date"):
        Stash(path, read_only=True)
    for _ in range(2):
        with Stash(path) as stash:
            assert stash._db.execute("SELECT washed FROM entry").fetchone()[0] == 0
            assert stash._db.execute("PRAGMA user_version").fetchone()[0] == 2
    monkeypatch.undo()
    with pytest.raises(StashError, match="newer version"):
        Stash(path)


def test_a_migration_that_fails_leaves_the_old_version(tmp_path, monkeypatch):
    path = tmp_path / "stash.sqlite"
    with Stash(path) as stash:
        stash.add(make_entry("Fir"))
    _add_migration(
        monkeypatch, "ALTER TABLE entry ADD COLUMN washed INTEGER; SELECT * FROM nowhere"
    )
    with pytest.raises(StashError):
        Stash(path)
    monkeypatch.undo()
    with Stash(path) as stash:
        assert [e.name for e in stash.entries()] == ["Fir"]
        columns = [row[1] for row in stash._db.execute("PRAGMA table_info(entry)")]
        assert "washed" not in columns
