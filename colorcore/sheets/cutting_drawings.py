"""Line drawings for the cutting table: squares with their cuts, units with pressing arrows, maps.

One unit of every drawing is a tenth of an inch of cloth. Everything reads in black and white: waste
is hatched, fabrics carry letters and a grey of their own value, cuts carry numbers.
"""

from collections.abc import Mapping, Sequence
from fractions import Fraction
from math import cos, pi, sin
from textwrap import wrap
from typing import Final
from xml.sax.saxutils import escape, quoteattr

import numpy as np
from numpy.typing import NDArray

from colorcore.cutting.guillotine import CutLine, Cutting
from colorcore.cutting.yardage import Backing
from colorcore.lengths import say_length
from colorcore.pattern.layout import Layout, area_and_center
from colorcore.pattern.patches import facets
from colorcore.pattern.sewing import Placed, Unit
from colorcore.piecing import Pairing, UnitPressing
from colorcore.piecing.pressing import EITHER

_FONT: Final = "Libertinus Serif, Iowan Old Style, Palatino, Georgia, serif"
_INK: Final = "#1b1b1b"
_SCALE: Final = 10.0
_HATCH: Final = (
    '<pattern id="hatch-{id}" width="2.4" height="2.4" patternUnits="userSpaceOnUse" '
    'patternTransform="rotate(45)"><rect width="2.4" height="2.4" fill="#fff"/>'
    '<path d="M0 0V2.4" stroke="#9a9a9a" stroke-width=".7"/></pattern>'
)


def cutting_stages(cutting: Cutting) -> tuple[int, ...]:
    """Return the stage of each cut: 1 for cuts across the whole square, 2 for cuts across the
    strips that these give, and so on. Parallel cuts of one part belong to one stage."""
    rooms: list[tuple[Fraction, Fraction, Fraction, Fraction, int, str]] = [
        (Fraction(0), Fraction(0), cutting.width, cutting.height, 0, "")
    ]
    stages = []
    for line in cutting.lines:
        upright = line.x0 == line.x1
        room = next(r for r in rooms if _runs_across(line, r))
        x, y, w, h, stage, before = room
        along = "x" if upright else "y"
        here = stage if along == before else stage + 1
        rooms.remove(room)
        if upright:
            rooms += [
                (x, y, line.x0 - x, h, here, along),
                (line.x0, y, x + w - line.x0, h, here, along),
            ]
        else:
            rooms += [
                (x, y, w, line.y0 - y, here, along),
                (x, line.y0, w, y + h - line.y0, here, along),
            ]
        stages.append(here)
    return tuple(stages)


def _runs_across(
    line: CutLine, room: tuple[Fraction, Fraction, Fraction, Fraction, int, str]
) -> bool:
    x, y, w, h = room[:4]
    if line.x0 == line.x1:
        return (line.y0, line.y1) == (y, y + h) and x < line.x0 < x + w
    return (line.x0, line.x1) == (x, x + w) and y < line.y0 < y + h


