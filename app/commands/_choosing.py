"""What the commands for choosing share: plans and bundles by file, the stash, names for them."""

import argparse
from pathlib import Path
from typing import TYPE_CHECKING

from app.commands._files import open_bundle, open_plan

if TYPE_CHECKING:
    from colorcore.bundle import Bundle
    from colorcore.stash import Stash


def add_stash_arguments(parser: argparse.ArgumentParser) -> None:
    """Add the options that say which stash to choose from."""
    parser.add_argument(
        "--stash", metavar="FILE", help="your stash (default: the one in your user data folder)"
    )
    parser.add_argument("--no-stash", action="store_true", help="leave the stash out of it")


def stash_if_any(args: argparse.Namespace) -> "Stash | None":
    """Return the stash that the arguments mean, opened for reading; None if none is wanted or the
    usual one is not there.

    Raises
    ------
    StashError
        If a stash was named and cannot be read.
    """
    from colorcore.stash import Stash, default_path

    if args.no_stash or (not args.stash and not default_path().is_file()):
        return None
    return Stash(Path(args.stash) if args.stash else None, read_only=True)


def read_other_bundle(path: str) -> "tuple[Bundle, str]":
    """Return the bundle of a bundle file or a plan file, and a name for it.

    Raises
    ------
    BundleError
        If it is neither.
    """
    bundle = open_plan(path).bundle if is_plan(path) else open_bundle(path)
    return bundle, bundle.name or name_of(path)


def is_plan(path: str) -> bool:
    """Whether a file says that it is a plan; one that cannot be read is not."""
    from colorcore.sheets.plan_json import SCHEMA

    try:
        with open(path, "rb") as stream:
            return SCHEMA.encode() in stream.read(400)
    except OSError:
        return False


def name_of(path: str) -> str:
    """Return a file's name without its ending; a plan's or bundle's by the usual name is called
    after its folder."""
    place = Path(path)
    if place.stem in ("plan", "bundle"):
        return place.resolve().parent.name or place.stem
    return place.stem
