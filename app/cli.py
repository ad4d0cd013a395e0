"""The command ``bundlestacks``: finds the verbs, runs one, and turns every fault into a sentence.

A verb is a module of ``app.commands`` with two functions::

    register(subparsers)   add its parser, with an example in the epilog
    run(args) -> int       do the work; heavy imports belong inside

Exit codes: 0 done, 1 a fault of the program, 2 something in the input or the place to write,
130 stopped with Ctrl-C, 143 stopped by a termination signal.
"""

import argparse
import difflib
import importlib
import os
import pkgutil
import re
import signal
import sys
import textwrap
from collections.abc import Sequence
from types import FrameType
from typing import Any, NoReturn, Protocol, cast

import app.commands
from app.terminal import error_line, never_fail_on_letters, width
from colorcore import __version__
from colorcore.errors import BundleError

EXIT_FAULT = 1
EXIT_INPUT = 2
EXIT_INTERRUPTED = 130
EXIT_TERMINATED = 143
_WRONG_WORD = re.compile(
    r"argument COMMAND: invalid choice: '(?P<choice>[^']*)'|unrecognized arguments: (?P<option>\S+)"
)


class Verb(Protocol):
    """What a module of ``app.commands`` offers."""

    def register(self, subparsers: Any) -> None:
        """Add the verb's parser."""

    def run(self, args: argparse.Namespace) -> int:
        """Do the work and return the exit code."""


class HelpFormatter(argparse.RawDescriptionHelpFormatter):
    """Help that fills paragraphs to the terminal and leaves examples, which have lines, alone."""

    def __init__(self, prog: str) -> None:
        super().__init__(prog, max_help_position=28, width=width())

    def _fill_text(self, text: str, width: int, indent: str) -> str:
        if "\n" in text.strip():
            return super()._fill_text(text, width, indent)
        return textwrap.fill(text, width, initial_indent=indent, subsequent_indent=indent)


class Parser(argparse.ArgumentParser):
    """A parser that answers a wrong command line with one sentence and where to read on."""

    def __init__(self, **options: Any) -> None:
        super().__init__(**{**options, "formatter_class": HelpFormatter})

    def error(self, message: str) -> NoReturn:
        """Print the sentence and leave with exit code 2."""
        sentence = message[0].upper() + message[1:]
        if meant := self._meant(message):
            sentence = f"{sentence.rstrip('.')}; did you mean {meant}?"
        else:
            sentence = f"{sentence.rstrip('.')}."
        error_line(f"{sentence} See '{self.prog} --help'.")
        raise SystemExit(EXIT_INPUT)

    def parse_args(self, args: Any = None, namespace: Any = None) -> Any:
        """Parse the whole line; a word that nobody takes is answered by the verb it was given to,
        which knows what may have been meant."""
        known, rest = self.parse_known_args(args, namespace)
        if rest:
            verb = getattr(known, "verb", None)
            speaker = self._verb_parsers().get(verb, self) if verb else self
            speaker.error(f"unrecognized arguments: {' '.join(rest)}")
        return known

    def _verb_parsers(self) -> dict[str, "Parser"]:
        choices = (a.choices for a in self._actions if isinstance(a, argparse._SubParsersAction))
        return {name: parser for found in choices for name, parser in found.items()}

    def _meant(self, message: str) -> str:
        """Return the word that comes nearest to the one that is not known, empty if none does."""
        if not (wrong := _WRONG_WORD.match(message)):
            return ""
        word = (wrong["choice"] or wrong["option"]).partition("=")[0]
        known = verbs() if wrong["choice"] else tuple(self._option_string_actions)
        return next(iter(difflib.get_close_matches(word, known, n=1, cutoff=0.7)), "")


def verbs() -> tuple[str, ...]:
    """Return the names of all verbs, in alphabetical order; imports none of them."""
    found = pkgutil.iter_modules(app.commands.__path__)
    return tuple(sorted(m.name for m in found if not m.name.startswith("_")))


def load_verb(name: str) -> Verb:
    """Import one verb's module."""
    return cast(Verb, importlib.import_module(f"app.commands.{name}"))


