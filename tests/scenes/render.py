"""From things on a table to what the sensor collects.

Colours are never computed pixel by pixel over wavelengths: each ink is seen once under each
light, and the picture mixes those few camera colours. That is exact, for both are linear.
"""

from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

from tests.scenes.items import MARGIN, Item
from tests.scenes.lights import Lighting
from tests.scenes.spectra import SRGB_FROM_XYZ, Camera, flat, xyz_of
from tests.scenes.surfaces import Surface
from tests.scenes.view import Points, View

Image = NDArray[np.float32]
LARGEST_SURFACE = 10e6  # pixels of a painted table; larger pictures enlarge it


@dataclass(frozen=True, eq=False)
class Stage:
    """Everything that a picture shows, bottom first. ``sheen`` is how bright the window is
    mirrored in the table top, as a share of a white's light. Beyond the table's ``edge`` (4, 2), in
    inches, lies the ``floor``."""

    surface: Surface
    items: tuple[Item, ...]
    lighting: Lighting
    camera: Camera
    view: View
    seed: int
    floor: Surface | None = None
    edge: Points | None = None
    sheen: float = 0.0


def thrice(field: Image) -> Image:
    """Return (H, W) as (H, W, 3): arrays of one shape multiply much faster than broadcast ones."""
    return np.asarray(cv2.merge((field, field, field)))


def supersampled_mask(polygon: Points, width: int, height: int, fine: int) -> NDArray[np.uint8]:
    """Return how far each pixel lies inside a polygon (K, 2), as 0 to 255.

    OpenCV fills the boundary's pixels too; they count half, so that the area is unbiased.
    """
    fixed = np.round((polygon * fine - 0.5) * 16).astype(np.int32)
    mask = np.zeros((height * fine, width * fine), np.uint8)
    cv2.fillPoly(mask, [fixed], 255, shift=4)
    cv2.polylines(mask, [fixed], True, 128, shift=4)
    return np.asarray(cv2.resize(mask, (width, height), interpolation=cv2.INTER_AREA))


def render_light(stage: Stage) -> Image:
    """Return what reaches the sensor (H, W, 3): balanced camera RGB in linear light, without
    noise, blur and vignetting; 1.0 is a perfect white under light of strength 1."""
    fields = _fields(stage)
    canvas = _table(stage, fields)
    for number, item in enumerate(stage.items):
        _lay(canvas, fields, item, stage, np.random.default_rng([stage.seed, number]))
    return stage.view.bend(canvas)


def _fields(stage: Stage) -> dict[str, Image]:
    width, height = stage.view.width, stage.view.height
    longer = max(width, height)
    coarse = (max(2, round(900 * width / longer)), max(2, round(900 * height / longer)))
    x = ((np.arange(coarse[0], dtype=np.float32) + 0.5) / coarse[0] * width / longer)[None, :]
    y = ((np.arange(coarse[1], dtype=np.float32) + 0.5) / coarse[1] * height / longer)[:, None]
    return {
        name: np.asarray(cv2.resize(field, (width, height), interpolation=cv2.INTER_LINEAR))
        for name, field in stage.lighting.fields(x, y).items()
    }


def _seen(stage: Stage, inks: NDArray[np.float64]) -> dict[str, Image]:
    """Return the balanced camera RGB (n, 3) of inks (n, 81) under each light."""
    camera = stage.camera
    return {
        name: (camera.see(inks, name) * camera.gains).astype(np.float32)
        for name in stage.lighting.illuminants()
    }


def _table(stage: Stage, fields: dict[str, Image]) -> Image:
    canvas = _spread(stage, stage.surface, fields)
    if stage.sheen:
        _mirror_window(canvas, stage)
    if stage.floor is None or stage.edge is None:
        return canvas
    view = stage.view
    table = supersampled_mask(view.pixels(stage.edge), view.width, view.height, 2)
    table = table.astype(np.float32) / 255
    ppi = view.pixels_per_inch(stage.edge.mean(axis=0))
    # The floor is further from the light, and the table shades it.
    shade = cv2.GaussianBlur(table, (0, 0), 2.5 * ppi, borderType=cv2.BORDER_REPLICATE)
    floor = _spread(stage, stage.floor, fields)
    floor *= thrice(0.75 * (1 - 0.7 * shade))
    canvas *= thrice(table)
    floor *= thrice(1 - table)
    canvas += floor
    return canvas


