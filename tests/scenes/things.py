"""What else gets into the picture of a sewing table: neither squares nor references.

Each thing is painted as ink numbers, ink 0 being where it is not; its outline follows from that.
"""

from collections.abc import Callable

import cv2
import numpy as np
from numpy.typing import NDArray

from tests.scenes import spectra
from tests.scenes.items import MARGIN, Item, picture_shape, pose_at, rectangle
from tests.scenes.prints import Tile

Points = NDArray[np.float64]
Rng = np.random.Generator
Paint = Callable[["Brush"], None]


class Brush:
    """Paints shapes given in inches on a picture of ink numbers."""

    def __init__(self, size: tuple[float, float], pixels_per_inch: float) -> None:
        self.scale = pixels_per_inch
        self.pixels: Tile = np.zeros(picture_shape(size, pixels_per_inch), np.uint8)

    def polygon(self, points: Points, ink: int) -> None:
        fixed = np.round(((np.asarray(points) + MARGIN) * self.scale - 0.5) * 16)
        cv2.fillPoly(self.pixels, [fixed.astype(np.int32)], ink, shift=4)

    def box(self, x0: float, y0: float, x1: float, y1: float, ink: int) -> None:
        self.polygon(rectangle(x1 - x0, y1 - y0) + np.array([x0, y0]), ink)

    def line(self, axis: int, at: float, thick: float, start: float, end: float, ink: int) -> None:
        """Paint a line ``at`` a place along an axis, across it from ``start`` to ``end``."""
        near, far = at - thick / 2, at + thick / 2
        self.box(*((near, start, far, end) if axis == 0 else (start, near, end, far)), ink)

    def capsule(self, a: Points, b: Points, radius: float, ink: int, end: float = 1.0) -> None:
        """Paint a rounded limb whose radius at ``b`` is ``end`` times that at ``a``."""
        a, b = np.asarray(a, dtype=np.float64), np.asarray(b, dtype=np.float64)
        angle = float(np.arctan2(b[1] - a[1], b[0] - a[0]))
        turn = np.linspace(np.pi / 2, 3 * np.pi / 2, 16) + angle
        back = a + radius * np.stack([np.cos(turn), np.sin(turn)], 1)
        turn = turn + np.pi
        front = b + end * radius * np.stack([np.cos(turn), np.sin(turn)], 1)
        self.polygon(np.concatenate([back, front]), ink)

    def rounded(self, width: float, height: float, radius: float, inset: float, ink: int) -> None:
        points = []
        for x, y, start in (
            (radius, radius, np.pi),
            (width - radius, radius, 1.5 * np.pi),
            (width - radius, height - radius, 0.0),
            (radius, height - radius, 0.5 * np.pi),
        ):
            turn = start + np.linspace(0, np.pi / 2, 8)
            reach = radius - inset
            points.append(np.stack([x + reach * np.cos(turn), y + reach * np.sin(turn)], 1))
        self.polygon(np.concatenate(points), ink)

    def ring(
        self, x: float, y: float, outer: float, inner: float, ink: int, stretch: float
    ) -> None:
        turn = np.linspace(0, 2 * np.pi, 40)
        circle = np.stack([np.cos(turn), stretch * np.sin(turn)], 1)
        self.polygon(np.array([x, y]) + outer * circle, ink)
        self.polygon(np.array([x, y]) + inner * circle, 0)

    def number(self, number: int, x: float, y: float, height: float, ink: int) -> None:
        """Paint a number of the given height whose foot starts at a place."""
        place = np.round((np.array([x, y]) + MARGIN) * self.scale)
        cv2.putText(
            self.pixels,
            str(number),
            (int(place[0]), int(place[1])),
            cv2.FONT_HERSHEY_SIMPLEX,
            self.scale * height / 22,
            ink,
            max(1, round(self.scale * 0.03)),
            cv2.LINE_8,
        )

    def words(
        self, x: float, y: float, width: float, height: float, lines: int, ink: int, rng: Rng
    ) -> None:
        """Paint lines of small bars that pass for text."""
        for line in range(lines):
            at, top = x, y + line * height / lines
            end = x + width * (rng.uniform(0.4, 0.8) if line == lines - 1 else 1.0)
            while at < end:
                length = rng.uniform(0.12, 0.5)
                self.box(at, top, min(at + length, end), top + 0.45 * height / lines, ink)
                at += length + 0.07


