"""What of the photo the light is read from."""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Final

import numpy as np
from numpy.typing import NDArray

from colorcore.finding.model import Finding
from colorcore.light.chart import ReadChart
from colorcore.light.learning import neutrals_of
from colorcore.light.model import Reference
from colorcore.light.places import grid_over
from colorcore.light.samples import Samples
from colorcore.light.sampling import (
    NO_CELLS,
    Cells,
    SmallPicture,
    cells_at,
    polygon_mask,
    read_cells,
    surface_mask,
    texture_angle,
    window_round,
)
from colorcore.light.sharpened import SHARP_FROM_LINEAR, sharp_log
from colorcore.light.slopes import NO_SLOPES, Across, slopes_of
from colorcore.light.tone import ToneCurve

Array = NDArray[np.float64]

_LEAST_CELL_SD: Final = 0.004
_BENT_SD: Final = 0.008
_LEAST_LIGHT: Final = 1e-4
_REPEAT_SD: Final = 0.03
_CHART_CELL_SD: Final = 0.012


@dataclass(frozen=True, eq=False)
class Material:
    """Cells of one thing: ``known`` (S, 3) its linear light at each, or None if unknown;
    ``grained`` whether it may have grain."""

    cells: Cells
    known: Array | None
    grained: bool = False


def read_materials(
    small: SmallPicture,
    finding: Finding,
    references: Sequence[Reference],
    same: Sequence[Sequence[int]],
) -> tuple[list[Material], list[tuple[Reference, Cells]]]:
    """Return what the light can be read from but for charts: plain references, the surface, and
    fabrics that repeat; and the plain references once more with their cells."""
    materials: list[Material] = []
    plain: list[tuple[Reference, Cells]] = []
    blocked = np.zeros(small.linear.shape[:2], bool)
    for reference in references:
        blocked |= polygon_mask(small, reference.outline)
        if reference.kind == "chart":
            continue
        cells = reference_cells(small, reference)
        if len(cells):
            known = np.broadcast_to(reference.linear, (len(cells), 3))
            materials.append(Material(cells, known))
            plain.append((reference, cells))
    surface = surface_mask(small, finding) & ~blocked
    angle = texture_angle(small, surface)
    table = read_cells(small, surface, angle=angle, textured=True)
    materials.append(Material(table, None, grained=True))
    materials += read_repeats(small, finding, same)
    return [m for m in materials if len(m.cells)], plain


def chart_materials(charts: Sequence[ReadChart], edition: str) -> list[Material]:
    """Return a material for each grey patch of charts of an edition."""
    materials = []
    for chart in charts:
        grey = neutrals_of(chart, edition)
        for k in range(len(grey.xy)):
            cells = cells_at(grey.xy[k : k + 1], grey.seen[k : k + 1], _CHART_CELL_SD)
            materials.append(Material(cells, grey.known[k : k + 1]))
    return materials


def read_repeats(
    small: SmallPicture, finding: Finding, same: Sequence[Sequence[int]]
) -> list[Material]:
    """Return a material for each fabric that lies in several places."""
    if not same:
        return []
    corners = np.stack([finding.squares[index].corners for group in same for index in group])
    # All at once: a group is two or three squares.
    means, places = square_means(small, corners), grid_over(corners, 3)[:, 1, 1]
    ends = np.cumsum([len(group) for group in same])[:-1]
    each = zip(np.split(means, ends), np.split(places, ends), strict=True)
    cells = [_fabric_cells(*group) for group in each]
    return [Material(c, None) for c in cells if len(c)]


