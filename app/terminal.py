"""What the terminal shows: one-line errors, progress, tables and wrapped text.

Nothing here uses colour alone: a heading may be bold where the terminal can and ``NO_COLOR`` is
not set, and means the same without.
"""

import io
import os
import shutil
import sys
import textwrap
from collections.abc import Sequence
from types import TracebackType
from typing import Self, TextIO

from colorcore.plain import printable

NO_BREAK = "\u00a0"


def never_fail_on_letters() -> None:
    """Let letters that a terminal's encoding lacks become question marks, not faults."""
    for stream in (sys.stdout, sys.stderr):
        if isinstance(stream, io.TextIOWrapper):
            stream.reconfigure(errors="replace")


def error_line(sentence: str) -> None:
    """Print one sentence on standard error, on a line of its own."""
    line = printable(sentence).replace("\n", "\\n")
    print(f"bundlestacks: {line}", file=sys.stderr, flush=True)


def width(stream: TextIO | None = None) -> int:
    """Return how many columns the terminal has, 40 to 100; 80 where nobody can tell."""
    return max(40, min(100, shutil.get_terminal_size((80, 24)).columns))


def bold(text: str) -> str:
    """Return ``text`` set bold if standard output is a terminal that wants it."""
    if os.environ.get("NO_COLOR") or os.environ.get("TERM") == "dumb" or not sys.stdout.isatty():
        return text
    return f"\x1b[1m{text}\x1b[0m"


def say(text: str = "") -> None:
    """Print a line of a result on standard output, control characters made visible."""
    print(printable(text))


def heading(text: str) -> None:
    """Print a heading with an empty line before it."""
    print()
    print(bold(printable(text)))


def wrap(text: str, indent: str = "", first: str | None = None) -> None:
    """Print text filled to the terminal's width; ``first`` begins the first line. Lines never break
    at a no-break space (U+00A0), which is printed as a plain one."""
    start = indent if first is None else first
    filled = textwrap.fill(
        printable(text),
        width(),
        initial_indent=start,
        subsequent_indent=indent,
        break_long_words=False,
        break_on_hyphens=False,
    )
    say(filled.replace(NO_BREAK, " "))


def table(
    head: Sequence[str], rows: Sequence[Sequence[str]], *, right: Sequence[int] = ()
) -> list[str]:
    """Return the lines of a table with aligned columns; ``right`` are columns set flush right."""
    cells = [[printable(c).replace(NO_BREAK, " ") for c in row] for row in (head, *rows)]
    widths = [max(len(row[i]) for row in cells) for i in range(len(head))]

    def line(row: Sequence[str]) -> str:
        parts = [
            c.rjust(w) if i in right else c.ljust(w)
            for i, (c, w) in enumerate(zip(row, widths, strict=True))
        ]
        return "  ".join(parts).rstrip()

    return [line(cells[0]), "  ".join("-" * w for w in widths), *(line(r) for r in cells[1:])]


class Progress:
    """Progress of long work on standard error, as one line that is rewritten.

    On anything but a terminal nothing is shown, unless ``lines`` asks for a plain line a step.
    """

    def __init__(self, *, lines: bool = False) -> None:
        self._lines = lines
        self._live = sys.stderr.isatty() and os.environ.get("TERM") != "dumb" and not lines
        self._shown = 0

    def __call__(self, done: int, total: int, words: str) -> None:
        """Say that ``done`` of ``total`` steps are done and what comes now."""
        text = printable(f"{words} ({done} of {total} done)" if total > 1 else words)
        if self._lines:
            print(text, file=sys.stderr, flush=True)
        elif self._live:
            text = text[: width() - 1]
            sys.stderr.write("\r" + text.ljust(self._shown))
            sys.stderr.flush()
            self._shown = len(text)

    def __enter__(self) -> Self:
        return self

    def __exit__(
        self,
        kind: type[BaseException] | None,
        error: BaseException | None,
        trace: TracebackType | None,
    ) -> None:
        if self._shown:
            sys.stderr.write("\r" + " " * self._shown + "\r")
            sys.stderr.flush()
            self._shown = 0
