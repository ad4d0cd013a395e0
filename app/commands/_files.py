"""Files that were made from photos, opened with a word to one who gives the photo itself."""

import shlex
from pathlib import Path
from typing import TYPE_CHECKING

from app.commands._cloth import is_picture
from colorcore.errors import BundleError

if TYPE_CHECKING:
    from colorcore.bundle import Bundle
    from colorcore.pattern import Pattern
    from colorcore.sheets.plan_json import PlanFile


def open_plan(path: str) -> "PlanFile":
    """Read a plan file; errors as ``read_plan`` raises them, and if it is the folder of one."""
    from colorcore.sheets.plan_json import read_plan

    inside = Path(path) / "plan.json"
    if inside.is_file():
        raise BundleError(f"{path} is a folder; name the plan in it: {shlex.quote(str(inside))}.")
    refuse_photo(
        path,
        "a plan",
        f"make one with bundlestacks stack {shlex.quote(path)} --pattern NAME --out FOLDER",
    )
    return read_plan(path)


def open_bundle(path: str) -> "Bundle":
    """Read a bundle file; errors as ``read_bundle`` raises them."""
    from colorcore.bundle import read_bundle

    refuse_photo(
        path,
        "a bundle file",
        f"make one with bundlestacks measure {shlex.quote(path)} --out bundle.json",
    )
    return read_bundle(path)


def open_pattern(name: str) -> "Pattern":
    """Read a pattern file or a shipped pattern; errors as ``read_pattern`` raises them."""
    from colorcore.pattern import read_pattern

    refuse_photo(
        name,
        "a pattern, which is a text file (TOML)",
        "'bundlestacks patterns' lists those that come along and prints one to make your own from",
    )
    return read_pattern(name)


def refuse_photo(path: str, wanted: str, way: str) -> None:
    """Say what is wanted instead of a photo.

    Raises
    ------
    BundleError
        If the file is a photo by its name.
    """
    if is_picture(path):
        raise BundleError(f"{path} is a photo, but here goes {wanted}: {way}.")
