"""Prints: repeating maps of inks, drawn in inches.

A design is drawn once as a tile (T, T) of ink numbers that repeats seamlessly; a square then
shows some part of it, turned as the cutter happened to lay it.
"""

from collections.abc import Callable
from dataclasses import dataclass
from functools import lru_cache

import cv2
import numpy as np
from numpy.typing import NDArray

from tests.scenes import spectra

Tile = NDArray[np.uint8]
Rng = np.random.Generator

THEMES = ("mixed", "scraps", "white", "black", "similar", "chart")


@dataclass(frozen=True, eq=False)
class Fabric:
    """A printed cloth: ``family`` names the kind of print, ``repeat`` is the side of its tile in
    inches, ``inks`` (K, 81) reflectances, ``seed`` draws the tile again at any size,
    ``stripe`` is the direction of its stripes in degrees or None, ``scale`` the size in inches of
    what repeats visibly (0 for a solid)."""

    number: int
    family: str
    repeat: float
    inks: NDArray[np.float64]
    seed: int
    stripe: float | None
    scale: float

    def tile(self, pixels_per_inch: float) -> Tile:
        """Return the repeat as ink numbers (T, T), fine enough for a picture of that scale.

        It is drawn at a scale of its own, so that the inks' shares are the same in every picture;
        closer views enlarge it with smooth edges.
        """
        drawn = _draw_tile(self.family, self.seed, self.repeat, self.scale)
        times = round(pixels_per_inch * self.repeat / drawn.shape[0])
        shaded = self.family == "painted"
        return drawn if times < 2 else _enlarge(drawn, times, shaded=shaded)


@lru_cache(maxsize=128)
def _draw_tile(family: str, seed: int, repeat: float, scale: float) -> Tile:
    finest = 180 if family == "painted" else 90
    side = round(repeat * float(np.clip(150 / scale, finest, 300))) if scale else 1
    tile = FAMILIES[family](np.random.default_rng(seed), side / repeat, repeat, scale)
    tile.flags.writeable = False
    return tile


def _enlarge(tile: Tile, times: int, *, shaded: bool) -> Tile:
    """Return a tile ``times`` larger: each pixel takes the ink that is strongest around it, or,
    for a ``shaded`` print, one of those around it by chance, which keeps their shares."""
    shape = tuple(side * times for side in tile.shape)
    screen = np.random.default_rng(0).random(shape, dtype=np.float32) if shaded else None
    best, result = np.zeros(shape, np.float32), np.zeros(shape, np.uint8)
    rim = 4
    for ink in np.unique(tile):
        mask = np.pad((tile == ink).astype(np.float32), rim, mode="wrap")
        soft = cv2.GaussianBlur(mask, (0, 0), 0.8)
        large = cv2.resize(soft, None, fx=times, fy=times, interpolation=cv2.INTER_LINEAR)
        large = large[rim * times : -rim * times, rim * times : -rim * times]
        if screen is None:
            result[large > best] = ink
            np.maximum(best, large, out=best)
        else:
            result[(screen >= best) & (screen < best + large)] = ink
            best += large
    return result


class _Sheet:
    """A tile under the brush; what runs over one edge comes in at the other."""

    def __init__(self, pixels_per_inch: float, repeat: float, ground: int = 0) -> None:
        self.scale = pixels_per_inch
        self.repeat = repeat
        self.side = max(1, round(repeat * pixels_per_inch))
        self.pixels: Tile = np.full((self.side, self.side), ground, np.uint8)

    def polygon(self, points: NDArray[np.float64], ink: int) -> None:
        low, high = points.min(axis=0), points.max(axis=0)
        for shift_x in (-self.repeat, 0.0, self.repeat):
            for shift_y in (-self.repeat, 0.0, self.repeat):
                shift = np.array([shift_x, shift_y])
                if np.any(high + shift < 0) or np.any(low + shift > self.repeat):
                    continue
                fixed = np.round(((points + shift) * self.scale - 0.5) * 16).astype(np.int32)
                cv2.fillPoly(self.pixels, [fixed], ink, shift=4)

    def disc(self, x: float, y: float, radius: float, ink: int) -> None:
        turn = np.linspace(0, 2 * np.pi, 28, endpoint=False)
        self.polygon(np.stack([x + radius * np.cos(turn), y + radius * np.sin(turn)], 1), ink)

    def stroke(self, points: NDArray[np.float64], width: float, ink: int) -> None:
        """Paint a line (K, 2) with a constant width."""
        along = np.gradient(points, axis=0)
        across = np.stack([-along[:, 1], along[:, 0]], 1)
        across /= np.maximum(np.linalg.norm(across, axis=1, keepdims=True), 1e-9)
        edge = np.concatenate([points + across * width / 2, (points - across * width / 2)[::-1]])
        self.polygon(edge, ink)


