"""What measuring says should be looked at again."""

from collections.abc import Sequence

from colorcore.flags import describe
from colorcore.swatch import Swatch


def look_again(squares: Sequence[Swatch]) -> tuple[tuple[tuple[str, ...], str], ...]:
    """Return what measuring flagged: (addresses, words), the rarest first.

    A flag that every square carries says something about the photo, not about squares; it is left
    to what is said of the photo.
    """
    by_flag: dict[str, list[str]] = {}
    for swatch in squares:
        for flag in swatch.flags:
            by_flag.setdefault(flag, []).append(swatch.id)
    kept = [(f, ids) for f, ids in by_flag.items() if len(ids) < len(squares) or len(ids) == 1]
    kept.sort(key=lambda item: (len(item[1]), item[0]))
    return tuple((tuple(ids), describe(flag)) for flag, ids in kept)


def gaps(squares: Sequence[Swatch]) -> tuple[str, ...]:
    """Return the addresses within the rows of one photo where no square was found though squares
    lie on all four sides: a square that looks like the table may have been missed there."""
    taken = {(s.row, s.column) for s in squares}
    names = {s.row: s.id.rstrip("0123456789") for s in squares}
    columns = {s.column for s in squares}
    return tuple(
        f"{names[row]}{column + 1}"
        for row in sorted(names)
        for column in range(min(columns, default=0), max(columns, default=-1) + 1)
        if (row, column) not in taken
        and {(c > column) for r, c in taken if r == row} == {True, False}
        and {(r > row) for r, c in taken if c == column} == {True, False}
    )
