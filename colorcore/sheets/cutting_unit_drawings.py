"""Line drawings of units with their pressing arrows, and of the quilt with its addresses."""

from collections.abc import Mapping
from dataclasses import dataclass
from math import cos, pi, sin
from textwrap import wrap
from typing import Final

import numpy as np
from numpy.typing import NDArray

from colorcore.pattern.layout import Layout, area_and_center
from colorcore.pattern.patches import facets
from colorcore.pattern.sewing import Placed, Unit
from colorcore.piecing import Pairing, UnitPressing
from colorcore.piecing.pressing import EITHER
from colorcore.sheets.cutting_drawings import (
    INK,
    SCALE,
    grey,
    label,
    num,
    open_drawing,
    polygon,
    rect,
)

Matrix = tuple[float, float, float, float, float, float]
Point = tuple[float, float]
ARROW: Final = 0.045
"""Length of a pressing arrow's head and of its shaft, as shares of a unit's longer side."""


def unit_diagram(
    unit: Unit,
    units: Mapping[str, Unit],
    letters: Mapping[str, str],
    greys: Mapping[str, float],
    pressing: UnitPressing | None,
    words: str,
) -> str:
    """Return a unit with its fabrics lettered, greyed by value, and an arrow at every seam.

    ``letters`` and ``greys`` (L*) are by fabric of this unit; inner units are outlined and named.
    """
    width, height = float(unit.width) * SCALE, float(unit.height) * SCALE
    margin = max(width, height) * 0.03
    out = [open_drawing(-margin, -margin, width + 2 * margin, height + 2 * margin, words)]
    patches = {p.name: p for p in unit.patches}
    thick = max(width, height) * 0.007
    seams: list[tuple[float, float, str]] = []
    lying: list[tuple[Placed, Matrix, tuple[float, float, float, float]]] = []
    y = 0.0
    for r, row in enumerate(unit.rows):
        x, deep = 0.0, 0.0
        for c, placed in enumerate(row):
            part = patches.get(placed.name) or units[placed.name]
            w, h = float(part.width) * SCALE, float(part.height) * SCALE
            lie = _lie(placed, w, h, x, y)
            if placed.turn % 180:
                w, h = h, w
            lying.append((placed, lie, (x, y, w, h)))
            if pressing and c < len(row) - 1:
                seams.append((x + w, y + h / 2, pressing.rows[r].seams[c].press))
            x, deep = x + w, h
        y += deep
        if pressing and r < len(unit.rows) - 1:
            seams.append((width * 0.5, y, pressing.between[r].press))
    long = max(width, height)
    free = _Free(tuple((x, y) for x, y, _ in seams), long * ARROW)
    for placed, lie, box in lying:
        if placed.name in patches:
            out.append(_draw_patch(unit, placed, lie, letters, greys, thick, free))
        else:
            out.append(_draw_inner(units[placed.name], units, lie, thick))
            out.append(_name(placed.words, *box))
        out.append(rect(*box, line=thick))
    out += [_press_arrow(x, y, way, long) for x, y, way in seams]
    return "".join(out) + "</svg>"


@dataclass(frozen=True)
class _Free:
    """Where no arrow is: around each of ``arrows`` (x, y) as far as it is ``long``."""

    arrows: tuple[tuple[float, float], ...]
    long: float

    def beside(self, middle: NDArray[np.float64], box: NDArray[np.float64], font: float) -> Point:
        """The place for a letter in a part with that middle and of that width and height: along
        its longer side away from the middle where an arrow covers that."""
        x, y = float(middle[0]), float(middle[1])
        room = self.long + 0.4 * font
        if all(abs(ax - x) > room or abs(ay - y) > room for ax, ay in self.arrows):
            return x, y
        away = max(room * 1.05, 0.2 * max(box))
        return (x - away, y) if box[0] >= box[1] else (x, y - away)


def _lie(placed: Placed, w: float, h: float, x: float, y: float) -> Matrix:
    """The matrix that mirrors, turns and moves a part of w by h."""
    a, b, c, d, e, f = (-1.0, 0.0, 0.0, 1.0, w, 0.0) if placed.mirrored else (1, 0, 0, 1, 0, 0)
    if placed.turn == 90:
        a, b, c, d, e, f = -b, a, -d, c, h - f, e
    elif placed.turn == 180:
        a, b, c, d, e, f = -a, -b, -c, -d, w - e, h - f
    elif placed.turn == 270:
        a, b, c, d, e, f = b, -a, d, -c, f, w - e
    return a, b, c, d, e + x, f + y