def _mirror_window(canvas: Image, stage: Stage) -> None:
    """Add the window's soft reflection, which lies on the table top alone."""
    rng = np.random.default_rng([stage.seed, 5])
    height, width = canvas.shape[:2]
    x = ((np.arange(width, dtype=np.float32) / width - rng.uniform(0.1, 0.9)) / 0.22)[None, :]
    y = ((np.arange(height, dtype=np.float32) / height - rng.uniform(0.1, 0.9)) / 0.3)[:, None]
    lean = float(rng.uniform(-0.5, 0.5))
    bright = np.float32(stage.sheen) * np.exp(-((x + lean * y) ** 4) - y**4)
    name = stage.lighting.sources[0].illuminant
    canvas += bright[..., None] * _seen(stage, flat(1.0)[None])[name][0]


def _spread(stage: Stage, surface: Surface, fields: dict[str, Image]) -> Image:
    """Return a surface all over the picture."""
    view = stage.view
    frame = np.array([[0, 0], [view.width, 0], [view.width, view.height], [0, view.height]])
    ends = view.inches(frame.astype(np.float64))
    (x0, y0), (x1, y1) = ends.min(axis=0) - 0.5, ends.max(axis=0) + 0.5
    ppi = max(view.pixels_per_inch(p) for p in ends)
    most = min(LARGEST_SURFACE, 2 * view.width * view.height)
    ppi = min(ppi, float(np.sqrt(most / ((x1 - x0) * (y1 - y0)))))
    shares, shading = surface.paint((x0, y0, x1, y1), ppi)
    h, w = shading.shape
    to_inches = np.array(
        [
            [(x1 - x0) / w, 0, x0 + 0.5 * (x1 - x0) / w],
            [0, (y1 - y0) / h, y0 + 0.5 * (y1 - y0) / h],
            [0, 0, 1],
        ]
    )
    canvas = np.zeros((view.height, view.width, 3), np.float32)
    for name, table in _seen(stage, surface.inks).items():
        seen = _warp(
            _shaded(shares, table, shading),
            view.matrix @ to_inches,
            (0, 0, view.width, view.height),
        )
        seen *= thrice(fields[name])
        canvas += seen
    return canvas


def _shaded(shares: Image, table: Image, shading: Image) -> Image:
    """Return what shares (h, w, n) of inks (n, 3) look like (h, w, 3) in relief (h, w)."""
    if len(table) == 1:
        return np.asarray(cv2.merge([shading * channel for channel in table[0]]))
    painted = shares @ table
    painted *= thrice(shading)
    return np.asarray(painted)


def _warp(picture: Image, matrix: Points, box: tuple[int, int, int, int]) -> Image:
    """Return a picture taken through ``matrix`` (its pixel centres to outer-corner pixels of the
    view) within a box (x0, y0, x1, y1) of the view."""
    x0, y0, x1, y1 = box
    shift = np.array([[1, 0, -x0 - 0.5], [0, 1, -y0 - 0.5], [0, 0, 1.0]])
    return np.asarray(
        cv2.warpPerspective(
            picture,
            shift @ matrix,
            (x1 - x0, y1 - y0),
            flags=cv2.INTER_LINEAR,
            borderMode=cv2.BORDER_REPLICATE,
        )
    )


def _lay(
    canvas: Image, fields: dict[str, Image], item: Item, stage: Stage, rng: np.random.Generator
) -> None:
    """Put an item on the canvas, its shadow first."""
    view = stage.view
    outline = view.pixels(item.on_table(item.outline))
    middle = item.on_table(np.array([item.size]) / 2)[0]
    ppi = view.pixels_per_inch(middle)
    reach = 4 + 4 * item.lift * ppi + (0.8 * ppi if item.threads else 0)
    x0, y0 = np.maximum(np.floor(outline.min(axis=0) - reach).astype(int), 0)
    x1, y1 = np.ceil(outline.max(axis=0) + reach).astype(int)
    x1, y1 = min(int(x1), view.width), min(int(y1), view.height)
    if x1 - x0 < 2 or y1 - y0 < 2:
        return
    box = (int(x0), int(y0), int(x1), int(y1))
    part = canvas[y0:y1, x0:x1]
    fine = 4 if (x1 - x0) * (y1 - y0) < 3e6 else 2
    mask = supersampled_mask(outline - [x0, y0], x1 - x0, y1 - y0, fine).astype(np.float32) / 255
    coverage, to_inches = _paint(item, ppi)
    to_view = view.matrix @ item.pose @ to_inches
    if item.opacity.min() < 1:
        opacity = np.broadcast_to(item.opacity, (len(item.inks),)).astype(np.float32)
        mask = mask * _warp(coverage @ opacity, to_view, box)
        # Where the thing is not, its inks must not bleed into its edge.
        coverage[..., opacity == 0] = 0
        coverage /= np.maximum(coverage.sum(axis=-1, keepdims=True), 1e-6)
    _cast_shadow(part, mask, item, stage.lighting, ppi)
    shading = _shade(item, coverage, to_inches, stage.lighting, rng)
    color = np.zeros(part.shape, np.float32)
    for name, table in _seen(stage, item.inks).items():
        seen = _warp(_shaded(coverage, table, shading), to_view, box)
        seen *= thrice(fields[name][y0:y1, x0:x1])
        color += seen
    if item.rim:
        _pale_edge(color, mask, item.rim, ppi, stage, fields, box)
    if item.gloss:
        color += item.gloss * _glare(item, stage, box, ppi, rng)
    color -= part
    color *= thrice(mask)
    part += color
    if item.threads:
        _fray(part, outline - [x0, y0], item.threads, ppi, rng)


