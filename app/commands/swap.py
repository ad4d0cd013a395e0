"""``bundlestacks swap``: what could stand in for a square of a plan."""

import argparse
import re
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING, Any

from app.commands._choosing import add_stash_arguments, read_other_bundle, stash_if_any
from app.commands._files import open_plan
from app.commands._photos import add_terminal_arguments

if TYPE_CHECKING:
    from colorcore.sheets.plan_json import PlanFile
    from colorcore.substitutes.model import Candidate, Substitute, Substitutes

EXAMPLE = """examples:
  bundlestacks swap stacks-out/plan.json B3
  bundlestacks swap stacks-out/plan.json B3 --from other-bundle.json --no-stash --out swaps
  bundlestacks swap stacks-out/plan.json B3 --from other-bundle.json --take job-1 \\
      --out stacks-with-it
"""
MOST_LEFT_OUT_TOLD = 5
FIRST_CHANGES = 2


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
    parser.add_argument("square", metavar="ADDRESS", help="the square to replace, such as B3")
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
        "--details", action="store_true", help="say in the terminal all that would change"
    )
    parser.add_argument(
        "--most", metavar="5", type=int, default=5, help="so many of each kind (default 5)"
    )
    parser.add_argument(
        "--take",
        metavar="job-1",
        help="take one of them ('job-1', 'looks-2') and write the plan dealt with it to --out",
    )
    parser.add_argument(
        "--out", metavar="FOLDER", help="where to write (default: the plan's folder)"
    )
    add_terminal_arguments(parser)


def run(args: argparse.Namespace) -> int:
    """Find substitutes, write the sheet and say them."""
    from app.commands._summary import say_replaced
    from app.terminal import Progress
    from colorcore.errors import BundleError
    from colorcore.sheets.choosing_pages import swap_page, swap_pictures
    from colorcore.sheets.earlier import replaced_patterns
    from colorcore.sheets.folder import output_folder
    from colorcore.substitutes.finding import find_substitutes, known_square

    if not 1 <= args.most <= 50:
        raise BundleError(f"--most lies between 1 and 50, not at {args.most}.")
    if args.take and (not args.out or Path(args.out).resolve() == Path(args.plan).parent.resolve()):
        raise BundleError("--take writes a new plan: name another folder for it with --out.")
    file = open_plan(args.plan)
    square = known_square(file.plan, args.square, file.bundle)
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
        stem = f"swap-{_file_name(square)}"
        files = {
            f"{stem}-{name}": content for name, content in swap_pictures(found, background).items()
        }
        files[f"{stem}.html"] = swap_page(found, file.plan).encode("utf-8")
        taken = _taken(args.take, found) if args.take else None
        if taken is not None:
            files |= _new_plan(file, square, taken, Path(args.plan).parent)
        replaced = replaced_patterns(folder.place, files, file.plan.pattern)
        folder.publish(files)
    if not args.quiet:
        _say(found, str(folder.place / f"{stem}.html"), details=args.details)
        if taken is not None:
            _say_taken(taken, str(folder.place / "plan.html"))
            say_replaced(replaced)
    return 0


def _file_name(square: str) -> str:
    """An address as part of a file's name: a bundle file from elsewhere may call it anything."""
    return re.sub(r"[^\w-]", "_", square)[:40]


def _taken(name: str, found: "Substitutes") -> "Substitute":
    from colorcore.errors import BundleError
    from colorcore.wording import listing

    kinds = (("looks", found.looks), ("job", found.job))
    known = {f"{k}-{n}": one for k, group in kinds for n, one in enumerate(group, 1)}
    able = [name for name, one in known.items() if one.outcome is not None]
    if name not in able:
        which = f"take {listing(able, 'or')}" if able else "there is none to take"
        raise BundleError(f"--take {name}: no such substitute; {which}.")
    return known[name]


def _new_plan(file: "PlanFile", square: str, taken: "Substitute", near: Path) -> "dict[str, bytes]":
    from colorcore.sheets.outputs import find_photos, plan_files
    from colorcore.substitutes.trial import Trial, exchanged

    trial = Trial(file.plan, file.bundle, file.pattern, file.thresholds, square)
    bundle, _ = exchanged(trial, taken.candidate)
    if taken.outcome is None:
        return {}
    return plan_files(
        taken.outcome.plan,
        bundle,
        replace(file.pattern, source=file.pattern.source.rpartition(": ")[2]),
        photos=find_photos(bundle, (near,)),
        thresholds=file.thresholds,
    )


def _say_taken(taken: "Substitute", written: str) -> None:
    from app.terminal import wrap

    candidate = taken.candidate
    wrap(f"Written: {written}, the plan dealt with {candidate.full_name}.")
    if candidate.entry is not None:
        wrap(
            f"When it is cut, take it from the stash: bundlestacks stash use '{candidate.name}' ..."
        )


def _candidates(
    args: argparse.Namespace, file: "PlanFile", square: str
) -> "tuple[list[Candidate], list[str]]":
    from colorcore.substitutes.candidates import (
        bundle_squares,
        spare_squares,
        stash_fabrics,
        without_those_here,
    )
    from colorcore.wording import listing

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
    candidates, here = without_those_here(candidates, file.bundle)
    notes += here
    if not candidates:
        notes.append(
            "There is nothing to choose from: the plan leaves no square over; give another bundle "
            "with --from, or fill the stash with 'bundlestacks stash add'."
        )
    return candidates, notes


def _say(found: "Substitutes", written: str, *, details: bool) -> None:
    from app.terminal import heading, say, wrap
    from colorcore.sheets.view import words_for
    from colorcore.wording import number

    original = found.original
    wrap(
        f"{original.id}: {words_for(original)}, L* {number(original.lab[0])}, in {found.stack} "
        f"({found.value}, {found.role})"
        + (f"; {found.verdict} on the background." if found.verdict else ".")
    )
    for title, kind in (("Looks like it", found.looks), ("Does its job", found.job)):
        heading(title)
        if not kind:
            say("  nothing")
        for n, substitute in enumerate(kind, 1):
            _say_one(n, substitute, details=details)
    for note in found.notes:
        wrap(note)
    say()
    more = "" if details else ", with all that changes; in the terminal with --details"
    wrap(f"Written: {written}{more}")


def _say_one(n: int, substitute: "Substitute", *, details: bool) -> None:
    from app.terminal import wrap
    from colorcore.sheets.view import words_for
    from colorcore.wording import number

    candidate, close = substitute.candidate, substitute.closeness
    place = f", {candidate.place}" if candidate.place else ""
    wrap(
        f"{candidate.name} ({candidate.origin.value}{place}; {candidate.amount}): "
        f"{words_for(candidate.swatch)}",
        first=f"  {n}. ",
        indent="     ",
    )
    if not details:
        wrap(" ".join(substitute.changes[:FIRST_CHANGES]), indent="     ")
        return
    wrap(
        f"CIEDE2000 {number(close.delta_e, 1)}, CMC(2:1) {number(close.cmc, 1)}, grey scale grade "
        f"{close.grade}, L* {number(close.lightness, 1)} ± {number(close.lightness_sd, 1)}",
        indent="     ",
    )
    wrap(" ".join(substitute.changes), indent="     ")