def _scatter(rng: Rng, repeat: float, spacing: float) -> NDArray[np.float64]:
    """Return points (K, 2) that keep apart from each other, also across the tile's edges."""
    cells = max(1, round(repeat / spacing))
    pitch = repeat / cells
    y, x = np.mgrid[0:cells, 0:cells].astype(np.float64)
    x = x + 0.5 * (y % 2 if cells % 2 == 0 else 0)
    points = np.stack([x.ravel(), y.ravel()], 1) * pitch
    return np.asarray((points + rng.uniform(-0.25, 0.25, points.shape) * pitch) % repeat)


def _bloom(sheet: _Sheet, rng: Rng, x: float, y: float, size: float, inks: list[int]) -> None:
    """Paint a flower of rounded petals, with a second ring and an eye."""
    petals = int(rng.integers(5, 9))
    start = rng.uniform(0, 2 * np.pi)
    turn = np.linspace(0, 2 * np.pi, 72, endpoint=False)
    for ring, ink in enumerate(inks):
        radius = size / 2 * (1 - 0.32 * ring) * (
            0.72 + 0.28 * np.abs(np.cos(petals * (turn - start) / 2 + ring))
        )
        sheet.polygon(
            np.stack([x + radius * np.cos(turn), y + radius * np.sin(turn)], 1), ink
        )


def _leaf(sheet: _Sheet, x: float, y: float, length: float, angle: float, ink: int) -> None:
    t = np.linspace(0, 1, 16)
    half = 0.22 * length * np.sin(np.pi * t) ** 0.8
    outline = np.concatenate(
        [np.stack([t * length, half], 1), np.stack([t * length, -half], 1)[::-1]]
    )
    c, s = np.cos(angle), np.sin(angle)
    sheet.polygon(outline @ np.array([[c, s], [-s, c]]) + [x, y], ink)


def _draw_solid(rng: Rng, ppi: float, repeat: float, scale: float) -> Tile:
    return _Sheet(ppi, repeat).pixels


def _waves(rng: Rng, repeat: float, finest: float, side: int) -> NDArray[np.float64]:
    """Return smooth seamless noise (side, side), mean 0 and standard deviation 1."""
    top = max(2, int(repeat / finest))
    axis = np.arange(min(max(side, 64), 512)) / min(max(side, 64), 512) * 2 * np.pi
    counts = np.array([rng.integers(-top, top + 1, 2) for _ in range(40)])
    counts = counts[np.any(counts != 0, axis=1)]
    phases = rng.uniform(0, 2 * np.pi, (len(counts), 1))
    strength = (1 + np.hypot(*counts.T)[:, None]) ** -0.7
    # cos(a + b) by its parts, so that each wave is an outer product.
    x, y = counts[:, :1] * axis + phases, counts[:, 1:] * axis
    field = np.cos(y).T @ (strength * np.cos(x)) - np.sin(y).T @ (strength * np.sin(x))
    field = (field - field.mean()) / field.std()
    return np.asarray(cv2.resize(field, (side, side), interpolation=cv2.INTER_LINEAR))


def _draw_tone_on_tone(rng: Rng, ppi: float, repeat: float, scale: float) -> Tile:
    sheet = _Sheet(ppi, repeat)
    for x, y in _scatter(rng, repeat, scale):
        for _ in range(int(rng.integers(2, 5))):
            _leaf(sheet, x, y, scale * rng.uniform(0.5, 0.9), rng.uniform(0, 6.3), 1)
    return sheet.pixels


def _draw_marbled(rng: Rng, ppi: float, repeat: float, scale: float) -> Tile:
    side = _Sheet(ppi, repeat).side
    field = _waves(rng, repeat, scale / 2, side)
    return np.asarray(np.digitize(field, [-0.8, 0.0, 0.8]).astype(np.uint8))