def _carry(matrix: Matrix, x: float, y: float) -> tuple[float, float]:
    a, b, c, d, e, f = matrix
    return a * x + c * y + e, b * x + d * y + f


def _draw_patch(
    unit: Unit,
    placed: Placed,
    lie: Matrix,
    letters: Mapping[str, str],
    greys: Mapping[str, float],
    thick: float,
    free: _Free,
) -> str:
    patch = next(p for p in unit.patches if p.name == placed.name)
    out = []
    for facet in facets(patch):
        points = [_carry(lie, float(x) * SCALE, float(y) * SCALE) for x, y in facet.polygon]
        area, middle = area_and_center(np.array(points))
        light = greys.get(facet.fabric, 96.0)
        out.append(polygon(points, grey(light), thick * 0.6))
        letter = letters.get(facet.fabric, "")
        font = min(0.5 * area**0.5, thick * 9)
        ink = "#fff" if light < 55 else INK
        x, y = free.beside(middle, np.ptp(points, axis=0), font)
        out.append(label(x, y + font * 0.33, font, letter, more=f'fill="{ink}"'))
    return "".join(out)


def _draw_inner(
    unit: Unit,
    units: Mapping[str, Unit],
    lie: Matrix,
    thick: float,
) -> str:
    """A unit within a unit: outlines of its parts, its own fabrics a light or a medium grey."""
    out = []
    patches = {p.name: p for p in unit.patches}
    y = 0.0
    for row in unit.rows:
        x, deep = 0.0, 0.0
        for placed in row:
            part = patches.get(placed.name) or units[placed.name]
            w, h = float(part.width) * SCALE, float(part.height) * SCALE
            inner = _compose(lie, _lie(placed, w, h, x, y))
            if placed.turn % 180:
                w, h = h, w
            if placed.name in patches:
                for facet in facets(patches[placed.name]):
                    points = [
                        _carry(inner, float(px) * SCALE, float(py) * SCALE)
                        for px, py in facet.polygon
                    ]
                    unsewn = unit.source(facet.fabric).stack is None
                    out.append(polygon(points, "#fff" if unsewn else "#d6d6d6", thick * 0.4))
            else:
                out.append(_draw_inner(units[placed.name], units, inner, thick))
            x, deep = x + w, h
        y += deep
    return "".join(out)


def _compose(
    outer: Matrix,
    inner: Matrix,
) -> Matrix:
    a, b = outer[:2]
    c, d = outer[2:4]
    ia, ib, ic, id_, ie, if_ = inner
    e, f = _carry(outer, ie, if_)
    return a * ia + c * ib, b * ia + d * ib, a * ic + c * id_, b * ic + d * id_, e, f


def _name(words: str, x: float, y: float, w: float, h: float) -> str:
    """An inner unit's name on a white plate, a line for each part of it."""
    lines = [
        line for part in words.split(",") for line in wrap(part.strip(), 11, break_long_words=False)
    ]
    font = min(h * 0.8 / len(lines), 1.75 * w * 0.8 / max(map(len, lines)), h * 0.13)
    top = y + h / 2 - font * 1.15 * len(lines) / 2
    wide = max(len(line) for line in lines) * font * 0.52 + font * 0.5
    high = font * 1.15 * len(lines) + font * 0.3
    rounded = f'rx="{num(font * 0.2)}" fill-opacity=".9"'
    out = [rect(x + w / 2 - wide / 2, top - font * 0.15, wide, high, fill="#fff", more=rounded)]
    for n, line in enumerate(lines):
        out.append(label(x + w / 2, top + font * (1.15 * n + 0.88), font, line))
    return "".join(out)


