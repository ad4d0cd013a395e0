"""How squares of photographed textures are found on photographed surfaces.

    python -m tests.bench.photographed FOLDER... [--scenes 40] [--first 0] [--touching] [--show OUT]

``tests/scenes`` renders prints and tables by formulas. Here every print and every table is a
photograph out of the folders (JPEG, or GIMP's pattern files), laid out as squares with pinked
edges and shadows, under uneven light, through blur, noise and JPEG. Good folders are what Debian's
packages gimp-data and supertuxkart-data hold: a few hundred photographs of wood, stone, plaster,
grass, carpet and many other things. The columns are those of ``tests.bench.finding``.
"""

import argparse
import struct
import time
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import cv2
import numpy as np
from numpy.typing import NDArray

from colorcore.color.spaces import lab_from_linear, linear_from_coded
from colorcore.finding import find_squares
from colorcore.finding.overlay import draw_outlines
from colorcore.photo import photo_from_array
from tests.bench.finding import Tally, judge, report

Picture = NDArray[np.uint8]
Floats = NDArray[np.floating[Any]]

WIDTH, HEIGHT = 1600, 1200
GRIDS = ((6, 7), (5, 8), (4, 6), (3, 4), (6, 5), (7, 6))
# Maps of slopes, gloss and cut-outs are no photographs of anything.
NO_PHOTOGRAPHS = ("_nm", "gloss", "alpha", "ibl", "screenshot", "sshot")
LEAST_SIDE = 48
ALIKE = 7.0
"""CIELAB units (one standard deviation) within which the parts of a surface look alike."""


@dataclass(frozen=True)
class Square:
    """One square as it was laid: what ``tests.bench.finding.judge`` asks of the truth."""

    corners: Floats
    row: int
    column: int
    cut_off: bool = False
    visible_share: float = 1.0


@dataclass(frozen=True)
class Truth:
    """All squares of a picture."""

    squares: list[Square]


def read_texture(path: Path) -> Picture | None:
    """Pixels (H, W, 3) of a picture or pattern file; None where it is neither or too small."""
    if path.suffix == ".pat":
        data = path.read_bytes()
        head, _, wide, high, depth = struct.unpack(">5I", data[:20])
        values = np.frombuffer(data[head : head + wide * high * depth], np.uint8)
        pixels = values.reshape(high, wide, depth)
        pixels = pixels[..., :3] if depth >= 3 else np.repeat(pixels[..., :1], 3, axis=2)
    else:
        read = cv2.imread(str(path), cv2.IMREAD_COLOR)
        if read is None:
            return None
        pixels = np.asarray(read, np.uint8)[..., ::-1]
    return np.ascontiguousarray(pixels) if min(pixels.shape[:2]) >= LEAST_SIDE else None


def is_surface(pixels: Picture) -> bool:
    """Whether all parts of a texture look alike, as those of a table do."""
    small = np.asarray(cv2.resize(pixels, (64, 64), interpolation=cv2.INTER_AREA))
    lab = np.asarray(lab_from_linear(linear_from_coded(small)))
    parts = lab.reshape(4, 16, 4, 16, 3).mean(axis=(1, 3)).reshape(16, 3)
    return float(np.sqrt(parts.var(axis=0).sum())) < ALIKE


def spread(pixels: Picture, high: int, wide: int, scale: float, rng: np.random.Generator) -> Floats:
    """A texture over (high, wide), mirrored from tile to tile so that no seam shows."""
    way = cv2.INTER_AREA if scale < 1 else cv2.INTER_CUBIC
    tile = np.asarray(cv2.resize(pixels, None, fx=scale, fy=scale, interpolation=way))
    tile = np.concatenate([tile, tile[:, ::-1]], axis=1)
    tile = np.concatenate([tile, tile[::-1]], axis=0)
    down, across = rng.integers(0, tile.shape[0]), rng.integers(0, tile.shape[1])
    rows = (np.arange(high) + down) % tile.shape[0]
    columns = (np.arange(wide) + across) % tile.shape[1]
    return np.asarray(tile[rows[:, None], columns], np.float32)


