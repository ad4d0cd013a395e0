"""From photos to stash entries: one photo or a whole shelf, on all cores, resumable.

Every photo's entries are kept in one transaction as soon as it is measured, under its sha256, so
that a stop loses nothing and a second run goes on where the first one stopped.
"""

import hashlib
import os
from collections.abc import Callable, Iterator, Sequence
from concurrent.futures import FIRST_COMPLETED, BrokenExecutor, Executor, Future, wait
from dataclasses import dataclass, replace
from fractions import Fraction
from pathlib import Path
from typing import Final

from colorcore.errors import BundleError, Lack, StashError
from colorcore.plain import writable
from colorcore.stash.measuring import MeasuredPiece, Subject, measure_pieces
from colorcore.stash.model import Kind, NewEntry
from colorcore.stash.store import Stash
from colorcore.swatch import Swatch
from colorcore.wording import listing

Progress = Callable[[int, int, str], None]

AT_ONCE: Final = 64
"""Photos handed to an executor before the first has to be back: enough for a small cluster."""
_HASH_BLOCK: Final = 1 << 20
_MOST_NAMED: Final = 6


@dataclass(frozen=True, kw_only=True)
class IntakeSettings:
    """What the maker says of all photos of one intake.

    ``subject`` what they show; ``amount`` and ``unit`` of every piece, None for what is usual (a
    square, a fat quarter, a spool, a quarter of a yard of other cloth); ``kind`` None to tell
    solids from prints by looking; ``name`` instead of the file's for a single photo;
    ``square_inches`` the side of squares; ``piece_inches`` the longer side of a piece as it lies,
    None if not known; ``white`` a point on the white paper; ``region`` (x0, y0, x1, y1) in which
    to measure, both in pixels of the upright photo.

    Raises
    ------
    StashError
        If a length is not above 0.
    """

    subject: Subject = Subject.ANY
    amount: Fraction | None = None
    unit: str | None = None
    kind: Kind | None = None
    name: str = ""
    place: str = ""
    note: str = ""
    square_inches: float = 10.0
    piece_inches: float | None = None
    white: tuple[float, float] | None = None
    region: tuple[float, float, float, float] | None = None

    def __post_init__(self) -> None:
        for what, inches in (("square", self.square_inches), ("piece", self.piece_inches)):
            if inches is not None and not 0.1 <= inches <= 1000:
                raise StashError(
                    f"the side of a {what} lies between 0.1 and 1,000 inches, not at {inches:g}."
                )


@dataclass(frozen=True)
class Note:
    """A sentence on what was kept; ``lack`` is what the maker could say that would mend it."""

    words: str
    lack: Lack | None = None


@dataclass(frozen=True)
class Intake:
    """What came of an intake: ``added`` names of new entries, ``known`` photos that were in the
    stash already, ``skipped`` (photo, sentence) that could not be used.

    Of the new entries ``guessed`` are named that were measured without a reference, and
    ``squares`` (name, how many) that look like so many squares edge to edge; ``assumed`` if the
    amount of one was.
    """

    added: tuple[str, ...]
    known: tuple[str, ...]
    skipped: tuple[tuple[str, str], ...]
    guessed: tuple[str, ...] = ()
    squares: tuple[tuple[str, int], ...] = ()
    assumed: bool = False

    def with_more(self, more: "Intake") -> "Intake":
        """Return this intake and the one that followed it as one."""
        return Intake(
            self.added + more.added,
            self.known + more.known,
            self.skipped + more.skipped,
            self.guessed + more.guessed,
            self.squares + more.squares,
            self.assumed or more.assumed,
        )

    @property
    def notes(self) -> tuple[Note, ...]:
        """What is to be known of the new entries, each thing said once."""
        notes: list[Note] = []
        if self.guessed:
            few = len(self.guessed) <= _MOST_NAMED
            who = listing(self.guessed) if few else f"{len(self.guessed)} of {len(self.added)}"
            was, its = ("was", "its colour is a guess") if len(self.guessed) == 1 else (
                "were", "their colours are guesses"
            )  # fmt: skip
            words = (
                f"{who} {was} measured without a reference, so {its}: lay a sheet of plain white "
                "paper beside each piece."
            )
            notes.append(Note(words))
        for name, squares in self.squares:
            words = (
                f"{name} was kept as one piece, but looks like {squares} squares edge to edge: if "
                "it is, take it out and add the photo again as squares."
            )
            notes.append(Note(words, Lack.SUBJECT))
        if self.assumed:
            words = (
                "How much there is of a piece was not said, so a quarter of a yard was assumed: "
                "correct the entry, or say it when you add the photo."
            )
            notes.append(Note(words, Lack.AMOUNT))
        return tuple(notes)