def _pale_edge(
    color: Image,
    mask: Image,
    strength: float,
    ppi: float,
    stage: Stage,
    fields: dict[str, Image],
    box: tuple[int, int, int, int],
) -> None:
    """Let the undyed cloth show along the cut."""
    x0, y0, x1, y1 = box
    soft = cv2.GaussianBlur(mask, (0, 0), max(0.6, 0.015 * ppi))
    near = 2 * strength * mask * (1 - soft)
    pale = np.zeros_like(color)
    for name, table in _seen(stage, flat(0.65)[None]).items():
        field = fields[name][y0:y1, x0:x1]
        pale += cv2.merge([value * field for value in table[0]])
    pale -= color
    np.maximum(pale, 0, out=pale)
    pale *= thrice(near)
    color += pale


def _cast_shadow(part: Image, mask: Image, item: Item, lighting: Lighting, ppi: float) -> None:
    reach = item.lift * ppi
    dx, dy = reach * np.cos(lighting.shadow_side), reach * np.sin(lighting.shadow_side)
    moved = cv2.warpAffine(mask, np.array([[1, 0, dx], [0, 1, dy]]), mask.shape[::-1])
    directed = cv2.GaussianBlur(moved, (0, 0), max(0.5, 0.5 * reach))
    around = cv2.GaussianBlur(mask, (0, 0), max(0.7, 0.8 * reach))
    part *= thrice(1 - 0.32 * directed - 0.28 * around)


def _paint(item: Item, ppi: float) -> tuple[Image, Points]:
    """Return the share of each ink (h, w, n) over the widened item and the matrix from its pixel
    centres to inches."""
    width, height = (s + 2 * MARGIN for s in item.size)
    w, h = max(2, round(width * ppi)), max(2, round(height * ppi))
    count = len(item.inks)
    if count == 1:
        coverage = np.ones((h, w, 1), np.float32)
    else:
        painted = item.paint(ppi * (3 if w * h < 1e6 else 2))
        layers = []
        for ink in range(count):
            one = cv2.compare(painted, ink, cv2.CMP_EQ)
            one = cv2.resize(one, (w, h), interpolation=cv2.INTER_AREA)
            layers.append(one.astype(np.float32))
        total = np.sum(layers, axis=0)
        coverage = np.asarray(cv2.merge([layer / total for layer in layers]))
    sx, sy = width / w, height / h
    to_inches = np.array([[sx, 0, 0.5 * sx - MARGIN], [0, sy, 0.5 * sy - MARGIN], [0, 0, 1.0]])
    return coverage, to_inches


def true_print(item: Item, pixels_per_inch: float) -> Image:
    """Return an item's print (N, M, 3) in linear sRGB for D65, its margin left out."""
    coverage, to_inches = _paint(item, pixels_per_inch)
    rim_x, rim_y = (round(MARGIN / to_inches[axis, axis]) for axis in (0, 1))
    inner = coverage[rim_y:-rim_y, rim_x:-rim_x]
    return np.asarray(inner @ (xyz_of(item.inks) @ SRGB_FROM_XYZ.T), dtype=np.float32)


