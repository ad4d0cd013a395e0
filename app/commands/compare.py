"""``bundlestacks compare``: another bundle, or another plan, in the same pattern."""

import argparse
from pathlib import Path
from typing import TYPE_CHECKING, Any

from app.commands._choosing import is_plan, name_of
from app.commands._files import open_plan
from app.commands._photos import add_terminal_arguments

if TYPE_CHECKING:
    from colorcore.bundle import Bundle
    from colorcore.comparing import Comparison
    from colorcore.sheets.choosing_pages import Side
    from colorcore.sheets.plan_json import PlanFile

EXAMPLE = """examples:
  bundlestacks compare stacks-out/plan.json other-bundle.json
  bundlestacks compare stacks-out/plan.json right.jpg --names Spring Autumn --out beside
  bundlestacks compare stacks-out/plan.json other-bundle.json --background '#20304a' --out beside
"""
SHORT_NAMES = ("first", "second")
#: So that the table is no wider than 80 columns.
LONGEST_NAME, LONGEST_STACK = 18, 20


def register(subparsers: Any) -> None:
    """Add the verb's parser."""
    parser = subparsers.add_parser(
        "compare",
        help="deal another bundle into the same pattern and set both plans side by side",
        description="Another season or colourway in the same pattern: deal it as the plan was "
        "dealt and set both side by side, stack by stack: contrast, evenness, what breaks. Writes "
        "compare.html. A second plan file is taken as it is.",
        epilog=EXAMPLE,
        formatter_class=argparse.RawDescriptionHelpFormatter,
    )
    parser.add_argument("plan", metavar="plan.json", help="a plan that 'bundlestacks stack' wrote")
    parser.add_argument(
        "other",
        nargs="+",
        metavar="OTHER",
        help="another bundle file, another plan, or photos of another bundle",
    )
    parser.add_argument(
        "--background",
        metavar="B",
        help="another background for the other bundle: a colour, or an address in it "
        "(default: the plan's)",
    )
    parser.add_argument(
        "--names", nargs=2, metavar="NAME", help="what to call the two (default: their own names)"
    )
    parser.add_argument(
        "--stash", metavar="FILE", help="where a background's name is looked up (default: yours)"
    )
    parser.add_argument(
        "--out", metavar="FOLDER", help="where to write (default: the plan's folder)"
    )
    add_terminal_arguments(parser)


def run(args: argparse.Namespace) -> int:
    """Deal the other bundle, write the sheet and say what differs."""
    from app.terminal import Progress
    from colorcore.comparing import compare_plans
    from colorcore.sheets.choosing_pages import compare_page
    from colorcore.sheets.folder import output_folder

    first = open_plan(args.plan)
    with (
        output_folder(args.out or Path(args.plan).parent) as folder,
        Progress(lines=args.progress) as progress,
    ):
        progress(0, 1, "Dealing the other bundle")
        sides, notes = _sides(args, first)
        comparison = compare_plans(
            sides[0].plan,
            sides[0].bundle,
            sides[1].plan,
            sides[1].bundle,
            names=(sides[0].name, sides[1].name),
            square_inches=first.pattern.square_inches,
            apart=first.pattern.stacks_apart(first.plan.size),
        )
        page = compare_page(comparison, sides, notes=notes)
        written = folder.publish({"compare.html": page.encode("utf-8")})
    if not args.quiet:
        _say(comparison, sides, notes, str(written[0]))
    return 0