def make_print(textures: list[Picture], side: int, rng: np.random.Generator) -> Floats:
    """A print (side, side, 3): part of a photograph, as it is, in two inks, or as a solid."""
    pixels = textures[rng.integers(len(textures))]
    if min(pixels.shape[:2]) < side:
        pixels = spread(pixels, 2 * side, 2 * side, rng.uniform(0.5, 1.5), rng).astype(np.uint8)
    size = max(side, int(rng.uniform(0.3, 1) * min(pixels.shape[:2])))
    y, x = (rng.integers(0, n - size + 1) for n in pixels.shape[:2])
    part = pixels[y : y + size, x : x + size]
    cloth = np.asarray(cv2.resize(part, (side, side), interpolation=cv2.INTER_AREA), np.float32)
    kind = rng.random()
    if kind < 0.35:
        share = cloth.mean(axis=2, keepdims=True) / 255
        cloth = rng.uniform(10, 245, 3) * (1 - share) + rng.uniform(10, 245, 3) * share
    elif kind < 0.45:
        cloth = cloth.mean(axis=(0, 1)) + rng.normal(0, 2, (side, side, 1))
    return np.clip(cloth, 0, 255)


def lay_squares(
    rng: np.random.Generator, touching: bool
) -> tuple[float, tuple[int, int], list[Floats]]:
    """Side in pixels, (rows, columns), and outlines (4, 2) of squares as they are laid by hand."""
    rows, columns = GRIDS[rng.integers(len(GRIDS))]
    gap = 0.0 if touching else rng.uniform(0.06, 0.3)
    most = min(WIDTH / (columns * (1 + gap) + 1.6), HEIGHT / (rows * (1 + gap) + 0.9))
    side = most * rng.uniform(0.85, 1)
    off, lean = (0.002, 0.15) if touching else (0.015, 1.5)
    pitch = side * (1 + gap)
    middle = np.array([WIDTH / 2, HEIGHT / 2])
    start = np.array([(WIDTH - columns * pitch) * rng.uniform(0.25, 0.5), 0.0])
    start[1] = (HEIGHT - rows * pitch) / 2
    whole = _turn(np.radians(rng.normal(0, 2)))
    tilt = np.eye(3)
    tilt[2, :2] = rng.normal(0, (3e-5, 5e-5))
    outlines = []
    for row in range(rows):
        for column in range(columns):
            place = start + pitch * np.array([column + 0.5, row + 0.5])
            place = place + rng.normal(0, off * side, 2)
            unit = np.array([[-0.5, -0.5], [0.5, -0.5], [0.5, 0.5], [-0.5, 0.5]])
            flat = place + side * unit @ _turn(np.radians(rng.normal(0, lean))).T - middle
            seen = np.column_stack([flat @ whole.T, np.ones(4)]) @ tilt.T
            outlines.append(seen[:, :2] / seen[:, 2:] + middle)
    return side, (rows, columns), outlines


def _turn(angle: float) -> Floats:
    return np.array([[np.cos(angle), -np.sin(angle)], [np.sin(angle), np.cos(angle)]])


def put(canvas: Floats, cloth: Floats, outline: Floats, tooth: float, shadow: Floats) -> None:
    """Lay a picture on the canvas, with teeth of so many pixels along its edge; ``shadow`` is how
    far it falls right and down, and how soft it is."""
    high, wide = cloth.shape[:2]
    frame = np.array([[0, 0], [wide, 0], [wide, high], [0, high]], np.float32)
    to_centers = np.array([[1, 0, 0.5], [0, 1, 0.5], [0, 0, 1]])
    matrix = cv2.getPerspectiveTransform(frame, outline.astype(np.float32))
    matrix = np.linalg.inv(to_centers) @ matrix @ to_centers
    size = (WIDTH, HEIGHT)
    laid = cv2.warpPerspective(
        cloth.astype(np.float32),
        matrix,
        size,
        flags=cv2.INTER_AREA,
        borderMode=cv2.BORDER_REPLICATE,
    )
    edge = np.concatenate([_zigzag(outline[k], outline[(k + 1) % 4], tooth) for k in range(4)])
    drawn = np.zeros((4 * HEIGHT, 4 * WIDTH), np.uint8)
    cv2.fillPoly(drawn, [np.round(4 * edge).astype(np.int32)], (255,))
    cover = np.asarray(cv2.resize(drawn, size, interpolation=cv2.INTER_AREA), np.float32) / 255
    moved = np.roll(cover, (round(shadow[1]), round(shadow[0])), axis=(0, 1))
    shade = np.asarray(cv2.GaussianBlur(moved, (0, 0), float(shadow[2])))
    canvas *= (1 - 0.35 * shade * (1 - cover))[..., None]
    canvas += cover[..., None] * (np.asarray(laid) - canvas)