def _thing(
    kind: str,
    size: tuple[float, float],
    inks: list[NDArray[np.float64]],
    pose: Points,
    rng: Rng,
    draw: Paint,
    *,
    lift: float,
    round_edge: float = 0.0,
    clear: float = 1.0,
) -> Item:
    def paint(pixels_per_inch: float) -> Tile:
        brush = Brush(size, pixels_per_inch)
        draw(brush)
        return brush.pixels

    rough = (paint(24.0) > 0).astype(np.uint8)
    outlines, _ = cv2.findContours(rough, cv2.RETR_EXTERNAL, cv2.CHAIN_APPROX_NONE)
    largest = cv2.approxPolyDP(max(outlines, key=cv2.contourArea), 1.0, True)
    outline = (largest[:, 0] + 0.5) / 24.0 - MARGIN
    opacity = np.ones(len(inks) + 1)
    opacity[0], opacity[1] = 0.0, clear
    widened = rectangle(size[0] + MARGIN, size[1] + MARGIN) - MARGIN / 2
    return Item(
        kind=kind,
        size=size,
        corners=rectangle(*size),
        outline=widened,
        inks=np.stack([inks[0], *inks]),
        paint=paint,
        pose=pose,
        seed=int(rng.integers(2**31)),
        lift=lift,
        weave=0.004,
        round_edge=round_edge,
        opacity=opacity,
        truth={"outline": outline},
    )


def _clear_ruler(rng: Rng, pose_of: Callable[[tuple[float, float]], Points]) -> Item:
    size = ((24.0, 6.0), (12.0, 2.5), (9.5, 9.5))[int(rng.integers(3))]
    line = spectra.mix_ink(rng, float(rng.choice([15.0, 85.0])), float(rng.uniform(0, 1)))

    def draw(brush: Brush) -> None:
        brush.box(0, 0, *size, 1)
        for axis in (0, 1):
            for mark in np.arange(0.125, size[axis], 0.125):
                whole = abs(mark - round(mark)) < 1e-9
                half = abs(2 * mark - round(2 * mark)) < 1e-9
                long = size[1 - axis] if whole else (0.3 if half else 0.12)
                thick = 0.02 if whole else 0.012
                brush.line(axis, mark, thick, 0.0, long, 2)

    plastic = spectra.flat(0.85)
    return _thing("ruler", size, [plastic, line], pose_of(size), rng, draw, lift=0.1, clear=0.12)


def _gridded_ruler(rng: Rng, pose_of: Callable[[tuple[float, float]], Points]) -> Item:
    """A quilter's ruler: a clear plate with bold inch lines both ways, ticks, numbers, and edges
    that catch the light."""
    size = ((24.0, 6.0), (12.5, 6.5), (12.5, 12.5), (6.5, 6.5))[int(rng.integers(4))]
    chart = spectra.chart_reflectances()
    line = spectra.flat(0.03) if rng.random() < 0.5 else chart["yellow"]
    thick, start = float(rng.uniform(0.02, 0.045)), float(rng.choice([0.5, 1.0]))
    lines = [np.arange(start, length - 0.1, 1.0) for length in size]
    ticks = bool(rng.random() < 0.7)

    def draw(brush: Brush) -> None:
        brush.box(0, 0, *size, 1)
        for axis in (0, 1):
            across = size[1 - axis]
            for mark in np.arange(0.25, size[axis], 0.25) if ticks else ():
                for middle in (0.0, *lines[1 - axis], across):
                    ends = max(0.0, middle - 0.08), min(across, middle + 0.08)
                    brush.line(axis, float(mark), 0.5 * thick, *ends, 2)
            for mark in lines[axis]:
                brush.line(axis, float(mark), thick, 0.0, across, 2)
            for end in (0.03, size[axis] - 0.03):
                brush.line(axis, end, 0.06, 0.0, across, 3)
        for number, x in enumerate(lines[0], 1):
            brush.number(number, float(x) + 0.06, size[1] - 0.2, 0.22, 2)

    inks = [spectra.flat(0.85), line, spectra.flat(float(rng.uniform(0.4, 0.9)))]
    clear = float(rng.uniform(0.04, 0.16))
    return _thing("ruler", size, inks, pose_of(size), rng, draw, lift=0.1, clear=clear)


