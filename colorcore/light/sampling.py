"""Look at a photo in few places: means of plain cells, in linear light, with their noise."""

from dataclasses import dataclass, replace
from typing import Any, Final

import numpy as np
from numpy.typing import NDArray

from colorcore.finding.model import Finding
from colorcore.photo import Photo

Array = NDArray[np.float64]

SMALL_SIDE: Final = 800
"""Longer side of the reduced picture that the light is read from."""
_CELLS: Final = 21
_CELLS_OF_GROUND: Final = 30
"""Cells along the picture, and where ground between lines is read: that is so even that smaller
cells tell more, 0.30 L* for 0.33 on mats, where planks differ whatever the cell."""
_CLIP_SIGMAS: Final = 1.8
_LOWEST: Final = 1e-4
_CLIPPED_SHARE: Final = 0.05
_PARTS: Final = ((0.05, 0.35), (0.65, 0.95))
"""Shares of a cell's pixels, from its darkest, that may stand for it; what lies beyond is left to
stains, threads and seams."""
_DARKER: Final = 1
"""Which reading of a cell is that of its darker part; that of all its pixels comes first."""
_STEADIER: Final = 0.85
"""How much less a part must differ from cell to cell than the whole: parts go with the noise, and
so with the light, a little."""
_LEAST_PAIRS: Final = 20
_BRIGHT: Final = np.array([0.25, 0.5, 0.25])
_THINNED: Final = 12
"""Pixels along a cell's side that are looked at, at least: a hundred and more for its mean."""


@dataclass(frozen=True, eq=False)
class SmallPicture:
    """The photo reduced: ``linear`` float32 (h, w, 3); ``usable`` (h, w) False where a channel is
    at either end of the camera's scale, ``full`` (h, w, 3) True at the upper; ``scale`` small
    pixels per picture pixel; ``size`` (width, height) of the picture. Coded values are averaged,
    four times faster and the same on anything plain; what is textured serves only beside more of
    itself."""

    linear: NDArray[np.float32]
    usable: NDArray[np.bool_]
    full: NDArray[np.bool_]
    scale: float
    size: tuple[int, int]


@dataclass(frozen=True, eq=False)
class Cells:
    """Means of cells. ``xy`` (S, 2) picture pixels; ``linear`` (S, 3) linear light; ``sd`` (S,)
    standard deviation of log luminance within the cell; ``count`` (S,) small pixels in it;
    ``bins`` (S, 2) its column and row."""

    xy: Array
    linear: Array
    sd: Array
    count: Array
    bins: NDArray[np.intp]

    def __len__(self) -> int:
        return int(self.xy.shape[0])


NO_CELLS: Final = Cells(
    np.zeros((0, 2)), np.zeros((0, 3)), np.zeros(0), np.zeros(0), np.zeros((0, 2), np.intp)
)


def cells_at(xy: Array, linear: Array, sd: float) -> Cells:
    """Cells of places (S, 2) and linear light (S, 3) measured in another way, of one noise."""
    count = len(xy)
    bins = np.zeros((count, 2), np.intp)
    return Cells(xy, linear, np.full(count, sd), np.full(count, 12.0), bins)


def reduce_photo(photo: Photo) -> SmallPicture:
    """Return the photo reduced to ``SMALL_SIDE``."""
    import cv2

    scale = min(1.0, SMALL_SIDE / max(photo.width, photo.height))
    size = (max(1, round(photo.width * scale)), max(1, round(photo.height * scale)))
    coded = photo.pixels
    if scale < 0.5:
        # Four pixels are enough to average over: a large photo is read at a fraction of the cost.
        twice = (2 * size[0], 2 * size[1])
        coded = np.asarray(cv2.resize(coded, twice, interpolation=cv2.INTER_NEAREST))
    if scale < 1.0:
        coded = np.asarray(cv2.resize(coded, size, interpolation=cv2.INTER_AREA))
    top = np.iinfo(coded.dtype).max
    # Encoders ring by a level or two around the limit.
    full = coded >= top - top // 128
    # Two of 255 steps in a coded picture; as little light where nothing is coded.
    dark = coded <= int((6e-4 if photo.scene_linear else 0.008) * top)
    ends = full | dark
    usable = ~(ends[..., 0] | ends[..., 1] | ends[..., 2])
    return SmallPicture(photo.linearize(coded), usable, full, scale, (photo.width, photo.height))


def window_round(
    small: SmallPicture, outline: NDArray[np.floating[Any]]
) -> tuple[SmallPicture, Array]:
    """Return the part of the picture round an outline (K, 2), and where its corner (x, y) lies in
    picture pixels: a small thing costs little to look at."""
    height, width = small.linear.shape[:2]
    points = np.asarray(outline, dtype=np.float64) * small.scale
    x0, y0 = np.clip(np.floor(points.min(axis=0)).astype(int) - 2, 0, (width - 1, height - 1))
    x1, y1 = np.clip(np.ceil(points.max(axis=0)).astype(int) + 2, (x0 + 1, y0 + 1), (width, height))
    part = (slice(y0, y1), slice(x0, x1))
    window = replace(
        small, linear=small.linear[part], usable=small.usable[part], full=small.full[part]
    )
    return window, np.array([x0, y0]) / small.scale


