"""``bundlestacks cut``: from a plan to cutting, pairing, pressing, finishing and pictures."""

import argparse
from typing import Any

from app.commands._photos import add_terminal_arguments

EXAMPLE = """examples:
  bundlestacks cut stacks-out/plan.json
  bundlestacks cut stacks-out/plan.json --out to-the-table --metric --paper a4
  bundlestacks cut stacks-out/plan.json --background-length '2 3/4 yards' --trim 1/8 \\
      --thread cream='#f3ecd8' --thread navy='#20304a' --fabric plum='#57304a' --stash
"""


def register(subparsers: Any) -> None:
    """Add the verb's parser."""
    parser = subparsers.add_parser(
        "cut",
        help="cutting diagrams, units, sewing order, finishing and pictures of the quilt",
        description="Take a plan to the cutting table: how each square and the yardage is cut, "
        "which prints meet, how to mark and press, what to buy, and what the quilt will look "
        "like. Writes plan.pdf, plan.html (with the stacks) and pictures.",
        epilog=EXAMPLE,
        formatter_class=argparse.RawDescriptionHelpFormatter,
    )
    parser.add_argument("plan", metavar="plan.json", help="a plan that 'bundlestacks stack' wrote")
    parser.add_argument(
        "--out", metavar="FOLDER", help="where to write (default: the plan's folder)"
    )
    sheet = parser.add_argument_group("the sheet")
    sheet.add_argument("--metric", action="store_true", help="centimetres instead of inches")
    sheet.add_argument(
        "--paper", choices=("letter", "a4"), default="letter", help="paper of plan.pdf"
    )
    sheet.add_argument(
        "--units", action="store_true", help="also a picture (PNG and SVG) of each unit"
    )
    sheet.add_argument("--beside", metavar="plan.json", help="another plan to draw beside this one")
    _add_cloth_arguments(parser)
    _add_choice_arguments(parser)
    add_terminal_arguments(parser)


def _add_cloth_arguments(parser: argparse.ArgumentParser) -> None:
    cloth = parser.add_argument_group(
        "the cloth", "Lengths read like 42, '2 1/2', '6.4 cm', and of yardage '3 yards' or '2.5 m'."
    )
    cloth.add_argument("--background-length", metavar="LENGTH", help="how much background you have")
    cloth.add_argument(
        "--usable", metavar="42", default="42", help="usable width of yardage (default 42 in)"
    )
    cloth.add_argument(
        "--shrinkage",
        metavar="PERCENT",
        type=float,
        default=0.0,
        help="what yardage loses in the wash, if you wash before cutting (default 0)",
    )
    cloth.add_argument(
        "--trim",
        metavar="1/8",
        default="0",
        help="what to trim from each edge of a square first, for pinked edges (default 0)",
    )
    cloth.add_argument(
        "--overhang",
        metavar="4",
        default="4",
        help="how far backing and batting reach past the top (default 4 in)",
    )
    cloth.add_argument(
        "--plain-cuts", action="store_true", help="do not cut around parts that melt"
    )


def _add_choice_arguments(parser: argparse.ArgumentParser) -> None:
    choice = parser.add_argument_group(
        "what to choose from", "Colours are CSS colours such as '#f3ecd8' or 'lab(93 0 9)'."
    )
    choice.add_argument(
        "--thread", metavar="NAME=COLOR", action="append", default=[], help="a quilting thread"
    )
    choice.add_argument(
        "--show", choices=("least", "most"), default="least", help="how quilting should show"
    )
    choice.add_argument(
        "--fabric",
        metavar="NAME=COLOR",
        action="append",
        default=[],
        help="a fabric for binding, border or backing",
    )
    choice.add_argument(
        "--yardage",
        metavar="NAME=COLOR",
        action="append",
        default=[],
        help="the colour of a border or another yardage that the pattern names",
    )
    choice.add_argument(
        "--stash",
        metavar="FILE",
        nargs="?",
        const="",
        help="also choose from a stash (without FILE: your own)",
    )
    choice.add_argument(
        "--seed", metavar="1", type=int, default=1, help="another number pairs prints anew"
    )
    choice.add_argument(
        "--lock",
        metavar="ROW.UNIT[.PIECE]=SQUARE",
        action="append",
        default=[],
        help="put a square in a place: 2.3.1=B4 is row 2, unit 3, its first print",
    )


def run(args: argparse.Namespace) -> int:
    """Cut, pair, draw and write."""
    from app.commands._making import cut_and_write

    return cut_and_write(args)
