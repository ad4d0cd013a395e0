"""Whatever is typed, the answer is one sentence or the work; never a traceback."""

import io
import sys
from contextlib import redirect_stderr, redirect_stdout
from pathlib import Path

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from app.cli import main

OPTIONS = (
    "--out", "--white", "--grid", "--corners", "--ignore", "--add", "--square-inches", "--pattern",
    "--background", "--size", "--lock", "--holds", "--melts", "--overlay", "--quiet", "--name",
    "--", "-h", "--help", "--version",
)  # fmt: skip
VALUES = (
    "gone.jpg", "out", "bundle.json", "6x7", "1,2", "2:3,4", "gatepost-stars", "#fff", "B3=fill",
    "nan", "-1", "1e999", "", "\x00", "\ud800", "a\nb", "=1+1", "../..", "/", "0x0",
)  # fmt: skip
WORDS = st.one_of(st.sampled_from(OPTIONS), st.sampled_from(VALUES), st.text(max_size=8))


@pytest.fixture
def empty_folder(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    monkeypatch.chdir(tmp_path)
    return tmp_path


@pytest.mark.parametrize("bad", ["a\x00b", "\ud800", "x" * 5000])
def test_words_that_are_no_names(bad: str, empty_folder: Path) -> None:
    usual = ["--pattern", "gatepost-stars", "--background", "white", "--out", "out"]
    for words in (
        ["measure", bad, "--out", "b.json"],
        ["measure", "gone.jpg", "--out", bad],
        ["stack", bad, *usual],
        ["stack", f"{bad}.json", *usual],
        ["stack", "gone.jpg", *usual, "--pattern", bad],
        ["stack", "gone.jpg", *usual, "--background", bad],
        ["stack", "gone.jpg", *usual, "--out", bad],
        ["patterns", bad],
    ):
        err = io.StringIO()
        with redirect_stderr(err):
            assert main(words) == 2, (words[0], err.getvalue())
        assert err.getvalue().count("\n") == 1
    assert list(empty_folder.iterdir()) == []


@settings(
    max_examples=150,
    suppress_health_check=[HealthCheck.function_scoped_fixture],
)
@given(verb=st.sampled_from(("measure", "stack", "patterns")), words=st.lists(WORDS, max_size=8))
def test_any_words(verb: str, words: list[str], empty_folder: Path) -> None:
    out, err = io.StringIO(), io.StringIO()
    with redirect_stdout(out), redirect_stderr(err):
        code = main([verb, *words])
    if verb == "patterns":
        assert code in (0, 2)
    else:
        assert code == 2 or "-h" in words or "--help" in words, err.getvalue()
    if code == 2:
        assert err.getvalue().startswith("bundlestacks: ")
        assert err.getvalue().isprintable() or err.getvalue().rstrip("\n").count("\n") <= 1
    assert "Traceback" not in err.getvalue()
    assert list(empty_folder.iterdir()) == []
    assert sys.stdout is not out