def polygon_mask(
    small: SmallPicture, outline: NDArray[np.floating[Any]], *, inset: float = 0.0
) -> NDArray[np.bool_]:
    """Return the mask (h, w) of a polygon given in picture pixels, its rim left out by ``inset``
    small pixels."""
    import cv2

    mask = np.zeros(small.linear.shape[:2], np.uint8)
    points = np.round((np.asarray(outline) * small.scale - 0.5) * 16).astype(np.int32)
    cv2.fillPoly(mask, [points], 1, shift=4)
    if inset > 0:
        cv2.polylines(mask, [points], True, 0, thickness=max(1, round(2 * inset)), shift=4)
    return mask.astype(bool)


def squares_mask(small: SmallPicture, finding: Finding, *, margin: float) -> NDArray[np.bool_]:
    """Return where squares and things lie, grown by ``margin`` small pixels."""
    import cv2

    mask = np.zeros(small.linear.shape[:2], np.uint8)
    outlines = [s.corners for s in (*finding.squares, *finding.doubtful)]
    outlines += [thing.outline for thing in finding.things]
    for outline in outlines:
        points = np.round((np.asarray(outline) * small.scale - 0.5) * 16).astype(np.int32)
        cv2.fillPoly(mask, [points], 1, shift=4)
        if margin > 0:
            cv2.polylines(mask, [points], True, 1, thickness=round(2 * margin), shift=4)
    return mask.astype(bool)


def surface_mask(small: SmallPicture, finding: Finding) -> NDArray[np.bool_]:
    """Return where the table shows, squares and things left out with a small rim: their edges are
    mixed pixels and their own soft shadow lies beside them."""
    import cv2

    height, width = small.linear.shape[:2]
    surface = np.asarray(finding.surface, dtype=np.uint8)
    if surface.size == 0:
        return np.zeros((height, width), bool)
    resized = cv2.resize(surface, (width, height), interpolation=cv2.INTER_NEAREST)
    eroded = cv2.erode(resized, np.ones((3, 3), np.uint8))
    return np.asarray(eroded.astype(bool) & ~squares_mask(small, finding, margin=2.0))


