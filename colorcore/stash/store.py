"""Keep, find, change and give back: the stash file."""

import json
import re
import sqlite3
from collections.abc import Callable, Iterable, Iterator
from contextlib import contextmanager
from datetime import UTC, datetime
from fractions import Fraction
from itertools import chain
from pathlib import Path
from typing import Final

import numpy as np
from numpy.typing import NDArray

from colorcore.database import Database, DatabaseOwner, bare, folded
from colorcore.errors import StashError
from colorcore.stash.amounts import say_amount
from colorcore.stash.model import MOST_TEXT, Kind, NewEntry, StashEntry, check_amount, check_name
from colorcore.stash.rows import columns_from_entry, entry_from_row, swatch_from_row
from colorcore.stash.schema import STASH_FILE
from colorcore.swatch import Swatch

_CHANGEABLE: Final = ("name", "amount", "place", "note", "removed")
_LIGHT: Final = (
    "id, name, kind, amount, unit, place, note, measured, reference, trust, source, added, removed"
)


def _has_other_letters(text: str) -> str:
    """Return the SQL that says whether a text has letters beyond ASCII. Only those need Python's
    function to lose their case: for a million entries it takes seconds."""
    return f"length(CAST({text} AS BLOB)) > length({text})"


def default_path() -> Path:
    """Return where the stash is kept unless told otherwise: the user's data folder."""
    from platformdirs import user_data_path

    return user_data_path("bundlestacks", appauthor=False) / "stash.sqlite"


