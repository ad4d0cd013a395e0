"""A quilt spread out: every part that shows, and every place where a fabric is chosen.

A *slot* is one choice of fabric: in each unit of the quilt, each fabric that comes from a stack
('same as' belongs to the slot that it follows). What a slot needs is cut from one fabric, as a
rule from one square. Coordinates are finished inches from the quilt's top left corner, x to the
right, y down.
"""

from collections.abc import Mapping
from dataclasses import dataclass, field
from fractions import Fraction
from functools import lru_cache
from math import ceil
from typing import Final

import numpy as np
from numpy.typing import NDArray

from colorcore.errors import PatternError
from colorcore.pattern.kits import Kit, unit_needs
from colorcore.pattern.patches import CutNeed, Then, facets
from colorcore.pattern.sewing import Placed, Quilt, Sewing, Unit

_KEPT: Final = 8


@dataclass(frozen=True)
class Slot:
    """One choice of fabric from a stack.

    ``cell`` is (row, column) in the quilt; ``unit`` the name of the innermost unit and ``fabric``
    its name there; ``path`` where the unit sits within the cell (row and column at each depth);
    ``different`` are slots that must not repeat its fabric.
    """

    number: int
    stack: str
    cell: tuple[int, int]
    unit: str
    fabric: str
    path: tuple[tuple[int, int], ...]
    kit: Kit
    different: tuple[int, ...] = ()


@dataclass(frozen=True, eq=False)
class Facet:
    """A part of one fabric as it shows: ``polygon`` (K, 2) in inches of the quilt; from a ``slot``
    or else from a ``yardage``. ``turn`` says by how many degrees clockwise the cloth lies turned
    against the square that it was cut from (a mirrored unit mirrors shapes, never cloth);
    ``patch`` numbers the patch that it belongs to."""

    polygon: NDArray[np.float64]
    slot: int | None
    yardage: str | None
    turn: int
    patch: int


@dataclass(frozen=True, eq=False)
class Layout:
    """A quilt spread out. ``yardage`` lists what patches need of each yardage by name, in whole
    pieces; ``makes`` counts units by (name, whether mirrored)."""

    quilt: Quilt
    slots: tuple[Slot, ...]
    facets: tuple[Facet, ...] = field(repr=False)
    cells: tuple["Cell", ...] = field(repr=False)
    yardage: Mapping[str, tuple[CutNeed, ...]]
    width: float
    height: float
    units: Mapping[str, Unit] = field(repr=False)
    places: tuple["UnitPlace", ...] = field(repr=False)
    makes: Mapping[tuple[str, bool], int] = field(default_factory=dict)

    def centers(self) -> NDArray[np.float64]:
        """Return the centre of each slot's visible parts, (slots, 2) in inches."""
        total = np.zeros((len(self.slots), 3))
        for facet in self.facets:
            if facet.slot is not None:
                area, middle = area_and_center(facet.polygon)
                total[facet.slot] += (area, area * middle[0], area * middle[1])
        return np.asarray(total[:, 1:] / total[:, :1])


@dataclass(frozen=True)
class Cell:
    """A unit or section in the quilt's rows, in inches from the quilt's top left."""

    row: int
    column: int
    placed: Placed
    x: float
    y: float
    width: float
    height: float


@dataclass(frozen=True)
class UnitPlace:
    """Where one unit lies, at any depth: ``box`` is left, top, right and bottom in inches."""

    name: str
    cell: tuple[int, int]
    box: tuple[float, float, float, float]
    turn: int
    mirrored: bool


@dataclass(frozen=True)
class _Frame:
    """How a unit lies: mirrored about its own width first, turned clockwise, then moved."""

    x: Fraction
    y: Fraction
    width: Fraction
    height: Fraction
    turn: int
    mirrored: bool

    def place(self, x: Fraction, y: Fraction) -> tuple[Fraction, Fraction]:
        if self.mirrored:
            x = self.width - x
        w, h = self.width, self.height
        if self.turn == 90:
            x, y = h - y, x
        elif self.turn == 180:
            x, y = w - x, h - y
        elif self.turn == 270:
            x, y = y, w - x
        return self.x + x, self.y + y


