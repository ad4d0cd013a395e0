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
