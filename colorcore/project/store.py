"""Keep projects: every step a version, so that nothing is lost and every step can be undone."""

import builtins
from collections.abc import Callable
from datetime import UTC, datetime
from pathlib import Path
from typing import Final

from colorcore.database import Database, DatabaseOwner, FileKind
from colorcore.errors import Lack, ProjectError
from colorcore.project.model import Choices, ProjectInfo, choices_from_json

#: Older versions of a project's choices than this many are let go.
MOST_VERSIONS: Final = 500

_PROJECT_FILE: Final = FileKind(
    what="project file",
    lack=Lack.PROJECT_FILE,
    application_id=0x42537072,
    error=ProjectError,
    migrations=(
        (
            "projects, their versions, pictures and results",
            """
            CREATE TABLE project (
                id INTEGER PRIMARY KEY AUTOINCREMENT,
                name TEXT NOT NULL,
                version INTEGER NOT NULL DEFAULT 0,
                changed TEXT NOT NULL,
                removed TEXT NOT NULL DEFAULT ''
            );
            CREATE TABLE version (
                project INTEGER NOT NULL REFERENCES project (id),
                number INTEGER NOT NULL,
                at TEXT NOT NULL,
                words TEXT NOT NULL,
                choices TEXT NOT NULL,
                PRIMARY KEY (project, number)
            ) WITHOUT ROWID;
            CREATE TABLE picture (sha256 TEXT PRIMARY KEY, data BLOB NOT NULL);
            CREATE TABLE result (
                key TEXT PRIMARY KEY, data BLOB NOT NULL, used TEXT NOT NULL
            );
            """,
        ),
        (
            "steps counted, forward and back",
            "ALTER TABLE project ADD COLUMN steps INTEGER NOT NULL DEFAULT 0",
        ),
        ("results are made again, not kept", "DROP TABLE result"),
    ),
)
_TAKE_STEP: Final = "UPDATE project SET version = ?, changed = ?, steps = steps + 1 WHERE id = ?"


def default_path() -> Path:
    """Return where projects are kept unless told otherwise: the user's data folder."""
    from platformdirs import user_data_path

    return user_data_path("bundlestacks", appauthor=False) / "projects.sqlite"