def square_diagram(
    cutting: Cutting, words: str, key: str, *, picture: str | None = None, metric: bool = False
) -> str:
    """Return one square with its cuts, numbered by stage.

    ``picture`` is a ``data:`` address of the square's fabric to lie under the cuts; ``key`` makes
    the drawing's ids unique in a page.
    """
    side = float(cutting.width) * _SCALE
    margin = 5.0
    out = [
        _open(-margin, -margin, side + 2 * margin, side + 2 * margin, words),
        f"<defs>{_HATCH.format(id=key)}</defs>",
    ]
    if picture:
        out.append(f'<image href="{picture}" width="{_n(side)}" height="{_n(side)}"/>')
    for part in cutting.parts:
        x, y, w, h = (float(v) * _SCALE for v in (part.x, part.y, part.width, part.height))
        fill = "none" if picture else "#fff" if part.piece is not None else f"url(#hatch-{key})"
        out.append(
            f'<rect x="{_n(x)}" y="{_n(y)}" width="{_n(w)}" height="{_n(h)}" fill="{fill}"/>'
        )
        if part.piece is not None:
            size = (part.width, part.height)
            out.append(_size_label(x, y, w, h, size, metric, backed=picture is not None))
        elif picture:
            out.append(
                f'<path d="M{_n(x)} {_n(y)}l{_n(w)} {_n(h)}M{_n(x + w)} {_n(y)}l{_n(-w)} {_n(h)}" '
                'stroke="#fff" stroke-width="1.6"/>'
                f'<path d="M{_n(x)} {_n(y)}l{_n(w)} {_n(h)}M{_n(x + w)} {_n(y)}l{_n(-w)} {_n(h)}" '
                f'stroke="{_INK}" stroke-width=".5"/>'
            )
    out.append(
        f'<rect width="{_n(side)}" height="{_n(side)}" fill="none" stroke="{_INK}" '
        'stroke-width=".9"/>'
    )
    stages = cutting_stages(cutting)
    for line, stage in zip(cutting.lines, stages, strict=True):
        out.append(_cut_line(line, stage, halo=picture is not None))
    for line, stage in zip(cutting.lines, stages, strict=True):
        out.append(_cut_number(line, stage))
    return "".join(out) + "</svg>"


def _size_label(
    x: float, y: float, w: float, h: float, size: tuple[Fraction, Fraction], metric: bool,
    *, backed: bool,
) -> str:  # fmt: skip
    across, down = (say_length(v, metric=metric, unit=False) for v in size)
    text = across if size[0] == size[1] else f"{across} × {down}"
    font = min(5.2, 1.7 * max(w, h) / max(len(text), 1), 0.42 * min(w, h))
    turn = f' transform="rotate(-90 {_n(x + w / 2)} {_n(y + h / 2)})"' if h > 1.6 * w else ""
    plate = ""
    if backed:
        wide = font * 0.56 * len(text) + 1.6
        plate = (
            f'<rect x="{_n(x + w / 2 - wide / 2)}" y="{_n(y + h / 2 - font * 0.65)}" '
            f'width="{_n(wide)}" height="{_n(font * 1.3)}" rx=".8" fill="#fff"{turn}/>'
        )
    return plate + (
        f'<text x="{_n(x + w / 2)}" y="{_n(y + h / 2 + font * 0.34)}" font-size="{_n(font)}" '
        f'text-anchor="middle"{turn}>{text}</text>'
    )


def _cut_line(line: CutLine, stage: int, *, halo: bool) -> str:
    ends = " ".join(_n(float(v) * _SCALE) for v in (line.x0, line.y0))
    to = " ".join(_n(float(v) * _SCALE) for v in (line.x1, line.y1))
    pattern = {1: "", 2: "3 1.4"}.get(stage, "1.2 1.2")
    dash = f' stroke-dasharray="{pattern}"' if pattern else ""
    under = f'<path d="M{ends}L{to}" stroke="#fff" stroke-width="2"/>' if halo else ""
    width = {1: 1.1, 2: 0.8}.get(stage, 0.6)
    return f'{under}<path d="M{ends}L{to}" stroke="{_INK}" stroke-width="{width}"{dash}/>'