def _press_arrow(x: float, y: float, way: str, size: float) -> str:
    """An arrow across a seam, pointing where the seam allowance is pressed; a bar for either."""
    length = size * ARROW
    turns = {"right": 0.0, "down": pi / 2, "left": pi, "up": -pi / 2}
    if way == EITHER or way not in turns:
        return (
            f'<circle cx="{num(x)}" cy="{num(y)}" r="{num(length * 0.3)}" fill="#fff" '
            f'stroke="{INK}" stroke-width="{num(length * 0.14)}"/>'
        )
    turn = turns[way]
    dx, dy = cos(turn), sin(turn)
    tail = (x - dx * length * 0.7, y - dy * length * 0.7)
    tip = (x + dx * length, y + dy * length)
    neck = (x + dx * length * 0.25, y + dy * length * 0.25)
    wings = [
        (neck[0] - dy * length * 0.42, neck[1] + dx * length * 0.42),
        (neck[0] + dy * length * 0.42, neck[1] - dx * length * 0.42),
    ]
    shaft = f"M{num(tail[0])} {num(tail[1])}L{num(neck[0])} {num(neck[1])}"
    head = "M" + "L".join(f"{num(px)} {num(py)}" for px, py in (wings[0], tip, wings[1])) + "Z"
    halo = f'stroke="#fff" stroke-width="{num(length * 0.42)}" stroke-linejoin="round"'
    return (
        f'<path d="{shaft}{head}" fill="#fff" {halo}/>'
        f'<path d="{shaft}" stroke="{INK}" stroke-width="{num(length * 0.2)}"/>'
        f'<path d="{head}" fill="{INK}"/>'
    )


_LARGEST: Final = 1.5
"""Inches of the quilt that an address on the map is high at most."""


def place_map(layout: Layout, pairing: Pairing, rows: range, columns: range, words: str) -> str:
    """Return the part of a quilt in the given rows and columns of units, each slot with the
    address of the square that its pieces come from."""
    cells = [c for c in layout.cells if c.row in rows and c.column in columns]
    left, top = min(c.x for c in cells), min(c.y for c in cells)
    right, bottom = max(c.x + c.width for c in cells), max(c.y + c.height for c in cells)
    inside = {(c.row, c.column) for c in cells}
    margin = 3.0
    out = [
        open_drawing(
            left - margin, top - margin, right - left + margin + 0.3,
            bottom - top + margin + 0.3, words,
        )
    ]  # fmt: skip
    best: dict[int, tuple[float, NDArray[np.float64]]] = {}
    for facet in layout.facets:
        if facet.slot is None or layout.slots[facet.slot].cell not in inside:
            continue
        out.append(polygon(facet.polygon.tolist(), "#efefee", 0.06))
        area, _ = area_and_center(facet.polygon)
        if facet.slot not in best or area > best[facet.slot][0]:
            best[facet.slot] = (area, facet.polygon)
    for slot, (_, shape) in best.items():
        name = pairing.supplies[slot].square
        x, y, font = _room_for(shape, max(len(name), 2))
        out.append(label(x, y + font * 0.33, font, name))
    out += [rect(cell.x, cell.y, cell.width, cell.height, line=0.14) for cell in cells]
    for r in sorted({c.row for c in cells}):
        cell = next(c for c in cells if c.row == r)
        out.append(_edge_label(left - 1.5, cell.y + cell.height / 2, str(r + 1)))
    for c in sorted({c.column for c in cells}):
        cell = next(x for x in cells if x.column == c)
        out.append(_edge_label(cell.x + cell.width / 2, top - 1.2, str(c + 1)))
    return "".join(out) + "</svg>"


def _room_for(shape: NDArray[np.float64], letters: int) -> tuple[float, float, float]:
    """Middle (x, y) and height of the letters of an address, as large as a part has room for."""
    area, middle = area_and_center(shape)
    box = np.ptp(shape, axis=0)
    if area > 0.6 * box[0] * box[1]:
        font = min(1.75 * box[0] / letters, box[1] * 0.6, _LARGEST)
        return float(middle[0]), float(middle[1]), float(font)
    corner = next((p for p in shape if np.isclose(p, shape).sum() == 4), None)
    if len(shape) != 3 or corner is None:
        # A triangle has half of its box, and less than half of that at its middle.
        font = min(1.75 * 0.55 * box[0] / letters, 0.8 * box[1] * 0.6, _LARGEST)
        return float(middle[0]), float(middle[1]), float(font)
    # In a right angle words have most room, up to the long side across from it.
    wide, high = 0.5 * letters, 0.72
    font = min(0.88 / (wide / box[0] + high / box[1]), _LARGEST)
    inwards = np.sign(shape.mean(axis=0) - corner)
    x, y = corner + inwards * (np.array([wide, high]) * font / 2 + 0.05 * box)
    return float(x), float(y), float(font)


def _edge_label(x: float, y: float, text: str) -> str:
    return label(x, y + 0.6, 1.8, text, more='font-weight="700"')
