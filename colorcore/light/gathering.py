"""Which references there are, and what of the photo the light is read from."""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from colorcore.errors import ColorError
from colorcore.finding.model import Finding
from colorcore.light.field import Samples
from colorcore.light.model import Reference
from colorcore.light.paper import look_at, paper_at, pick_paper, sheets_of
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

Array = NDArray[np.float64]

_LEAST_CELL_SD: Final = 0.004
_LEAST_LIGHT: Final = 1e-4
_FULL_SHARE: Final = 0.02
_FULL_SD: Final = (0.015, 0.05)
_ALL_FULL_SD: Final = 0.12


@dataclass(frozen=True, eq=False)
class Chosen:
    """References in use; ``clipping`` (3, 3) covariance of the log level that overexposed ones
    leave open; ``notes`` say so."""

    references: tuple[Reference, ...]
    clipping: Array
    notes: tuple[str, ...]


def choose_references(
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
    for reference in by_hand:
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
    if not seen:
        papers, greys = pick_paper(sheets_of(small, finding), brightest_square(small, finding))
        for kind, sheets in (("paper", papers), ("grey card", greys)):
            for sheet in sheets:
                seen.append((Reference(kind=kind, outline=sheet.outline, found=True), sheet))
    fit = [pair for pair in seen if pair[1].full[1] < 0.5] or seen
    chosen = [reference for reference, _ in fit]
    covariance = np.zeros((3, 3))
    notes = []
    for reference, sheet in fit:
        if reference.kind == "chart" or sheet.full.max() < _FULL_SHARE:
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
    return Chosen(tuple(chosen), covariance / max(len(fit), 1) ** 2, tuple(dict.fromkeys(notes)))


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


def gather_samples(
    small: SmallPicture,
    finding: Finding,
    references: Sequence[Reference],
    same: Sequence[Sequence[int]],
    tone: ToneCurve,
) -> Samples:
    """Return what the light is fitted to: references, the surface, and fabrics that repeat."""
    parts: list[tuple[Cells, Array, bool]] = []
    unknown = np.full(3, np.nan)
    blocked = np.zeros(small.linear.shape[:2], bool)
    for reference in references:
        mask = polygon_mask(small, reference.outline)
        blocked |= mask
        if reference.kind == "chart":
            continue
        cells = _reference_cells(small, reference)
        known = np.log(np.maximum(SHARP_FROM_LINEAR @ reference.linear, _LEAST_LIGHT))
        parts.append((cells, known, False))
    surface = surface_mask(small, finding) & ~blocked
    parts.append((read_cells(small, surface), unknown, True))
    for group in same:
        parts.append((_fabric_cells(small, finding, group), unknown, False))
    filled = [part for part in parts if len(part[0])]
    if not filled:
        empty = np.zeros((0, 3))
        none = np.zeros(0, np.intp)
        return Samples(np.zeros((0, 2)), empty, np.zeros(0), none, empty, none.astype(bool))
    return Samples(
        xy=np.concatenate([cells.xy for cells, _, _ in filled]),
        log=np.concatenate([sharp_log(cells.linear, tone) for cells, _, _ in filled]),
        sd=np.concatenate([_cell_sd(cells) for cells, _, _ in filled]),
        material=np.concatenate([np.full(len(c), k) for k, (c, _, _) in enumerate(filled)]),
        known=np.stack([known for _, known, _ in filled]),
        grained=np.array([grained for _, _, grained in filled]),
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