def square_means(small: SmallPicture, corners: NDArray[np.float64]) -> Array:
    """Mean linear light (N, 3) of the middles of squares (N, 4, 2) in the reduced picture, NaN
    where too little of one is seen."""
    if not len(corners):
        return np.zeros((0, 3))
    points = grid_over(corners, 11)[:, 1:-1, 1:-1].reshape(len(corners), -1, 2) * small.scale
    height, width = small.linear.shape[:2]
    columns, rows = np.moveaxis(np.floor(points).astype(np.intp), -1, 0)
    inside = (columns >= 0) & (rows >= 0) & (columns < width) & (rows < height)
    values = small.linear[np.clip(rows, 0, height - 1), np.clip(columns, 0, width - 1)]
    count = inside.sum(axis=1)
    total = np.einsum("nk,nkc->nc", inside, values, dtype=np.float64)
    means = total / np.maximum(count, 1)[:, None]
    means[count < 9] = np.nan
    return np.asarray(means)


def as_samples(
    materials: Sequence[Material], across: Across, tone: ToneCurve, *, level_from_lightest: bool
) -> Samples:
    """Return samples in the log of sharpened light, the tone curve undone.

    A reference becomes a material whose colour is known; what is known to differ from cell to
    cell, as on a chart, is divided out. While the tone curve is open, ``level_from_lightest`` lets
    only the lightest reference set the level: what a darker one shows beyond that is the curve's
    doing, and must not be taken for a slope of the light between the two.
    """
    if not materials:
        empty = np.zeros((0, 3))
        none = np.zeros(0, np.intp)
        bins = np.zeros((0, 2), np.intp)
        return Samples(
            np.zeros((0, 2)), empty, np.zeros(0), none, empty, none.astype(bool), bins, NO_SLOPES
        )
    logs, known = [], []
    levels = [float(m.known.mean()) for m in materials if m.known is not None]
    least = 0.8 * max(levels) if levels and level_from_lightest else 0.0
    for material in materials:
        log = sharp_log(material.cells.linear, tone)
        if material.known is not None:
            log = log - np.log(np.maximum(material.known @ SHARP_FROM_LINEAR.T, _LEAST_LIGHT))
        logs.append(log)
        trusted = material.known is not None and float(material.known.mean()) >= least
        known.append(np.zeros(3) if trusted else np.full(3, np.nan))
    numbers = [np.full(len(m.cells), k) for k, m in enumerate(materials)]
    return Samples(
        xy=np.concatenate([m.cells.xy for m in materials]),
        log=np.concatenate(logs),
        sd=np.concatenate([_cell_sd(m) for m in materials]),
        material=np.concatenate(numbers).astype(np.intp),
        known=np.stack(known),
        grained=np.array([m.grained for m in materials]),
        bins=np.concatenate([m.cells.bins for m in materials]),
        slopes=slopes_of(across, tone),
    )


def reference_cells(small: SmallPicture, reference: Reference) -> Cells:
    """Cells of a plain reference, its rim left out; none if it is too small."""
    window, corner = window_round(small, reference.outline)
    for inset in (3.0, 1.5, 0.0):
        mask = polygon_mask(window, reference.outline - corner, inset=inset)
        count = int(np.count_nonzero(mask))
        if count >= 60:
            break
    side = max(3, round(np.sqrt(count) / 4))
    cells = read_cells(window, mask, cell=side, least=max(4, side * side // 2), clipped=True)
    return replace(cells, xy=cells.xy + corner)


def _fabric_cells(means: Array, places: Array) -> Cells:
    """One cell for each square of a fabric, by its mean (N, 3), prints and all, and its middle
    (N, 2)."""
    seen = np.isfinite(means[:, 0])
    if np.count_nonzero(seen) < 2:
        return NO_CELLS
    return cells_at(places[seen], np.maximum(means[seen], _LEAST_LIGHT), _REPEAT_SD)


def _cell_sd(material: Material) -> Array:
    """Noise of a cell's mean: its pixels count for fewer, since neighbours share their grain; a
    sheet may lie a little bent."""
    cells = material.cells
    least = _LEAST_CELL_SD if material.grained else _BENT_SD
    return np.asarray(np.hypot(cells.sd / np.sqrt(np.maximum(cells.count / 12, 1)), least))
