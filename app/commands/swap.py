"""``bundlestacks swap``: what could stand in for a square of a plan."""

import argparse
from pathlib import Path
from typing import TYPE_CHECKING, Any

from app.commands._choosing import add_stash_arguments, read_other_bundle, stash_if_any
from app.commands._photos import add_terminal_arguments

if TYPE_CHECKING:
    from colorcore.sheets.plan_json import PlanFile
    from colorcore.substitutes.model import Candidate, Substitute, Substitutes

EXAMPLE = """examples:
  bundlestacks swap stacks-out/plan.json B3
  bundlestacks swap stacks-out/plan.json B3 --from other-bundle.json --no-stash --out swaps
"""
MOST_LEFT_OUT_TOLD = 5


def register(subparsers: Any) -> None:
    """Add the verb's parser."""
    parser = subparsers.add_parser(
        "swap",
        help="find what could stand in for a square: in the stash, among spares, in other bundles",
        description="Look for substitutes of two kinds: what looks like the square, and what does "
        "its job in the plan. Every proposal is dealt again and says what would change. Writes a "
        "sheet with both side by side at one scale (swap-B3.html) and the pictures as PNG.",
        epilog=EXAMPLE,
        formatter_class=argparse.RawDescriptionHelpFormatter,
    )
    parser.add_argument("plan", metavar="plan.json", help="a plan that 'bundlestacks stack' wrote")
    parser.add_argument("square", metavar="B3", help="the address of the square to replace")
    parser.add_argument(
        "--from",
        dest="others",
        metavar="FILE",
        action="append",
        default=[],
        help="another bundle or plan to take squares from (may be repeated)",
    )
    add_stash_arguments(parser)
    parser.add_argument(
        "--most", metavar="5", type=int, default=5, help="so many of each kind (default 5)"
    )
    parser.add_argument(
        "--out", metavar="FOLDER", help="where to write (default: the plan's folder)"
    )
    add_terminal_arguments(parser)


def run(args: argparse.Namespace) -> int:
    """Find substitutes, write the sheet and say them."""
    from app.terminal import Progress
    from colorcore.errors import BundleError
    from colorcore.sheets.choosing_pages import swap_page, swap_pictures
    from colorcore.sheets.folder import output_folder
    from colorcore.sheets.plan_json import read_plan
    from colorcore.substitutes.finding import find_substitutes, known_square

    if not 1 <= args.most <= 50:
        raise BundleError(f"--most lies between 1 and 50, not at {args.most}.")
    file = read_plan(args.plan)
    square = known_square(file.plan, args.square)
    with (
        output_folder(args.out or Path(args.plan).parent) as folder,
        Progress(lines=args.progress) as progress,
    ):
        progress(0, 1, "Looking for substitutes")
        candidates, notes = _candidates(args, file, square)
        progress(0, 1, "Dealing again with each")
        found = find_substitutes(
            file.plan,
            file.bundle,
            file.pattern,
            square,
            candidates,
            thresholds=file.thresholds,
            most=args.most,
            notes=notes,
        )
        progress(0, 1, "Drawing")
        background = file.plan.background
        stem = f"swap-{square}"
        files = {
            f"{stem}-{name}": content for name, content in swap_pictures(found, background).items()
        }
        files[f"{stem}.html"] = swap_page(found, file.plan).encode("utf-8")
        written = folder.publish(files)
    if not args.quiet:
        _say(found, str(written[-1]))
    return 0


def _candidates(
    args: argparse.Namespace, file: "PlanFile", square: str
) -> "tuple[list[Candidate], list[str]]":
    from colorcore.sheets.wording import listing
    from colorcore.substitutes.candidates import bundle_squares, spare_squares, stash_fabrics

    original = next(s for s in file.bundle.squares if s.id == square)
    candidates = spare_squares(file.plan, file.bundle)
    notes = []
    stash = stash_if_any(args)
    if stash is not None:
        with stash:
            kept, short = stash_fabrics(stash, original, file.plan.background)
        candidates += kept
        if short:
            names = [entry.name for entry in short[:MOST_LEFT_OUT_TOLD]]
            more = len(short) - len(names)
            names += [f"{more} more"] if more else []
            notes.append(
                f"Too little is left of {listing(names)} for a square of "
                f"{original.side_inches:g} in."
            )
    for path in args.others:
        bundle, name = read_other_bundle(path)
        candidates += bundle_squares(bundle, name)
    if not candidates:
        notes.append(
            "There is nothing to choose from: the plan leaves no square over; give another bundle "
            "with --from, or fill the stash with 'bundlestacks stash add'."
        )
    return candidates, notes


def _say(found: "Substitutes", written: str) -> None:
    from app.terminal import heading, say, wrap
    from colorcore.sheets.view import words_for
    from colorcore.sheets.wording import number

    original = found.original
    wrap(
        f"{original.id}: {words_for(original)}, L* {number(original.lab[0])}, in {found.stack} "
        f"({found.value}, {found.role}); {found.verdict} on the background."
    )
    for title, kind in (("Looks like it", found.looks), ("Does its job", found.job)):
        heading(title)
        if not kind:
            say("  nothing")
        for n, substitute in enumerate(kind, 1):
            _say_one(n, substitute)
    for note in found.notes:
        wrap(note)
    say()
    say(f"Written: {written}")


def _say_one(n: int, substitute: "Substitute") -> None:
    from app.terminal import wrap
    from colorcore.sheets.view import words_for
    from colorcore.sheets.wording import number

    candidate, close = substitute.candidate, substitute.closeness
    place = f", {candidate.place}" if candidate.place else ""
    wrap(
        f"{candidate.name} ({candidate.origin.value}{place}; {candidate.amount}): "
        f"{words_for(candidate.swatch)}",
        first=f"  {n}. ",
        indent="     ",
    )
    wrap(
        f"CIEDE2000 {number(close.delta_e, 1)}, CMC(2:1) {number(close.cmc, 1)}, grey scale grade "
        f"{close.grade}, L* {number(close.lightness, 1)} ± {number(close.lightness_sd, 1)}",
        indent="     ",
    )
    wrap(" ".join(substitute.changes), indent="     ")