def _zigzag(start: Floats, stop: Floats, tooth: float) -> Floats:
    """A pinked edge (K, 2) whose mean line runs from corner to corner."""
    length = float(np.linalg.norm(stop - start))
    count = max(1, round(length / (7 * tooth))) if tooth else 1
    out = np.array([stop[1] - start[1], start[0] - stop[0]]) / length
    swing = np.where(np.arange(count) % 2 == 1, tooth, -tooth)
    steps = np.arange(count)[:, None] / count
    return start + steps * (stop - start) + swing[:, None] * out


def make_picture(
    textures: list[Picture], tables: list[Picture], seed: int, touching: bool
) -> tuple[Picture, Truth]:
    """One picture (H, W, 3) and what is true of it."""
    rng = np.random.default_rng(seed)
    table = tables[rng.integers(len(tables))]
    scale = rng.uniform(0.5, 2.5) * max(1.0, 300 / max(table.shape[:2]))
    canvas = spread(table, HEIGHT, WIDTH, scale, rng) * np.float32(rng.uniform(0.6, 1.0))
    side, (_, columns), outlines = lay_squares(rng, touching)
    shadow = np.array([rng.integers(-3, 4), rng.integers(-3, 4), rng.uniform(1, 3)])
    wide = 0.9 * side
    left = WIDTH - 1.05 * wide
    top = rng.uniform(10, HEIGHT - 1.29 * wide - 10)
    if max(outline[:, 0].max() for outline in outlines) < left - 8:
        paper = 238 + rng.normal(0, 1, (64, 50, 1)) + np.zeros(3)
        sheet = np.array([[0, 0], [wide, 0], [wide, 1.29 * wide], [0, 1.29 * wide]])
        put(canvas, paper, sheet + np.array([left, top]), 0.0, shadow)
    for outline in outlines:
        put(canvas, make_print(textures, round(1.3 * side), rng), outline, 0.006 * side, shadow)
    y, x = np.mgrid[0:HEIGHT, 0:WIDTH].astype(np.float32)
    x, y = x / WIDTH - 0.5, y / HEIGHT - 0.5
    slope, falloff = rng.normal(0, 0.35, 2), rng.uniform(0, 0.8)
    light = np.exp(slope[0] * x + slope[1] * y - falloff * (x * x + y * y))
    seen = (canvas / 255) ** 2.2 * light[..., None] * np.exp(rng.normal(0, 0.06, 3))
    seen = np.asarray(cv2.GaussianBlur(seen, (0, 0), rng.uniform(0.5, 1.1)))
    coded = 255 * np.clip(0.9 * seen, 0, 1) ** (1 / 2.2) + rng.normal(0, 2, seen.shape)
    pixels = np.clip(coded, 0, 255).astype(np.uint8)[..., ::-1]
    quality = [cv2.IMWRITE_JPEG_QUALITY, int(rng.integers(75, 95))]
    kept = cv2.imdecode(cv2.imencode(".jpg", pixels, quality)[1], cv2.IMREAD_COLOR)
    squares = [Square(outline, *divmod(k, columns)) for k, outline in enumerate(outlines)]
    return np.ascontiguousarray(np.asarray(kept, np.uint8)[..., ::-1]), Truth(squares)


def main() -> None:
    """Print one line."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("folders", nargs="+", type=Path)
    parser.add_argument("--scenes", type=int, default=40)
    parser.add_argument("--first", type=int, default=0)
    parser.add_argument("--touching", action="store_true", help="edge to edge, without gaps")
    parser.add_argument("--show", type=Path, help="folder for pictures of scenes that failed")
    args = parser.parse_args()
    paths = sorted(
        path
        for folder in args.folders
        for path in folder.rglob("*")
        if path.suffix.lower() in {".jpg", ".pat"}
        and not any(word in path.name.lower() for word in NO_PHOTOGRAPHS)
    )
    textures = [pixels for path in paths if (pixels := read_texture(path)) is not None]
    tables = [pixels for pixels in textures if is_surface(pixels)]
    print(f"{len(textures)} textures, {len(tables)} of them surfaces")
    if args.show:
        args.show.mkdir(parents=True, exist_ok=True)
    tally = Tally()
    for seed in range(args.first, args.first + args.scenes):
        pixels, truth = make_picture(textures, tables, seed, args.touching)
        photo = photo_from_array(pixels)
        start = time.process_time()
        finding = find_squares(photo)
        tally.seconds.append(time.process_time() - start)
        failed = len(tally.failed)
        judge(tally, str(seed), truth, finding)
        if args.show and len(tally.failed) > failed:
            drawn = draw_outlines(photo, finding, max_side=1200)
            cv2.imwrite(str(args.show / f"{seed}.png"), drawn[..., ::-1])
    print(report("touching" if args.touching else "gaps", tally))


if __name__ == "__main__":
    main()
