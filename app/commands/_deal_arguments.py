"""Arguments that the commands share which deal squares: what, into which stacks, how strictly."""

import argparse


def add_bundle_argument(parser: argparse.ArgumentParser) -> None:
    """Add the photos or the bundle file to deal."""
    parser.add_argument(
        "photos",
        nargs="+",
        metavar="PHOTO|bundle.json",
        help="photos, a folder of photos, or one bundle file",
    )


def add_size_arguments(parser: argparse.ArgumentParser) -> None:
    """Add the pattern's size and what the maker wants where."""
    parser.add_argument("--size", metavar="NAME", help="a size of the pattern (default: its first)")
    parser.add_argument(
        "--lock",
        metavar="B3=STACK",
        action="append",
        default=[],
        help="a square and where it goes: a stack's name, 'focal', 'fill', or 'out' "
        "(may be repeated)",
    )


def add_lookup_argument(parser: argparse.ArgumentParser) -> None:
    """Add the stash that a background's name is looked up in."""
    parser.add_argument(
        "--stash", metavar="FILE", help="the stash to look names up in (default: your own)"
    )


def add_threshold_arguments(parser: argparse.ArgumentParser) -> None:
    """Add the options that say where contrast ends."""
    parser.add_argument(
        "--holds",
        metavar="20",
        type=float,
        default=20.0,
        help="how much lighter or darker than the background, in L* (0 is black, 100 white), a "
        "piece must be to hold (default 20)",
    )
    parser.add_argument(
        "--melts",
        metavar="10",
        type=float,
        default=10.0,
        help="below this difference it melts into the background, between the two it is soft "
        "(default 10)",
    )
