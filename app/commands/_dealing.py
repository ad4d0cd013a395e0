"""Dealing as the commands do it: arguments in, a folder with the plan out."""

import argparse
import re
from collections.abc import Mapping
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING

from app.commands._backgrounds import read_background
from app.commands._cloth import Clue, cloth_clues, cloth_files
from app.commands._files import open_pattern, open_plan
from app.commands._measuring import measure
from app.commands._photos import DEFAULT_SIDE
from app.commands._summary import say_plan
from app.terminal import Progress
from colorcore.bundle import Bundle, read_bundle
from colorcore.contrast import Background, Thresholds
from colorcore.errors import BundleError, ColorError
from colorcore.wording import listing

if TYPE_CHECKING:
    from colorcore.pattern import Pattern
    from colorcore.stacking import Plan

NO_BACKGROUND = Background(label="none", lab=(100.0, 0.0, 0.0))
ADDRESS = re.compile(r"(\d+-)?[A-Za-z]{1,2}\d{1,3}")


def deal_and_write(args: argparse.Namespace) -> int:
    """Measure or read the bundle, deal it, write the plan and say what came of it."""
    from colorcore.sheets.earlier import replaced_patterns
    from colorcore.sheets.folder import output_folder
    from colorcore.sheets.outputs import find_photos, plan_files
    from colorcore.sheets.view import view_plan
    from colorcore.stacking import deal
    from colorcore.stacking.checking import check_pieces

    # Everything that can be wrong without looking at a photo is found before the long work.
    limits = read_thresholds(args)
    pattern = open_pattern(args.pattern)
    clues = cloth_clues(args)
    if args.background is None:
        _see_that_none_is_needed(pattern, args.size)
    elif not ADDRESS.fullmatch(args.background.strip()):
        read_background(args.background, Bundle((), ()), args.stash, clues)
    earlier = open_plan(args.after).plan if args.after else None
    with output_folder(args.out) as folder:
        bundle, near = bundle_from(args)
        background, kept_out = _background(args, bundle, clues)
        with Progress(lines=args.progress) as progress:
            progress(0, 1, "Dealing the stacks")
            locks = [*args.lock, *(f"{square}=out" for square in kept_out)]
            plan = deal(
                bundle,
                pattern,
                background,
                size=args.size,
                locks=locks,
                previous=earlier,
                thresholds=limits,
            )
            plan = check_pieces(plan, bundle, pattern, limits)
            progress(0, 1, "Drawing the sheet")
            photos = find_photos(bundle, near)
            files = plan_files(plan, bundle, pattern, photos=photos, thresholds=limits)
            replaced = replaced_patterns(folder.place, files, plan.pattern)
            written = folder.publish(files)
    if not args.quiet:
        able = _can_be_cut(plan, bundle, pattern)
        say_plan(view_plan(plan, bundle, pattern), written, replaced, can_be_cut=able)
    return 0


def _can_be_cut(plan: "Plan", bundle: Bundle, pattern: "Pattern") -> bool:
    """Whether the pattern says how this size is sewn, and no dealt square is too small for it."""
    from colorcore.pattern.units import read_units

    dealt = {place.square for stack in plan.stacks for place in stack.placements}
    small = any(pattern.is_too_small(s.side_inches) for s in bundle.squares if s.id in dealt)
    return not small and read_units(pattern).quilt(plan.size) is not None


def _background(
    args: argparse.Namespace, bundle: Bundle, clues: Mapping[str, Clue]
) -> tuple[Background, tuple[str, ...]]:
    if args.background is None:
        return NO_BACKGROUND, ()
    return read_background(args.background, bundle, args.stash, clues)


def _see_that_none_is_needed(pattern: "Pattern", size: str | None) -> None:
    from colorcore.stacking import find_size

    if any(rule.beside_background for rule in find_size(pattern, size).stacks):
        raise ColorError(
            f"{pattern.name} is sewn to a background fabric; name it with --background."
        )


def bundle_from(args: argparse.Namespace) -> tuple[Bundle, tuple[Path, ...]]:
    """Return the bundle that the arguments name and folders in which its photos may lie.

    Raises
    ------
    BundleError
        If a bundle file is named beside other files.
    """
    files = [Path(name) for name in args.photos if name.lower().endswith(".json")]
    if not files:
        return measure(args), ()
    if len(args.photos) > 1:
        raise BundleError("Name either photos or one bundle file, not both.")
    bundle = read_bundle(files[0])
    _see_that_nothing_is_lost(args, bundle, files[0])
    return replace(bundle, name=args.name.strip() or bundle.name), (files[0].parent,)


def _see_that_nothing_is_lost(args: argparse.Namespace, bundle: Bundle, file: Path) -> None:
    """Refuse what is said of photos where all of them are measured already."""
    if cloth_files(args):
        return
    measured = {square.side_inches for square in bundle.squares}
    asked = args.square_inches
    said = {
        "--square-inches": asked != DEFAULT_SIDE and measured != {asked},
        "--white": args.white,
        "--reference": args.reference,
        "--grid": args.grid,
        "--corners": args.corners,
        "--ignore": args.ignore,
        "--add": args.add,
    }
    lost = [option for option, given in said.items() if given]
    if lost:
        raise BundleError(
            f"{file.name} was measured before, so {listing(lost)} would change nothing; name the "
            "photos instead of it, or measure them again with "
            f"{'that' if len(lost) == 1 else 'those'}."
        )


def read_thresholds(args: argparse.Namespace) -> Thresholds:
    """Return the thresholds that the arguments give.

    Raises
    ------
    BundleError
        If they contradict each other.
    """
    try:
        return Thresholds(holds=args.holds, melts=args.melts)
    except ValueError:
        raise BundleError(
            f"--melts must not be above --holds, and both lie between 0 and 100; "
            f"not {args.melts:g} and {args.holds:g}."
        ) from None