class Projects(DatabaseOwner):
    """All projects of a maker; use it in a ``with`` statement.

    Raises
    ------
    ProjectError
        On opening and in every method, as ``colorcore.database.Database`` says.
    """

    def __init__(
        self,
        path: Path | None = None,
        *,
        now: Callable[[], datetime] = lambda: datetime.now(UTC),
    ) -> None:
        self.path = default_path() if path is None else Path(path)
        self._now = now
        self._file = Database(self.path, _PROJECT_FILE)

    def list(self) -> list[ProjectInfo]:
        """Return all projects, the last changed first; a damaged one is there with no photos."""
        return self._infos("WHERE removed = '' ORDER BY changed DESC, id DESC")

    def create(self, name: str) -> int:
        """Begin a project and return its number."""
        name = _checked(name)
        with self._file.change() as db:
            cursor = db.execute(
                "INSERT INTO project (name, changed) VALUES (?, ?)", (name, self._time())
            )
            number = int(cursor.lastrowid or 0)
            self._put_version(number, 0, "began", Choices())
        return number

    def rename(self, project: int, name: str) -> None:
        """Give a project another name."""
        name = _checked(name)
        with self._file.change() as db:
            db.execute("UPDATE project SET name = ? WHERE id = ?", (name, self._known(project)))

    def remove(self, project: int) -> None:
        """Take a project off the list; ``restore`` brings it back."""
        with self._file.change() as db:
            db.execute(
                "UPDATE project SET removed = ? WHERE id = ?", (self._time(), self._known(project))
            )

    def restore(self, project: int) -> None:
        """Bring a removed project back."""
        with self._file.change() as db:
            db.execute("UPDATE project SET removed = '' WHERE id = ?", (self._known(project),))

    def removed(self) -> "builtins.list[ProjectInfo]":
        """Return the projects that were removed and can be restored, the last removed first."""
        return self._infos("WHERE removed != '' ORDER BY removed DESC, id DESC")

    def mark(self, project: int) -> str:
        """Return a text that every step, undo and redo changes, whatever the clock does."""
        with self._file.said():
            row = self._file.db.execute(
                "SELECT steps FROM project WHERE id = ?", (self._known(project),)
            ).fetchone()
        return str(row[0])

    def name(self, project: int) -> str:
        """Return a project's name."""
        with self._file.said():
            row = self._file.db.execute(
                "SELECT name FROM project WHERE id = ?", (self._known(project),)
            ).fetchone()
        return str(row[0])

    def load(self, project: int) -> Choices:
        """Return a project's choices as they stand."""
        query = (
            "SELECT choices FROM version JOIN project ON id = project AND number = version "
            "WHERE project = ?"
        )
        with self._file.said():
            row = self._file.db.execute(query, (self._known(project),)).fetchone()
        if row is None:
            raise ProjectError("the steps of this project are damaged; bring back a backup.")
        return choices_from_json(row[0])

    def save(self, project: int, choices: Choices, words: str) -> None:
        """Keep new choices as a step that ``undo`` can take back; ``words`` say what was done.
        Steps that were undone before are let go. Saving what is kept already is no step."""
        with self._file.change() as db:
            at = self._version(project)
            if choices == self.load(project):
                return
            db.execute("DELETE FROM version WHERE project = ? AND number > ?", (project, at))
            self._put_version(project, at + 1, words, choices)
            db.execute(
                _TAKE_STEP,
                (at + 1, self._time(), project),
            )
            db.execute(
                "DELETE FROM version WHERE project = ? AND number <= ?",
                (project, at + 1 - MOST_VERSIONS),
            )

    def complete(self, project: int, before: Choices, choices: Choices) -> bool:
        """Keep with the newest step what follows from it by itself: no step of its own, so ``undo``
        takes both back, and steps that were undone stay. Return whether it was kept: only where the
        project still is as ``before``."""
        with self._file.change() as db:
            if self.load(project) != before:
                return False
            at = self._version(project)
            db.execute(
                "UPDATE version SET choices = ? WHERE project = ? AND number = ?",
                (choices.to_json(), project, at),
            )
            db.execute(_TAKE_STEP, (at, self._time(), project))
        return True

    def undo(self, project: int) -> str | None:
        """Take back the newest step; return in words what it was, or None if there is none."""
        return self._step(project, -1)

    def redo(self, project: int) -> str | None:
        """Take an undone step again; return in words what it was, or None if there is none."""
        return self._step(project, +1)

    def steps(self, project: int) -> tuple[str | None, str | None]:
        """Return in words what ``undo`` and ``redo`` would do, None where there is nothing."""
        at = self._version(project)
        return (
            self._words(project, at) if self._words(project, at - 1) is not None else None,
            self._words(project, at + 1),
        )

    def put_picture(self, sha256: str, data: bytes) -> None:
        """Keep a photo's file, or that of a fabric that stands in for a square, once."""
        with self._file.change() as db:
            db.execute("INSERT OR IGNORE INTO picture VALUES (?, ?)", (sha256, data))

    def picture(self, sha256: str) -> bytes:
        """Return a photo's file."""
        with self._file.said():
            row = self._file.db.execute(
                "SELECT data FROM picture WHERE sha256 = ?", (sha256,)
            ).fetchone()
        if row is None:
            raise ProjectError("a photo of this project is missing; add it again.")
        return bytes(row[0])

    def backup(self, path: Path) -> None:
        """Copy the file as it is now to another, whole or not at all."""
        self._file.backup(path)

    def _infos(self, which: str) -> "builtins.list[ProjectInfo]":
        query = (
            "SELECT id, name, changed, choices FROM project "
            f"JOIN version ON project = id AND number = version {which}"
        )
        with self._file.said():
            rows = self._file.db.execute(query).fetchall()
        return [
            ProjectInfo(int(i), str(name), str(at), _photos(text)) for i, name, at, text in rows
        ]

    def _step(self, project: int, by: int) -> str | None:
        with self._file.change() as db:
            at = self._version(project)
            words = self._words(project, at if by < 0 else at + 1)
            if words is None or self._words(project, at + by) is None:
                return None
            db.execute(
                _TAKE_STEP,
                (at + by, self._time(), project),
            )
        return words

    def _put_version(self, project: int, number: int, words: str, choices: Choices) -> None:
        self._file.db.execute(
            "INSERT INTO version VALUES (?, ?, ?, ?, ?)",
            (project, number, self._time(), words, choices.to_json()),
        )

    def _version(self, project: int) -> int:
        with self._file.said():
            row = self._file.db.execute(
                "SELECT version FROM project WHERE id = ?", (project,)
            ).fetchone()
        if row is None:
            raise ProjectError(f"there is no project {project}; choose one from the list.")
        return int(row[0])

    def _known(self, project: int) -> int:
        self._version(project)
        return project

    def _words(self, project: int, number: int) -> str | None:
        with self._file.said():
            row = self._file.db.execute(
                "SELECT words FROM version WHERE project = ? AND number = ?", (project, number)
            ).fetchone()
        return None if row is None else str(row[0])

    def _time(self) -> str:
        return self._now().astimezone(UTC).isoformat(timespec="milliseconds")


def _photos(text: str) -> int:
    try:
        return len(choices_from_json(text).photos)
    except ProjectError:
        return 0


def _checked(name: str) -> str:
    name = " ".join(name.split())
    if not name:
        raise ProjectError("a project needs a name; 'Autumn throw', say.")
    if len(name) > 200:
        raise ProjectError("a project's name has at most 200 letters; shorten it.")
    return name
