"""``bundlestacks app``: the same work in the browser."""

import argparse
from typing import Any

EXAMPLE = """examples:
  bundlestacks app
  bundlestacks app --port 8600 --no-open
  bundlestacks app --share-on-network
"""


def register(subparsers: Any) -> None:
    """Add the verb's parser."""
    parser = subparsers.add_parser(
        "app",
        help="open Bundle Stacks in the browser",
        description="Open Bundle Stacks in the browser. It runs on this computer and answers only "
        "to it, and no photo leaves it.",
        epilog=EXAMPLE,
        formatter_class=argparse.RawDescriptionHelpFormatter,
    )
    parser.add_argument(
        "--share-on-network",
        action="store_true",
        help="let other devices on the same network open it too, a phone say. Whoever is on that "
        "network can then see and change your projects: use it on a network that you trust",
    )
    parser.add_argument("--port", type=int, default=0, metavar="N", help="default: the first free")
    parser.add_argument("--no-open", action="store_true", help="do not open the browser")
    parser.add_argument("--projects", metavar="FILE", help="keep projects in this file")
    parser.add_argument("--stash", metavar="FILE", help="keep the stash in this file")


def run(args: argparse.Namespace) -> int:
    """Serve the pages until Ctrl-C."""
    from pathlib import Path

    from app.web.serving import serve

    serve(
        port=args.port,
        shared=args.share_on_network,
        open_browser=not args.no_open,
        projects=None if args.projects is None else Path(args.projects),
        stash=None if args.stash is None else Path(args.stash),
    )
    return 0
