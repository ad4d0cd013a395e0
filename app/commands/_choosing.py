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
    return bundle, name_of(bundle, path)


def is_plan(path: str) -> bool:
    """Whether a file says that it is a plan; one that cannot be read is not."""
    from colorcore.sheets.plan_json import SCHEMA

    try:
        with open(path, "rb") as stream:
            return SCHEMA.encode() in stream.read(400)
    except OSError:
        return False


def name_of(bundle: "Bundle", path: str) -> str:
    """Return what a bundle is called: its own name, or the file's without its ending, but for a
    plan or bundle by the usual name its photo's."""
    place = Path(path)
    if bundle.name or place.stem not in ("plan", "bundle"):
        return bundle.name or place.stem
    photos = [Path(photo.path).stem for photo in bundle.photos]
    return photos[0] if len(photos) == 1 else place.resolve().parent.name or place.stem