def _ruler(rng: Rng, pose_of: Callable[[tuple[float, float]], Points]) -> Item:
    size = ((12.0, 1.2), (18.0, 1.25), (36.0, 1.5))[int(rng.integers(3))]
    chart = spectra.chart_reflectances()
    wood = spectra.with_lightness(chart["orange yellow"], 75) * 0.5 + 0.5 * spectra.flat(0.5)
    ground = wood if rng.random() < 0.5 else spectra.flat(float(rng.uniform(0.3, 0.6)))

    def draw(brush: Brush) -> None:
        brush.box(0, 0, *size, 1)
        for mark in np.arange(0.125, size[0], 0.125):
            whole = abs(mark - round(mark)) < 1e-9
            brush.box(mark - 0.012, 0, mark + 0.012, 0.45 if whole else 0.2, 2)

    return _thing("ruler", size, [ground, spectra.flat(0.04)], pose_of(size), rng, draw, lift=0.08)


def _scissors(rng: Rng, pose_of: Callable[[tuple[float, float]], Points]) -> Item:
    size = (9.0, 4.2)
    grip = spectra.mix_ink(rng, float(rng.uniform(12, 55)), 1.0)
    steel, bolt = spectra.flat(float(rng.uniform(0.35, 0.6))), spectra.flat(0.2)
    spread = float(rng.uniform(0.1, 0.6))

    def draw(brush: Brush) -> None:
        middle = np.array([4.4, 2.1])
        for sign in (-1.0, 1.0):
            tip = np.array([0.1, 2.1 - sign * (0.15 + spread)])
            blade = np.array(
                [
                    tip,
                    middle + np.array([0.2, -0.35 * sign]),
                    middle + np.array([0.9, 0.15 * sign]),
                    middle + np.array([0.1, 0.3 * sign]),
                ]
            )
            brush.polygon(blade, 1)
            ring = np.array([7.3, 2.1 + sign * (0.95 + 0.4 * spread)])
            shank = middle + np.array([0.6, 0.1 * sign])
            brush.capsule(shank, ring - np.array([0.9, 0.2 * sign]), 0.3, 2)
            brush.ring(ring[0], ring[1], 1.05, 0.68, 2, 0.72)
        brush.ring(middle[0] + 0.3, middle[1], 0.16, 0.0, 3, 1.0)

    return _thing(
        "scissors", size, [steel, grip, bolt], pose_of(size), rng, draw, lift=0.18, round_edge=0.2
    )


def _phone(rng: Rng, pose_of: Callable[[tuple[float, float]], Points]) -> Item:
    size = (2.9, 6.0)
    body = spectra.mix_ink(rng, float(rng.choice([12.0, 30.0, 85.0])), 0.2)

    def draw(brush: Brush) -> None:
        brush.rounded(*size, 0.35, 0.0, 1)
        brush.rounded(*size, 0.35, 0.09, 2)
        for k in range(3):
            brush.ring(0.5 + 0.05 * k, 0.5 + 0.55 * k, 0.22, 0.0, 3, 1.0)

    glass = spectra.flat(float(rng.uniform(0.03, 0.08)))
    return _thing(
        "phone", size, [body, glass, spectra.flat(0.02)], pose_of(size), rng, draw, lift=0.3
    )