def _draw_dots(rng: Rng, ppi: float, repeat: float, scale: float) -> Tile:
    sheet = _Sheet(ppi, repeat)
    cells = max(2, 2 * round(repeat / scale / 2))
    pitch = repeat / cells
    radius = pitch * rng.uniform(0.16, 0.34)
    staggered, colors = rng.random() < 0.6, int(rng.integers(1, 4))
    for row in range(cells):
        for column in range(cells):
            x = (column + 0.5 * (row % 2 if staggered else 0)) * pitch
            sheet.disc(x, (row + 0.5) * pitch, radius, 1 + (row + column) % colors)
    return sheet.pixels


def _bands(rng: Rng, side: int, ppi: float, scale: float, inks: int) -> NDArray[np.uint8]:
    """Return one sequence of coloured bands (side,) that repeats about every ``scale`` inches."""
    repeats = max(1, round(side / (scale * ppi)))
    shares = np.cumsum(rng.dirichlet(np.full(2 * inks, 2.0)))
    order = np.concatenate([np.arange(inks), rng.permutation(inks)])
    place = (np.arange(side) + 0.5) / side * repeats % 1
    return np.asarray(order[np.searchsorted(shares[:-1], place)].astype(np.uint8))


def _draw_stripes(rng: Rng, ppi: float, repeat: float, scale: float) -> Tile:
    side = _Sheet(ppi, repeat).side
    return np.tile(_bands(rng, side, ppi, scale, 3)[:, None], (1, side))


def _draw_plaid(rng: Rng, ppi: float, repeat: float, scale: float) -> Tile:
    """Warp and weft in the same colours; where they cross both show, mixed (inks 3 to 5)."""
    side = _Sheet(ppi, repeat).side
    band = _bands(rng, side, ppi, scale, 3)
    mixed = np.array([[0, 3, 4], [3, 1, 5], [4, 5, 2]], np.uint8)
    return np.asarray(mixed[band[:, None], band[None, :]])


def _draw_checks(rng: Rng, ppi: float, repeat: float, scale: float) -> Tile:
    side = _Sheet(ppi, repeat).side
    cells = 2 * max(1, round(repeat / scale / 2))
    dark = ((np.arange(side) + 0.5) / side * cells).astype(int) % 2
    if rng.random() < 0.5:  # gingham: the mixed ink where dark and light threads cross
        return np.array([[0, 2], [2, 1]], np.uint8)[dark[:, None], dark[None, :]]
    return np.asarray(((dark[:, None] + dark[None, :]) % 2).astype(np.uint8))


def _draw_floral(rng: Rng, ppi: float, repeat: float, scale: float) -> Tile:
    sheet = _Sheet(ppi, repeat)
    points = _scatter(rng, repeat, scale)
    for x, y in points:
        for _ in range(3):
            angle = rng.uniform(0, 6.3)
            _leaf(sheet, x, y, scale * rng.uniform(0.5, 0.7), angle, 1)
    for x, y in points:
        petal = int(rng.integers(2, 4))
        _bloom(sheet, rng, x, y, scale * rng.uniform(0.5, 0.85), [petal, 5 - petal, 4])
    return sheet.pixels


def _draw_large_motif(rng: Rng, ppi: float, repeat: float, scale: float) -> Tile:
    sheet = _Sheet(ppi, repeat)
    for x, y in _scatter(rng, repeat, scale):
        for _ in range(6):
            angle = rng.uniform(0, 6.3)
            reach = scale * rng.uniform(0.05, 0.3)
            _leaf(
                sheet, x + reach * np.cos(angle), y + reach * np.sin(angle),
                scale * rng.uniform(0.3, 0.5), angle, int(rng.integers(1, 3)),
            )
        _bloom(sheet, rng, x, y, scale * rng.uniform(0.55, 0.75), [3, 4, 3, 4, 2])
    return sheet.pixels


def _draw_low_volume(rng: Rng, ppi: float, repeat: float, scale: float) -> Tile:
    sheet = _Sheet(ppi, repeat)
    style = int(rng.integers(3))
    for x, y in _scatter(rng, repeat, scale):
        size = scale * rng.uniform(0.18, 0.3)
        angle = rng.uniform(0, 6.3)
        if style == 0:
            for turn in (0, np.pi / 2):
                arm = np.array([np.cos(angle + turn), np.sin(angle + turn)]) * size / 2
                middle = np.array([x, y])
                sheet.stroke(np.stack([middle - arm, middle + arm]), size / 5, 1)
        elif style == 1:
            sheet.disc(x, y, size / 3, int(rng.integers(1, 3)))
        else:
            _leaf(sheet, x, y, size, angle, 1)
            _leaf(sheet, x, y, size * 0.8, angle + 1.2, 2)
    return sheet.pixels


