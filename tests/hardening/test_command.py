"""The command as a person runs it: what broken files and odd names leave on the terminal."""

import subprocess
import sys
from pathlib import Path

import pytest
from PIL import Image

from sample_images import sample_paths


def _run(*words: str, folder: Path) -> subprocess.CompletedProcess[str]:
    return subprocess.run(
        [sys.executable, "-m", "app", *words],
        cwd=folder, capture_output=True, text=True, timeout=120, check=False,
    )  # fmt: skip


def test_decoders_remarks_stay_off_the_terminal(tmp_path):
    """A TIFF whose strips are cut short makes its decoder talk; the person reads one sentence."""
    whole = tmp_path / "whole.tif"
    Image.effect_noise((200, 200), 90).convert("RGB").save(whole, compression="tiff_lzw")
    (tmp_path / "cut.tif").write_bytes(whole.read_bytes()[:30_000])
    came = _run("measure", "cut.tif", "--out", "b.json", folder=tmp_path)
    assert came.returncode == 2
    assert came.stderr.count("\n") == 1
    assert came.stderr.startswith("bundlestacks: cut.tif: ")
    assert not (tmp_path / "b.json").exists()


@pytest.mark.parametrize(
    "name",
    ["-rf", "new\nline.jpg", "..", "../nowhere.jpg", "\u202egpj.jpg", "CON", "a" * 300, "%s%n", ""],
)
def test_odd_names_are_said_and_nothing_more(tmp_path, name):
    came = _run("measure", "--out", "b.json", "--", name, folder=tmp_path)
    assert came.returncode == 2
    assert "Traceback" not in came.stderr
    assert came.stderr.startswith("bundlestacks: ")
    assert "\u202e" not in came.stderr
    assert list(tmp_path.iterdir()) == []


def test_names_in_other_scripts_work(tmp_path):
    name = "тканини 布地 \N{SPOOL OF THREAD}.jpg"
    (tmp_path / name).write_bytes(sample_paths()[0].read_bytes())
    came = _run("measure", name, "--out", "bündel.json", folder=tmp_path)
    assert came.returncode == 0, came.stderr
    assert (tmp_path / "bündel.json").exists()
    assert {p.name for p in tmp_path.iterdir()} == {name, "bündel.json"}
