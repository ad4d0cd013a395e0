"""What measuring says should be looked at again."""

from collections.abc import Iterable, Sequence

from colorcore.bundle import Bundle
from colorcore.flags import describe
from colorcore.swatch import Swatch
from colorcore.wording import file_name, sentence, trusted


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
    with the photo's name where there are several."""
    told = []
    for photo in bundle.photos:
        words = [sentence(warning) for warning in photo.warnings]
        if photo.trust in ("C", "D") and photo in bundle.photos_with_squares:
            words.append(sentence(trusted(photo.trust)))
        name = file_name(photo.path)
        several = len(bundle.photos) > 1
        told += [f"{name}: {word}" if several and name not in word else word for word in words]
    return (*told, *(f"All squares: {describe(flag)}." for flag in _everywhere(bundle.squares)))


def _everywhere(squares: Sequence[Swatch]) -> list[str]:
    """Flags that every square carries; what lacks a reference is told of the photo already."""
    if len(squares) < 2:
        return []
    common = set.intersection(*(set(swatch.flags) for swatch in squares))
    return sorted(common - {"no-reference"})