def _draw_words(rng: Rng, ppi: float, repeat: float, scale: float) -> Tile:
    """Rows of marks that look like handwriting from a step away."""
    sheet = _Sheet(ppi, repeat)
    rows = max(2, round(repeat / scale))
    for row in range(rows):
        x, base = rng.uniform(0, 0.3), (row + 0.5) * repeat / rows
        height = 0.32 * repeat / rows
        while x < repeat - 0.1:
            length = rng.uniform(0.25, 0.9) * scale * 3
            t = np.linspace(0, 1, max(6, int(length / scale * 12)))
            wave = height * np.cos(t * length / scale * 16 + rng.uniform(0, 6)) * rng.uniform(
                0.4, 1.0, t.shape
            )
            sheet.stroke(np.stack([x + t * length, base + wave], 1), 0.08 * scale, 1)
            x += length + 0.35 * scale
    return sheet.pixels


def _draw_patchwork(rng: Rng, ppi: float, repeat: float, scale: float) -> Tile:
    """A print that pretends to be patchwork: blocks with seams, dots and stripes of their own."""
    sheet = _Sheet(ppi, repeat)
    cells = max(2, round(repeat / scale))
    pitch = repeat / cells
    for row in range(cells):
        for column in range(cells):
            x, y = column * pitch, row * pitch
            ground = int(rng.integers(0, 4))
            corners = np.array([[0, 0], [1, 0], [1, 1], [0, 1]]) * pitch + [x, y]
            sheet.polygon(corners, ground)
            style, mark = int(rng.integers(4)), (ground + 1) % 4
            if style == 0:
                for i in range(3):
                    for j in range(3):
                        spot = (np.array([i, j]) + 0.5) / 3 * pitch
                        sheet.disc(x + spot[0], y + spot[1], pitch / 12, mark)
            elif style == 1:
                for i in range(3):
                    low = y + (i + 0.3) / 3 * pitch
                    line = np.array([[x, low], [x + pitch, low]])
                    sheet.stroke(line, pitch / 12, mark)
            elif style == 2:
                sheet.polygon(corners[:3], mark)
    for i in range(cells):
        line = np.array([[0.0, i * pitch], [repeat, i * pitch]])
        sheet.stroke(line, 0.04, 4)
        sheet.stroke(line[:, ::-1], 0.04, 4)
    return sheet.pixels


def _draw_frames(rng: Rng, ppi: float, repeat: float, scale: float) -> Tile:
    """Frames inside frames, like labels or panes."""
    sheet = _Sheet(ppi, repeat)
    cells = max(1, round(repeat / scale))
    pitch = repeat / cells
    insets = np.sort(rng.uniform(0.04, 0.42, 3))
    for row in range(cells):
        for column in range(cells):
            for ring, inset in enumerate(insets):
                a, b = inset * pitch, (1 - inset) * pitch
                corners = np.array([[a, a], [b, a], [b, b], [a, b]]) + np.array(
                    [column, row]
                ) * pitch
                sheet.polygon(corners, 1 + ring)
            middle = (np.array([column, row]) + 0.5) * pitch
            _bloom(sheet, rng, middle[0], middle[1], pitch * 0.22, [4, 1])
    return sheet.pixels


def _draw_chevrons(rng: Rng, ppi: float, repeat: float, scale: float) -> Tile:
    side = _Sheet(ppi, repeat).side
    cells = max(1, round(repeat / scale))
    y, x = (np.mgrid[0:side, 0:side] + 0.5) / side * cells
    phase = (y + np.abs(x % 1 - 0.5)) * 2 % 2
    return np.asarray((phase.astype(int) + 2 * (phase > 1.6)).clip(0, 3).astype(np.uint8))


def _draw_triangles(rng: Rng, ppi: float, repeat: float, scale: float) -> Tile:
    sheet = _Sheet(ppi, repeat)
    cells = max(1, round(repeat / scale))
    pitch = repeat / cells
    for row in range(cells):
        for column in range(cells):
            corner = np.array([column, row]) * pitch
            shape = np.array([[0, 0], [1, 0], [0, 1]]) * pitch + corner
            sheet.polygon(shape, int(rng.integers(1, 4)))
    return sheet.pixels


