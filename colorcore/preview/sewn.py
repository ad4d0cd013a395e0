"""A quilt with its fabrics in place: which cloth shows where, from which piece, turned how."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from colorcore.cutting.guillotine import CutPart
from colorcore.lengths import SEAM
from colorcore.pattern.layout import Facet, Layout
from colorcore.piecing.pairing import Supply
from colorcore.preview.cloth import Cloth


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
    free = {i: list(supply.parts) for i, supply in enumerate(supplies)}
    facets: list[SewnFacet] = []
    for facet in layout.facets:
        if facet.slot is not None:
            supply = supplies[facet.slot]
            part = _take(free[facet.slot], supply.parts, facet)
            facets.append(_from_part(facet, supply.square, part, trim))
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


def _take(free: list[CutPart], parts: Sequence[CutPart], facet: Facet) -> CutPart:
    """The smallest piece not yet used that the facet fits on; a piece cut on its diagonal, or a
    strip, serves several facets."""
    width, height = _size(facet)
    need = sorted((width, height))

    def fits(part: CutPart) -> bool:
        have = sorted((float(part.width), float(part.height)))
        return have[0] >= need[0] + 0.5 - 1e-6 and have[1] >= need[1] + 0.5 - 1e-6

    able = sorted((p for p in free if fits(p)), key=lambda p: (p.width * p.height, p.y, p.x))
    if able:
        free.remove(able[0])
        return able[0]
    able = [p for p in parts if fits(p)] or list(parts)
    return min(able, key=lambda p: p.width * p.height)


def _from_part(facet: Facet, square: str, part: CutPart, trim: float) -> SewnFacet:
    width, height = _size(facet)
    turn = facet.turn
    lies = float(part.width) + 1e-6 >= width + 0.5 and float(part.height) + 1e-6 >= height + 0.5
    if not lies and float(part.width) + 1e-6 >= height + 0.5:
        # The piece was cut lying on its side: it is turned by a quarter before it is sewn.
        turn = (turn + 90) % 360
    inset = float(SEAM) + trim
    return SewnFacet(facet.polygon, square, (float(part.x) + inset, float(part.y) + inset), turn)
