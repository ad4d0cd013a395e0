"""Patches: what each looks like when sewn, and what is cut for it.

Coordinates are finished inches within the patch, x to the right and y down. Cut sizes hold quarter
inch seam allowances on every edge; a triangle cut from a square needs 7/8 in more than its short
side (half-square) or 1 1/4 in more than its long side (quarter-square).
"""

from dataclasses import dataclass
from enum import StrEnum
from fractions import Fraction
from typing import Final

from colorcore.lengths import SEAM

HALF_SQUARE_EXTRA: Final = Fraction(7, 8)
QUARTER_SQUARE_EXTRA: Final = Fraction(5, 4)

CORNERS: Final = ("top left", "top right", "bottom right", "bottom left")

Point = tuple[Fraction, Fraction]


class Shape(StrEnum):
    """How a patch is made."""

    PLAIN = "plain"
    HALF_SQUARE = "half-square triangles"
    QUARTER_SQUARE = "quarter-square triangles"
    GEESE = "flying geese"
    FLIPPED_CORNERS = "flipped corners"
    STRIP_SET = "strip set"


class Then(StrEnum):
    """What happens to a piece after the straight cuts."""

    WHOLE = ""
    CUT_ONCE = "cut once on the diagonal"
    CUT_TWICE = "cut twice on the diagonal"
    STRIP = "sewn into a strip set"
    SEGMENT = "sewn into a strip set of one segment"
    ACROSS = "sewn into a strip set across the cloth"

    @property
    def in_strips(self) -> bool:
        """Whether its length lies along a strip, its width across."""
        return self in (Then.STRIP, Then.SEGMENT, Then.ACROSS)


@dataclass(frozen=True)
class FlippedCorner:
    """A square of finished side ``size`` laid on a corner, sewn on its diagonal, flipped back."""

    at: str
    size: Fraction
    fabric: str


@dataclass(frozen=True)
class Strip:
    """One strip of a strip set: finished width and fabric."""

    width: Fraction
    fabric: str


@dataclass(frozen=True)
class Patch:
    """A patch of finished ``width`` by ``height`` inches.

    ``fabrics`` by shape: plain and flipped corners one (the base); half-square two (upper left,
    lower right); quarter-square four (top, right, bottom, left); flying geese three (the goose,
    pointing up; left sky; right sky); strip set none, as ``strips`` run left to right.
    """

    name: str
    shape: Shape
    width: Fraction
    height: Fraction
    fabrics: tuple[str, ...]
    corners: tuple[FlippedCorner, ...] = ()
    strips: tuple[Strip, ...] = ()


@dataclass(frozen=True)
class CutNeed:
    """What one patch needs of one fabric: ``count`` pieces of cut size width by height inches; a
    fraction of a piece where one square gives the triangles of several patches."""

    fabric: str
    width: Fraction
    height: Fraction
    count: Fraction
    then: Then = Then.WHOLE


@dataclass(frozen=True)
class PatchFacet:
    """A part of one fabric as it shows when sewn: polygon in finished inches of the patch."""

    polygon: tuple[Point, ...]
    fabric: str


def cut_needs(patch: Patch) -> tuple[CutNeed, ...]:
    """Return what is cut for one patch."""
    w, h, seams = patch.width, patch.height, 2 * SEAM
    one = Fraction(1)
    if patch.shape is Shape.HALF_SQUARE:
        side = w + HALF_SQUARE_EXTRA
        return tuple(CutNeed(f, side, side, one / 2, Then.CUT_ONCE) for f in patch.fabrics)
    if patch.shape is Shape.QUARTER_SQUARE:
        side = w + QUARTER_SQUARE_EXTRA
        return tuple(CutNeed(f, side, side, one / 4, Then.CUT_TWICE) for f in patch.fabrics)
    if patch.shape is Shape.GEESE:
        goose, sky = w + QUARTER_SQUARE_EXTRA, h + HALF_SQUARE_EXTRA
        return (
            CutNeed(patch.fabrics[0], goose, goose, one / 4, Then.CUT_TWICE),
            *(CutNeed(f, sky, sky, one / 2, Then.CUT_ONCE) for f in patch.fabrics[1:]),
        )
    if patch.shape is Shape.STRIP_SET:
        return tuple(
            CutNeed(s.fabric, s.width + seams, h + seams, one, Then.STRIP) for s in patch.strips
        )
    base = CutNeed(patch.fabrics[0], w + seams, h + seams, one)
    return (
        base,
        *(CutNeed(c.fabric, c.size + seams, c.size + seams, one) for c in patch.corners),
    )


def facets(patch: Patch) -> tuple[PatchFacet, ...]:
    """Return the patch as it shows when sewn, as polygons that tile it."""
    w, h, zero = patch.width, patch.height, Fraction(0)
    a, b, c, d = (zero, zero), (w, zero), (w, h), (zero, h)
    middle = (w / 2, h / 2)
    if patch.shape is Shape.HALF_SQUARE:
        shapes: list[tuple[Point, ...]] = [(a, b, d), (b, c, d)]
        return tuple(PatchFacet(p, f) for p, f in zip(shapes, patch.fabrics, strict=True))
    if patch.shape is Shape.QUARTER_SQUARE:
        shapes = [(a, b, middle), (b, c, middle), (c, d, middle), (d, a, middle)]
        return tuple(PatchFacet(p, f) for p, f in zip(shapes, patch.fabrics, strict=True))
    if patch.shape is Shape.GEESE:
        tip = (w / 2, zero)
        shapes = [(d, tip, c), (a, tip, d), (tip, b, c)]
        return tuple(PatchFacet(p, f) for p, f in zip(shapes, patch.fabrics, strict=True))
    if patch.shape is Shape.STRIP_SET:
        found, x = [], zero
        for strip in patch.strips:
            right = x + strip.width
            found.append(PatchFacet(((x, zero), (right, zero), (right, h), (x, h)), strip.fabric))
            x = right
        return tuple(found)
    if patch.shape is Shape.FLIPPED_CORNERS:
        return _with_corners(patch)
    return (PatchFacet((a, b, c, d), patch.fabrics[0]),)


def _with_corners(patch: Patch) -> tuple[PatchFacet, ...]:
    w, h, zero = patch.width, patch.height, Fraction(0)
    by_place = {corner.at: corner for corner in patch.corners}
    outline: list[Point] = []
    triangles: list[PatchFacet] = []
    # At each corner, clockwise: the corner itself, and the ways to walk in and out of it.
    for at, (x, y), (ix, iy), (ox, oy) in (
        ("top left", (zero, zero), (0, 1), (1, 0)),
        ("top right", (w, zero), (-1, 0), (0, 1)),
        ("bottom right", (w, h), (0, -1), (-1, 0)),
        ("bottom left", (zero, h), (1, 0), (0, -1)),
    ):
        corner = by_place.get(at)
        if corner is None:
            outline.append((x, y))
            continue
        entry = (x + ix * corner.size, y + iy * corner.size)
        leave = (x + ox * corner.size, y + oy * corner.size)
        outline += [entry, leave]
        triangles.append(PatchFacet(((x, y), leave, entry), corner.fabric))
    return (PatchFacet(tuple(dict.fromkeys(outline)), patch.fabrics[0]), *triangles)
