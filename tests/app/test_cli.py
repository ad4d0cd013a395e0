"""The frame of the command line: verbs, help, errors, signals, start."""

import argparse
import os
import re
import signal
import subprocess
import sys
import time
from collections.abc import Callable
from pathlib import Path
from types import ModuleType
from typing import Any

import pytest

from app import cli
from app.__main__ import begin
from app.cli import make_parser, verbs
from colorcore import __version__
from tests.app.conftest import Outcome, TablePhoto

Run = Callable[..., Outcome]
ROOT = Path(__file__).parents[2]


def subparsers_of(parser: argparse.ArgumentParser) -> dict[str, argparse.ArgumentParser]:
    for action in parser._actions:
        if isinstance(action, argparse._SubParsersAction):
            return dict(action.choices)
    raise AssertionError("no subparsers")


def test_the_verbs_that_people_need_are_there() -> None:
    assert {"stack", "measure", "demo", "patterns"} <= set(verbs())


@pytest.mark.parametrize("verb", verbs())
def test_help_has_words_for_everything_and_an_example(verb: str, run: Run) -> None:
    outcome = run(verb, "--help")
    assert outcome.code == 0
    assert outcome.err == ""
    assert re.search(r"examples?:", outcome.out)
    assert f"  bundlestacks {verb}" in outcome.out
    parser = subparsers_of(make_parser((verb,)))[verb]
    assert parser.description
    for action in parser._actions:
        if not isinstance(action, argparse._SubParsersAction):
            assert action.help or not action.option_strings, action.dest


def test_help_names_every_verb(run: Run) -> None:
    for words in ((), ("--help",)):
        outcome = run(*words)
        assert outcome.code == 0
        for verb in verbs():
            assert re.search(rf"^ +{verb}\b", outcome.out, re.MULTILINE), verb


def test_version(run: Run) -> None:
    outcome = run("--version")
    assert (outcome.code, outcome.out) == (0, f"bundlestacks {__version__}\n")


@pytest.mark.parametrize(
    ("words", "expected"),
    [
        (("sew",), "invalid choice: 'sew'"),
        (("mesure", "a.jpg"), "did you mean measure?"),
        (
            ("measure", "a.jpg", "--out", "b.json", "--squareinches", "5"),
            "did you mean --square-inches? See 'bundlestacks measure --help'",
        ),
        (("measure", "a.jpg", "--out", "b.json", "--gird=6x7"), "did you mean --grid?"),
        (("stack",), "required"),
        (("measure", "a.jpg"), "--out"),
        (("measure", "a.jpg", "--out", "b.json", "--grid", "6by7"), "read like 6x7"),
        (("measure", "a.jpg", "--out", "b.json", "--grid", "0x7"), "read like 6x7"),
        (("measure", "a.jpg", "--out", "b.json", "--white", "12"), "reads like 812,340"),
        (("measure", "a.jpg", "--out", "b.json", "--corners", "1,2", "3,4"), "--corners"),
        (("measure", "a.jpg", "--out", "b.json", "--square-inches", "wide"), "no length"),
        (("measure", "a.jpg", "--out", "b.json", "--square-inches", "900"), "0.5 and 60"),
        (("patterns", "--colour", "red"), "--colour"),
    ],
)
def test_a_wrong_command_line_gets_one_sentence(
    words: tuple[str, ...], expected: str, run: Run
) -> None:
    outcome = run(*words)
    assert outcome.code == 2
    assert outcome.out == ""
    assert outcome.err.count("\n") == 1
    assert outcome.err.startswith("bundlestacks: ")
    assert expected in outcome.err
    assert "--help'" in outcome.err


def test_a_fault_of_ours_shows_no_traceback(run: Run, monkeypatch: pytest.MonkeyPatch) -> None:
    class Broken:
        @staticmethod
        def register(subparsers: Any) -> None:
            subparsers.add_parser("demo")

        @staticmethod
        def run(args: argparse.Namespace) -> int:
            raise ZeroDivisionError("two\nlines")

    monkeypatch.setattr(cli, "load_verb", lambda name: Broken)
    outcome = run("demo")
    assert outcome.code == 1
    assert outcome.err.count("\n") == 1
    assert "ZeroDivisionError: two lines" in outcome.err
    monkeypatch.setenv("BUNDLESTACKS_DEBUG", "1")
    with pytest.raises(ZeroDivisionError):
        run("demo")


def _heed_interrupts() -> None:
    # A shell starts what runs in the background deaf to Ctrl-C.
    signal.signal(signal.SIGINT, signal.SIG_DFL)


def start(*words: str | Path) -> subprocess.Popen[str]:
    return subprocess.Popen(
        [sys.executable, "-m", "app", *map(str, words)],
        cwd=ROOT,
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        text=True,
        preexec_fn=_heed_interrupts if os.name == "posix" else None,
    )


