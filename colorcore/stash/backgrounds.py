"""A fabric of the stash as the background of a plan."""

from dataclasses import replace
from pathlib import Path

from colorcore.contrast import Background
from colorcore.contrast.sources import background_from_swatch
from colorcore.stash.store import Stash, default_path


def background_from_stash(name: str, path: Path | None = None) -> Background | None:
    """Return the fabric of that name, or None if the stash has none.

    ``path`` is the stash's file; None is the usual one, which need not be there.

    Raises
    ------
    StashError
        If the stash cannot be read.
    """
    if path is None and not default_path().is_file():
        return None
    with Stash(path, read_only=True) as stash:
        # A number would be an entry's, and names no background.
        if not stash.knows(name):
            return None
        return replace(background_from_swatch(stash.swatch(name)), label=name)
