"""Designs of prints: each draws one repeat of a kind of print as a tile of ink numbers.

Every drawing takes the random numbers, pixels per inch, the repeat and the size of what repeats
visibly (both in inches), and returns a tile (T, T) that continues seamlessly over its edges.
"""

from collections.abc import Callable

import cv2
import numpy as np
from numpy.typing import NDArray

Tile = NDArray[np.uint8]
Rng = np.random.Generator


def _turns(count: int) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    turn = np.linspace(0, 2 * np.pi, count, endpoint=False)
    return turn, np.stack([np.cos(turn), np.sin(turn)], 1)


_CIRCLE = _turns(28)[1]
_PETAL_TURNS, _PETAL_CIRCLE = _turns(72)


class _Sheet:
    """A tile under the brush; what runs over one edge comes in at the other."""

    def __init__(self, pixels_per_inch: float, repeat: float, ground: int = 0) -> None:
        self.scale = pixels_per_inch
        self.repeat = repeat
        self.side = max(1, round(repeat * pixels_per_inch))
        self.pixels: Tile = np.full((self.side, self.side), ground, np.uint8)

    def polygon(self, points: NDArray[np.float64], ink: int) -> None:
        (low_x, low_y), (high_x, high_y) = points.min(axis=0).tolist(), points.max(axis=0).tolist()
        for shift_x in (-self.repeat, 0.0, self.repeat):
            if high_x + shift_x < 0 or low_x + shift_x > self.repeat:
                continue
            for shift_y in (-self.repeat, 0.0, self.repeat):
                if high_y + shift_y < 0 or low_y + shift_y > self.repeat:
                    continue
                moved = points + np.array([shift_x, shift_y])
                fixed = np.rint((moved * self.scale - 0.5) * 16).astype(np.int32)
                cv2.fillPoly(self.pixels, [fixed], ink, shift=4)

    def disc(self, x: float, y: float, radius: float, ink: int) -> None:
        self.polygon(radius * _CIRCLE + (x, y), ink)

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
    for ring, ink in enumerate(inks):
        radius = (
            size
            / 2
            * (1 - 0.32 * ring)
            * (0.72 + 0.28 * np.abs(np.cos(petals * (_PETAL_TURNS - start) / 2 + ring)))
        )
        sheet.polygon(radius[:, None] * _PETAL_CIRCLE + (x, y), ink)


_LEAF_LENGTH = np.linspace(0, 1, 16)
_LEAF_WIDTH = np.sin(np.pi * _LEAF_LENGTH) ** 0.8


def _leaf(sheet: _Sheet, x: float, y: float, length: float, angle: float, ink: int) -> None:
    outline = np.empty((32, 2))
    outline[:16, 0] = _LEAF_LENGTH * length
    outline[:16, 1] = 0.22 * length * _LEAF_WIDTH
    outline[16:] = outline[15::-1]
    outline[16:, 1] *= -1
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
                sheet,
                x + reach * np.cos(angle),
                y + reach * np.sin(angle),
                scale * rng.uniform(0.3, 0.5),
                angle,
                int(rng.integers(1, 3)),
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
            wave = (
                height
                * np.cos(t * length / scale * 16 + rng.uniform(0, 6))
                * rng.uniform(0.4, 1.0, t.shape)
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
                corners = (
                    np.array([[a, a], [b, a], [b, b], [a, b]]) + np.array([column, row]) * pitch
                )
                sheet.polygon(corners, 1 + ring)
            middle = (np.array([column, row]) + 0.5) * pitch
            _bloom(sheet, rng, middle[0], middle[1], pitch * 0.22, [4, 1])
    return sheet.pixels


def _draw_chevrons(rng: Rng, ppi: float, repeat: float, scale: float) -> Tile:
    side = _Sheet(ppi, repeat).side
    cells = max(1, round(repeat / scale))
    place = (np.arange(side) + 0.5) / side * cells
    phase = (place[:, None] + np.abs(place % 1 - 0.5)[None, :]) * 2
    phase -= 2 * np.floor(phase / 2)
    return np.asarray((phase >= 1).astype(np.uint8) + np.uint8(2) * (phase > 1.6))


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
