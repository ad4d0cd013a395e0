"""Photos for the stash, measured one after the other whatever page is shown meanwhile.

Measuring a shelf's photos takes minutes. Whoever waits for it in a page's own run loses what is
left of it by a click on a link, which ends the run; so it is no page's work. Knows nothing of
Streamlit.
"""

from __future__ import annotations

import tempfile
import threading
from collections import deque
from collections.abc import Callable, Iterable
from dataclasses import dataclass, replace
from pathlib import Path
from typing import TYPE_CHECKING, Final

from app.web.sayings import shown_name, told_sentence
from app.web.turns import Turns
from colorcore.wording import listing

if TYPE_CHECKING:
    from colorcore.stash import Stash
    from colorcore.stash.intake import Intake, IntakeSettings

_MOST_NAMED: Final = 6


@dataclass(frozen=True, eq=False)
class _Waiting:
    """One photo as it was uploaded: what the maker calls the file, its bytes, what she said."""

    name: str
    data: bytes
    settings: IntakeSettings


@dataclass(frozen=True)
class Progress:
    """How far the photos for the stash are: ``done`` of ``total`` are measured; ``waiting`` names
    those that are not; ``stopped`` when none of them is measured until the maker says so."""

    done: int
    total: int
    waiting: tuple[str, ...]
    stopped: bool


class Shelf:
    """Photos that are measured for the stash, in the order in which they came.

    All methods may be called by any thread.

    Parameters
    ----------
    stash : function
        Opens the stash.
    turns : Turns
        What else measures photos meanwhile.
    """

    def __init__(self, stash: Callable[[], Stash], turns: Turns) -> None:
        self._stash = stash
        self._turns = turns
        self._lock = threading.Lock()
        self._waiting: deque[_Waiting] = deque()
        self._worker: threading.Thread | None = None
        self._stopped = False
        self._done = 0
        self._came: Intake | None = None
        self._said: list[str] = []

    def bring(self, photos: Iterable[tuple[str, bytes]], settings: IntakeSettings) -> None:
        """Have photos, given as (file name, content), measured and kept behind those that wait."""
        with self._lock:
            self._waiting += [_Waiting(name, data, settings) for name, data in photos]
        self.go_on()

    def go_on(self) -> None:
        """Measure what waits, also after a stop."""
        with self._lock:
            self._stopped = False
            if self._waiting and self._worker is None:
                self._worker = threading.Thread(target=self._work, daemon=True)
                self._worker.start()

    def stop(self) -> None:
        """Measure no more than the photo that is being measured; the others wait."""
        with self._lock:
            self._stopped = bool(self._waiting)

    def let_go(self) -> None:
        """Forget the photos that wait since a stop."""
        with self._lock:
            if self._stopped and self._worker is None:
                self._waiting.clear()
                self._stopped, self._done = False, 0

    def progress(self) -> Progress | None:
        """Return how far it is, None where nothing waits and nothing is measured."""
        with self._lock:
            if not self._waiting and self._worker is None:
                return None
            total = self._done + len(self._waiting)
            names = tuple(shown_name(photo.name) for photo in self._waiting)
            return Progress(self._done, total, names, self._stopped and self._worker is None)

    def take_outcome(self) -> tuple[str, ...]:
        """Return in sentences what came of the photos, once: when all are measured, or when it was
        stopped. Empty until then."""
        with self._lock:
            if self._worker is not None:
                return ()
            came, said = self._came, self._said
            self._came, self._said = None, []
        added = [_say_added(came.added)] if came is not None and came.added else []
        notes = [note.words for note in came.notes] if came is not None else []
        return tuple(dict.fromkeys((*added, *said, *notes)))

    def _work(self) -> None:
        while True:
            with self._lock:
                if not self._waiting or self._stopped:
                    self._worker = None
                    if not self._waiting:
                        self._done, self._stopped = 0, False
                    return
                photo = self._waiting[0]
            came, said, go_on = self._measured(photo)
            with self._lock:
                if go_on:
                    self._waiting.popleft()
                    self._done += 1
                else:
                    self._stopped = True
                self._said += said
                if came is not None:
                    self._came = came if self._came is None else self._came.with_more(came)

    def _measured(self, photo: _Waiting) -> tuple[Intake | None, list[str], bool]:
        """What came of one photo, what there is to say of it, and whether it is done with."""
        from colorcore.errors import OutputError, StashError
        from colorcore.stash.intake import add_photos

        # The uploaded name becomes the entry's, never a path.
        name = photo.name.rpartition(".")[0][:80] or "fabric"
        try:
            with (
                self._turns.take(),
                tempfile.TemporaryDirectory(prefix="bundlestacks-") as folder,
                self._stash() as stash,
            ):
                path = Path(folder) / "photo"
                path.write_bytes(photo.data)
                came = add_photos(stash, [path], settings=replace(photo.settings, name=name))
        except (StashError, OSError) as error:
            # What is wrong with the stash or the disk is wrong for every photo: they wait.
            if isinstance(error, OSError):
                words = f"a photo cannot be put aside ({error.strerror or error})."
                return None, [told_sentence(OutputError(words))], False
            return None, [told_sentence(error)], False
        except Exception as error:
            return None, [f"{shown_name(photo.name)}: {told_sentence(error)}"], True
        said = [f"{name} is in the stash already."] if came.known else []
        said += [_about(photo.name, path, sentence) for _, sentence in came.skipped]
        return came, said, True


def _say_added(names: tuple[str, ...]) -> str:
    named = ", ".join(names[:_MOST_NAMED])
    more = len(names) - _MOST_NAMED
    return f"Added: {named} and {more} more." if more > 0 else f"Added: {listing(names)}."


def _about(name: str, path: Path, sentence: str) -> str:
    """A sentence about the file as it lies here, said of what the maker calls it."""
    for own in (str(path), path.name):
        sentence = sentence.removeprefix(f"{own}: ")
    return f"{shown_name(name)}: {sentence}"