class Stash(DatabaseOwner):
    """An open stash file; use it in a ``with`` statement.

    Parameters
    ----------
    path : Path or None
        The file, made if it is missing; None for ``default_path()``.
    read_only : bool
        Never write; a missing file is an error then.
    now : callable
        The clock, for the times that are noted.

    Raises
    ------
    StashError
        On opening and in every method: the file is damaged, not a stash, newer than this program,
        locked for long, read-only, or the disk is full.
    """

    def __init__(
        self,
        path: Path | None = None,
        *,
        read_only: bool = False,
        now: Callable[[], datetime] = lambda: datetime.now(UTC),
    ) -> None:
        self.path = default_path() if path is None else Path(path)
        self._now = now
        self._file = Database(self.path, STASH_FILE, read_only=read_only)
        self._db = self._file.db
        self._batch = 0
        self._changes = False

    # -- looking ------------------------------------------------------------------------------

    def entries(
        self, *, kind: Kind | None = None, text: str = "", removed: bool = False
    ) -> list[StashEntry]:
        """Return entries by name: all that are there, or all ``removed`` ones; ``text`` must stand
        in name, place or note, in any case and with or without accents."""
        wanted = ["removed <> ''" if removed else "removed = ''"]
        values: dict[str, str] = {}
        if kind is not None:
            wanted.append("kind = :kind")
            values["kind"] = str(kind)
        if text:
            # LIKE is the fastest that knows no case of ASCII letters; of others it knows it, and
            # their accents.
            like = re.sub(r"([%_\\])", r"\\\1", bare(text[: MOST_TEXT + 1]))
            ways = [
                f"{column} LIKE :like ESCAPE '\\' "
                f"OR {_has_other_letters(column)} AND instr(bare({column}), :text) > 0"
                for column in ("name", "place", "note")
            ]
            wanted.append(f"({' OR '.join(ways)})")
            values |= {"like": f"%{like}%", "text": bare(text)}
        query = f"SELECT {_LIGHT} FROM entry WHERE {' AND '.join(wanted)} ORDER BY name, id"
        with self._file.said():
            return [entry_from_row(row) for row in self._db.execute(query, values)]

    def knows(self, name: str) -> bool:
        """Whether an entry of that name (any case) is there."""
        with self._file.said():
            return self._named(name, "id") is not None

    def entry(self, name_or_id: str | int) -> StashEntry:
        """Return the entry of that name (any case) or number.

        Raises
        ------
        StashError
            If there is none; near names are suggested.
        """
        return entry_from_row(self._row(name_or_id, _LIGHT))

    def swatch(self, name_or_id: str | int) -> Swatch:
        """Return all that was measured of an entry, with its picture."""
        return swatch_from_row(self._row(name_or_id, "*"))

    def picture(self, name_or_id: str | int) -> bytes:
        """Return an entry's picture as JPEG, light undone, sRGB."""
        return bytes(self._row(name_or_id, "picture")["picture"])

    def colors(
        self, kinds: Iterable[Kind] = (Kind.FABRIC, Kind.SOLID)
    ) -> tuple[NDArray[np.int64], NDArray[np.float64]]:
        """Return numbers (N,) and reads-as CIELAB (N, 3) of all entries of some kinds."""
        chosen = [str(kind) for kind in kinds]
        marks = ", ".join("?" * len(chosen))
        query = (
            f"SELECT id, lightness, a, b FROM entry INDEXED BY entry_color "
            f"WHERE removed = '' AND kind IN ({marks})"
        )
        with self._file.said():
            cursor = self._db.cursor()
            cursor.row_factory = None
            flat = np.fromiter(chain.from_iterable(cursor.execute(query, chosen)), np.float64)
        table = flat.reshape(-1, 4)
        table = table[np.argsort(table[:, 0])]
        return table[:, 0].astype(np.int64), np.ascontiguousarray(table[:, 1:])

    def newest_change(self) -> int:
        """Return a number that differs after every change, to know what was made before it."""
        with self._file.said():
            row = self._db.execute(
                "SELECT seq FROM sqlite_sequence WHERE name = 'change'"
            ).fetchone()
            kept = self._db.execute("SELECT count(*) FROM change").fetchone()
        return (int(row[0]) if row else 0) * 2**20 + int(kept[0])

    def sources(self) -> set[str]:
        """Return the sources of all entries that are there, to leave out what is known."""
        with self._file.said():
            rows = self._db.execute(
                "SELECT source FROM entry WHERE removed = '' AND source <> ''"
            ).fetchall()
        return {str(row[0]) for row in rows}

    # -- changing -----------------------------------------------------------------------------

    @contextmanager
    def together(self) -> Iterator[None]:
        """Keep all changes that are made within, or on any error none; ``undo`` takes them back
        together."""
        with self._changing():
            yield

    def add(self, new: NewEntry) -> StashEntry:
        """Keep an entry; a name that is taken gets a number behind it. One whose ``source`` is
        known is not added again: the known one is returned."""
        return self.add_all([new])[0]

    def add_all(self, new_entries: Iterable[NewEntry]) -> list[StashEntry]:
        """Keep several entries, all or none."""
        with self._changing() as db:
            numbers = [self._insert(db, new) for new in new_entries]
        return [self.entry(number) for number in numbers]

    def take_over(
        self,
        new_entries: Iterable[NewEntry],
        corrections: Iterable[tuple[int, Fraction, str, str]],
    ) -> tuple[list[StashEntry], list[StashEntry]]:
        """Keep new entries and set amount, place and note of others by number, all or none.

        Returns what was added and what was corrected.
        """
        corrected = []
        with self._changing() as db:
            numbers = [self._insert(db, new) for new in new_entries]
            for number, amount, place, note in corrections:
                entry = self.entry(number)
                check_amount(amount, entry.name)
                words = f"corrected {entry.name}"
                self._set(db, entry, words, amount=str(amount), place=place, note=note)
                corrected.append(number)
        return [self.entry(n) for n in numbers], [self.entry(n) for n in corrected]

    def rename(self, name_or_id: str | int, name: str) -> StashEntry:
        """Give an entry another name.

        Raises
        ------
        StashError
            If the name is empty or taken.
        """
        check_name(name)
        name = name.strip()
        entry = self.entry(name_or_id)
        with self._changing() as db:
            taken = db.execute(
                "SELECT id FROM entry WHERE name = ? COLLATE NOCASE AND removed = '' AND id <> ?",
                (name, entry.id),
            ).fetchone()
            if taken is not None:
                raise StashError(f"'{name}' is in the stash already; choose another name.")
            self._set(db, entry, f"renamed {entry.name} to {name}", name=name)
        return self.entry(entry.id)

    def use(self, name_or_id: str | int, amount: Fraction) -> StashEntry:
        """Take from an entry's amount.

        Raises
        ------
        StashError
            If there is less than that, or the amount is not positive.
        """
        with self._changing() as db:
            entry = self.entry(name_or_id)
            check_amount(amount, entry.name)
            if amount == 0:
                raise StashError(f"{entry.name}: say how much is used; it was 0.")
            if amount > entry.amount:
                raise StashError(
                    f"{entry.name}: only {say_amount(entry.amount, entry.unit)} left, not "
                    f"{amount}; use less, or correct the entry."
                )
            words = f"used {say_amount(amount, entry.unit)} of {entry.name}"
            self._set(db, entry, words, amount=str(entry.amount - amount))
        return self.entry(entry.id)

    def describe(
        self,
        name_or_id: str | int,
        *,
        amount: Fraction | None = None,
        place: str | None = None,
        note: str | None = None,
    ) -> StashEntry:
        """Correct an entry's amount, place or note."""
        entry = self.entry(name_or_id)
        changes: dict[str, str] = {}
        if amount is not None:
            check_amount(amount, entry.name)
            changes["amount"] = str(amount)
        changes |= {k: v for k, v in (("place", place), ("note", note)) if v is not None}
        if changes:
            with self._changing() as db:
                self._set(db, entry, f"corrected {entry.name}", **changes)
        return self.entry(entry.id)

    def remove(self, name_or_id: str | int) -> StashEntry:
        """Take an entry out; it stays in the file, so that this can be undone."""
        return self.remove_all([name_or_id])[0]

    def remove_all(self, names_or_ids: Iterable[str | int]) -> list[StashEntry]:
        """Take several entries out, all or none."""
        entries = [self.entry(name) for name in names_or_ids]
        with self._changing() as db:
            for entry in entries:
                self._set(db, entry, f"removed {entry.name}", removed=self._time())
        return entries

    def undo(self) -> str:
        """Take back the newest change, or all that were made together, and return in words what it
        was.

        Raises
        ------
        StashError
            If nothing is left to take back.
        """
        with self._changing() as db:
            rows = db.execute(
                "SELECT * FROM change WHERE batch = (SELECT max(batch) FROM change) "
                "ORDER BY id DESC"
            ).fetchall()
            if not rows:
                raise StashError("there is nothing to undo in this stash.")
            for row in rows:
                before = json.loads(row["before"])
                if before.get("removed") == "" and "name" in before:
                    before["name"] = self._free_name(db, before["name"], own=row["entry"])
                    self._refuse_twin(db, row["entry"], before["name"])
                marks = ", ".join(f"{column} = ?" for column in before)
                values = (*before.values(), row["entry"])
                db.execute(f"UPDATE entry SET {marks} WHERE id = ?", values)
                db.execute("DELETE FROM change WHERE id = ?", (row["id"],))
        first = str(rows[-1]["words"])
        return first if len(rows) == 1 else f"{first} and {len(rows) - 1} more made together"

    def backup(self, path: Path) -> None:
        """Copy the stash as it is now to another file, whole or not at all, while others may
        go on reading and writing.

        Raises
        ------
        StashError
            If the place cannot be written, or is the stash itself.
        """
        self._file.backup(path)

    # -- within -------------------------------------------------------------------------------

    @contextmanager
    def _changing(self) -> Iterator[sqlite3.Connection]:
        """One transaction, whose changes are undone together: one's own, or that around it."""
        # Holds the file: no other thread comes between, or into a transaction that is not its own.
        with self._file.said():
            if self._changes:
                yield self._db
                return
            with self._file.change() as db:
                newest = "SELECT coalesce(max(batch), 0) + 1 FROM change"
                (self._batch,) = db.execute(newest).fetchone()
                self._changes = True
                try:
                    yield db
                finally:
                    self._changes = False

    def _row(self, name_or_id: str | int, columns: str) -> sqlite3.Row:
        with self._file.said():
            row = None
            if isinstance(name_or_id, str):
                row = self._named(name_or_id, columns)
            if row is None and str(name_or_id).isascii() and str(name_or_id).isdigit():
                row = self._db.execute(
                    f"SELECT {columns} FROM entry WHERE id = ?", (min(int(name_or_id), 2**62),)
                ).fetchone()
        if row is None:
            raise StashError(self._no_such(str(name_or_id)))
        found: sqlite3.Row = row
        return found

    def _named(self, name: str, columns: str) -> sqlite3.Row | None:
        """The row of that name in any case; of names that only differ in the case of letters with
        accents the one as it is written, else the first."""
        query = f"SELECT {columns} FROM entry WHERE removed = '' AND"
        row = self._db.execute(f"{query} name = ? COLLATE NOCASE", (name.strip(),)).fetchone()
        if row is None:
            other = f"{_has_other_letters('name')} AND folded(name) = ?"
            query += f" (name = ? COLLATE NOCASE OR {other}) ORDER BY id LIMIT 1"
            row = self._db.execute(query, [folded(name.strip())] * 2).fetchone()
        found: sqlite3.Row | None = row
        return found

    def _no_such(self, name: str) -> str:
        from difflib import get_close_matches

        with self._file.said():
            names = [r[0] for r in self._db.execute("SELECT name FROM entry WHERE removed = ''")]
        near = get_close_matches(name, names, n=3)
        hint = f"; did you mean {' or '.join(repr(n) for n in near)}?" if near else "."
        return f"'{name}' is not in the stash{hint}"

    def _insert(self, db: sqlite3.Connection, new: NewEntry) -> int:
        """Insert an entry, or find the one with its source, and return its number."""
        known = db.execute(
            "SELECT id FROM entry WHERE source = ? AND source <> '' AND removed = ''",
            (new.source,),
        ).fetchone()
        if known is not None:
            return int(known[0])
        values = columns_from_entry(new) | {
            "name": self._free_name(db, new.name.strip()),
            "added": self._time(),
        }
        columns, marks = ", ".join(values), ", ".join("?" * len(values))
        cursor = db.execute(
            f"INSERT INTO entry ({columns}) VALUES ({marks})", tuple(values.values())
        )
        number = int(cursor.lastrowid or 0)
        gone = json.dumps({"removed": self._time()})
        self._note_change(db, number, f"added {new.name}", gone)
        return number

    def _set(self, db: sqlite3.Connection, entry: StashEntry, words: str, **values: str) -> None:
        row = db.execute("SELECT * FROM entry WHERE id = ?", (entry.id,)).fetchone()
        before = {column: row[column] for column in values if column in _CHANGEABLE}
        if "removed" in values:
            before["name"] = row["name"]
        self._note_change(db, entry.id, words, json.dumps(before))
        marks = ", ".join(f"{column} = ?" for column in values)
        db.execute(f"UPDATE entry SET {marks} WHERE id = ?", (*values.values(), entry.id))

    def _note_change(self, db: sqlite3.Connection, entry: int, words: str, before: str) -> None:
        db.execute(
            "INSERT INTO change (batch, at, words, entry, before) VALUES (?, ?, ?, ?, ?)",
            (self._batch, self._time(), words, entry, before),
        )

    def _free_name(self, db: sqlite3.Connection, name: str, own: int = 0) -> str:
        query = "SELECT 1 FROM entry WHERE name = ? COLLATE NOCASE AND removed = '' AND id <> ?"
        free, number = name, 1
        while db.execute(query, (free, own)).fetchone() is not None:
            number += 1
            free = f"{name} {number}"
        return free

    def _refuse_twin(self, db: sqlite3.Connection, entry: int, name: str) -> None:
        twin = db.execute(
            "SELECT other.name FROM entry JOIN entry AS other ON other.source = entry.source "
            "WHERE entry.id = ? AND entry.source <> '' AND other.id <> entry.id "
            "AND other.removed = ''",
            (entry,),
        ).fetchone()
        if twin is not None:
            raise StashError(f"{name} has been added again since, as {twin[0]}; keep that one.")

    def _time(self) -> str:
        return self._now().astimezone(UTC).isoformat(timespec="seconds")