def _hand(rng: Rng, pose_of: Callable[[tuple[float, float]], Points]) -> Item:
    """A hand pointing to the left, its sleeve to the right."""
    size = (44.0, 5.4)
    chart = spectra.chart_reflectances()
    share = float(rng.uniform(0, 1))
    skin = np.exp(share * np.log(chart["dark skin"]) + (1 - share) * np.log(chart["light skin"]))
    nail = spectra.with_lightness(skin, float(spectra.lab_of(skin)[0]) + 6)
    sleeve = spectra.mix_ink(rng, float(rng.uniform(15, 85)), 0.7)
    bends = rng.normal(0, 0.1, 4)

    def draw(brush: Brush) -> None:
        wrist, palm = np.array([9.5, 2.7]), np.array([5.6, 2.7])
        brush.capsule(palm, np.array([14.0, 2.7]), 1.25, 1)
        brush.capsule(palm + np.array([0.4, 0]), wrist, 1.7, 1, 0.75)
        brush.capsule(palm + np.array([1.6, 1.2]), palm + np.array([-0.9, 2.1]), 0.45, 1, 0.8)
        for k, (length, bend) in enumerate(zip((2.6, 3.4, 3.7, 3.2), bends, strict=True)):
            root = palm + np.array([-0.6, 1.25 - 0.82 * k])
            tip = root + length * np.array([-np.cos(bend), np.sin(bend)])
            brush.capsule(root, tip, 0.42, 1, 0.8)
            brush.capsule(tip + np.array([-0.12, 0]), tip + np.array([0.12, 0]), 0.2, 2)
        brush.box(12.5, 0.9, size[0], 4.5, 3)

    return _thing(
        "hand", size, [skin, nail, sleeve], pose_of(size), rng, draw, lift=0.5, round_edge=0.8
    )


def _leaflet(rng: Rng, pose_of: Callable[[tuple[float, float]], Points]) -> Item:
    """A pattern's front page: a heading, a picture of a quilt of many small squares, some text."""
    size = (8.5, 11.0) if rng.random() < 0.6 else (5.5, 8.5)
    inks = [spectra.flat(0.82), spectra.flat(0.05)]
    inks += [spectra.mix_ink(rng, float(level), 1.0) for level in rng.uniform(20, 90, 9)]
    columns = int(rng.integers(4, 9))
    kinds = rng.integers(3, 12, (columns + 2, columns))
    block = 0.8 * size[0] / columns
    seed = int(rng.integers(2**31))

    def draw(brush: Brush) -> None:
        local = np.random.default_rng(seed)
        brush.box(0, 0, *size, 1)
        brush.box(0.1 * size[0], 0.4, 0.75 * size[0], 0.85, 2)
        top, left = 1.3, 0.1 * size[0]
        for row in range(columns + 1):
            for column in range(columns):
                x, y = left + column * block, top + row * block
                if y + block > size[1] - 1.2:
                    continue
                brush.box(x, y, x + block, y + block, int(kinds[row, column]))
                if (row + column) % 2:
                    corners = rectangle(block, block) + np.array([x, y])
                    brush.polygon(corners[:3], int(kinds[row + 1, column]))
        brush.words(left, size[1] - 1.0, 0.8 * size[0], 0.7, 4, 2, local)

    return _thing("leaflet", size, inks, pose_of(size), rng, draw, lift=0.02)


def _spool(rng: Rng, pose_of: Callable[[tuple[float, float]], Points]) -> Item:
    size = (1.6, 1.6)
    thread = spectra.mix_ink(rng, float(rng.uniform(15, 90)), 1.0)

    def draw(brush: Brush) -> None:
        brush.ring(0.8, 0.8, 0.8, 0.0, 1, 1.0)
        brush.ring(0.8, 0.8, 0.55, 0.0, 2, 1.0)
        brush.ring(0.8, 0.8, 0.2, 0.0, 3, 1.0)

    inks = [thread, spectra.flat(0.75), spectra.flat(0.05)]
    return _thing("spool", size, inks, pose_of(size), rng, draw, lift=0.5, round_edge=0.3)


def _note(rng: Rng, pose_of: Callable[[tuple[float, float]], Points]) -> Item:
    """A sticky note: a square too, but a small paper one."""
    size = (3.0, 3.0)
    paper = spectra.with_lightness(
        spectra.chart_reflectances()[str(rng.choice(["yellow", "moderate red", "cyan"]))],
        float(rng.uniform(75, 90)),
    )
    seed = int(rng.integers(2**31))

    def draw(brush: Brush) -> None:
        brush.box(0, 0, *size, 1)
        brush.words(0.3, 0.5, 2.4, 1.8, 4, 2, np.random.default_rng(seed))

    return _thing("note", size, [paper, spectra.flat(0.06)], pose_of(size), rng, draw, lift=0.05)


