"""``bundlestacks patterns``: the patterns that come along."""

import argparse
from typing import Any

EXAMPLE = """example:
  bundlestacks patterns
  bundlestacks patterns gatepost-stars > my-pattern.toml
"""


def register(subparsers: Any) -> None:
    """Add the verb's parser."""
    parser = subparsers.add_parser(
        "patterns",
        help="list the patterns that come along, or print one to make your own from",
        description="List the patterns that come along, with the squares each stack takes. With a "
        "name, print that pattern's file, to change it into your own.",
        epilog=EXAMPLE,
        formatter_class=argparse.RawDescriptionHelpFormatter,
    )
    parser.add_argument(
        "name", nargs="?", metavar="NAME", help="print this pattern's file instead of the list"
    )


def run(args: argparse.Namespace) -> int:
    """List the patterns or print one."""
    from app.terminal import heading, say, wrap
    from colorcore.lengths import say_size
    from colorcore.pattern import read_pattern, shipped_patterns
    from colorcore.wording import count

    if args.name is not None:
        print(read_pattern(args.name).text, end="")
        return 0
    for name, description in shipped_patterns().items():
        pattern = read_pattern(name)
        heading(name)
        wrap(f"{pattern.name}. {description}", indent="  ")
        for size in pattern.sizes:
            finished = f", finished {say_size(*size.finished)}" if size.finished else ""
            stacks = "; ".join(f"{s.name} {s.squares} ({s.value})" for s in size.stacks)
            wrap(
                f"{count(size.bundles, 'bundle')}, {count(size.squares, 'square')}{finished}. "
                f"{stacks}.",
                first=f"  {size.name + ':':8}",
                indent=" " * 10,
            )
    say()
    wrap("Use one by its name: bundlestacks stack PHOTO... --pattern NAME ...")
    return 0
