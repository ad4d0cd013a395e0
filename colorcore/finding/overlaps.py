"""Outlines that cover the same cloth: one of the two is wrong."""

import numpy as np
from numpy.typing import NDArray

from colorcore.finding import choose
from colorcore.finding.model import Finding

#: Two outlines share so much of the smaller one without being wrong: sides are seen to about a
#: twentieth where squares touch.
SHARED = 0.1


def overlapping(quads: NDArray[np.float64]) -> list[tuple[int, int]]:
    """Return which outlines (N, 4, 2) of what shows of squares cover the same cloth, as pairs of
    indices, the first one first."""
    return choose.sharing(quads, SHARED)


def overlapping_squares(finding: Finding) -> tuple[tuple[str, str], ...]:
    """Return the addresses of squares whose outlines cover the same cloth, as pairs."""
    squares = finding.squares
    shown = [s.corners if s.visible is None else s.visible for s in squares]
    pairs = overlapping(np.array(shown, dtype=np.float64).reshape(-1, 4, 2))
    return tuple((squares[k].address, squares[m].address) for k, m in pairs)
