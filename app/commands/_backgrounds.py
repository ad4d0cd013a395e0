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
    """

    def kept(name: str) -> Background | None:
        return _from_stash(name, stash)

    return find_background(text, bundle, stash=kept)


def _from_stash(name: str, file: str | None) -> Background | None:
    """Look a name up in the stash file, or in the usual one if that is there."""
    from dataclasses import replace

    from colorcore.contrast.sources import background_from_swatch
    from colorcore.errors import StashError
    from colorcore.stash.store import Stash, default_path

    path = default_path() if file is None else Path(file)
    if file is None and not path.is_file():
        return None
    with Stash(path, read_only=True) as stash:
        try:
            swatch = stash.swatch(name)
        except StashError:
            return None
    return replace(background_from_swatch(swatch), label=name)
