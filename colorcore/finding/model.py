"""What finding takes and gives."""

from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from colorcore.geometry import Quad


@dataclass(frozen=True, kw_only=True, eq=False)
class Hints:
    """What the maker knows better, in pixels of the upright picture.

    ``grid`` is (rows, columns); ``corners`` are the outer corners (4, 2) of the whole layout,
    clockwise from its top left; ``ignore`` are points on things that are not squares; ``add`` are
    outlines (4, 2) of squares to take as they are.
    """

    grid: tuple[int, int] | None = None
    corners: Quad | None = None
    ignore: tuple[tuple[float, float], ...] = ()
    add: tuple[Quad, ...] = ()


@dataclass(frozen=True, eq=False)
class FoundSquare:
    """One square on the table.

    ``corners`` (4, 2) clockwise from the square's own top left; ``row`` and ``column`` zero-based;
    ``visible`` a polygon (K, 2) of the part that is not covered, or None if all of it shows;
    ``confidence`` the chance 0 to 1 that it is a square and rightly outlined.
    """

    corners: Quad
    row: int
    column: int
    confidence: float
    visible: NDArray[np.float64] | None = None
    flags: tuple[str, ...] = ()

    @property
    def address(self) -> str:
        """Row letter and column number as a person says it: ``B3``; rows past Z go on as AA."""
        return address(self.row, self.column)


@dataclass(frozen=True, eq=False)
class FoundThing:
    """Something that is not a square: ``kind`` is ``sheet`` (plain and bright: paper or card),
    ``chart`` (a regular grid of small flat patches) or ``other``; ``outline`` a polygon (K, 2)."""

    kind: str
    outline: NDArray[np.float64]


@dataclass(frozen=True, eq=False)
class Finding:
    """Squares by row and column, what needs a second look, and what the table looks like.

    ``doubtful`` are outlines below the confidence threshold: listed for a second look, not
    measured. ``surface`` is True where the table shows that the squares lie on, be it a mat on
    another one, at ``surface_scale`` pixels of the mask per pixel of the picture. ``reason`` says
    in a sentence why ``squares`` is empty, else "".
    """

    squares: tuple[FoundSquare, ...]
    doubtful: tuple[FoundSquare, ...]
    things: tuple[FoundThing, ...]
    surface: NDArray[np.bool_] = field(repr=False)
    surface_scale: float
    reason: str = ""


def address(row: int, column: int) -> str:
    """Return the address of a zero-based place: (1, 2) is ``B3``, (26, 0) is ``AA1``."""
    letters = ""
    n = row
    while True:
        letters = chr(ord("A") + n % 26) + letters
        n = n // 26 - 1
        if n < 0:
            return f"{letters}{column + 1}"
