"""What measuring says should be looked at again."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import Final

from colorcore.bundle import Bundle, PhotoRecord
from colorcore.flags import describe
from colorcore.swatch import Swatch
from colorcore.wording import file_name, listing, photos, sentence, trusted

_MOST_NAMED: Final = 3


def look_again(squares: Sequence[Swatch]) -> tuple[tuple[tuple[str, ...], str], ...]:
    """Return what measuring flagged: (addresses, words), the rarest first.

    A flag that every square carries says something about the photo, not about squares: see
    ``photo_warnings``.
    """
    by_flag: dict[str, list[str]] = {}
    for swatch in squares:
        for flag in swatch.flags:
            by_flag.setdefault(flag, []).append(swatch.id)
    kept = [(f, ids) for f, ids in by_flag.items() if len(ids) < len(squares) or len(ids) == 1]
    kept.sort(key=lambda item: (len(item[1]), item[0]))
    return tuple((tuple(ids), describe(flag)) for flag, ids in kept)


def gaps(places: Iterable[tuple[str, int, int]]) -> tuple[str, ...]:
    """Return the addresses within the rows of one photo where no square was found though squares
    lie on all four sides: a square that looks like the table may have been missed there.

    ``places`` are (address, row, column) of the squares that were found.
    """
    found = tuple(places)
    taken = {(row, column) for _, row, column in found}
    names = {row: address.rstrip("0123456789") for address, row, _ in found}
    columns = {column for _, _, column in found}
    return tuple(
        f"{names[row]}{column + 1}"
        for row in sorted(names)
        for column in range(min(columns, default=0), max(columns, default=-1) + 1)
        if (row, column) not in taken
        and {(c > column) for r, c in taken if r == row} == {True, False}
        and {(r > row) for r, c in taken if c == column} == {True, False}
    )


def missed(bundle: Bundle) -> tuple[str, ...]:
    """Return the addresses of all gaps within the photos of a bundle."""
    return tuple(
        address for index in range(len(bundle.photos)) for address in missed_in(bundle, index)
    )


def missed_in(bundle: Bundle, photo: int) -> tuple[str, ...]:
    """Return the addresses of the gaps within one photo, by its index; where a square lies that is
    counted in another photo there is none."""
    shown = [(s.id, s.row, s.column) for s in bundle.squares if s.photo == photo]
    again = [(s.address, s.row, s.column) for s in bundle.seen_again if s.photo == photo]
    return gaps(shown + again) if shown else ()


def photo_warnings(bundle: Bundle) -> tuple[str, ...]:
    """Return what is to be known of whole photos before anything else is read: sentences, each
    said once, with the photos that it holds for where there are several."""
    shown = {square.photo for square in bundle.squares}
    told: dict[str, list[int]] = {}
    for index, photo in enumerate(bundle.photos):
        words = [sentence(warning) for warning in photo.warnings]
        if photo.trust in ("C", "D") and index in shown:
            words.append(sentence(trusted(photo.trust)))
        for word in dict.fromkeys(words):
            told.setdefault(word, []).append(index)
    return (
        *(_of_photos(word, indices, bundle) for word, indices in told.items()),
        *(f"All squares: {describe(flag)}." for flag in _everywhere(bundle.squares)),
    )


def _of_photos(words: str, indices: Sequence[int], bundle: Bundle) -> str:
    if len(bundle.photos) == 1:
        return words
    # One photo goes by its file: what is wrong with it is put right there.
    name = file_name(bundle.photos[indices[0]].path)
    if len(indices) == 1:
        return words if name in words else f"{name}: {words}"
    return f"{sentence(photos([i + 1 for i in indices])).rstrip('.')}: {words}"


@dataclass(frozen=True)
class PhotoTrust:
    """How far to trust one photo or several: ``who`` they are, in ``words`` what holds for all of
    them, and ``notes`` on each. ``measured`` is false where no square is taken from them."""

    who: str
    words: str
    notes: tuple[str, ...]
    measured: bool = True


def photo_trust(bundle: Bundle) -> tuple[PhotoTrust, ...]:
    """Return how far to trust the photos of a bundle; of photos alike it is said once."""
    shown = {square.photo for square in bundle.squares}
    told: dict[tuple[str, bool], list[int]] = {}
    for index, photo in enumerate(bundle.photos):
        told.setdefault((_trust_words(photo, index in shown), index in shown), []).append(index)
    return tuple(
        PhotoTrust(_who(indices, bundle), words, _notes(indices, bundle), measured)
        for (words, measured), indices in told.items()
    )


def _trust_words(photo: PhotoRecord, measured: bool) -> str:
    if not measured:
        return "no square is taken from this photo."
    rests = "no reference" if photo.reference == "none" else photo.reference
    return f"{trusted(photo.trust)}. Its colours rest on {rests}. {sentence(photo.trust_words)}"


def _who(indices: Sequence[int], bundle: Bundle) -> str:
    names = [file_name(bundle.photos[index].path) for index in indices]
    if len(names) == 1:
        return names[0]
    which = sentence(photos([index + 1 for index in indices])).rstrip(".")
    return f"{which} ({listing(names)})" if len(names) <= _MOST_NAMED else which


def _notes(indices: Sequence[int], bundle: Bundle) -> tuple[str, ...]:
    told: dict[str, list[int]] = {}
    for index in indices:
        for note in bundle.photos[index].notes:
            told.setdefault(sentence(note), []).append(index)
    return tuple(
        note if of == list(indices) else _of_photos(note, of, bundle) for note, of in told.items()
    )


def _everywhere(squares: Sequence[Swatch]) -> list[str]:
    """Flags that every square carries; what lacks a reference is told of the photo already."""
    if len(squares) < 2:
        return []
    common = set.intersection(*(set(swatch.flags) for swatch in squares))
    return sorted(common - {"no-reference"})
