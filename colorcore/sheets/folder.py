"""A folder of outputs that is complete or untouched."""

import os
import shutil
import tempfile
import time
from collections.abc import Iterator, Mapping
from contextlib import contextmanager, suppress
from pathlib import Path
from typing import Final

from colorcore.errors import OutputError
from colorcore.writing import not_written

ASIDE: Final = ".unfinished-"
SECONDS_KEPT: Final = 24 * 3600


class OutputFolder:
    """Where a set of files is prepared aside, then put in place together.

    Files are renamed into ``place`` one by one, in the order given: where the last one is new, all
    the others are.
    """

    def __init__(self, place: Path, aside: Path) -> None:
        self.place = place
        self._aside = aside

    def publish(self, files: Mapping[str, bytes]) -> tuple[Path, ...]:
        """Write all ``files`` (name -> content) aside, then rename each into place, in order.

        Raises
        ------
        OutputError
            If one cannot be written; nothing in the folder has changed then.
        """
        try:
            for name, content in files.items():
                with open(self._aside / name, "wb") as stream:
                    stream.write(content)
                    stream.flush()
                    os.fsync(stream.fileno())
            for name in files:
                if (self.place / name).is_dir():
                    raise OutputError(
                        f"{self.place / name}: a folder of this name is in the way; "
                        "move it or choose another folder."
                    )
            for name in files:
                os.replace(self._aside / name, self.place / name)
        except OSError as error:
            raise _refused(self.place, error) from error
        return tuple(self.place / name for name in files)


@contextmanager
def output_folder(place: str | os.PathLike[str]) -> Iterator[OutputFolder]:
    """Make ``place`` ready to receive files, and leave no trace of it if the work fails.

    The check comes before the work: a folder that cannot be written is known at once. Folders
    made on the way and everything set aside are removed again unless files were published.

    Raises
    ------
    OutputError
        If the folder cannot be made or written.
    """
    folder = Path(place)
    made = [p for p in (folder, *folder.parents) if not p.exists()]
    try:
        folder.mkdir(parents=True, exist_ok=True)
        _sweep(folder)
        aside = Path(tempfile.mkdtemp(prefix=ASIDE, dir=folder))
    except OSError as error:
        _remove_empty(made)
        raise _refused(folder, error) from error
    try:
        yield OutputFolder(folder, aside)
    finally:
        shutil.rmtree(aside, ignore_errors=True)
        _remove_empty(made)


def _sweep(folder: Path) -> None:
    """Remove what a killed run left aside; a run of today may still be at work."""
    for left in folder.glob(f"{ASIDE}*"):
        # Another run may end, or sweep, while this one looks.
        with suppress(FileNotFoundError):
            if time.time() - left.stat().st_mtime > SECONDS_KEPT:
                shutil.rmtree(left, ignore_errors=True)


def _remove_empty(folders: list[Path]) -> None:
    for folder in folders:
        try:
            folder.rmdir()
        except OSError:
            return


def _refused(place: Path, error: OSError) -> OutputError:
    if isinstance(error, FileExistsError | NotADirectoryError):
        return OutputError(f"{place}: this is a file, not a folder; name a folder to write to.")
    return not_written(place, error)
