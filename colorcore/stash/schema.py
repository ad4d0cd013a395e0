"""The tables of the stash and the steps from each version to the next."""

from typing import Final

from colorcore.database import FileKind
from colorcore.errors import Lack, StashError

_MIGRATIONS: Final[tuple[tuple[str, str], ...]] = (
    (
        "entries and what was done to them",
        """
        CREATE TABLE entry (
            id INTEGER PRIMARY KEY AUTOINCREMENT,
            name TEXT NOT NULL,
            kind TEXT NOT NULL CHECK (kind IN ('fabric', 'solid', 'thread')),
            amount TEXT NOT NULL,
            unit TEXT NOT NULL CHECK (unit IN ('yards', 'fat quarters', 'squares', 'spools')),
            place TEXT NOT NULL DEFAULT '',
            note TEXT NOT NULL DEFAULT '',
            lightness REAL NOT NULL,
            a REAL NOT NULL,
            b REAL NOT NULL,
            measured TEXT NOT NULL,
            picture BLOB NOT NULL,
            valid BLOB,
            reference TEXT NOT NULL,
            trust TEXT NOT NULL,
            source TEXT NOT NULL DEFAULT '',
            added TEXT NOT NULL,
            removed TEXT NOT NULL DEFAULT ''
        );
        CREATE UNIQUE INDEX entry_name ON entry (name COLLATE NOCASE) WHERE removed = '';
        CREATE UNIQUE INDEX entry_source ON entry (source) WHERE source <> '' AND removed = '';
        CREATE INDEX entry_color ON entry (removed, kind, id, lightness, a, b);
        CREATE TABLE change (
            id INTEGER PRIMARY KEY AUTOINCREMENT,
            batch INTEGER NOT NULL,
            at TEXT NOT NULL,
            words TEXT NOT NULL,
            entry INTEGER NOT NULL REFERENCES entry (id),
            before TEXT NOT NULL
        );
        CREATE INDEX change_batch ON change (batch);
        """,
    ),
)

STASH_FILE: Final = FileKind(
    what="stash",
    lack=Lack.STASH_FILE,
    application_id=0x42537374,
    migrations=_MIGRATIONS,
    error=StashError,
)