def _cut_number(line: CutLine, stage: int) -> str:
    x, y = float(line.x0) * _SCALE, float(line.y0) * _SCALE
    # A number sits where its cut begins; cuts of later stages begin inside and step in a little.
    if stage > 1:
        x, y = (x, y + 2.6) if line.x0 == line.x1 else (x + 2.6, y)
    return (
        f'<circle cx="{_n(x)}" cy="{_n(y)}" r="2.1" fill="#fff" stroke="{_INK}" stroke-width=".5"/>'
        f'<text x="{_n(x)}" y="{_n(y + 1.15)}" font-size="3.3" text-anchor="middle" '
        f'font-weight="700">{stage}</text>'
    )


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
    width, height = float(unit.width) * _SCALE, float(unit.height) * _SCALE
    margin = max(width, height) * 0.03
    out = [_open(-margin, -margin, width + 2 * margin, height + 2 * margin, words)]
    patches = {p.name: p for p in unit.patches}
    thick = max(width, height) * 0.007
    seams: list[str] = []
    y = 0.0
    for r, row in enumerate(unit.rows):
        x, deep = 0.0, 0.0
        for c, placed in enumerate(row):
            part = patches.get(placed.name) or units[placed.name]
            w, h = float(part.width) * _SCALE, float(part.height) * _SCALE
            lie = _lie(placed, w, h, x, y)
            if placed.turn % 180:
                w, h = h, w
            if placed.name in patches:
                out.append(_draw_patch(unit, placed, lie, letters, greys, thick))
            else:
                out.append(_draw_inner(units[placed.name], units, lie, thick))
                out.append(_name(placed.words, x, y, w, h))
            out.append(
                f'<rect x="{_n(x)}" y="{_n(y)}" width="{_n(w)}" height="{_n(h)}" fill="none" '
                f'stroke="{_INK}" stroke-width="{_n(thick)}"/>'
            )
            if pressing and c < len(row) - 1:
                way = pressing.rows[r].seams[c].press
                seams.append(_press_arrow(x + w, y + h / 2, way, max(width, height)))
            x, deep = x + w, h
        y += deep
        if pressing and r < len(unit.rows) - 1:
            seams.append(
                _press_arrow(width * 0.5, y, pressing.between[r].press, max(width, height))
            )
    return "".join(out + seams) + "</svg>"


def _lie(
    placed: Placed, w: float, h: float, x: float, y: float
) -> tuple[float, float, float, float, float, float]:
    """The matrix that mirrors, turns and moves a part of w by h."""
    a, b, c, d, e, f = (-1.0, 0.0, 0.0, 1.0, w, 0.0) if placed.mirrored else (1, 0, 0, 1, 0, 0)
    if placed.turn == 90:
        a, b, c, d, e, f = -b, a, -d, c, h - f, e
    elif placed.turn == 180:
        a, b, c, d, e, f = -a, -b, -c, -d, w - e, h - f
    elif placed.turn == 270:
        a, b, c, d, e, f = b, -a, d, -c, f, w - e
    return a, b, c, d, e + x, f + y


def _carry(
    matrix: tuple[float, float, float, float, float, float], x: float, y: float
) -> tuple[float, float]:
    a, b, c, d, e, f = matrix
    return a * x + c * y + e, b * x + d * y + f


def _draw_patch(
    unit: Unit,
    placed: Placed,
    lie: tuple[float, float, float, float, float, float],
    letters: Mapping[str, str],
    greys: Mapping[str, float],
    thick: float,
) -> str:
    patch = next(p for p in unit.patches if p.name == placed.name)
    out = []
    for facet in facets(patch):
        points = [_carry(lie, float(x) * _SCALE, float(y) * _SCALE) for x, y in facet.polygon]
        area, middle = area_and_center(np.array(points))
        light = greys.get(facet.fabric, 96.0)
        out.append(_polygon(points, _grey(light), thick * 0.6))
        letter = letters.get(facet.fabric, "")
        font = min(0.5 * area**0.5, thick * 9)
        ink = "#fff" if light < 55 else _INK
        out.append(
            f'<text x="{_n(middle[0])}" y="{_n(middle[1] + font * 0.33)}" font-size="{_n(font)}" '
            f'fill="{ink}" text-anchor="middle">{escape(letter)}</text>'
        )
    return "".join(out)