def _shade(
    item: Item, coverage: Image, to_inches: Points, lighting: Lighting, rng: np.random.Generator
) -> Image:
    """Return how light and dark the relief looks (h, w); for cloth its mean is 1."""
    h, w = shape = coverage.shape[:2]
    shading = np.ones(shape, np.float32)
    if not item.weave:
        return shading
    ppi = 1 / to_inches[0, 0]
    noise = rng.standard_normal(shape, dtype=np.float32)
    run = max(1, round(0.25 * ppi))
    shading += item.weave * (
        0.7 * noise
        + 0.9 * np.sqrt(run) * cv2.blur(rng.standard_normal(shape, dtype=np.float32), (run, 1))
        + 0.9 * np.sqrt(run) * cv2.blur(rng.standard_normal(shape, dtype=np.float32), (1, run))
    )
    if item.round_edge:
        solid = (coverage.sum(axis=-1) > 0.5).astype(np.uint8)
        depth = cv2.distanceTransform(solid, cv2.DIST_L2, 5) / ppi
        shading *= 0.65 + 0.4 * np.sqrt(np.minimum(depth / item.round_edge, 1))
    if item.kind not in ("square", "fabric"):
        return shading
    x = (np.arange(w, dtype=np.float32) * to_inches[0, 0] + to_inches[0, 2])[None, :]
    y = (np.arange(h, dtype=np.float32) * to_inches[1, 1] + to_inches[1, 2])[:, None]
    if ppi > 90:  # close enough to tell one thread from the next
        threads = np.float32(np.pi * rng.uniform(58, 76))
        sway = cv2.resize(rng.normal(0, 0.01, (6, 6)).astype(np.float32), (w, h))
        plain_weave = np.sin(threads * (x + sway)) * np.sin(threads * (y - sway))
        shading += np.float32(0.06 * min(1.0, (ppi - 80) / 120)) * plain_weave
    # Soft waves, then creases: a lit flank beside a dark one.
    coarse = rng.standard_normal((5, 5), dtype=np.float32)
    shading += 0.012 * cv2.resize(coarse, (w, h), interpolation=cv2.INTER_CUBIC)
    for _ in range(item.creases):
        angle = rng.choice([0.0, np.pi / 2]) + rng.normal(0, 0.12)
        place = (x - item.size[0] / 2) * np.cos(angle) + (y - item.size[1] / 2) * np.sin(angle)
        place = (place - rng.uniform(-0.3, 0.3) * min(item.size)) / rng.uniform(0.05, 0.2)
        shading += float(rng.uniform(-0.09, 0.09)) * place * np.exp(-(place**2) / 2)
    inner = shading[(y[:, 0] > 0) & (y[:, 0] < item.size[1])][:, (x[0] > 0) & (x[0] < item.size[0])]
    shading /= inner.mean()
    _curl(shading, item, x, y, lighting)
    return shading


def _curl(shading: Image, item: Item, x: Image, y: Image, lighting: Lighting) -> None:
    """Edges bend down: those towards the light catch more of it."""
    light = item.pose[:2, :2].T @ np.array(
        [-np.cos(lighting.shadow_side), -np.sin(lighting.shadow_side)]
    )
    bend = 0.05 + item.lift * 0.6
    for distance, facing in (
        (x, -light[0]),
        (item.size[0] - x, light[0]),
        (y, -light[1]),
        (item.size[1] - y, light[1]),
    ):
        near = np.exp(-np.maximum(distance, 0) / bend)
        shading *= 1 + min(0.10, 2 * item.lift) * facing * near


def _glare(
    item: Item, stage: Stage, box: tuple[int, int, int, int], ppi: float, rng: np.random.Generator
) -> Image:
    x0, y0, x1, y1 = box
    spot = rng.uniform(0.25, 0.75, 2) * item.size
    cx, cy = stage.view.pixels(item.on_table(spot[None]))[0]
    wide = float(rng.uniform(0.12, 0.25)) * min(item.size) * ppi
    x = (np.arange(x0, x1, dtype=np.float32) - cx)[None, :] / wide
    y = (np.arange(y0, y1, dtype=np.float32) - cy)[:, None] / (wide * rng.uniform(0.5, 1.0))
    return np.asarray(np.exp(-(x**2 + y**2) / 2)[..., None], dtype=np.float32)


def _fray(part: Image, outline: Points, threads: int, ppi: float, rng: np.random.Generator) -> None:
    """Lay loose threads over the edge."""
    for _ in range(threads):
        start = outline[int(rng.integers(len(outline)))]
        angle = rng.uniform(0, 2 * np.pi) + np.cumsum(rng.normal(0, 0.35, 12))
        step = rng.uniform(0.015, 0.05) * ppi
        line = start + np.cumsum(np.stack([np.cos(angle), np.sin(angle)], 1) * step, axis=0)
        low = np.maximum(np.floor(line.min(axis=0)).astype(int) - 2, 0)
        high = np.minimum(np.ceil(line.max(axis=0)).astype(int) + 3, part.shape[1::-1])
        if np.any(high - low < 2):
            continue
        mask = np.zeros((high - low)[::-1], np.uint8)
        cv2.polylines(
            mask,
            [np.round((line - low) * 16).astype(np.int32)],
            False,
            255,
            max(1, round(0.012 * ppi)),
            cv2.LINE_AA,
            shift=4,
        )
        x, y = np.clip(start.astype(int), 0, np.array(part.shape[1::-1]) - 1)
        tone = part[y, x] * 0.5 + 0.5 * float(rng.uniform(0.1, 0.8))
        strength = mask.astype(np.float32)[..., None] / 255 * min(1.0, 0.02 * ppi)
        under = part[low[1] : high[1], low[0] : high[0]]
        under += strength * (tone - under)