def make_parser(names: Sequence[str]) -> argparse.ArgumentParser:
    """Return a parser that knows the named verbs."""
    parser = Parser(
        prog="bundlestacks",
        description="From photos of a precut fabric bundle to the stacks of a pattern: finds the "
        "squares, measures their colour, deals them and checks them against the background.",
        epilog="A first try:  bundlestacks demo\n"
        "Help on one command, with an example:  bundlestacks stack --help",
    )
    parser.add_argument("--version", action="version", version=f"bundlestacks {__version__}")
    subparsers = parser.add_subparsers(
        dest="verb", metavar="COMMAND", title="commands", parser_class=Parser
    )
    for name in names:
        load_verb(name).register(subparsers)
    return parser


def main(argv: Sequence[str] | None = None) -> int:
    """Run the command line and return its exit code."""
    words = list(sys.argv[1:] if argv is None else argv)
    if argv is None:
        _mute_decoders()
        # Our matrices are small: threads of the algebra library would only wait for each other,
        # a fifth of the whole time of a measuring. Squares are measured side by side instead.
        os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")
    never_fail_on_letters()
    previous = _stop_on_termination()
    try:
        return _run(words)
    except SystemExit as stop:
        return stop.code if isinstance(stop.code, int) else EXIT_INPUT
    except KeyboardInterrupt:
        error_line("Stopped. Nothing half-written was left behind.")
        return EXIT_INTERRUPTED
    finally:
        if previous is not None:
            signal.signal(signal.SIGTERM, previous)


def _mute_decoders() -> None:
    """Keep the picture decoders' own remarks off the terminal: what a person needs to know of a
    damaged file, we say in a sentence. They write to descriptor 2; we go on with a copy of it."""
    if os.environ.get("BUNDLESTACKS_DEBUG") or sys.stderr is None or sys.stderr.fileno() != 2:
        return
    sys.stderr.flush()
    ours = os.dup(2)
    encoding, errors = sys.stderr.encoding, sys.stderr.errors
    sys.stderr = os.fdopen(ours, "w", buffering=1, encoding=encoding, errors=errors)
    nowhere = os.open(os.devnull, os.O_WRONLY)
    os.dup2(nowhere, 2)
    os.close(nowhere)


def _run(words: list[str]) -> int:
    if not all(_can_be_a_name(word) for word in words):
        error_line("A word of the command holds characters that no file name can hold.")
        return EXIT_INPUT
    known = verbs()
    # Only the verb that was asked for is imported: the start of the program counts.
    named = next((w for w in words if not w.startswith("-")), None)
    parser = make_parser((named,) if named in known else known)
    args = parser.parse_args(words)
    if args.verb is None:
        parser.print_help()
        return 0
    try:
        code = load_verb(args.verb).run(args)
        sys.stdout.flush()
        return code
    except BrokenPipeError:
        # The reader (head, less) left; anything more written would raise once again at exit.
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
        return 0
    except BundleError as error:
        from app.commands._remedies import with_option

        error_line(with_option(str(error), error.lack))
        return EXIT_INPUT
    except MemoryError:
        error_line("The memory of this computer is not enough for this; use smaller photos.")
        return EXIT_INPUT
    except OSError as error:
        place = f" ({error.filename})" if error.filename else ""
        error_line(f"The computer refused: {error.strerror or error}{place}.")
        return EXIT_INPUT
    except Exception as error:
        if os.environ.get("BUNDLESTACKS_DEBUG"):
            raise
        error_line(
            f"Something went wrong inside bundlestacks {__version__} "
            f"({type(error).__name__}: {' '.join(str(error).split()) or 'no words'}). "
            "Set BUNDLESTACKS_DEBUG=1 and run it again to see where, and report it."
        )
        return EXIT_FAULT


def _can_be_a_name(word: str) -> bool:
    try:
        return b"\x00" not in os.fsencode(word)
    except UnicodeEncodeError:
        return False


def _stop_on_termination() -> Any:
    """Let a termination signal unwind like Ctrl-C does, so that work set aside is tidied away."""

    def stop(signum: int, frame: FrameType | None) -> NoReturn:
        raise SystemExit(EXIT_TERMINATED)

    try:
        return signal.signal(signal.SIGTERM, stop)
    except ValueError:
        return None  # not the main thread: signals belong to whoever runs us


if __name__ == "__main__":
    raise SystemExit(main())