def read_cells(
    small: SmallPicture,
    mask: NDArray[np.bool_],
    *,
    cell: float | None = None,
    least: int = 12,
    clipped: bool = False,
    angle: float = 0.0,
    textured: bool = False,
) -> Cells:
    """Average in linear light what a mask shows, cell by cell, what sticks out left out.

    ``cell`` is the side of a cell in small pixels; a cell counts from ``least`` pixels. Pixels at
    the end of the camera's scale count only where ``clipped`` says so, and a cell with more than a
    few of them not at all: what is left there would be too dark. ``angle`` (radians) turns the
    columns and rows of cells. What is ``textured`` may be read by its darker or lighter parts
    alone, if they differ less from cell to cell: the ground of a mat between its lines, or what
    is lightest on every plank.
    """
    height, width = mask.shape
    side = float(cell or max(6.0, max(height, width) / _CELLS))
    usable = mask if clipped else mask & small.usable
    thin = max(1, int(side / _THINNED))
    ys, xs = np.nonzero(usable[::thin, ::thin])
    ys, xs = ys * thin, xs * thin
    fewest = max(4, least // thin**2)
    if not ys.size:
        return NO_CELLS
    reach = int(np.hypot(height, width) / side) + 2
    columns, cells = 2 * reach, 4 * reach**2
    cosine, sine = np.cos(angle) / side, np.sin(angle) / side

    def bin_of(x: NDArray[np.intp], y: NDArray[np.intp]) -> NDArray[np.intp]:
        across, down = x * cosine + y * sine + reach, y * cosine - x * sine + reach
        return np.asarray(down.astype(np.intp) * columns + across.astype(np.intp), dtype=np.intp)

    index = bin_of(xs, ys)
    values = small.linear[ys, xs].astype(np.float64)
    bright = np.log(np.maximum(values @ _BRIGHT, _LOWEST))
    keep = np.ones(bright.size, bool)
    for _ in range(2):
        mean, spread, _ = _moments(index[keep], bright[keep], cells)
        keep = np.abs(bright - mean[index]) <= _CLIP_SIGMAS * spread[index] + 0.01
    _, spread, count = _moments(index[keep], bright[keep], cells)
    enough = count >= fewest
    if not clipped:
        all_y, all_x = np.nonzero((mask & ~small.usable)[::thin, ::thin])
        lost = np.bincount(bin_of(all_x * thin, all_y * thin), minlength=cells)
        enough &= lost <= _CLIPPED_SHARE * count
    place = np.flatnonzero(enough)
    bins = np.stack([place % columns, place // columns], axis=-1)
    facts = np.column_stack([values, xs, ys])
    means = _means(index[keep], facts[keep], cells)[enough]
    if textured:
        readings = [means, *_parts(index, bright, facts, cells, enough)]
        steadiest = _steadiest(readings, bins)
        ground = max(6.0, max(height, width) / _CELLS_OF_GROUND)
        if steadiest == _DARKER and side > ground:
            return read_cells(
                small, mask, cell=ground, least=least, clipped=clipped, angle=angle, textured=True
            )
        means = readings[steadiest]
    xy = (means[:, 3:] + 0.5) / small.scale
    return Cells(xy, means[:, :3], spread[enough], count[enough] * thin**2, bins)


def _means(index: NDArray[np.intp], facts: Array, cells: int) -> Array:
    """Means (cells, F) of facts (P, F) by cell."""
    count = np.maximum(np.bincount(index, minlength=cells), 1)
    sums = [np.bincount(index, column, cells) for column in facts.T]
    return np.asarray(np.stack(sums, axis=-1) / count[:, None])


def _parts(
    index: NDArray[np.intp], bright: Array, facts: Array, cells: int, wanted: NDArray[np.bool_]
) -> list[Array]:
    """Means (W, F) of the darker and of the lighter pixels of each wanted cell."""
    low = bright.min()
    order = np.argsort(index + (bright - low) / (bright.max() - low + 1.0))
    sums = np.concatenate([np.zeros((1, facts.shape[1])), np.cumsum(facts[order], axis=0)])
    count = np.bincount(index, minlength=cells)
    first = (np.cumsum(count) - count)[wanted]
    count = count[wanted]
    parts = []
    for low, high in _PARTS:
        start = first + np.floor(low * count).astype(np.intp)
        stop = first + np.ceil(high * count).astype(np.intp)
        parts.append((sums[stop] - sums[start]) / (stop - start)[:, None])
    return parts


def _steadiest(readings: list[Array], bins: NDArray[np.intp]) -> int:
    """Which reading (W, 3 and more) differs least between neighbours; the first, which takes all
    pixels, unless another is clearly steadier."""
    ones, others = neighbours(bins, np.ones(len(bins), bool))
    if ones.size < _LEAST_PAIRS:
        return 0
    steps = []
    for reading in readings:
        log = np.log(np.maximum(reading[:, :3] @ _BRIGHT, _LOWEST))
        steps.append(float(np.median(np.abs(log[ones] - log[others]))))
    steps[0] *= _STEADIER
    return int(np.argmin(steps))


def texture_angle(small: SmallPicture, mask: NDArray[np.bool_]) -> float:
    """Direction (radians) across which a surface's texture changes most, such as the planks of a
    table: the main axis of its structure tensor (Bigun and Granlund 1987)."""
    import cv2

    height, width = mask.shape
    half = (max(1, width // 2), max(1, height // 2))
    green = cv2.resize(small.linear, half, interpolation=cv2.INTER_AREA)[..., 1]
    bright = cv2.log(np.maximum(green, _LOWEST))
    shrunk = cv2.resize(mask.astype(np.uint8), half, interpolation=cv2.INTER_NEAREST)
    inner = cv2.erode(shrunk, np.ones((3, 3), np.uint8)).astype(bool)
    across = np.asarray(cv2.Sobel(bright, cv2.CV_32F, 1, 0))[inner]
    down = np.asarray(cv2.Sobel(bright, cv2.CV_32F, 0, 1))[inner]
    # Beyond a step of the usual texture lie edges of things.
    usual = np.abs(across) + np.abs(down)
    near = usual < 6 * np.median(usual) + 1e-6 if usual.size else np.zeros(0, np.bool_)
    across, down = across[near], down[near]
    angle = 0.5 * np.arctan2(2 * np.sum(across * down), np.sum(across**2) - np.sum(down**2))
    return float(angle)


def _moments(index: NDArray[np.intp], values: Array, cells: int) -> tuple[Array, Array, Array]:
    """Mean, standard deviation and count of the values of each cell."""
    count = np.bincount(index, minlength=cells).astype(np.float64)
    divisor = np.maximum(count, 1.0)
    mean = np.bincount(index, values, cells) / divisor
    square = np.bincount(index, values * values, cells) / divisor
    return mean, np.sqrt(np.maximum(square - mean * mean, 0.0)), count


def neighbours(
    bins: NDArray[np.intp], wanted: NDArray[np.bool_]
) -> tuple[NDArray[np.intp], NDArray[np.intp]]:
    """Indices of the wanted cells that lie side by side: for both axes of ``bins`` (S, 2) together,
    one array of each cell and one of its neighbour."""
    index = np.flatnonzero(wanted)
    if not index.size:
        return index, index
    low = bins[index].min(axis=0) - 1
    grid = np.full(bins[index].max(axis=0) - low + 2, -1, np.intp)
    column, row = (bins[index] - low).T
    grid[column, row] = index
    ones, others = [], []
    for beside in (grid[column + 1, row], grid[column, row + 1]):
        ones.append(index[beside >= 0])
        others.append(beside[beside >= 0])
    return np.concatenate(ones), np.concatenate(others)
