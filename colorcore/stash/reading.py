"""Text files and the amounts in them, read strictly."""

import os
from fractions import Fraction
from pathlib import Path
from typing import Final

from colorcore.errors import StashError
from colorcore.reading import read_whole

MOST_BYTES: Final = 2 * 1024**3


def read_fraction(text: str) -> Fraction:
    """An amount as ``3/2``, ``1.5`` or ``1 1/2``.

    Raises
    ------
    ValueError
        If it is none.
    """
    parts = text.split()
    plain = len(text) <= 40 and all(c in "0123456789./ " for c in text)
    try:
        if parts and plain:
            return sum((Fraction(part) for part in parts), Fraction(0))
    except (ValueError, ZeroDivisionError):
        pass
    raise ValueError("an amount such as 3/2 or 1.5")


def read_text(path: str | os.PathLike[str]) -> str:
    """Return a text file's content, UTF-8 with or without a byte order mark.

    Raises
    ------
    StashError
        If it cannot be read, is too large, or is not UTF-8.
    """
    name = Path(path).name
    too_large = (
        f"{name}: larger than {MOST_BYTES // 2**30} GB; name a file that 'stash export' wrote."
    )
    content = read_whole(path, StashError, most=MOST_BYTES, too_large=too_large)
    try:
        return content.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        raise StashError(
            f"{name}: not a text file in UTF-8 (byte {error.start + 1}); export it as UTF-8."
        ) from error