def _draw_inner(
    unit: Unit,
    units: Mapping[str, Unit],
    lie: tuple[float, float, float, float, float, float],
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
            w, h = float(part.width) * _SCALE, float(part.height) * _SCALE
            inner = _compose(lie, _lie(placed, w, h, x, y))
            if placed.turn % 180:
                w, h = h, w
            if placed.name in patches:
                for facet in facets(patches[placed.name]):
                    points = [
                        _carry(inner, float(px) * _SCALE, float(py) * _SCALE)
                        for px, py in facet.polygon
                    ]
                    plain = unit.source(facet.fabric).stack is None
                    out.append(_polygon(points, "#fff" if plain else "#d6d6d6", thick * 0.4))
            else:
                out.append(_draw_inner(units[placed.name], units, inner, thick))
            x, deep = x + w, h
        y += deep
    return "".join(out)


def _compose(
    outer: tuple[float, float, float, float, float, float],
    inner: tuple[float, float, float, float, float, float],
) -> tuple[float, float, float, float, float, float]:
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
    out = [
        f'<rect x="{_n(x + w / 2 - wide / 2)}" y="{_n(top - font * 0.15)}" width="{_n(wide)}" '
        f'height="{_n(font * 1.15 * len(lines) + font * 0.3)}" rx="{_n(font * 0.2)}" fill="#fff" '
        'fill-opacity=".9"/>'
    ]
    for n, line in enumerate(lines):
        out.append(
            f'<text x="{_n(x + w / 2)}" y="{_n(top + font * (1.15 * n + 0.88))}" '
            f'font-size="{_n(font)}" text-anchor="middle">{escape(line)}</text>'
        )
    return "".join(out)


def _press_arrow(x: float, y: float, way: str, size: float) -> str:
    """An arrow across a seam, pointing where the seam allowance is pressed; a bar for either."""
    length = size * 0.045
    turns = {"right": 0.0, "down": pi / 2, "left": pi, "up": -pi / 2}
    if way == EITHER or way not in turns:
        return (
            f'<circle cx="{_n(x)}" cy="{_n(y)}" r="{_n(length * 0.3)}" fill="#fff" '
            f'stroke="{_INK}" stroke-width="{_n(length * 0.14)}"/>'
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
    shaft = f"M{_n(tail[0])} {_n(tail[1])}L{_n(neck[0])} {_n(neck[1])}"
    head = "M" + "L".join(f"{_n(px)} {_n(py)}" for px, py in (wings[0], tip, wings[1])) + "Z"
    halo = f'stroke="#fff" stroke-width="{_n(length * 0.42)}" stroke-linejoin="round"'
    return (
        f'<path d="{shaft}{head}" fill="#fff" {halo}/>'
        f'<path d="{shaft}" stroke="{_INK}" stroke-width="{_n(length * 0.2)}"/>'
        f'<path d="{head}" fill="{_INK}"/>'
    )


def place_map(layout: Layout, pairing: Pairing, rows: range, columns: range, words: str) -> str:
    """Return the part of a quilt in the given rows and columns of units, each slot with the
    address of the square that its pieces come from."""
    cells = [c for c in layout.cells if c.row in rows and c.column in columns]
    left, top = min(c.x for c in cells), min(c.y for c in cells)
    right, bottom = max(c.x + c.width for c in cells), max(c.y + c.height for c in cells)
    inside = {(c.row, c.column) for c in cells}
    margin = 3.0
    out = [
        _open(
            left - margin, top - margin, right - left + margin + 0.3,
            bottom - top + margin + 0.3, words,
        )
    ]  # fmt: skip
    best: dict[int, tuple[float, NDArray[np.float64], NDArray[np.float64]]] = {}
    for facet in layout.facets:
        if facet.slot is None or layout.slots[facet.slot].cell not in inside:
            continue
        out.append(_polygon(facet.polygon.tolist(), "#efefee", 0.06))
        area, middle = area_and_center(facet.polygon)
        if facet.slot not in best or area > best[facet.slot][0]:
            best[facet.slot] = (area, middle, np.ptp(facet.polygon, axis=0))
    for slot, (area, middle, box) in best.items():
        name = pairing.supplies[slot].square
        # A triangle has half of its box, and less than half of that at its middle.
        room = box * (1.0 if area > 0.6 * box[0] * box[1] else 0.55)
        font = min(1.75 * room[0] / max(len(name), 2), room[1] * 0.6, 1.5)
        out.append(
            f'<text x="{_n(middle[0])}" y="{_n(middle[1] + font * 0.33)}" font-size="{_n(font)}" '
            f'text-anchor="middle">{escape(name)}</text>'
        )
    for cell in cells:
        out.append(
            f'<rect x="{_n(cell.x)}" y="{_n(cell.y)}" width="{_n(cell.width)}" '
            f'height="{_n(cell.height)}" fill="none" stroke="{_INK}" stroke-width=".14"/>'
        )
    for r in sorted({c.row for c in cells}):
        cell = next(c for c in cells if c.row == r)
        out.append(_edge_label(left - 1.5, cell.y + cell.height / 2, str(r + 1)))
    for c in sorted({c.column for c in cells}):
        cell = next(x for x in cells if x.column == c)
        out.append(_edge_label(cell.x + cell.width / 2, top - 1.2, str(c + 1)))
    return "".join(out) + "</svg>"


def _edge_label(x: float, y: float, text: str) -> str:
    return (
        f'<text x="{_n(x)}" y="{_n(y + 0.6)}" font-size="1.8" font-weight="700" '
        f'text-anchor="middle">{text}</text>'
    )


def backing_drawing(backing: Backing, quilt: tuple[Fraction, Fraction], words: str) -> str:
    """Return a backing's panels with their seams, the quilt dashed on it."""
    width, height = float(backing.size[0]), float(backing.size[1])
    out = [_open(-1, -1, width + 2, height + 2, words)]
    line = max(width, height) * 0.006
    for n in range(backing.panels):
        share = 1 / backing.panels
        x, y, w, h = (
            (n * share * width, 0.0, share * width, height)
            if backing.upright
            else (0.0, n * share * height, width, share * height)
        )
        out.append(
            f'<rect x="{_n(x)}" y="{_n(y)}" width="{_n(w)}" height="{_n(h)}" fill="#f1f1f0" '
            f'stroke="{_INK}" stroke-width="{_n(line)}"/>'
        )
    left, top = (width - float(quilt[0])) / 2, (height - float(quilt[1])) / 2
    out.append(
        f'<rect x="{_n(left)}" y="{_n(top)}" width="{_n(float(quilt[0]))}" '
        f'height="{_n(float(quilt[1]))}" fill="none" stroke="{_INK}" '
        f'stroke-width="{_n(line * 0.8)}" stroke-dasharray="{_n(line * 5)} {_n(line * 3)}"/>'
    )
    return "".join(out) + "</svg>"


def _open(x: float, y: float, width: float, height: float, words: str) -> str:
    return (
        '<svg xmlns="http://www.w3.org/2000/svg" class="drawing" '
        f'viewBox="{_n(x)} {_n(y)} {_n(width)} {_n(height)}" role="img" '
        f'aria-label={quoteattr(words)} font-family="{_FONT}" fill="{_INK}">'
    )


def _polygon(points: Sequence[Sequence[float]], fill: str, width: float) -> str:
    path = " ".join(f"{_n(p[0])},{_n(p[1])}" for p in points)
    return (
        f'<polygon points="{path}" fill="{fill}" stroke="{_INK}" stroke-width="{_n(width)}" '
        'stroke-linejoin="round"/>'
    )


def _grey(lightness: float) -> str:
    from colorcore.sheets.pictures import css_color

    return css_color((min(max(lightness, 12.0), 100.0), 0.0, 0.0))


def _n(value: float) -> str:
    return f"{round(float(value), 3):g}"
