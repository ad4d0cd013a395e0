import os
import stat
from pathlib import Path

import pytest

from colorcore.errors import OutputError
from colorcore.sheets import folder as folders
from colorcore.sheets.folder import output_folder


def test_files_appear_together(tmp_path: Path) -> None:
    place = tmp_path / "new" / "deeper"
    with output_folder(place) as folder:
        written = folder.publish({"a.txt": b"one", "plan.json": b"two"})
    assert [path.name for path in written] == ["a.txt", "plan.json"]
    assert sorted(p.name for p in place.iterdir()) == ["a.txt", "plan.json"]


def test_failure_in_the_work_leaves_no_trace(tmp_path: Path) -> None:
    place = tmp_path / "new" / "deeper"

    def interrupted_work() -> None:
        with output_folder(place):
            assert place.is_dir()
            raise KeyboardInterrupt

    with pytest.raises(KeyboardInterrupt):
        interrupted_work()
    assert list(tmp_path.iterdir()) == []


def test_failure_keeps_what_was_there(tmp_path: Path) -> None:
    (tmp_path / "plan.json").write_bytes(b"older")
    (tmp_path / "plan.html").mkdir()
    with output_folder(tmp_path) as folder, pytest.raises(OutputError, match=r"plan\.html"):
        folder.publish({"plan.csv": b"newer", "plan.html": b"newer", "plan.json": b"newer"})
    assert sorted(p.name for p in tmp_path.iterdir()) == ["plan.html", "plan.json"]
    assert (tmp_path / "plan.json").read_bytes() == b"older"


def test_full_disk_keeps_what_was_there(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    (tmp_path / "plan.json").write_bytes(b"older")

    def refuse(number: int) -> None:
        raise OSError(28, "No space left on device")

    with output_folder(tmp_path) as folder:
        monkeypatch.setattr(os, "fsync", refuse)
        with pytest.raises(OutputError, match="the disk is full"):
            folder.publish({"plan.csv": b"x", "plan.json": b"newer"})
    assert [p.name for p in tmp_path.iterdir()] == ["plan.json"]
    assert (tmp_path / "plan.json").read_bytes() == b"older"


def test_a_file_in_the_way_is_said_at_once(tmp_path: Path) -> None:
    (tmp_path / "taken").write_text("mine")
    with pytest.raises(OutputError, match="file, not a folder"), output_folder(tmp_path / "taken"):
        pytest.fail("the work must not begin")
    with (
        pytest.raises(OutputError, match="file, not a folder"),
        output_folder(tmp_path / "taken" / "deeper"),
    ):
        pytest.fail("the work must not begin")
    assert (tmp_path / "taken").read_text() == "mine"


def test_published_files_can_be_read_by_others(tmp_path: Path) -> None:
    before = os.umask(0o022)
    try:
        with output_folder(tmp_path / "out") as folder:
            (path,) = folder.publish({"plan.html": b"x"})
    finally:
        os.umask(before)
    assert stat.S_IMODE(path.stat().st_mode) == 0o644
    assert stat.S_IMODE(path.parent.stat().st_mode) == 0o755


def test_what_another_run_takes_away_meanwhile_is_no_fault(tmp_path: Path) -> None:
    gone = tmp_path / f"{folders.ASIDE}gone"
    # A link to nothing is listed, and cannot be looked at: as if it went in between.
    gone.symlink_to(tmp_path / "nowhere")
    with output_folder(tmp_path) as folder:
        folder.publish({"plan.json": b"x"})
    assert (tmp_path / "plan.json").read_bytes() == b"x"


def test_leftovers_of_a_killed_run_are_swept(tmp_path: Path) -> None:
    old, young = tmp_path / f"{folders.ASIDE}old", tmp_path / f"{folders.ASIDE}young"
    old.mkdir()
    young.mkdir()
    os.utime(old, (1, 1))
    with output_folder(tmp_path) as folder:
        folder.publish({"plan.json": b"x"})
    assert sorted(p.name for p in tmp_path.iterdir()) == [young.name, "plan.json"]