def _sides(
    args: argparse.Namespace, first: "PlanFile"
) -> "tuple[tuple[Side, Side], tuple[str, ...]]":
    from app.commands._backgrounds import read_background
    from colorcore.errors import BundleError, DealError
    from colorcore.sheets.choosing_pages import Side
    from colorcore.stacking import deal
    from colorcore.substitutes.shopping import shopping_note

    wishes: tuple[str, ...] = ()
    if is_plan(args.other[0]):
        if args.background or len(args.other) > 1:
            raise BundleError("A plan stands alone and has its own background: name it by itself.")
        other = open_plan(args.other[0])
        plan, bundle = other.plan, other.bundle
    else:
        bundle = _other_bundle(args, first.pattern.square_inches)
        background, out = first.plan.background, tuple[str, ...]()
        if args.background:
            background, out = read_background(args.background, bundle, args.stash)
        size = next(s for s in first.pattern.sizes if first.plan.size in ("", s.name))
        note = shopping_note(
            bundle,
            size,
            background,
            thresholds=first.thresholds,
            square_inches=first.pattern.square_inches,
            left_out=out,
        )
        try:
            plan = deal(
                bundle,
                first.pattern,
                background,
                size=first.plan.size or None,
                locks=[f"{square}=out" for square in out],
                thresholds=first.thresholds,
            )
        except DealError as error:
            asked = "; ".join(wish.words for wish in note.wishes)
            wanted = f" Add {asked}." if asked else ""
            raise DealError(f"{Path(args.other[0]).name}: {error}{wanted}") from None
        wishes = tuple(f"{wish.words}. {wish.why}" for wish in note.wishes)
    names = args.names or _names(args, first.bundle, bundle)
    notes = tuple(f"To add to {names[1]}: {wish}" for wish in wishes)
    return (Side(names[0], first.plan, first.bundle), Side(names[1], plan, bundle)), notes


def _other_bundle(args: argparse.Namespace, square_inches: float) -> "Bundle":
    from app.commands._photos import picture_paths
    from app.terminal import Progress
    from colorcore.bundle import read_bundle
    from colorcore.errors import BundleError
    from colorcore.measuring import measure_photos

    if any(name.lower().endswith(".json") for name in args.other):
        if len(args.other) > 1:
            raise BundleError("Name either photos of the other bundle or one bundle file.")
        return read_bundle(args.other[0])
    with Progress(lines=args.progress) as progress:
        return measure_photos(
            picture_paths(args.other), square_inches=square_inches, progress=progress
        )


def _names(args: argparse.Namespace, first: "Bundle", second: "Bundle") -> tuple[str, str]:
    one, two = name_of(first, args.plan), name_of(second, args.other[0])
    return (one, two) if one != two else (f"{one} (first)", f"{two} (second)")


def _say(
    comparison: "Comparison", sides: "tuple[Side, Side]", notes: tuple[str, ...], written: str
) -> None:
    from app.terminal import heading, say, table, wrap
    from colorcore.wording import number, sentence

    for words in comparison.words:
        wrap(words)
    heading("Stack by stack")
    names = tuple(side.name for side in sides)
    if max(map(len, names)) > LONGEST_NAME:
        for short, name in zip(SHORT_NAMES, names, strict=True):
            wrap(f"{short}: {name}", first="  ", indent="    ")
        names = SHORT_NAMES
    rows = []
    for row in comparison.rows:
        for name, stack in zip(names, (row.first, row.second), strict=True):
            v = stack.verdicts
            title = stack.name if len(stack.name) <= LONGEST_STACK else f"{stack.name[:19]}…"
            rows.append(
                (
                    title if stack is row.first else "",
                    name,
                    number(stack.lightness_mean, 1),
                    f"{number(stack.lightness_least)} to {number(stack.lightness_most)}",
                    *(
                        str(v[word]) if stack.beside_background else "-"
                        for word in ("holds", "soft", "melts")
                    ),
                )
            )
    head = ("Stack", "Bundle", "Mean L*", "L*", "Hold", "Soft", "Melt")
    for line in table(head, rows, right=(2, 4, 5, 6)):
        say("  " + line)
    for row in comparison.rows:
        wrap(sentence("; ".join(row.words)), first=f"  {row.first.name}: ", indent="    ")
    for side, figures in zip(sides, (comparison.first, comparison.second), strict=True):
        heading(f"What breaks: {side.name}")
        for words in figures.breaks or ("Nothing.",):
            wrap(words, first="  - ", indent="    ")
    for note in notes:
        wrap(note)
    say()
    say(f"Written: {written}")
