"""An SQLite file that belongs to us: versions, transactions, and failures said in one sentence.

Every change is one transaction, confirmed only when it is on disk (write-ahead log, full
synchronisation), so a killed process loses nothing that was confirmed, and a second process may
read while one writes.
"""

import os
import re
import sqlite3
import threading
import unicodedata
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from types import TracebackType
from typing import Any, Final, Self

from colorcore.errors import BundleError, Lack

_WAIT_SECONDS: Final = 20.0


@dataclass(frozen=True)
class FileKind:
    """What a file holds.

    ``what`` in words ("stash"); ``lack`` what names another file;
    ``application_id`` SQLite's mark of whose file it is; ``migrations`` named scripts, each run
    once, in order, counted by ``user_version``: never edit one that has shipped, add another;
    ``error`` the class of error to raise.
    """

    what: str
    lack: Lack
    application_id: int
    migrations: tuple[tuple[str, str], ...]
    error: type[BundleError]


class Database:
    """An open file of one kind, brought to its newest version.

    Several threads may share it: each use within ``said`` or ``change`` has it to itself, since
    SQLite's transactions belong to the connection and not to the thread.

    Raises
    ------
    BundleError
        Of the kind's class, on opening and within ``said`` and ``change``: the file is damaged,
        not of this kind, newer than this program, locked for long, read-only, or the disk is full.
    """

    def __init__(self, path: Path, kind: FileKind, *, read_only: bool = False) -> None:
        self.path = path
        self._kind = kind
        self._turn = threading.RLock()
        with self.said():
            self.db = self._connect(read_only)
            try:
                if not read_only:
                    self.db.execute("PRAGMA journal_mode = WAL")
                    self.db.execute("PRAGMA synchronous = FULL")
                self.db.execute("PRAGMA foreign_keys = ON")
                self._prepare(read_only)
            except BaseException:
                self.db.close()
                raise

    def close(self) -> None:
        """Close the file; everything confirmed is on disk already."""
        self.db.close()

    @contextmanager
    def said(self) -> Iterator[None]:
        """Say SQLite's failures in one sentence."""
        with self._turn:
            try:
                yield
            except sqlite3.Error as error:
                is_other = _primary_code(error) in (sqlite3.SQLITE_NOTADB, sqlite3.SQLITE_READONLY)
                raise self._kind.error(
                    f"{self.path}: {self._reason(error)}",
                    lack=self._kind.lack if is_other else None,
                ) from error
            except UnicodeDecodeError as error:  # SQLite's own words quote what is damaged
                raise self._kind.error(f"{self.path}: {_damaged(self._kind.what)}") from error

    @contextmanager
    def change(self) -> Iterator[sqlite3.Connection]:
        """One transaction: all of it, or on any error nothing."""
        with self.said():
            self.db.execute("BEGIN IMMEDIATE")
            try:
                yield self.db
                self.db.execute("COMMIT")
            except BaseException:
                if self.db.in_transaction:
                    self.db.execute("ROLLBACK")
                raise

    def backup(self, path: Path) -> None:
        """Copy the file as it is now to another, whole or not at all, while others may go on
        reading and writing.

        Raises
        ------
        BundleError
            Of the kind's class: the place cannot be written, or is the file itself.
        """
        target = Path(path)
        if target.is_dir() or target.resolve() == self.path.resolve():
            raise self._kind.error(f"{target}: give the name of another file for the backup.")
        aside = target.with_name(f".{target.name}.part")
        try:
            with self.said():
                copy = sqlite3.connect(aside)
                try:
                    self.db.backup(copy)
                finally:
                    copy.close()
            aside.replace(target)
        except OSError as error:
            raise self._kind.error(f"{target}: cannot be written ({error.strerror}).") from error
        finally:
            aside.unlink(missing_ok=True)

    def _connect(self, read_only: bool) -> sqlite3.Connection:
        if read_only and not self.path.exists():
            raise self._kind.error(f"{self.path}: no such {self._kind.what}; check the name.")
        if not read_only:
            try:
                self.path.parent.mkdir(parents=True, exist_ok=True)
            except OSError as error:
                raise self._kind.error(
                    f"{self.path}: its folder cannot be made ({error.strerror}); "
                    "choose another place.",
                    lack=self._kind.lack,
                ) from error
        mode = "ro" if read_only else "rwc"
        if read_only and self._lies_still():
            mode += "&immutable=1"
        db = sqlite3.connect(
            f"{self.path.absolute().as_uri()}?mode={mode}",
            uri=True,
            timeout=_WAIT_SECONDS,
            isolation_level=None,
            check_same_thread=False,
        )
        db.row_factory = sqlite3.Row
        # SQLite's own folds the case of ASCII letters alone.
        db.create_function("folded", 1, folded, deterministic=True)
        db.create_function("bare", 1, bare, deterministic=True)
        return db

    def _lies_still(self) -> bool:
        """Whether nobody can be writing: a write-ahead log needs a folder that can be written, so
        on a medium that cannot be the file has to be opened without one."""
        log = self.path.with_name(self.path.name + "-wal")
        return not os.access(self.path.parent, os.W_OK) and not log.exists()

    def _prepare(self, read_only: bool) -> None:
        kind, newest = self._kind, len(self._kind.migrations)
        version, owner = self._stamp()
        if owner not in (0, kind.application_id) or (owner == 0 and self._has_tables()):
            raise kind.error(
                f"{self.path}: this is not a {kind.what} file; choose another.", lack=kind.lack
            )
        if version > newest:
            raise kind.error(
                f"{self.path}: this {kind.what} was made by a newer version of Bundle Stacks; "
                "update it first."
            )
        if version == newest:
            return
        if read_only:
            raise kind.error(
                f"{self.path}: this {kind.what} has to be brought up to date but is read-only."
            )
        with self.change() as db:
            # Another process may have been faster.
            version, _ = self._stamp()
            for _name, script in kind.migrations[version:]:
                for statement in filter(str.strip, script.split(";")):
                    db.execute(statement)
            db.execute(f"PRAGMA application_id = {kind.application_id}")
            db.execute(f"PRAGMA user_version = {newest}")

    def _stamp(self) -> tuple[int, int]:
        (version,) = self.db.execute("PRAGMA user_version").fetchone()
        (owner,) = self.db.execute("PRAGMA application_id").fetchone()
        return int(version), int(owner)

    def _has_tables(self) -> bool:
        return self.db.execute("SELECT 1 FROM sqlite_master LIMIT 1").fetchone() is not None

    def _reason(self, error: sqlite3.Error) -> str:
        what = self._kind.what
        busy = f"another program is writing to the {what}; try again in a moment."
        sentences: dict[Any, str] = {
            sqlite3.SQLITE_BUSY: busy,
            sqlite3.SQLITE_LOCKED: busy,
            sqlite3.SQLITE_READONLY: f"the {what} may only be read here; choose another place.",
            sqlite3.SQLITE_FULL: "the disk is full; make room, nothing confirmed was lost.",
            sqlite3.SQLITE_IOERR: (
                "the disk cannot be read or written; make room if it is full, "
                "nothing confirmed was lost."
            ),
            sqlite3.SQLITE_CORRUPT: _damaged(what),
            sqlite3.SQLITE_NOTADB: f"this is not a {what} file; choose another.",
            sqlite3.SQLITE_CANTOPEN: f"the {what} cannot be opened; check the folder's rights.",
        }
        return sentences.get(_primary_code(error), f"the {what} cannot be used ({error}).")


