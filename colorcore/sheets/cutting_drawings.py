"""Line drawings for the cutting table: squares with their cuts, units with pressing arrows, maps.

One unit of every drawing is a tenth of an inch of cloth. Everything reads in black and white: waste
is hatched, fabrics carry letters and a grey of their own value, cuts carry numbers.
"""

from collections.abc import Sequence
from fractions import Fraction
from typing import Final
from xml.sax.saxutils import escape, quoteattr

from colorcore.cutting.guillotine import CutLine, CutPart, Cutting
from colorcore.cutting.yardage import Backing
from colorcore.lengths import say_length

_FONT: Final = "Libertinus Serif, Iowan Old Style, Palatino, Georgia, serif"
INK: Final = "#1b1b1b"
SCALE: Final = 10.0
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
    side = float(cutting.width) * SCALE
    margin = 5.0
    out = [
        open_drawing(-margin, -margin, side + 2 * margin, side + 2 * margin, words),
        f"<defs>{_HATCH.format(id=key)}</defs>",
    ]
    if picture:
        out.append(f'<image href="{picture}" width="{num(side)}" height="{num(side)}"/>')
    for part in cutting.parts:
        x, y, w, h = (float(v) * SCALE for v in (part.x, part.y, part.width, part.height))
        fill = "none" if picture else "#fff" if part.piece is not None else f"url(#hatch-{key})"
        out.append(rect(x, y, w, h, fill=fill))
        if part.piece is not None:
            size = (part.width, part.height)
            out.append(_size_label(x, y, w, h, size, metric, backed=picture is not None))
        elif picture:
            cross = f"M{num(x)} {num(y)}l{num(w)} {num(h)}M{num(x + w)} {num(y)}l{num(-w)} {num(h)}"
            out.append(
                f'<path d="{cross}" stroke="#fff" stroke-width="1.6"/>'
                f'<path d="{cross}" stroke="{INK}" stroke-width=".5"/>'
            )
    out += [_waste_label(part, metric) for part in cutting.parts if part.piece is None]
    out.append(rect(0, 0, side, side, line=0.9))
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
    font = min(7.0, 1.7 * max(w, h) / max(len(text), 1), 0.42 * min(w, h))
    turn = f' transform="rotate(-90 {num(x + w / 2)} {num(y + h / 2)})"' if h > 1.6 * w else ""
    plate = ""
    if backed:
        wide = font * 0.56 * len(text) + 1.6
        plate = rect(
            x + w / 2 - wide / 2, y + h / 2 - font * 0.65, wide, font * 1.3,
            fill="#fff", more=f'rx=".8"{turn}',
        )  # fmt: skip
    return plate + label(x + w / 2, y + h / 2 + font * 0.34, font, text, more=turn)


def _waste_label(part: CutPart, metric: bool) -> str:
    """What is left over says its size along the cut, so that a ruler can be set to it."""
    x, y, w, h = (float(v) * SCALE for v in (part.x, part.y, part.width, part.height))
    text = say_length(min(part.width, part.height), metric=metric, unit=False)
    font = min(5.0, 0.8 * min(w, h), 1.6 * max(w, h) / max(len(text), 1))
    if font < 1.5:
        return ""
    wide = font * 0.5 * len(text) + 1.2
    turn = f' transform="rotate(-90 {num(x + w / 2)} {num(y + h / 2)})"' if h > 1.6 * w else ""
    return rect(
        x + w / 2 - wide / 2, y + h / 2 - font * 0.6, wide, font * 1.2, fill="#fff", more=turn
    ) + label(x + w / 2, y + h / 2 + font * 0.34, font, text, more=f'font-style="italic"{turn}')