def _mug(rng: Rng, pose_of: Callable[[tuple[float, float]], Points]) -> Item:
    size = (5.0, 3.6)
    glaze = spectra.mix_ink(rng, float(rng.uniform(20, 92)), 0.7)
    coffee = spectra.with_lightness(spectra.chart_reflectances()["dark skin"], 14.0)

    def draw(brush: Brush) -> None:
        brush.ring(3.7, 1.8, 1.0, 0.65, 1, 0.9)
        brush.ring(1.8, 1.8, 1.8, 0.0, 1, 1.0)
        brush.ring(1.8, 1.8, 1.55, 0.0, 2, 1.0)

    return _thing("mug", size, [glaze, coffee], pose_of(size), rng, draw, lift=0.6)


def cutting_mat(rng: Rng, size: tuple[float, float], pose: Points) -> Item:
    """Return a cutting mat that lies on a table: a border, inch lines and numbers."""
    ground = spectra.mix_ink(rng, float(rng.uniform(25, 65)), float(rng.uniform(0.4, 1.0)))
    lines = [spectra.with_lightness(ground, float(rng.uniform(60, 92))) for _ in range(2)]
    border = 0.6

    def draw(brush: Brush) -> None:
        brush.rounded(*size, 0.4, 0.0, 1)
        for axis in (0, 1):
            across = (border, size[1 - axis] - border)
            for mark in np.arange(border, size[axis] - border + 0.01, 0.5):
                whole = abs((mark - border) - round(mark - border)) < 1e-9
                thick = 0.03 if whole else 0.015
                brush.line(axis, mark, thick, *across, 3 if whole else 2)
        for number in range(1, int(size[0] - 2 * border)):
            for y in (0.45, size[1] - 0.2):
                brush.number(number, border + number - 0.12, y, 0.3, 3)

    return _thing("mat", size, [ground, *lines], pose, rng, draw, lift=0.06)


THINGS: dict[str, Callable[[Rng, Callable[[tuple[float, float]], Points]], Item]] = {
    "clear_ruler": _clear_ruler,
    "gridded_ruler": _gridded_ruler,
    "ruler": _ruler,
    "scissors": _scissors,
    "phone": _phone,
    "hand": _hand,
    "leaflet": _leaflet,
    "spool": _spool,
    "note": _note,
    "mug": _mug,
}


def place_thing(
    name: str, rng: Rng, low: Points, high: Points, clear: float, side: int, overlap: float
) -> Item:
    """Return a thing beside the box ``low`` to ``high`` (inches), reaching over it by ``overlap``.

    ``side`` 0 is right, 1 below, 2 left, 3 above; ``clear`` is the distance kept.

    Raises
    ------
    ValueError
        If the name is not in THINGS.
    """
    if name not in THINGS:
        raise ValueError(f"things are {', '.join(THINGS)}; got {name!r}")

    def pose_of(size: tuple[float, float]) -> Points:
        turn = float(rng.uniform(-12, 12)) + 90.0 * int(rng.integers(4))
        if name == "hand":  # reaches in from outside
            turn = 90.0 * side + float(rng.uniform(-20, 20))
        c, s = abs(np.cos(np.radians(turn))), abs(np.sin(np.radians(turn)))
        reach = np.array([size[0] * c + size[1] * s, size[0] * s + size[1] * c]) / 2
        place = low + (high - low) * rng.uniform(0.1, 0.9)
        away = reach + clear - overlap
        if side == 0:
            place[0] = high[0] + away[0]
        elif side == 1:
            place[1] = high[1] + away[1]
        elif side == 2:
            place[0] = low[0] - away[0]
        else:
            place[1] = low[1] - away[1]
        return pose_at(float(place[0]), float(place[1]), turn, size)

    return THINGS[name](rng, pose_of)
