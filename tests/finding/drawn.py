"""Quick drawings of squares on a table with known outlines: for tests of finding alone.

Simpler than the rendered photographs of ``tests.scenes`` (no spectra, no camera) and different from
them on purpose, so that finding is not fitted to a single way of drawing.
"""

from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

PRINTS = ("solid", "dots", "stripes", "plaid", "checks", "blotches", "frame", "low-volume")
SURFACES = ("plain", "wood", "carpet", "mat", "tablecloth")


@dataclass(frozen=True, eq=False)
class Drawing:
    """``pixels`` (H, W, 3) uint8 RGB; ``quads`` (N, 4, 2) outlines; ``cells`` (N, 2) row, column;
    ``shows`` (N,) the share of each square that shows."""

    pixels: NDArray[np.uint8]
    quads: NDArray[np.float64]
    cells: NDArray[np.int64]
    shows: NDArray[np.float64]


def _noise(rng: np.random.Generator, shape: tuple[int, int], cell: float) -> NDArray[np.float32]:
    small = rng.standard_normal((int(shape[0] / cell) + 3, int(shape[1] / cell) + 3))
    return cv2.resize(small.astype(np.float32), (shape[1], shape[0]), interpolation=cv2.INTER_CUBIC)


def draw_surface(rng: np.random.Generator, kind: str, height: int, width: int) -> np.ndarray:
    """Return a table (height, width, 3) float32, 0 to 255."""
    base = rng.uniform(60, 220) + rng.uniform(-14, 14, 3)
    picture = np.ones((height, width, 3), np.float32) * base.astype(np.float32)
    yy, xx = np.mgrid[0:height, 0:width].astype(np.float32)
    if kind == "wood":
        picture[:] = np.array([165, 120, 80]) * rng.uniform(0.5, 1.3)
        grain = _noise(rng, (height, max(8, width // 24)), 6)
        grain = cv2.resize(grain, (width, height)) + 0.4 * _noise(rng, (height, width), 90)
        picture += (grain * rng.uniform(5, 14))[..., None]
        board = max(40, height // rng.integers(3, 7))
        picture[(yy % board) < 2] *= 0.6
    elif kind == "carpet":
        noise = _noise(rng, (height, width), 2.5) + 0.6 * _noise(rng, (height, width), 9)
        picture += (noise * rng.uniform(6, 16))[..., None]
    elif kind == "mat":
        picture[:] = np.array([40, 105, 85]) if rng.random() < 0.6 else np.array([120, 125, 130])
        step = max(12, width // rng.integers(14, 30))
        line = ((xx % step) < 1.6) | ((yy % step) < 1.6)
        picture[line] += 60
    elif kind == "tablecloth":
        step = max(14, width // rng.integers(15, 40))
        first, second = rng.uniform(60, 240, 3), rng.uniform(60, 240, 3)
        pick = ((xx // step).astype(int) + (yy // step).astype(int)) % 2 == 0
        picture = np.where(pick[..., None], first, 0.7 * second + 0.3 * first).astype(np.float32)
    elif kind == "gingham":
        step = width / rng.uniform(12, 44)
        hue = rng.uniform(20, 160, 3)
        threads = ((xx / step) % 2 < 1).astype(np.float32) + ((yy / step) % 2 < 1)
        picture = 238 + (hue - 238).astype(np.float32) * threads[..., None] / 2
        picture *= (1 + 0.05 * _noise(rng, (height, width), width / 6))[..., None]
    return picture + _noise(rng, (height, width), 1.0)[..., None] * 2


def draw_print(rng: np.random.Generator, kind: str, side: int) -> np.ndarray:
    """Return a print (side, side, 3) float32, 0 to 255."""
    ground, ink = rng.uniform(15, 250, 3), rng.uniform(15, 250, 3)
    if kind == "low-volume":
        ground = rng.uniform(222, 246) + rng.uniform(-6, 6, 3)
        ink = ground * 0.85
    picture = np.ones((side, side, 3), np.float32) * ground.astype(np.float32)
    yy, xx = np.mgrid[0:side, 0:side].astype(np.float32) / side
    k = int(rng.integers(3, 14))
    if kind in ("dots", "low-volume"):
        shade = (((xx * k) % 1 - 0.5) ** 2 + ((yy * k) % 1 - 0.5) ** 2) < rng.uniform(0.02, 0.12)
    elif kind == "stripes":
        shade = ((xx if rng.random() < 0.5 else yy) * k) % 1 < rng.uniform(0.2, 0.6)
    elif kind == "plaid":
        shade = (((xx * k) % 1 < 0.3).astype(int) + ((yy * k) % 1 < 0.3)) >= 1
    elif kind == "checks":
        shade = ((xx * k).astype(int) + (yy * k).astype(int)) % 2 == 0
    elif kind == "blotches":
        shade = _noise(rng, (side, side), side / rng.uniform(2.5, 9)) > 0.4
    elif kind == "frame":
        margin = rng.uniform(0.1, 0.3)
        shade = (abs(xx - 0.5) < 0.5 - margin) & (abs(yy - 0.5) < 0.5 - margin)
    else:
        shade = np.zeros((side, side), bool)
    picture[shade] = ink
    weave = 1 + 0.02 * np.sin(np.arange(side) * 2.1)[None, :, None]
    return np.clip(picture * weave, 0, 255).astype(np.float32)


def _camera(
    rng: np.random.Generator, width: int, height: int, tilt: float, turn: float, size: float
) -> np.ndarray:
    """Return the homography from table units (layout centred on 0, extent 1) to pixels."""
    focal = 0.8 * max(width, height)
    t, a = np.radians(tilt), np.radians(turn)
    z = np.array([[np.cos(a), -np.sin(a), 0], [np.sin(a), np.cos(a), 0], [0, 0, 1]])
    spin = rng.uniform(0, 2 * np.pi)
    axis = np.array([np.cos(spin), np.sin(spin), 0.0]) * t
    r = cv2.Rodrigues(axis)[0] @ z
    distance = focal / size
    pose = np.column_stack([r[:, 0], r[:, 1], [0, 0, distance]])
    lens = np.array([[focal, 0, width / 2], [0, focal, height / 2], [0, 0, 1]])
    return np.asarray(lens @ pose)


def make_drawing(
    seed: int,
    *,
    surface: str = "plain",
    rows: int = 4,
    columns: int = 5,
    gap: float = 0.15,
    jitter: float = 0.02,
    lean: float = 2.0,
    turn: float = 0.0,
    tilt: float = 0.0,
    fill: float = 0.8,
    missing: int = 0,
    prints: tuple[str, ...] = PRINTS,
    width: int = 1400,
    height: int = 1050,
    light: float = 0.0,
    tone: tuple[float, float] | None = None,
    shadow: float = 0.25,
) -> Drawing:
    """Draw squares in rows and columns.

    ``gap`` is a share of the side (negative: shingles, the later over the earlier); ``jitter`` a
    share of the side, ``lean`` degrees, both per square; ``fill`` the share of the picture's
    shorter side that the layout takes; ``light`` the strength of a gradient 0 to 1; ``tone`` a
    range of grey that table and prints keep to.
    """
    rng = np.random.default_rng(seed)
    picture = draw_surface(rng, surface, height, width)
    if tone:
        picture = np.full_like(picture, rng.uniform(*tone)) + (picture - picture.mean()) * 0.15
    pitch = 1.0 + gap
    extent = np.array([(columns - 1) * pitch + 1, (rows - 1) * pitch + 1])
    a = np.radians(turn)
    box = np.array(
        [
            abs(np.cos(a)) * extent[0] + abs(np.sin(a)) * extent[1],
            abs(np.sin(a)) * extent[0] + abs(np.cos(a)) * extent[1],
        ]
    )
    scale = fill * float(np.min(np.array([width, height]) / box))
    camera = _camera(rng, width, height, tilt, turn, scale)
    cells = [(r, c) for r in range(rows) for c in range(columns)]
    gone = rng.permutation(len(cells))[:missing]
    side = 220
    pinked = _pinked(side)
    quads, kept, seen = [], [], np.zeros((height, width), np.int32)
    for index, (row, column) in enumerate(cells):
        middle = np.array([column * pitch, row * pitch]) + 0.5 - extent / 2
        middle = middle + rng.normal(0, jitter, 2)
        b = np.radians(np.clip(rng.normal(0, lean), -15, 15))
        turned = np.array([[np.cos(b), -np.sin(b)], [np.sin(b), np.cos(b)]])
        unit = np.array([[-0.5, -0.5], [0.5, -0.5], [0.5, 0.5], [-0.5, 0.5]])
        corners = unit @ turned.T + middle
        # The zigzag runs 1/80 of the side deep: its mean, the cut, lies half of that within.
        drawn = cv2.perspectiveTransform(corners[None], camera)[0]
        nominal = cv2.perspectiveTransform(((corners - middle) * 0.9875 + middle)[None], camera)[0]
        cloth = draw_print(rng, str(rng.choice(list(prints))), side)
        if tone:
            grey = rng.uniform(*tone)
            cloth = grey + (cloth - cloth.mean()) * 0.06
        if index in gone:
            continue
        square = np.array([[0, 0], [side, 0], [side, side], [0, side]], np.float32)
        warp = cv2.getPerspectiveTransform(square, drawn.astype(np.float32))
        alpha = cv2.warpPerspective(pinked, warp, (width, height), flags=cv2.INTER_AREA)
        inked = cv2.warpPerspective(
            cloth, warp, (width, height), flags=cv2.INTER_LINEAR, borderMode=cv2.BORDER_REPLICATE
        )
        # Where neither the cloth nor its shadow lies, nothing changes.
        soft = max(1.0, 0.012 * scale)
        reach = int(4 * soft) + 8
        left, top = np.floor(drawn.min(axis=0)).astype(int) - reach
        right, low = np.ceil(drawn.max(axis=0)).astype(int) + reach
        whole = left < 0 or top < 0 or right > width or low > height
        here = slice(None) if whole else (slice(top, low), slice(left, right))
        under, alpha = picture[here], alpha[here]
        cast = cv2.GaussianBlur(alpha, (0, 0), soft)
        under *= 1 - shadow * np.roll(cast, (2, 2), (0, 1))[..., None]
        under *= 1 - alpha[..., None]
        under += inked[here] * alpha[..., None]
        seen[here][alpha > 0.5] = len(quads) + 1
        quads.append(nominal)
        kept.append((row, column))
    spin = rng.uniform(0, 2 * np.pi)
    yy, xx = np.mgrid[0:height, 0:width].astype(np.float32)
    ramp = ((xx / width - 0.5) * np.cos(spin) + (yy / height - 0.5) * np.sin(spin)).astype("f4")
    picture *= (1 + light * ramp)[..., None]
    picture = cv2.GaussianBlur(picture, (0, 0), 0.7) + rng.normal(0, 1.5, picture.shape)
    areas = np.array([abs(cv2.contourArea(q.astype(np.float32))) for q in quads])
    shows = np.bincount(seen.ravel(), minlength=len(quads) + 1)[1:] / areas
    return Drawing(
        np.clip(picture, 0, 255).astype(np.uint8), np.array(quads), np.array(kept), shows
    )


def _pinked(side: int) -> np.ndarray:
    """Return the coverage (side, side) of a square with pinked edges, 0 to 1."""
    along = np.abs((np.arange(side) / side * 40) % 1 - 0.5) * 0.025 * side
    yy, xx = np.mgrid[0:side, 0:side]
    inside = (yy >= along[None, :]) & (side - 1 - yy >= along[None, :])
    inside &= (xx >= along[:, None]) & (side - 1 - xx >= along[:, None])
    return inside.astype(np.float32)


def lay_ruler(
    picture: NDArray[np.uint8],
    seed: int,
    *,
    middle: tuple[float, float],
    inches: tuple[float, float],
    inch: float,
    turn: float,
) -> NDArray[np.uint8]:
    """Return a picture (H, W, 3) with a clear gridded ruler laid on it: tinted, with lines at every
    inch (``inch`` pixels), ticks, bright and dark edges; what lies below is shifted a little.

    ``middle`` in pixels, ``inches`` its width and height, ``turn`` in degrees.
    """
    rng = np.random.default_rng(seed)
    height, width = picture.shape[:2]
    ink, tint, lines = np.zeros((3, height, width), np.float32)
    c, s = np.cos(np.radians(turn)), np.sin(np.radians(turn))

    def place(x: float, y: float) -> tuple[int, int]:
        u, v = (x - inches[0] / 2) * inch, (y - inches[1] / 2) * inch
        return round(16 * (middle[0] + c * u - s * v)), round(16 * (middle[1] + s * u + c * v))

    def line(layer: NDArray[np.float32], a: tuple[float, float], b: tuple[float, float]) -> None:
        cv2.line(layer, place(*a), place(*b), 1, max(1, round(0.035 * inch)), cv2.LINE_AA, 4)

    corners = [(0.0, 0.0), (inches[0], 0.0), inches, (0.0, inches[1])]
    cv2.fillConvexPoly(tint, np.array([place(*p) for p in corners], np.int32), 1, cv2.LINE_AA, 4)
    for x in np.arange(0.5, inches[0], 1.0):
        line(lines, (x, 0), (x, inches[1]))
    for y in np.arange(0.5, inches[1], 1.0):
        line(lines, (0, y), (inches[0], y))
        for x in np.arange(0.25, inches[0], 0.25):
            line(lines, (x, y - 0.06), (x, y + 0.06))
    for k in range(4):
        line(ink, corners[k], corners[(k + 1) % 4])
    shift = np.array([[1, 0, 0.04 * inch], [0, 1, 0.03 * inch]], np.float32)
    below = cv2.warpAffine(picture, shift, (width, height), borderMode=cv2.BORDER_REPLICATE)
    plate = below * np.float32(rng.uniform(0.86, 0.95)) + np.float32(rng.uniform(4, 12))
    color = np.array([(20, 20, 20), (215, 195, 40)][int(rng.integers(2))], np.float32)
    plate += 0.85 * lines[..., None] * (color - plate)
    plate += 0.5 * ink[..., None] * (240 - plate)
    shown = picture + tint[..., None] * (plate - picture)
    return np.clip(np.round(shown + rng.normal(0, 1, shown.shape)), 0, 255).astype(np.uint8)