class _Spreader:
    def __init__(self, sewing: Sewing) -> None:
        self.units = sewing.units
        self.slots: list[Slot] = []
        self.facets: list[Facet] = []
        self.needs: dict[str, dict[tuple[Fraction, Fraction, Then], Fraction]] = {}
        self.makes: dict[tuple[str, bool], int] = {}
        self.places: list[UnitPlace] = []
        self.patch = 0

    def unit(
        self,
        placed: Placed,
        frames: tuple[_Frame, ...],
        cell: tuple[int, int],
        path: tuple[tuple[int, int], ...],
    ) -> None:
        """Spread a unit; ``frames`` lead from the unit outwards to the quilt."""
        unit = self.units[placed.name]
        turn, flipped = _total_turn(frames)
        key = (unit.name, flipped)
        self.makes[key] = self.makes.get(key, 0) + 1
        corners = [(Fraction(0), Fraction(0)), (unit.width, unit.height)]
        (x0, y0), (x1, y1) = (_carry(frames, *corner) for corner in corners)
        box = (min(x0, x1), min(y0, y1), max(x0, x1), max(y0, y1))
        self.places.append(UnitPlace(unit.name, cell, box, turn, flipped))
        numbers = self._choose(unit, cell, path)
        patches = {p.name: p for p in unit.patches}
        y = Fraction(0)
        for r, row in enumerate(unit.rows):
            x = Fraction(0)
            deep = Fraction(0)
            for c, inner in enumerate(row):
                part = patches.get(inner.name) or self.units[inner.name]
                lying = (part.width, part.height)
                if inner.turn % 180:
                    lying = lying[::-1]
                frame = _Frame(x, y, part.width, part.height, inner.turn, inner.mirrored)
                if inner.name in patches:
                    self._patch(unit, patches[inner.name].name, (frame, *frames), numbers)
                else:
                    self.unit(inner, (frame, *frames), cell, (*path, (r, c)))
                x += lying[0]
                deep = lying[1]
            y += deep

    def _choose(
        self, unit: Unit, cell: tuple[int, int], path: tuple[tuple[int, int], ...]
    ) -> dict[str, int]:
        """Make a slot for each fabric of the unit that comes from a stack."""
        kits, yardage = unit_needs(unit)
        for name, needs in yardage.items():
            into = self.needs.setdefault(name, {})
            for size, count in needs.items():
                into[size] = into.get(size, Fraction(0)) + count
        numbers: dict[str, int] = {}
        for name, kit in kits.items():
            number = len(self.slots)
            numbers[name] = number
            stack = unit.source(name).stack
            self.slots.append(Slot(number, stack or "", cell, unit.name, name, path, kit))
        for name, number in numbers.items():
            others = {
                numbers[root]
                for other in unit.source(name).different_from
                if (root := unit.source(other).name) in numbers
            }
            for other in others:
                self._differ(number, other)
                self._differ(other, number)
        return numbers

    def _differ(self, number: int, other: int) -> None:
        slot = self.slots[number]
        self.slots[number] = Slot(
            slot.number, slot.stack, slot.cell, slot.unit, slot.fabric, slot.path, slot.kit,
            tuple(sorted({*slot.different, other})),
        )  # fmt: skip

    def _patch(
        self, unit: Unit, name: str, frames: tuple[_Frame, ...], numbers: Mapping[str, int]
    ) -> None:
        patch = next(p for p in unit.patches if p.name == name)
        turn, _ = _total_turn(frames)
        for facet in facets(patch):
            points = np.array([_carry(frames, *point) for point in facet.polygon])
            points.flags.writeable = False
            source = unit.source(facet.fabric)
            self.facets.append(
                Facet(
                    points,
                    numbers.get(source.name),
                    source.yardage,
                    turn,
                    self.patch,
                )
            )
        self.patch += 1


def _total_turn(frames: tuple[_Frame, ...]) -> tuple[int, bool]:
    """Turn and mirroring of frames from the inside out: mirroring turns the sense of every turn
    that lies further in."""
    turn, mirrored = 0, False
    for frame in frames:
        if frame.mirrored:
            turn, mirrored = -turn, not mirrored
        turn = (turn + frame.turn) % 360
    return turn, mirrored


def _carry(frames: tuple[_Frame, ...], x: Fraction, y: Fraction) -> tuple[float, float]:
    for frame in frames:
        x, y = frame.place(x, y)
    return float(x), float(y)