def _damaged(what: str) -> str:
    return f"the {what} file is damaged; bring back a backup."


def folded(text: str) -> str:
    """Return a text without its case and with accents in one form, to compare it."""
    return unicodedata.normalize("NFC", text.casefold())


_UNLIKE: Final = str.maketrans(
    {"ø": "o", "æ": "ae", "œ": "oe", "ł": "l", "đ": "d", "ð": "d", "þ": "th", "ħ": "h", "ŧ": "t",
     "ı": "i", "ŋ": "n"}
)  # fmt: skip
"""Letters that no mark makes of others, and what is typed for them where a keyboard has none."""
_MARKS: Final = re.compile("[\u0300-\u036f]")


def bare(text: str) -> str:
    """Return a text without case and accents, ``köping`` and ``Køping`` as ``koping`` and ``ß`` as
    ``ss``, to look for it as any keyboard writes it."""
    apart = unicodedata.normalize("NFD", text.casefold())
    return unicodedata.normalize("NFC", _MARKS.sub("", apart).translate(_UNLIKE))


def _primary_code(error: sqlite3.Error) -> int | None:
    code = getattr(error, "sqlite_errorcode", None)
    return None if code is None else code & 0xFF


class DatabaseOwner:
    """What keeps its things in a ``Database``; to be used in a ``with`` statement."""

    _file: Database

    def close(self) -> None:
        """Close the file; everything confirmed is on disk already."""
        self._file.close()

    def __enter__(self) -> Self:
        return self

    def __exit__(
        self,
        kind: type[BaseException] | None,
        error: BaseException | None,
        traceback: TracebackType | None,
    ) -> None:
        self.close()
