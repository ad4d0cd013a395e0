"""A quilt with its fabrics in place: which cloth shows where, from which piece, turned how."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from fractions import Fraction
from typing import Final

import numpy as np
from numpy.typing import NDArray

from colorcore.cutting.guillotine import CutPart
from colorcore.lengths import SEAM
from colorcore.pattern.layout import Facet, Layout
from colorcore.piecing.pairing import Supply
from colorcore.preview.cloth import Cloth

_SEAMS: Final = 2 * float(SEAM)


@dataclass(frozen=True, eq=False)
class SewnFacet:
    """A part of one fabric as it shows.

    ``polygon`` (K, 2) in inches of the quilt; ``cloth`` its name; ``origin`` the place (x, y) in
    inches of the cloth that lies at the top left of the part's box before it is turned clockwise
    by ``turn`` degrees.
    """

    polygon: NDArray[np.float64]
    cloth: str
    origin: tuple[float, float]
    turn: int

    @property
    def box(self) -> tuple[float, float, float, float]:
        """Left, top, right and bottom in inches."""
        left, top = self.polygon.min(axis=0)
        right, bottom = self.polygon.max(axis=0)
        return float(left), float(top), float(right), float(bottom)


@dataclass(frozen=True, eq=False)
class Sewn:
    """A quilt ready to be drawn: its size in inches, its parts and its cloths by name."""

    width: float
    height: float
    facets: tuple[SewnFacet, ...]
    cloths: Mapping[str, Cloth]


def sew(
    layout: Layout,
    supplies: Sequence[Supply],
    cloths: Mapping[str, Cloth],
    *,
    trim: float = 0.0,
) -> Sewn:
    """Put a fabric on every part of a quilt.

    Parameters
    ----------
    supplies : sequence of Supply
        What fills each slot.
    cloths : mapping
        Squares by id and yardages by name. A yardage that is not there is drawn as plain grey.
    trim : float
        Inches that were trimmed from each edge of the squares before cutting.
    """
    known = dict(cloths)
    pieces = [_Pieces(supply.parts) for supply in supplies]
    facets: list[SewnFacet] = []
    for facet in layout.facets:
        if facet.slot is not None:
            part, before = pieces[facet.slot].take(facet)
            facets.append(_from_part(facet, supplies[facet.slot].square, part, before, trim))
        else:
            name = facet.yardage or ""
            if name not in known:
                known[name] = Cloth(name, (75.0, 0.0, 0.0), whole=True)
            left, top = facet.polygon.min(axis=0)
            facets.append(SewnFacet(facet.polygon, name, (float(left), float(top)), 0))
    return Sewn(layout.width, layout.height, tuple(facets), known)


def _size(facet: Facet) -> tuple[float, float]:
    """Width and height of a facet's box as its cloth lay before turning."""
    width, height = facet.polygon.max(axis=0) - facet.polygon.min(axis=0)
    return (float(width), float(height)) if facet.turn % 180 == 0 else (float(height), float(width))


class _Pieces:
    """The pieces of one slot, handed out to its parts one after the other."""

    def __init__(self, parts: Sequence[CutPart]) -> None:
        self.parts = parts
        self.used = [0] * len(parts)

    def take(self, facet: Facet) -> tuple[CutPart, int]:
        """Return the piece for a facet, and how many facets it has served before: the smallest
        that is large enough, unused ones first. A square cut on its diagonal, or a strip, serves
        several."""
        need = sorted(_size(facet))

        def rank(n: int) -> tuple[bool, int, Fraction]:
            part = self.parts[n]
            have = sorted((float(part.width), float(part.height)))
            fits = all(h >= side + _SEAMS - 1e-6 for h, side in zip(have, need, strict=True))
            return not fits, self.used[n], part.width * part.height

        chosen = min(range(len(self.parts)), key=rank)
        self.used[chosen] += 1
        return self.parts[chosen], self.used[chosen] - 1


def _from_part(facet: Facet, square: str, part: CutPart, before: int, trim: float) -> SewnFacet:
    width, height = _size(facet)
    turn = facet.turn
    room = (float(part.width) + 1e-6, float(part.height) + 1e-6)
    lies = room[0] >= width + _SEAMS and room[1] >= height + _SEAMS
    if not lies and room[0] >= height + _SEAMS:
        # The piece was cut lying on its side: it is turned by a quarter before it is sewn.
        turn = (turn + 90) % 360
        width, height = height, width
    x, y = float(part.x), float(part.y)
    # Segments of one strip lie behind each other along it.
    if room[0] >= room[1] and room[0] >= (before + 1) * (width + _SEAMS):
        x += before * (width + _SEAMS)
    elif room[1] >= (before + 1) * (height + _SEAMS):
        y += before * (height + _SEAMS)
    inset = float(SEAM) + trim
    return SewnFacet(facet.polygon, square, (x + inset, y + inset), turn)