def add_photos(
    stash: Stash,
    paths: Sequence[str | os.PathLike[str]],
    *,
    settings: IntakeSettings | None = None,
    executor: Executor | None = None,
    at_once: int = AT_ONCE,
    progress: Progress | None = None,
) -> Intake:
    """Measure photos and keep what they show; a photo that is in the stash already is left out.

    Parameters
    ----------
    executor : concurrent.futures.Executor, optional
        Where the photos are measured, each on its own: processes of this machine or workers of a
        cluster that see the same files. Without one they are measured in turn. The stash itself is
        only touched here.
    at_once : int
        How many photos are with the executor at a time, which bounds memory.
    progress : function of (done, total, words), optional
        Called in this thread after every photo.

    Raises
    ------
    StashError
        If the stash cannot be written, or the executor's workers die; what was added until then
        stays, and the same call goes on from there.
    """
    settings = settings or IntakeSettings()
    say = progress or (lambda done, total, words: None)
    total = len(paths)
    run = _Run(stash, settings, known={s.partition("#")[0] for s in stash.sources()})
    jobs = run.jobs(paths)
    if executor is None:
        for job in jobs:
            run.keep(job, _measure(job))
            say(run.done, total, f"{Path(job.path).name}: {run.last}")
        return run.result()
    waiting: dict[Future[_Measured], _Job] = {}
    try:
        for job in jobs:
            waiting[executor.submit(_measure, job)] = job
            if len(waiting) >= at_once:
                _collect(run, waiting, say, total, FIRST_COMPLETED)
        while waiting:
            _collect(run, waiting, say, total, FIRST_COMPLETED)
    except BrokenExecutor as error:
        raise StashError(
            f"a worker was stopped by the computer, perhaps for want of memory; {len(run.added)} "
            "entries are kept; run the same command again to go on."
        ) from error
    finally:
        for future in waiting:
            future.cancel()
    return run.result()


@dataclass(frozen=True)
class _Job:
    """Everything that a worker, perhaps on another machine, needs for one photo."""

    path: str
    sha256: str
    settings: IntakeSettings


@dataclass(frozen=True, eq=False)
class _Measured:
    pieces: tuple[MeasuredPiece, ...]
    problem: str = ""


def _measure(job: _Job) -> _Measured:
    """Measure one photo; a bad one comes back as a sentence, so that it stops nothing."""
    from colorcore.photo import open_photo

    settings = job.settings
    try:
        photo = open_photo(job.path)
        pieces = measure_pieces(
            photo,
            subject=settings.subject,
            square_inches=settings.square_inches,
            piece_inches=settings.piece_inches,
            white=settings.white,
            region=settings.region,
        )
    except BundleError as error:
        return _Measured((), str(error))
    except MemoryError:
        return _Measured((), "too large for this computer's memory; make it smaller.")
    return _Measured(pieces)


def _collect(
    run: "_Run",
    waiting: "dict[Future[_Measured], _Job]",
    say: Progress,
    total: int,
    until: str,
) -> None:
    finished, _ = wait(waiting, return_when=until)
    # In the order in which they were given out, so that names are numbered alike where they can.
    for future in [f for f in waiting if f in finished]:
        job = waiting.pop(future)
        run.keep(job, future.result())
        say(run.done, total, f"{Path(job.path).name}: {run.last}")