def _draw_painted(rng: Rng, ppi: float, repeat: float, scale: float) -> Tile:
    """Blooms shaded from dark to light as with a wet brush: the inks are mixed by a fine screen
    that only a close view resolves."""
    sheet = _Sheet(ppi, repeat)
    side = sheet.side
    screen = rng.random((side, side), dtype=np.float32)
    wash = 0.25 * _waves(rng, repeat, scale / 4, side)
    sheet.pixels[screen < 0.35 + wash] = 1
    for x, y in _scatter(rng, repeat, scale):
        size, petals = scale * rng.uniform(0.35, 0.6), int(rng.integers(4, 8))
        start, first = rng.uniform(0, 2 * np.pi), int(rng.integers(2, 4))
        half = int(np.ceil(size * ppi))
        axis = (np.arange(-half, half + 1) / ppi).astype(np.float32)
        away = np.hypot(axis[None, :], axis[:, None])
        angle = np.arctan2(axis[:, None], axis[None, :])
        edge = size * (0.6 + 0.4 * np.abs(np.cos(petals * (angle - start) / 2)))
        share = away / edge
        rows = (round(y * ppi) + np.arange(-half, half + 1)) % side
        columns = (round(x * ppi) + np.arange(-half, half + 1)) % side
        place = np.ix_(rows, columns)
        inner = np.where(screen[place] < share**1.5, first, 4)
        inner = np.where(share < 0.18, 1, inner)
        sheet.pixels[place] = np.where(share < 1, inner, sheet.pixels[place])
    return sheet.pixels


Family = Callable[[Rng, float, float, float], Tile]
FAMILIES: dict[str, Family] = {
    "solid": _draw_solid,
    "tone_on_tone": _draw_tone_on_tone,
    "marbled": _draw_marbled,
    "dots": _draw_dots,
    "stripes": _draw_stripes,
    "plaid": _draw_plaid,
    "checks": _draw_checks,
    "floral": _draw_floral,
    "large_motif": _draw_large_motif,
    "low_volume": _draw_low_volume,
    "words": _draw_words,
    "patchwork": _draw_patchwork,
    "frames": _draw_frames,
    "chevrons": _draw_chevrons,
    "triangles": _draw_triangles,
    "painted": _draw_painted,
}

# Size of what repeats visibly, in inches, for 10-inch squares.
SCALES: dict[str, tuple[float, float]] = {
    "solid": (0.0, 0.0),
    "tone_on_tone": (0.5, 1.6),
    "marbled": (1.0, 3.0),
    "dots": (0.25, 1.5),
    "stripes": (0.4, 3.0),
    "plaid": (1.0, 4.0),
    "checks": (0.25, 2.0),
    "floral": (0.6, 2.5),
    "large_motif": (4.0, 8.0),
    "low_volume": (0.6, 2.0),
    "words": (0.3, 0.6),
    "patchwork": (1.5, 3.0),
    "frames": (2.0, 5.0),
    "chevrons": (0.5, 2.0),
    "triangles": (0.8, 2.5),
    "painted": (1.5, 5.0),
}


def make_fabric(
    rng: Rng, number: int, family: str, lightness: float, *, chroma: float = 1.0,
    side_inches: float = 10.0, palette: tuple[NDArray[np.float64], ...] = (),
) -> Fabric:
    """Return an invented fabric that reads about as light as asked.

    ``family`` is a key of FAMILIES; ``lightness`` the L* of its ground; ``palette`` are inks (81,)
    that a designer keeps to, thinned and deepened; without them any colour may come.
    """
    low, high = SCALES[family]
    shrink = min(1.0, (side_inches / 10) ** 0.5)
    scale = float(np.exp(rng.uniform(np.log(low), np.log(high)))) * shrink if high else 0.0
    repeat = max(4.0, 2 * scale) if scale else 1.0
    if family in ("large_motif", "frames"):
        repeat = scale * 2
    inks = _choose_inks(rng, family, lightness, chroma, palette)
    stripe = 0.0 if family == "stripes" else None
    return Fabric(number, family, repeat, inks, int(rng.integers(2**31)), stripe, scale)


