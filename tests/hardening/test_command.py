"""The command as a person runs it: what broken files and odd names leave on the terminal."""

import json
import os
import subprocess
import sys
from pathlib import Path

import pytest
from PIL import Image

from app.cli import main
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


@pytest.mark.parametrize("name", ["-rf", "new\nline.jpg", "\u202egpj.jpg"])
def test_odd_names_are_said_and_nothing_more(tmp_path, name):
    came = _run("measure", "--out", "b.json", "--", name, folder=tmp_path)
    assert came.returncode == 2
    _check_said(came.stderr, tmp_path)


@pytest.mark.parametrize("name", ["..", "../nowhere.jpg", "CON", "a" * 300, "%s%n", ""])
def test_other_odd_names_are_said_and_nothing_more(tmp_path, name, monkeypatch, capsys):
    monkeypatch.chdir(tmp_path)
    assert main(["measure", "--out", "b.json", "--", name]) == 2
    _check_said(capsys.readouterr().err, tmp_path)


def _check_said(told, folder):
    assert "Traceback" not in told
    assert told.startswith("bundlestacks: ")
    assert "\u202e" not in told
    assert list(folder.iterdir()) == []


@pytest.mark.skipif(sys.platform != "linux", reason="elsewhere every name is text")
@pytest.mark.usefixtures("small_quilts")
def test_names_that_are_no_text_work(tmp_path, monkeypatch, capsys):
    """Names from old computers may hold bytes that are no letters in UTF-8."""
    monkeypatch.chdir(tmp_path)
    photo, pattern = (os.fsdecode(name) for name in (b"k\xfcche.jpg", b"st\xe4rne.toml"))
    with Image.open(sample_paths()[0]) as sample:
        sample.resize((1460, 1096)).save(tmp_path / photo, "jpeg", quality=92)
    assert main(["patterns", "gatepost-stars"]) == 0
    (tmp_path / pattern).write_text(capsys.readouterr().out, encoding="utf-8")
    wish = ["--pattern", pattern, "--background", f"{photo}:B3", "--out", "out", "--quiet"]
    came = _run("stack", photo, *wish, folder=tmp_path)
    assert came.returncode == 0, came.stderr
    bundle = json.loads((tmp_path / "out" / "bundle.json").read_bytes())
    assert bundle["photos"][0]["path"] == "k\\udcfcche.jpg"
    assert b"k\\udcfcche.jpg" in (tmp_path / "out" / "plan.html").read_bytes()
    assert main(["cut", "out/plan.json", "--out", "cut", "--quiet"]) == 0
    assert main(["stash", "add", photo, "--stash", "s.sqlite", "--as", "squares"]) == 0
    came = _run("stash", "list", "--stash", "s.sqlite", folder=tmp_path)
    assert "k\\udcfcche A1" in came.stdout
    # So may words of a file that another program wrote.
    bundle["name"] = "lone \ud800"
    (tmp_path / "bundle.json").write_text(json.dumps(bundle), encoding="utf-8")
    wish = ["--pattern", "gatepost-stars", "--background", "white", "--out", "o2", "--quiet"]
    assert main(["stack", "bundle.json", *wish]) == 0


def test_names_in_other_scripts_work(tmp_path):
    name = "тканини 布地 \N{SPOOL OF THREAD}.jpg"
    (tmp_path / name).write_bytes(sample_paths()[0].read_bytes())
    came = _run("measure", name, "--out", "bündel.json", folder=tmp_path)
    assert came.returncode == 0, came.stderr
    assert (tmp_path / "bündel.json").exists()
    assert {p.name for p in tmp_path.iterdir()} == {name, "bündel.json"}
