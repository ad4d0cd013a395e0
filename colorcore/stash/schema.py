"""The tables of the stash and the steps from each version to the next."""

import sqlite3
from pathlib import Path
from typing import Final

from colorcore.errors import StashError

#: "BSst" in ASCII: marks the file as ours (SQLite's application_id).
APPLICATION_ID: Final = 0x42537374

#: Named steps, each run once, in order; ``user_version`` counts those done. Never edit one that
#: has shipped: add another.
MIGRATIONS: Final[tuple[tuple[str, str], ...]] = (
    (
        "entries and what was done to them",
        """
        CREATE TABLE entry (
            id INTEGER PRIMARY KEY AUTOINCREMENT,
            name TEXT NOT NULL,
            kind TEXT NOT NULL CHECK (kind IN ('fabric', 'solid', 'thread')),
            amount TEXT NOT NULL,
            unit TEXT NOT NULL CHECK (unit IN ('yards', 'squares', 'spools')),
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
            at TEXT NOT NULL,
            words TEXT NOT NULL,
            entry INTEGER NOT NULL REFERENCES entry (id),
            before TEXT NOT NULL
        );
        """,
    ),
)


def prepare(db: sqlite3.Connection, path: Path, *, read_only: bool) -> None:
    """Bring a file to the newest version, in one transaction.

    Raises
    ------
    StashError
        If it is another program's file, was made by a newer version, or needs a step that cannot
        be taken because it is opened for reading only.
    """
    version, owner = _stamp(db)
    if owner not in (0, APPLICATION_ID) or (owner == 0 and _has_tables(db)):
        raise StashError(f"{path}: this is not a stash file; choose another with --stash.")
    if version > len(MIGRATIONS):
        raise StashError(
            f"{path}: this stash was made by a newer version of Bundle Stacks; update it first."
        )
    if version == len(MIGRATIONS):
        return
    if read_only:
        raise StashError(f"{path}: this stash has to be brought up to date but is read-only.")
    db.execute("BEGIN IMMEDIATE")
    try:
        # Another process may have been faster.
        version, _ = _stamp(db)
        for _name, script in MIGRATIONS[version:]:
            for statement in script.split(";"):
                if statement.strip():
                    db.execute(statement)
        db.execute(f"PRAGMA application_id = {APPLICATION_ID}")
        db.execute(f"PRAGMA user_version = {len(MIGRATIONS)}")
        db.execute("COMMIT")
    except BaseException:
        db.execute("ROLLBACK")
        raise


def _stamp(db: sqlite3.Connection) -> tuple[int, int]:
    (version,) = db.execute("PRAGMA user_version").fetchone()
    (owner,) = db.execute("PRAGMA application_id").fetchone()
    return int(version), int(owner)


def _has_tables(db: sqlite3.Connection) -> bool:
    return db.execute("SELECT 1 FROM sqlite_master LIMIT 1").fetchone() is not None