@lru_cache(maxsize=_KEPT)
def spread(sewing: Sewing, size: str) -> Layout:
    """Spread a size of a pattern out; the newest layouts are kept.

    Raises
    ------
    PatternError
        If the pattern does not say how this size is sewn.
    """
    quilt = sewing.quilt(size)
    if quilt is None:
        raise PatternError(
            f"The pattern does not say how size {size!r} is sewn: give it rows, or across and down."
        )
    spreader = _Spreader(sewing)
    inset = sum((border.width for border in quilt.borders), Fraction(0))
    cells: list[Cell] = []
    y = inset
    for r, row in enumerate(quilt.rows):
        x = inset
        deep = Fraction(0)
        for c, placed in enumerate(row):
            unit = sewing.units[placed.name]
            w, h = (
                (unit.width, unit.height) if placed.turn % 180 == 0 else (unit.height, unit.width)
            )
            frame = _Frame(x, y, unit.width, unit.height, placed.turn, placed.mirrored)
            spreader.unit(placed, (frame,), (r, c), ())
            cells.append(Cell(r, c, placed, float(x), float(y), float(w), float(h)))
            x, deep = x + w, h
        y += deep
    _spread_borders(spreader, quilt, inset)
    return Layout(
        quilt=quilt,
        slots=tuple(spreader.slots),
        facets=tuple(spreader.facets),
        cells=tuple(cells),
        yardage={
            name: tuple(
                CutNeed(name, w, h, Fraction(ceil(count)), then)
                for (w, h, then), count in sorted(needs.items())[::-1]
            )
            for name, needs in spreader.needs.items()
        },
        width=float(quilt.width),
        height=float(quilt.height),
        units=sewing.units,
        places=tuple(spreader.places),
        makes=spreader.makes,
    )


def _spread_borders(spreader: _Spreader, quilt: Quilt, inset: Fraction) -> None:
    left = float(inset)
    right, bottom = float(quilt.width - inset), float(quilt.height - inset)
    top = left
    for border in quilt.borders:
        b = float(border.width)
        bars = (
            (left - b, top, left, bottom),
            (right, top, right + b, bottom),
            (left - b, top - b, right + b, top),
            (left - b, bottom, right + b, bottom + b),
        )
        for x0, y0, x1, y1 in bars:
            polygon = np.array([(x0, y0), (x1, y0), (x1, y1), (x0, y1)])
            spreader.facets.append(Facet(polygon, None, border.fabric, 0, spreader.patch))
            spreader.patch += 1
        left, top, right, bottom = left - b, top - b, right + b, bottom + b


def area_and_center(polygon: NDArray[np.float64]) -> tuple[float, NDArray[np.float64]]:
    """Return area and centroid of a polygon (K, 2)."""
    x, y = polygon.T
    next_x, next_y = np.append(x[1:], x[0]), np.append(y[1:], y[0])
    cross = x * next_y - next_x * y
    area = float(cross.sum() / 2)
    center = np.array([((x + next_x) * cross).sum(), ((y + next_y) * cross).sum()]) / (6 * area)
    return abs(area), center


def touching(layout: Layout) -> NDArray[np.float64]:
    """Return (slots, slots): the length in inches along which two slots meet, symmetric.

    Meeting at a corner counts a hundredth of an inch, so that it can be told from no meeting.
    """
    n = len(layout.slots)
    meets = np.zeros((n, n))
    lines: dict[tuple[float, ...], list[tuple[float, float, int]]] = {}
    corners: dict[tuple[float, float], set[int]] = {}
    for facet in layout.facets:
        if facet.slot is None:
            continue
        following = np.roll(facet.polygon, -1, axis=0)
        for (x0, y0), (x1, y1) in zip(facet.polygon.tolist(), following.tolist(), strict=True):
            dx, dy = x1 - x0, y1 - y0
            length = float(np.hypot(dx, dy))
            ux, uy = dx / length, dy / length
            if (ux, uy) < (0, 0):
                ux, uy = -ux, -uy
            offset = ux * y0 - uy * x0
            start, end = sorted((ux * x0 + uy * y0, ux * x1 + uy * y1))
            key = (round(ux, 6) + 0.0, round(uy, 6) + 0.0, round(offset, 6) + 0.0)
            lines.setdefault(key, []).append((start, end, facet.slot))
            corners.setdefault((round(x0, 6), round(y0, 6)), set()).add(facet.slot)
    for edges in lines.values():
        edges.sort()
        for i, (_, end, slot) in enumerate(edges):
            for start, other_end, other in edges[i + 1 :]:
                if start >= end - 1e-9:
                    break
                if other != slot:
                    meets[slot, other] += min(end, other_end) - start
                    meets[other, slot] = meets[slot, other]
    for meeting in corners.values():
        for slot in meeting:
            for other in meeting - {slot}:
                meets[slot, other] = max(meets[slot, other], 0.01)
    return meets
