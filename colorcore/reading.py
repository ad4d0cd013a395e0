"""Read a file that may be missing, too large, or not for us to read."""

import os
from pathlib import Path

from colorcore.errors import BundleError


def read_whole(
    path: str | os.PathLike[str], error: type[BundleError], *, most: int, too_large: str
) -> bytes:
    """Return a file's content, of ``most`` bytes at most.

    Raises
    ------
    BundleError
        Of the class ``error``: ``too_large`` of a file beyond that, else why it cannot be read.
    """
    try:
        if os.path.getsize(path) > most:
            raise error(too_large)
        return Path(path).read_bytes()
    except OSError as fault:
        reason = fault.strerror or type(fault).__name__
        raise error(f"{path}: cannot be read ({reason}); check name and rights.") from fault
