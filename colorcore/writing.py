"""Write a file whole or not at all."""

import errno
import os
import secrets
from pathlib import Path

from colorcore.errors import OutputError

_FULL = {errno.ENOSPC, errno.EFBIG, getattr(errno, "EDQUOT", errno.ENOSPC)}


def write_atomically(path: str | os.PathLike[str], content: bytes) -> None:
    """Write ``content`` aside in the same folder, then rename it to ``path``.

    A reader sees the old file or the new one, never a part. A symbolic link is followed, so that
    the file behind it is replaced and the link stays. A new file gets the permissions that a plain
    ``open`` would give; a replaced one keeps its own.

    Raises
    ------
    OutputError
        If the folder is missing or cannot be written, or the disk is full.
    """
    target = Path(os.path.realpath(path))
    if target.is_dir():
        raise OutputError(f"{path}: this is a folder; give the name of a file in it.")
    aside = target.with_name(f".{secrets.token_hex(8)}.part")
    try:
        with open(os.open(aside, os.O_CREAT | os.O_EXCL | os.O_WRONLY, 0o666), "wb") as stream:
            stream.write(content)
            stream.flush()
            os.fsync(stream.fileno())
        if target.exists():
            aside.chmod(target.stat().st_mode & 0o777)
        os.replace(aside, target)
    except OSError as error:
        aside.unlink(missing_ok=True)
        raise not_written(path, error) from error
    except BaseException:
        aside.unlink(missing_ok=True)
        raise


def not_written(path: str | os.PathLike[str], error: OSError) -> OutputError:
    """Return what to tell of a place that could not be written."""
    if error.errno in _FULL:
        return OutputError(
            f"{path}: cannot be written because the disk is full; make room or choose another "
            "place. What was there has not changed."
        )
    reason = error.strerror or type(error).__name__
    return OutputError(
        f"{path}: cannot be written ({reason}); choose a folder that exists and that you "
        "may write to."
    )