def _cut_line(line: CutLine, stage: int, *, halo: bool) -> str:
    ends = " ".join(num(float(v) * SCALE) for v in (line.x0, line.y0))
    to = " ".join(num(float(v) * SCALE) for v in (line.x1, line.y1))
    pattern = {1: "", 2: "3 1.4"}.get(stage, "1.2 1.2")
    dash = f' stroke-dasharray="{pattern}"' if pattern else ""
    under = f'<path d="M{ends}L{to}" stroke="#fff" stroke-width="2"/>' if halo else ""
    width = {1: 1.1, 2: 0.8}.get(stage, 0.6)
    return f'{under}<path d="M{ends}L{to}" stroke="{INK}" stroke-width="{width}"{dash}/>'


def _cut_number(line: CutLine, stage: int) -> str:
    x, y = float(line.x0) * SCALE, float(line.y0) * SCALE
    # A number sits where its cut begins; cuts of later stages begin inside and step in a little.
    if stage > 1:
        x, y = (x, y + 3.2) if line.x0 == line.x1 else (x + 3.2, y)
    return (
        f'<circle cx="{num(x)}" cy="{num(y)}" r="2.7" fill="#fff" stroke="{INK}" '
        f'stroke-width=".5"/>' + label(x, y + 1.45, 4.2, str(stage), more='font-weight="700"')
    )


def backing_drawing(backing: Backing, quilt: tuple[Fraction, Fraction], words: str) -> str:
    """Return a backing's panels with their seams, the quilt dashed on it."""
    width, height = float(backing.size[0]), float(backing.size[1])
    out = [open_drawing(-1, -1, width + 2, height + 2, words)]
    line = max(width, height) * 0.006
    for n in range(backing.panels):
        share = 1 / backing.panels
        x, y, w, h = (
            (n * share * width, 0.0, share * width, height)
            if backing.upright
            else (0.0, n * share * height, width, share * height)
        )
        out.append(rect(x, y, w, h, fill="#f1f1f0", line=line))
    left, top = (width - float(quilt[0])) / 2, (height - float(quilt[1])) / 2
    dashes = f'stroke-dasharray="{num(line * 5)} {num(line * 3)}"'
    out.append(rect(left, top, float(quilt[0]), float(quilt[1]), line=line * 0.8, more=dashes))
    return "".join(out) + "</svg>"


def rect(
    x: float, y: float, w: float, h: float,
    *, fill: str = "none", line: float = 0.0, more: str = "",
) -> str:  # fmt: skip
    """Return a rectangle, outlined if ``line`` is above 0."""
    stroke = f' stroke="{INK}" stroke-width="{num(line)}"' if line else ""
    return (
        f'<rect x="{num(x)}" y="{num(y)}" width="{num(w)}" height="{num(h)}" '
        f'fill="{fill}"{stroke} {more}/>'
    )


def label(x: float, y: float, font: float, text: str, *, more: str = "") -> str:
    """Return words centred on x, their baseline at y; ``text`` may be anything."""
    return (
        f'<text x="{num(x)}" y="{num(y)}" font-size="{num(font)}" text-anchor="middle" '
        f"{more}>{escape(text)}</text>"
    )


def open_drawing(x: float, y: float, width: float, height: float, words: str) -> str:
    """Return the start of a drawing with its words for those who do not see it."""
    return (
        '<svg xmlns="http://www.w3.org/2000/svg" class="drawing" '
        f'viewBox="{num(x)} {num(y)} {num(width)} {num(height)}" role="img" '
        f'aria-label={quoteattr(words)} font-family="{_FONT}" fill="{INK}">'
    )


def polygon(points: Sequence[Sequence[float]], fill: str, width: float) -> str:
    """Return a filled polygon with an outline."""
    path = " ".join(f"{num(p[0])},{num(p[1])}" for p in points)
    return (
        f'<polygon points="{path}" fill="{fill}" stroke="{INK}" stroke-width="{num(width)}" '
        'stroke-linejoin="round"/>'
    )


def grey(lightness: float) -> str:
    """Return the grey of an L* as a colour for drawings."""
    from colorcore.color.css import css_color

    return css_color((min(max(lightness, 12.0), 100.0), 0.0, 0.0))


def num(value: float) -> str:
    """Return a coordinate without needless digits."""
    return f"{round(float(value), 3):g}"
