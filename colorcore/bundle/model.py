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
class SeenAgain:
    """A square of a bundle as it shows in a further photo, where it is not counted.

    ``square`` is the address that it has, ``address`` the one that it would have in ``photo``, an
    index, where it lies in ``row`` and ``column``, counted from 0; ``corners`` are pixels of that
    photo, clockwise from the top left as it appears there.
    """

    square: str
    address: str
    photo: int
    row: int
    column: int
    corners: tuple[tuple[float, float], ...]


@dataclass(frozen=True)
class Bundle:
    """Squares in reading order, photo by photo. ``provenance`` holds versions and settings;
    ``seen_again`` where squares show that are counted in another photo."""

    squares: tuple[Swatch, ...]
    photos: tuple[PhotoRecord, ...]
    provenance: tuple[tuple[str, str], ...] = ()
    name: str = ""
    seen_again: tuple[SeenAgain, ...] = ()

    @property
    def photos_with_squares(self) -> tuple[PhotoRecord, ...]:
        """The photos that squares come from: not those that only show squares of others again."""
        shown = {square.photo for square in self.squares}
        return tuple(photo for index, photo in enumerate(self.photos) if index in shown)

    @property
    def counted(self) -> dict[str, str]:
        """By the address that a square would have where it shows again, the one that it has."""
        return {again.address: again.square for again in self.seen_again}

    @property
    def same_squares(self) -> tuple[tuple[str, ...], ...]:
        """The addresses of each square that shows in several photos, the one it has first."""
        names: dict[str, list[str]] = {}
        for again in self.seen_again:
            names.setdefault(again.square, [again.square]).append(again.address)
        return tuple(map(tuple, names.values()))
