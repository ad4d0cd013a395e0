"""``bundlestacks stack``: from photos or a bundle file to the stacks of a pattern."""

import argparse
from typing import Any

from app.commands._deal_arguments import (
    add_bundle_argument,
    add_lookup_argument,
    add_size_arguments,
    add_threshold_arguments,
)
from app.commands._photos import add_photo_arguments, add_terminal_arguments

EXAMPLE = """examples:
  bundlestacks stack table.jpg --pattern gatepost-stars --background '#f4efe6' --out stacks-out
  bundlestacks stack bundle.json --pattern my-pattern.toml --background 'lab(95 0 2)' \\
      --lock B3=fill --lock D5=out --out stacks-out
  bundlestacks stack left.jpg right.jpg --pattern gatepost-stars --size queen \\
      --background 2-A1 --out stacks-out
"""


def register(subparsers: Any) -> None:
    """Add the verb's parser."""
    parser = subparsers.add_parser(
        "stack",
        help="deal a bundle into the stacks of a pattern",
        description="Measure the squares in photos (or take a bundle file), deal them into the "
        "pattern's stacks, check each against the background, and write a sheet "
        "(plan.html), a table (plan.csv) and a plan (plan.json).",
        epilog=EXAMPLE,
        formatter_class=argparse.RawDescriptionHelpFormatter,
    )
    add_bundle_argument(parser)
    parser.add_argument(
        "--pattern",
        required=True,
        metavar="P",
        help="a pattern file (TOML) or the name of one that comes along, "
        "see 'bundlestacks patterns'",
    )
    parser.add_argument(
        "--background",
        metavar="B",
        help="the background fabric: a CSS colour such as '#f4efe6' or 'lab(95 0 2)', the "
        "address of a square in the photo, the name of a fabric in the stash, or a photo of the "
        "cloth (cloth.jpg, cloth.jpg:B3, cloth.jpg@X,Y,X,Y); needed unless the pattern has none",
    )
    parser.add_argument("--out", required=True, metavar="FOLDER", help="where to write the plan")
    add_size_arguments(parser)
    add_lookup_argument(parser)
    parser.add_argument(
        "--after",
        metavar="PLAN.json",
        help="an earlier plan of this bundle; as few squares as possible move from where they lie",
    )
    add_threshold_arguments(parser)
    add_photo_arguments(parser)
    add_terminal_arguments(parser)


def run(args: argparse.Namespace) -> int:
    """Measure, deal, and write the plan."""
    from app.commands._dealing import deal_and_write

    return deal_and_write(args)
