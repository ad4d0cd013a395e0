"""``bundlestacks shopping``: what to add to a bundle so that it fills a pattern well."""

import argparse
import shlex
from pathlib import Path
from typing import TYPE_CHECKING, Any

from app.commands._choosing import add_stash_arguments, is_plan, stash_if_any
from app.commands._files import open_bundle, open_pattern, open_plan, refuse_photo
from app.commands._photos import add_terminal_arguments

if TYPE_CHECKING:
    from colorcore.bundle import Bundle
    from colorcore.contrast import Background, Thresholds
    from colorcore.pattern import Pattern
    from colorcore.substitutes.model import Candidate
    from colorcore.substitutes.shopping import ShoppingNote

EXAMPLE = """examples:
  bundlestacks shopping stacks-out/plan.json
  bundlestacks shopping bundle.json --pattern gatepost-stars --size queen \\
      --background '#f4efe6' --out shopping-note.html
"""
MOST_AT_HAND = 4


def register(subparsers: Any) -> None:
    """Add the verb's parser."""
    parser = subparsers.add_parser(
        "shopping",
        help="a note of what to add to a bundle: how many, how dark, which hues and prints",
        description="Count what a bundle lacks for a pattern and a background, and write a "
        "shopping note with colour patches and words; what your stash has of it is named.",
        epilog=EXAMPLE,
        formatter_class=argparse.RawDescriptionHelpFormatter,
    )
    parser.add_argument("file", metavar="plan.json|bundle.json", help="a plan, or a bundle file")
    parser.add_argument("--pattern", metavar="P", help="for a bundle: pattern file or name")
    parser.add_argument(
        "--size", metavar="NAME", help="a size of the pattern (default: the plan's, or its first)"
    )
    parser.add_argument("--background", metavar="B", help="for a bundle: the background fabric")
    add_stash_arguments(parser)
    parser.add_argument(
        "--out", default="shopping-note.html", metavar="FILE", help="default: shopping-note.html"
    )
    add_terminal_arguments(parser)


def run(args: argparse.Namespace) -> int:
    """Write the note and say it."""
    from app.commands._measuring import check_place
    from colorcore.sheets.choosing_pages import shopping_page
    from colorcore.stacking import find_size
    from colorcore.substitutes.shopping import shopping_note
    from colorcore.writing import write_atomically

    check_place(args.out)
    bundle, pattern, background, out, limits, named = _what(args)
    size = find_size(pattern, args.size or named or None)
    note = shopping_note(
        bundle,
        size,
        background,
        thresholds=limits,
        square_inches=pattern.square_inches,
        left_out=out,
    )
    at_hand = _at_hand(args, note, pattern.square_inches)
    page = shopping_page(
        note,
        bundle=bundle,
        pattern=pattern.name,
        size=size.name,
        background=background,
        at_hand=at_hand,
    )
    write_atomically(args.out, page.encode("utf-8"))
    if not args.quiet:
        _say(note, at_hand, args.out)
    return 0


def _what(
    args: argparse.Namespace,
) -> "tuple[Bundle, Pattern, Background, tuple[str, ...], Thresholds | None, str]":
    from app.commands._backgrounds import read_background
    from colorcore.errors import BundleError

    refuse_photo(
        args.file,
        "a plan or a bundle file",
        f"make one with bundlestacks stack {shlex.quote(args.file)} --pattern NAME --out FOLDER",
    )
    if is_plan(args.file):
        file = open_plan(args.file)
        pattern = open_pattern(args.pattern) if args.pattern else file.pattern
        background, out = file.plan.background, file.plan.stayed_out
        if args.background:
            background, out = read_background(args.background, file.bundle, args.stash)
        size = "" if args.pattern else file.plan.size
        return file.bundle, pattern, background, out, file.thresholds, size
    if not args.pattern or not args.background:
        raise BundleError(
            f"{Path(args.file).name}: for a bundle file give --pattern and --background too."
        )
    pattern = open_pattern(args.pattern)
    bundle = open_bundle(args.file)
    background, out = read_background(args.background, bundle, args.stash)
    return bundle, pattern, background, out, None, ""


def _at_hand(
    args: argparse.Namespace, note: "ShoppingNote", square_inches: float
) -> "list[list[Candidate]]":
    from colorcore.substitutes.candidates import stash_for_wish

    stash = stash_if_any(args)
    if stash is None:
        return [[] for _ in note.wishes]
    with stash:
        return [
            stash_for_wish(stash, wish, square_inches, most=MOST_AT_HAND) for wish in note.wishes
        ]


def _say(note: "ShoppingNote", at_hand: "list[list[Candidate]]", written: str) -> None:
    from app.terminal import heading, say, wrap
    from colorcore.color.naming import describe_color
    from colorcore.wording import listing, sentence

    for words in note.words:
        wrap(words)
    if note.wishes:
        heading("To add")
    for wish, have in zip(note.wishes, at_hand, strict=True):
        wrap(sentence(wish.words), first="  - ", indent="    ")
        wrap(wish.why, indent="    ")
        such_as = listing([describe_color(lab) for lab in wish.patches], "or")
        wrap(f"Such as {such_as}.", indent="    ")
        if have:
            names = listing([f"{one.name} ({one.amount})" for one in have])
            wrap(f"Your stash has {names}.", indent="    ")
    if note.wishes:
        say()
        wrap(note.yardage)
    say(f"Written: {written}")