class _Run:
    """One intake as it goes on."""

    def __init__(self, stash: Stash, settings: IntakeSettings, known: set[str]) -> None:
        self._stash = stash
        self._settings = settings
        self._known = known
        self.added: list[str] = []
        self._left_out: list[str] = []
        self._skipped: list[tuple[str, str]] = []
        self._assumed = False
        self._guessed: list[str] = []
        self._squares: list[tuple[str, int]] = []
        self.done = 0
        self.last = ""

    def jobs(self, paths: Sequence[str | os.PathLike[str]]) -> Iterator[_Job]:
        """Yield a job for each photo that is not known, reading each file's bytes just then."""
        for path in map(str, paths):
            try:
                digest = _sha256(path)
            except OSError as error:
                self._skip(path, f"cannot be read ({error.strerror or error}).")
                continue
            if digest in self._known:
                self._left_out.append(path)
                self.done += 1
                continue
            self._known.add(digest)
            yield _Job(os.path.abspath(path), digest, self._settings)

    def keep(self, job: _Job, measured: _Measured) -> None:
        if measured.problem:
            self._skip(job.path, measured.problem)
            return
        entries = [
            self._entry(job, number, piece, len(measured.pieces))
            for number, piece in enumerate(measured.pieces)
        ]
        kept = self._stash.add_all(entries)
        self.added += [entry.name for entry in kept]
        self._squares += [
            (entry.name, piece.squares)
            for entry, piece in zip(kept, measured.pieces, strict=True)
            if piece.squares
        ]
        self._guessed += [
            entry.name
            for entry, piece in zip(kept, measured.pieces, strict=True)
            if piece.reference == "none"
        ]
        self.done += 1
        self.last = ", ".join(entry.name for entry in kept[:3]) + (" ..." if len(kept) > 3 else "")

    def result(self) -> Intake:
        return Intake(
            tuple(self.added),
            tuple(self._left_out),
            tuple(self._skipped),
            tuple(self._guessed),
            tuple(self._squares),
            self._assumed,
        )

    def _skip(self, path: str, sentence: str) -> None:
        self._skipped.append((path, sentence))
        self.done += 1
        self.last = "skipped"

    def _entry(self, job: _Job, number: int, piece: MeasuredPiece, count: int) -> NewEntry:
        settings = self._settings
        amount, unit = self._amount(piece.subject)
        stem = settings.name or Path(job.path).stem
        name = f"{stem} {piece.swatch.id}" if count > 1 else stem
        return NewEntry(
            name=_plain_name(name),
            kind=settings.kind or _kind(piece),
            amount=amount,
            unit=unit,
            swatch=replace(piece.swatch, photo=0),
            place=settings.place,
            note=settings.note,
            reference=piece.reference,
            trust=piece.trust,
            source=f"{job.sha256}#{number}",
        )

    def _amount(self, subject: Subject) -> tuple[Fraction, str]:
        settings = self._settings
        usual = {
            Subject.SQUARES: (Fraction(1), "squares"),
            Subject.FAT_QUARTER: (Fraction(1), "fat quarters"),
            Subject.SPOOL: (Fraction(1), "spools"),
        }.get(subject)
        if settings.amount is not None:
            return settings.amount, settings.unit or (usual[1] if usual else "yards")
        if usual is None:
            self._assumed = True
            return Fraction(1, 4), "yards"
        return usual


def _kind(piece: MeasuredPiece) -> Kind:
    if piece.subject is Subject.SPOOL:
        return Kind.THREAD
    return Kind.SOLID if _plain(piece.swatch) else Kind.FABRIC


def _plain(swatch: Swatch) -> bool:
    """A solid has no print at all; one that merely reads as solid from afar is a fabric."""
    return swatch.reads_as_solid and swatch.value_spread < 4


def _plain_name(name: str) -> str:
    return writable(" ".join(name.split()))[:200] or "fabric"


def _sha256(path: str) -> str:
    digest = hashlib.sha256()
    with open(path, "rb") as stream:
        while block := stream.read(_HASH_BLOCK):
            digest.update(block)
    return digest.hexdigest()
