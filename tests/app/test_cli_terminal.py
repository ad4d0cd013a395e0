"""What the terminal shows, on a terminal and elsewhere."""

import io
import sys

import pytest

from app.terminal import Progress, bold, error_line, table, width, wrap


class Screen(io.StringIO):
    """A stream that says it is a terminal."""

    def isatty(self) -> bool:
        return True


def on_screen(monkeypatch: pytest.MonkeyPatch) -> Screen:
    """Put a terminal in the place of standard error; pytest sets its own anew for every phase of
    a test, so this is no fixture."""
    stream = Screen()
    monkeypatch.setattr(sys, "stderr", stream)
    monkeypatch.setenv("TERM", "xterm")
    return stream


def test_bold_is_for_terminals_that_want_it(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(sys, "stdout", Screen())
    monkeypatch.setenv("TERM", "xterm")
    monkeypatch.delenv("NO_COLOR", raising=False)
    assert bold("Stacks") == "\x1b[1mStacks\x1b[0m"
    monkeypatch.setenv("NO_COLOR", "1")
    assert bold("Stacks") == "Stacks"
    monkeypatch.delenv("NO_COLOR")
    monkeypatch.setenv("TERM", "dumb")
    assert bold("Stacks") == "Stacks"
    monkeypatch.setattr(sys, "stdout", io.StringIO())
    monkeypatch.setenv("TERM", "xterm")
    assert bold("Stacks") == "Stacks"


def test_progress_is_one_line_that_goes_away(monkeypatch: pytest.MonkeyPatch) -> None:
    screen = on_screen(monkeypatch)
    with Progress() as progress:
        progress(0, 2, "Measuring a-long-name.jpg")
        progress(1, 2, "Measuring b.jpg")
    written = screen.getvalue()
    assert "\n" not in written
    assert "Measuring b.jpg (1 of 2 done)" in written
    assert written.endswith("\r")
    line = ""
    for part in written.split("\r"):
        line = part + line[len(part) :]
    assert line.strip() == ""


def test_progress_is_cut_to_the_terminal(monkeypatch: pytest.MonkeyPatch) -> None:
    screen = on_screen(monkeypatch)
    with Progress() as progress:
        progress(0, 2, "Measuring " + "x" * 300)
    assert "xxx" in screen.getvalue()
    assert max(len(part) for part in screen.getvalue().split("\r")) < width()


def test_progress_goes_away_after_an_error_too(monkeypatch: pytest.MonkeyPatch) -> None:
    screen = on_screen(monkeypatch)

    def interrupted_work() -> None:
        with Progress() as progress:
            progress(0, 1, "Dealing the stacks")
            raise KeyboardInterrupt

    with pytest.raises(KeyboardInterrupt):
        interrupted_work()
    assert "Dealing" in screen.getvalue()
    assert screen.getvalue().endswith("\r")


def test_progress_is_silent_where_nobody_watches(capsys: pytest.CaptureFixture[str]) -> None:
    with Progress() as progress:
        progress(0, 2, "Measuring a.jpg")
    assert capsys.readouterr().err == ""
    with Progress(lines=True) as progress:
        progress(0, 2, "Measuring a.jpg")
        progress(0, 1, "Dealing the stacks")
    assert capsys.readouterr().err == "Measuring a.jpg (0 of 2 done)\nDealing the stacks\n"


def test_text_fills_the_width(
    capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("COLUMNS", "50")
    wrap("word " * 40, indent="    ", first="  - ")
    lines = capsys.readouterr().out.splitlines()
    assert all(len(line) <= 50 for line in lines)
    assert lines[0].startswith("  - word")
    assert lines[1].startswith("    word")
    for columns, wide in (("10", 40), ("500", 100)):
        monkeypatch.setenv("COLUMNS", columns)
        assert width() == wide


def test_control_characters_are_shown_not_sent(capsys: pytest.CaptureFixture[str]) -> None:
    error_line("a\x1b[2J\nb\u202e")
    assert capsys.readouterr().err == "bundlestacks: a\\x1b[2J\\nb\\x202e\n"
    wrap("a\x07b")
    assert capsys.readouterr().out == "a\\x07b\n"


def test_a_table_needs_no_color() -> None:
    lines = table(("Stack", "Squares"), [("Stars", "14"), ("B", "3")], right=(1,))
    assert lines == ["Stack  Squares", "-----  -------", "Stars       14", "B            3"]