@pytest.mark.skipif(os.name == "nt", reason="no such signals there")
@pytest.mark.parametrize(("sent", "code"), [(signal.SIGINT, 130), (signal.SIGTERM, 143)])
def test_a_stop_leaves_clean_state(
    sent: signal.Signals, code: int, table_photos: tuple[TablePhoto, ...], tmp_path: Path
) -> None:
    photos = []
    for n in range(12):
        photos.append(tmp_path / f"{n}.jpg")
        photos[-1].write_bytes(table_photos[0].path.read_bytes())
    place = tmp_path / "out"
    process = start(
        "stack", *photos, "--pattern", "gatepost-stars", "--background", "white", "--out", place
    )
    ends = time.monotonic() + 60
    while not (place.is_dir() and list(place.iterdir())) and time.monotonic() < ends:
        assert process.poll() is None
        time.sleep(0.01)
    time.sleep(0.3)
    process.send_signal(sent)
    out, err = process.communicate(timeout=60)
    assert process.returncode == code
    assert out == ""
    assert "Traceback" not in err
    assert not place.exists()
    assert sorted(p.name for p in tmp_path.iterdir()) == sorted(p.name for p in photos)


def test_a_stop_before_anything_is_loaded_is_silent(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    class Stopped(ModuleType):
        def __getattr__(self, name: str) -> Any:
            raise KeyboardInterrupt

    monkeypatch.setitem(sys.modules, "app.cli", Stopped("app.cli"))
    assert begin() == 130
    assert capsys.readouterr().err == ""


def test_a_reader_that_leaves_is_no_error() -> None:
    process = start("patterns")
    assert process.stdout is not None
    assert process.stderr is not None
    process.stdout.close()
    err = process.stderr.read()
    process.stderr.close()
    assert process.wait(timeout=60) == 0
    assert err == ""


def test_a_terminal_that_lacks_letters_gets_the_rest() -> None:
    done = subprocess.run(
        [sys.executable, "-m", "app", "patterns"],
        cwd=ROOT,
        capture_output=True,
        check=True,
        env={**os.environ, "PYTHONIOENCODING": "ascii"},
    )
    assert b"60 ? 70 in" in done.stdout
    assert done.stderr == b""


@pytest.mark.parametrize(
    ("words", "heavy"),
    [
        (("--version",), {"numpy", "cv2", "scipy", "skimage", "colour", "streamlit", "PIL"}),
        (("stack", "--help"), {"numpy", "cv2", "scipy", "skimage", "colour", "streamlit", "PIL"}),
        (("patterns",), {"cv2", "scipy", "skimage", "colour", "streamlit", "PIL", "jinja2"}),
    ],
)
def test_nothing_heavy_is_imported_for_little(words: tuple[str, ...], heavy: set[str]) -> None:
    code = (
        "import sys; from app.cli import main; code = main(sys.argv[1:]); "
        "print('loaded', *sys.modules, file=sys.stderr); raise SystemExit(code)"
    )
    done = subprocess.run(
        [sys.executable, "-c", code, *words], cwd=ROOT, capture_output=True, text=True, check=True
    )
    loaded = set(done.stderr.split())
    assert "loaded" in loaded
    assert loaded & heavy == set()


def test_measuring_imports_no_slow_library(
    table_photos: tuple[TablePhoto, ...], tmp_path: Path
) -> None:
    code = (
        "import sys; from app.cli import main; code = main(sys.argv[1:]); "
        "print('loaded', *sys.modules, file=sys.stderr); raise SystemExit(code)"
    )
    words = ["measure", str(table_photos[0].path), "--out", str(tmp_path / "bundle.json")]
    done = subprocess.run(
        [sys.executable, "-c", code, *words], cwd=ROOT, capture_output=True, text=True, check=True
    )
    loaded = set(done.stderr.split())
    assert "colorcore.measuring" in loaded
    assert loaded & {"colour", "skimage", "streamlit", "scipy", "jinja2"} == set()


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (["shopping", "no.jpg"], "bundlestacks stack no.jpg"),
        (["cut", "no.jpg"], "bundlestacks stack no.jpg"),
        (["swap", "my squares.HEIC", "B3"], "with bundlestacks stack 'my squares.HEIC' --pattern"),
        (["compare", "no.jpg", "other.json"], "bundlestacks stack no.jpg"),
        (["stack", "a.json", "--pattern", "no.jpg", "--out", "x"], "a text file (TOML)"),
        (["background", "a.json", "--try", "white", "--pattern", "no.jpg"], "a text file (TOML)"),
        (["shopping", "a.json", "--pattern", "no.jpg", "--background", "white"], "(TOML)"),
    ],
)
def test_a_photo_where_something_else_goes(words, said, capsys):
    assert cli.main(words) == 2
    told = capsys.readouterr().err
    assert "is a photo, but here goes" in told
    assert said in told
    assert told.count("\n") == 1
