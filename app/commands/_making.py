"""Cutting as the command does it: a plan in, the making sheet and pictures out."""

import argparse
import re
from collections.abc import Mapping, Sequence
from fractions import Fraction
from pathlib import Path

from app.commands._files import open_plan
from app.commands._summary import say_replaced
from app.terminal import Progress, heading, say, wrap
from colorcore.color.parse import parse_color
from colorcore.errors import BundleError, CuttingError
from colorcore.finishing import Candidate, say_shared
from colorcore.lengths import INCHES_PER_YARD, Measure, parse_length
from colorcore.making import Making, MakingChoices, plan_making
from colorcore.pattern.layout import Layout, spread
from colorcore.pattern.units import read_units
from colorcore.sheets.cutting_finish import to_buy
from colorcore.sheets.cutting_outputs import making_files
from colorcore.sheets.earlier import replaced_patterns
from colorcore.sheets.folder import output_folder
from colorcore.sheets.outputs import find_photos
from colorcore.sheets.plan_json import PlanFile


def cut_and_write(args: argparse.Namespace) -> int:
    """Cut, pair, draw and write a plan, and say what came of it."""
    opened = open_plan(args.plan)
    other = None if args.beside is None else open_plan(args.beside)
    choices = read_choices(args, opened)
    place = Path(args.out) if args.out else Path(args.plan).parent
    with output_folder(place) as folder, Progress(lines=args.progress) as progress:
        making = _make(opened, choices, progress)
        beside = None if other is None else _make(other, MakingChoices(), progress)
        progress(0, 1, "Drawing the sheet")
        files = making_files(
            making,
            photos=find_photos(opened.bundle, [Path(args.plan).parent]),
            thresholds=opened.thresholds,
            metric=args.metric,
            paper="a4" if args.paper == "a4" else "us-letter",
            beside=beside,
            units=args.units,
        )
        replaced = replaced_patterns(folder.place, files, opened.plan.pattern)
        written = folder.publish(files)
    if not args.quiet:
        _say(making, written, replaced, Measure(args.metric))
    return 0


def _make(opened: PlanFile, choices: MakingChoices, progress: Progress) -> Making:
    return plan_making(
        opened.plan,
        opened.bundle,
        opened.pattern,
        choices,
        thresholds=opened.thresholds,
        progress=lambda words: progress(0, 1, words),
    )


def read_choices(args: argparse.Namespace, opened: PlanFile) -> MakingChoices:
    """Return what the arguments choose.

    Raises
    ------
    BundleError
        If a length, a colour or a place cannot be understood.
    """
    if not 0 <= args.shrinkage <= 30:
        raise CuttingError(f"--shrinkage: {args.shrinkage:g} is not between 0 and 30 percent.")
    if args.seed < 0:
        raise CuttingError(f"--seed: {args.seed} is below 0; give a whole number from 0 up.")
    threads = [_candidate("--thread", text) for text in args.thread]
    fabrics = [_candidate("--fabric", text) for text in args.fabric]
    if args.stash is not None:
        kept_threads, kept_fabrics = _from_stash(args.stash)
        threads += kept_threads
        fabrics += kept_fabrics
    length = args.background_length
    return MakingChoices(
        trim=parse_length(args.trim, what="--trim"),
        usable=parse_length(args.usable, what="--usable"),
        shrinkage=args.shrinkage / 100,
        overhang=parse_length(args.overhang, what="--overhang"),
        background_inches=None if length is None else read_yardage(length),
        avoid_melting=not args.plain_cuts,
        seed=args.seed,
        locks=_read_locks(args.lock, opened),
        threads=threads,
        thread_wish=args.show,
        fabrics=fabrics,
        yardage={c.name: c.lab for c in (_candidate("--yardage", t) for t in args.yardage)},
    )


def read_yardage(text: str) -> Fraction:
    """Return inches from ``3 yards``, ``2 3/4 yd``, ``2.5 m`` or a plain length.

    Raises
    ------
    CuttingError
        If it is none of these.
    """
    match = re.fullmatch(r"(.+?)\s*(yards?|yds?|(?<!c)m|metres?|meters?)", text.strip().lower())
    if match is None:
        return parse_length(text, what="--background-length")
    number = parse_length(match[1], what="--background-length")
    if match[2].startswith("y"):
        return number * INCHES_PER_YARD
    return Fraction(round(number * 10000 / 254 * 16), 16)


