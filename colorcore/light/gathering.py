"""Which references there are, and what of the photo the light is read from."""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from colorcore.color.charts import AFTER_2014, chart_linear
from colorcore.errors import ColorError
from colorcore.finding.model import Finding
from colorcore.light.chart import ReadChart, find_chart, read_chart
from colorcore.light.field import Samples
from colorcore.light.learning import neutrals_of
from colorcore.light.model import Reference
from colorcore.light.paper import Sheet, look_at, paper_at, pick_paper, sheets_of
from colorcore.light.places import grid_over
from colorcore.light.sampling import (
    Cells,
    SmallPicture,
    polygon_mask,
    read_cells,
    surface_mask,
)
from colorcore.light.sharpened import SHARP_FROM_LINEAR
from colorcore.light.tone import ToneCurve
from colorcore.photo import Photo

Array = NDArray[np.float64]

_LEAST_CELL_SD: Final = 0.004
_LEAST_LIGHT: Final = 1e-4
_CHART_CELL_SD: Final = 0.01
_FULL_SHARE: Final = 0.02
_FULL_SD: Final = (0.015, 0.05)
_ALL_FULL_SD: Final = 0.12


@dataclass(frozen=True, eq=False)
class Chosen:
    """References in use, ``charts`` as read; ``clipping`` (3, 3) covariance of the log level
    that overexposed ones leave open; ``notes`` say so."""

    references: tuple[Reference, ...]
    charts: tuple[ReadChart, ...]
    clipping: Array
    notes: tuple[str, ...]


def choose_references(
    photo: Photo,
    small: SmallPicture,
    finding: Finding,
    white: tuple[float, float] | None,
    by_hand: Sequence[Reference],
) -> Chosen:
    """Return the references of a photo: those set by hand, else those found.

    Raises
    ------
    ColorError
        If one set by hand is too small or outside the picture.
    """
    seen: list[tuple[Reference, Sheet]] = []
    charts: list[ReadChart] = []
    for reference in by_hand:
        if reference.kind == "chart":
            charts.append(_chart_by_hand(photo, reference))
            continue
        sheet = look_at(small, reference.outline)
        if sheet is None:
            raise ColorError(
                f"the {reference.kind} set by hand is too small or outside the picture: "
                "outline it again"
            )
        seen.append((reference, sheet))
    if white is not None:
        sheet = paper_at(small, white)
        seen.append((Reference(kind="paper", outline=sheet.outline), sheet))
    if not seen and not charts:
        charts = _charts_found(photo, small, finding)
        taken = np.zeros(small.linear.shape[:2], bool)
        for chart in charts:
            taken |= polygon_mask(small, chart.outline)
        sheets = [s for s in sheets_of(small, finding) if not _lies_in(small, s, taken)]
        papers, greys = pick_paper(sheets, brightest_square(small, finding))
        for kind, group in (("paper", papers), ("grey card", greys)):
            for sheet in group:
                seen.append((Reference(kind=kind, outline=sheet.outline, found=True), sheet))
    fit = [pair for pair in seen if pair[1].full[1] < 0.5] or seen
    chosen = [reference for reference, _ in fit]
    found = not by_hand
    chosen += [Reference(kind="chart", outline=c.outline, found=found) for c in charts]
    covariance = np.zeros((3, 3))
    notes = []
    for reference, sheet in fit:
        if sheet.full.max() < _FULL_SHARE:
            continue
        covariance += np.diag(np.square(_FULL_SD[0] + _FULL_SD[1] * sheet.full))
        covariance += (_ALL_FULL_SD * float(sheet.full[1])) ** 2
        notes.append(
            f"The {reference.kind} is overexposed: tilt away from the window, tap to darken, and "
            "take the photo again."
            if sheet.full[1] > 0.5
            else f"The {reference.kind} is at the camera's limit in places: tap to darken a little "
            "next time."
        )
    covariance /= max(len(chosen), 1) ** 2
    return Chosen(tuple(chosen), tuple(charts), covariance, tuple(dict.fromkeys(notes)))


def _chart_by_hand(photo: Photo, reference: Reference) -> ReadChart:
    chart = None
    if len(reference.outline) == 4:
        chart = read_chart(photo, chart_linear(), reference.outline)
    if chart is None:
        raise ColorError(
            "the chart set by hand does not show the colours of the 24-patch chart: give the four "
            "outer corners of its patches"
        )
    return chart


def _charts_found(photo: Photo, small: SmallPicture, finding: Finding) -> list[ReadChart]:
    known = chart_linear()
    charts = []
    for thing in finding.things:
        if thing.kind == "chart" and len(thing.outline) == 4:
            chart = read_chart(photo, known, thing.outline)
            if chart is not None:
                charts.append(chart)
    if not charts:
        chart = find_chart(photo, small, known, [s.corners for s in finding.squares])
        if chart is not None:
            charts.append(chart)
    return charts