def _choose_inks(
    rng: Rng, family: str, lightness: float, chroma: float,
    palette: tuple[NDArray[np.float64], ...],
) -> NDArray[np.float64]:
    def ink(level: float) -> NDArray[np.float64]:
        level = float(np.clip(level, 9, 96))
        if palette:
            return spectra.with_lightness(palette[int(rng.integers(len(palette)))], level)
        return spectra.mix_ink(rng, level, chroma)

    ground = ink(lightness)
    if family == "solid":
        return np.stack([ground])
    if family in ("tone_on_tone", "marbled"):
        step = rng.uniform(3, 9) * rng.choice([-1, 1])
        near = [
            spectra.with_lightness(ground, float(np.clip(lightness + step * k, 8, 96)))
            for k in (1, 2, -1)
        ]
        return np.stack([ground, *near])
    if family in ("low_volume", "words"):
        pale = spectra.mix_ink(rng, float(np.clip(lightness, 88, 96)), 0.15)
        return np.stack([pale, ink(rng.uniform(30, 80)), ink(rng.uniform(50, 85))])
    spread = rng.uniform(10, 45)
    away = 1 if lightness + spread < 95 and (lightness - spread < 12 or rng.random() < 0.5) else -1
    first = ink(lightness + away * spread)
    second = ink(lightness + away * spread * rng.uniform(0.3, 1.3))
    if family == "checks":
        return np.stack([ground, first, (ground + first) / 2])
    if family == "plaid":
        pairs = [(ground + first) / 2, (ground + second) / 2, (first + second) / 2]
        return np.stack([ground, first, second, *pairs])
    third = ink(lightness - away * spread * rng.uniform(0.1, 0.6))
    return np.stack([ground, first, second, third, ink(rng.uniform(25, 90))])


def make_bundle(
    rng: Rng, count: int, *, theme: str = "mixed", copies: float = 0.0,
    families: tuple[str, ...] = (), side_inches: float = 10.0,
) -> list[Fabric]:
    """Return the fabrics (count) of a bundle in the order in which they lie.

    ``theme`` is mixed (a designer's palette), scraps (any colours), white (white and low-volume
    prints), black, similar (all of nearly one lightness) or chart (the 24 published patches as
    solids); ``copies`` is the share of squares that repeat a fabric of the bundle; ``families``
    limits the prints.
    """
    if theme == "chart":
        patches = list(spectra.chart_reflectances().values())
        return [
            Fabric(i, "solid", 1.0, patches[i % 24][None], 0, None, 0.0) for i in range(count)
        ]
    distinct = max(1, round(count * (1 - copies)))
    names = families or tuple(FAMILIES)
    often = {"solid": 2.0, "tone_on_tone": 2.0, "floral": 3.0, "words": 0.4, "patchwork": 0.5}
    weights = np.array([often.get(name, 1.0) for name in names])
    base = rng.uniform(35, 80)
    palette: tuple[NDArray[np.float64], ...] = ()
    if theme == "mixed":
        palette = tuple(
            spectra.mix_ink(rng, float(rng.uniform(35, 70)), float(rng.uniform(0.5, 1.0)))
            for _ in range(int(rng.integers(5, 9)))
        )
    levels = rng.permutation(np.linspace(14, 95, distinct) + rng.uniform(-3, 3, distinct))
    fabrics = []
    for number in range(distinct):
        family = str(rng.choice(names, p=weights / weights.sum()))
        level, chroma = float(levels[number]), float(rng.uniform(0.3, 1.0))
        if theme == "white":
            level, chroma = float(rng.uniform(88, 96)), float(rng.uniform(0.0, 0.2))
            family = families[0] if families else str(
                rng.choice(["solid", "tone_on_tone", "low_volume", "words", "marbled"])
            )
        elif theme == "black":
            level, chroma = float(rng.uniform(9, 20)), float(rng.uniform(0.0, 0.5))
            family = families[0] if families else str(
                rng.choice(["solid", "tone_on_tone", "marbled", "dots"], p=[0.4, 0.3, 0.2, 0.1])
            )
        elif theme == "similar":
            level = float(base + rng.uniform(-6, 6))
            family = families[0] if families else str(
                rng.choice(["solid", "tone_on_tone", "marbled", "dots", "floral"])
            )
        fabrics.append(
            make_fabric(
                rng, number, family, level, chroma=chroma, side_inches=side_inches,
                palette=palette,
            )
        )
    chosen = list(range(distinct)) + list(rng.integers(0, distinct, count - distinct))
    return [fabrics[int(i)] for i in rng.permutation(chosen)]
