"""Backgrounds as the commands name them: a square, a fabric of the stash, or a colour."""

from pathlib import Path

from colorcore.bundle import Bundle
from colorcore.contrast import Background, find_background


def read_background(
    text: str, bundle: Bundle, stash: str | None = None
) -> tuple[Background, tuple[str, ...]]:
    """Return the background that ``text`` means and the squares that are used up by it.

    Raises
    ------
    ColorError
        If it is neither a square's address nor a fabric of the stash nor a colour.
    StashError
        If the stash cannot be read.
    """

    from colorcore.stash.backgrounds import background_from_stash

    path = None if stash is None else Path(stash)
    return find_background(text, bundle, stash=lambda name: background_from_stash(name, path))