def _lies_in(small: SmallPicture, sheet: Sheet, taken: NDArray[np.bool_]) -> bool:
    mask = polygon_mask(small, sheet.outline)
    return bool(np.count_nonzero(mask & taken) > 0.3 * max(np.count_nonzero(mask), 1))


def brightest_square(small: SmallPicture, finding: Finding) -> float:
    """Log luminance of the lightest square's mean, or minus infinity without squares."""
    means = [m for s in finding.squares if (m := square_mean(small, s.corners)) is not None]
    if not means:
        return -np.inf
    luminance = np.array(means) @ np.array([0.2126, 0.7152, 0.0722])
    return float(np.log(max(float(luminance.max()), _LEAST_LIGHT)))


def square_mean(small: SmallPicture, corners: NDArray[np.float64]) -> Array | None:
    """Mean linear light (3,) of a square's middle in the reduced picture, None if too small."""
    points = grid_over(corners, 11)[1:-1, 1:-1].reshape(-1, 2) * small.scale
    height, width = small.linear.shape[:2]
    columns, rows = np.floor(points).astype(int).T
    inside = (columns >= 0) & (rows >= 0) & (columns < width) & (rows < height)
    if np.count_nonzero(inside) < 9:
        return None
    return np.asarray(small.linear[rows[inside], columns[inside]].mean(axis=0), dtype=np.float64)


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
    charts: Sequence[ReadChart],
    same: Sequence[Sequence[int]],
) -> tuple[list[Material], list[tuple[Reference, Cells]]]:
    """Return what the light can be read from: references, the surface, and fabrics that repeat;
    and the plain references once more with their cells."""
    materials: list[Material] = []
    plain: list[tuple[Reference, Cells]] = []
    blocked = np.zeros(small.linear.shape[:2], bool)
    for reference in references:
        blocked |= polygon_mask(small, reference.outline)
        if reference.kind == "chart":
            continue
        cells = _reference_cells(small, reference)
        if len(cells):
            known = np.broadcast_to(reference.linear, (len(cells), 3))
            materials.append(Material(cells, known))
            plain.append((reference, cells))
    for chart in charts:
        grey = neutrals_of(chart, AFTER_2014)
        one = np.array([_CHART_CELL_SD])
        for k in range(len(grey.xy)):
            cells = Cells(grey.xy[k : k + 1], grey.seen[k : k + 1], one, np.array([12.0]))
            materials.append(Material(cells, grey.known[k : k + 1]))
    surface = surface_mask(small, finding) & ~blocked
    materials.append(Material(read_cells(small, surface), None, grained=True))
    for group in same:
        materials.append(Material(_fabric_cells(small, finding, group), None))
    return [m for m in materials if len(m.cells)], plain


def as_samples(
    materials: Sequence[Material], tone: ToneCurve, *, level_from_lightest: bool
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
        return Samples(np.zeros((0, 2)), empty, np.zeros(0), none, empty, none.astype(bool))
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
        sd=np.concatenate([_cell_sd(m.cells) for m in materials]),
        material=np.concatenate(numbers).astype(np.intp),
        known=np.stack(known),
        grained=np.array([m.grained for m in materials]),
    )


def sharp_log(linear: Array, tone: ToneCurve) -> Array:
    """Log (..., 3) of sharpened channels, the tone curve undone."""
    sharp = tone.undo(linear) @ SHARP_FROM_LINEAR.T
    return np.asarray(np.log(np.maximum(sharp, _LEAST_LIGHT)))


def _reference_cells(small: SmallPicture, reference: Reference) -> Cells:
    for inset in (3.0, 1.5, 0.0):
        mask = polygon_mask(small, reference.outline, inset=inset)
        count = int(np.count_nonzero(mask))
        if count >= 60:
            break
    side = max(3, round(np.sqrt(count) / 4))
    return read_cells(small, mask, cell=side, least=max(4, side * side // 2), clipped=True)


def _fabric_cells(small: SmallPicture, finding: Finding, group: Sequence[int]) -> Cells:
    """One cell for each square of a fabric: its mean, prints and all."""
    places, means = [], []
    for index in group:
        corners = finding.squares[index].corners
        mean = square_mean(small, corners)
        if mean is not None:
            places.append(grid_over(corners, 3)[1, 1])
            means.append(np.maximum(mean, _LEAST_LIGHT))
    if len(means) < 2:
        return Cells(np.zeros((0, 2)), np.zeros((0, 3)), np.zeros(0), np.zeros(0))
    spread = np.full(len(means), 0.25)
    return Cells(np.array(places), np.array(means), spread, np.full(len(means), 80.0))


def _cell_sd(cells: Cells) -> Array:
    """Noise of a cell's mean: its pixels count for fewer, since neighbours share their grain."""
    return np.asarray(np.hypot(cells.sd / np.sqrt(np.maximum(cells.count / 12, 1)), _LEAST_CELL_SD))
