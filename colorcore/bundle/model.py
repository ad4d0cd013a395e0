"""All squares of one project, from one or several photos."""

from dataclasses import dataclass

from colorcore.swatch import Swatch


@dataclass(frozen=True)
class PhotoRecord:
    """What is kept of a photo: never its EXIF data.

    ``reference`` names what the colours rest on: ``paper``, ``grey card``, ``chart``, ``fabric``,
    several joined by ``+``, ``photo 1`` if brought to the scale of that photo, or ``none``.
    ``trust`` is a grade A (best) to D; ``trust_words`` says in one sentence what follows for
    contrast and order. ``notes`` are remarks, and warnings, which are whole sentences with a full
    stop.
    """

    path: str
    sha256: str
    width: int
    height: int
    reference: str
    trust: str
    trust_words: str
    notes: tuple[str, ...] = ()

    @property
    def warnings(self) -> tuple[str, ...]:
        """What is wrong with the whole photo, so with every value in it, and what to do."""
        return tuple(note for note in self.notes if note.endswith("."))


@dataclass(frozen=True)
class Bundle:
    """Squares in reading order, photo by photo. ``provenance`` holds versions and settings."""

    squares: tuple[Swatch, ...]
    photos: tuple[PhotoRecord, ...]
    provenance: tuple[tuple[str, str], ...] = ()
    name: str = ""

    @property
    def photos_with_squares(self) -> tuple[PhotoRecord, ...]:
        """The photos that squares come from: not those that only show squares of others again."""
        shown = {square.photo for square in self.squares}
        return tuple(photo for index, photo in enumerate(self.photos) if index in shown)