def _candidate(option: str, text: str) -> Candidate:
    name, equals, color = text.partition("=")
    if not equals or not name.strip():
        raise BundleError(
            f"{option}: give a name and a colour, like cream='#f3ecd8', not {text!r}."
        )
    return Candidate(name.strip(), parse_color(color))


def _from_stash(file: str) -> tuple[list[Candidate], list[Candidate]]:
    """Threads, and fabrics and solids with how many inches there are of them."""
    from colorcore.stash import Stash
    from colorcore.stash.cloths import threads_and_cloths

    with Stash(Path(file) if file else None, read_only=True) as stash:
        return threads_and_cloths(stash)


def _read_locks(texts: Sequence[str], opened: PlanFile) -> Mapping[int, str]:
    if not texts:
        return {}
    size = opened.plan.size or opened.pattern.sizes[0].name
    layout = spread(read_units(opened.pattern), size)
    found: dict[int, str] = {}
    for text in texts:
        match = re.fullmatch(r"(\d{1,4})\.(\d{1,4})(?:\.(\d{1,4}))?=(.+)", text.strip())
        if match is None:
            raise BundleError(
                f"--lock: a place and a square read like 2.3.1=B4 (row 2, unit 3, first print), "
                f"not {text!r}."
            )
        row, unit, piece = int(match[1]), int(match[2]), int(match[3] or 1)
        found[_slot(layout, row, unit, piece)] = match[4].strip()
    return found


def _slot(layout: Layout, row: int, unit: int, piece: int) -> int:
    slots = [s.number for s in layout.slots if s.cell == (row - 1, unit - 1)]
    if not 1 <= piece <= len(slots):
        rows = layout.quilt.rows
        raise BundleError(
            f"--lock: there is no print {piece} in row {row}, unit {unit}; the quilt has "
            f"{len(rows)} rows of {len(rows[0])}"
            + (f", and that unit takes {len(slots)} prints." if slots else ".")
        )
    return slots[piece - 1]


def _say(
    making: Making, written: Sequence[Path], replaced: Sequence[str], measure: Measure
) -> None:
    quilt = making.layout.quilt
    size = measure.size(quilt.width, quilt.height)
    say(f"{making.plan.pattern}, {quilt.size}: {size}")
    heading("Is it enough")
    for stack in making.cuts:
        if stack.wanted:
            wrap(stack.sentence, indent="    ", first="  ")
    for need in making.yardage:
        if need.enough is not None:
            wrap(need.enough.told(measure), indent="    ", first="  ")
    heading("To buy")
    for need in making.yardage:
        amount, rest = to_buy(need, measure)
        wrap(f"{need.name}: {amount}{rest}", indent="    ", first="  ")
    say(f"  backing: {measure.yardage(making.backing[0].length)}")
    say(f"  batting: {measure.size(*making.batting)}")
    around = [cut.square for stack in making.cuts for cut in stack.cuts if cut.around]
    if around:
        heading("Cut on their own, around parts that melt")
        wrap(" ".join(around), indent="  ")
    if making.pairing.repeats or making.pairing.alike:
        heading("Look at the pairing")
        if making.pairing.repeats:
            say(f"  {len(making.pairing.repeats)} places where one fabric lies beside itself")
        if making.pairing.alike:
            say(f"  {len(making.pairing.alike)} pairs of prints that hardly differ")
    if making.threads:
        heading(f"Quilting thread that shows {making.choices.thread_wish}")
        for choice in making.threads[:3]:
            wrap(choice.sentence, indent="    ", first="  ")
    for use, choices in making.fabrics.items():
        best = choices[0].enough is not False
        heading(f"Best for the {use}" if best else f"For the {use} nothing is long enough")
        wrap(choices[0].told(measure), indent="    ", first="  ")
    for sentence in say_shared(making.fabrics, measure):
        wrap(sentence, indent="  ", first="")
    say()
    say("Written:")
    for path in written:
        say(f"  {path}")
    say_replaced(replaced)
