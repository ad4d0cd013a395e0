"""``bundlestacks demo``: the whole job on the sample pictures."""

import argparse
from typing import Any

from app.commands._photos import add_terminal_arguments

EXAMPLE = """examples:
  bundlestacks demo
  bundlestacks demo --out somewhere --open
"""


def register(subparsers: Any) -> None:
    """Add the verb's parser."""
    parser = subparsers.add_parser(
        "demo",
        help="run the whole job on the sample pictures",
        description="Measure the sample bundle (pictures rendered for this, not photographed), "
        "deal it into the stacks of a star pattern and write the sheet.",
        epilog=EXAMPLE,
        formatter_class=argparse.RawDescriptionHelpFormatter,
    )
    parser.add_argument(
        "--out", default="stacks-out", metavar="FOLDER", help="where to write (default stacks-out)"
    )
    parser.add_argument("--open", action="store_true", help="open the sheet in the browser")
    add_terminal_arguments(parser)


def run(args: argparse.Namespace) -> int:
    """Run ``stack`` on the sample bundle."""
    from pathlib import Path

    from app.cli import make_parser
    from app.commands._dealing import deal_and_write
    from app.terminal import say
    from sample_images import sample_paths

    words = ["stack", str(sample_paths()[0]), "--pattern", "gatepost-stars"]
    words += ["--background", "#f4efe6", "--out", args.out]
    words += ["--name", "Ferrymoor (rendered, not photographed)"]
    wanted = make_parser(("stack",)).parse_args(words)
    wanted.quiet, wanted.progress = args.quiet, args.progress
    code = deal_and_write(wanted)
    sheet = Path(args.out, "plan.html").resolve()
    if args.open and code == 0:
        import webbrowser

        if not webbrowser.open(sheet.as_uri()):
            say(f"No browser could be opened here; open {sheet} yourself.")
    return code
