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
_CLIPPED_SHARE: Final = 0.5


@dataclass(frozen=True, eq=False)
class Chosen:
    """References in use, those of a kind that is clipped left out; ``notes`` say so."""

    references: tuple[Reference, ...]
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
        If one set by hand is too small, outside the picture, or overexposed.
    """
    chosen: list[Reference] = []
    notes: list[str] = []
    for reference in by_hand:
        sheet = look_at(small, reference.outline)
        if sheet is None:
            raise ColorError(
                f"the {reference.kind} set by hand is too small or outside the picture: "
                "outline it again"
            )
        if sheet.usable < 1 - _CLIPPED_SHARE and reference.kind != "chart":
            notes.append(_clipped_note(reference.kind))
            continue
        chosen.append(reference)
    if white is not None:
        sheet = paper_at(small, white)
        if sheet.usable < 1 - _CLIPPED_SHARE:
            notes.append(_clipped_note("paper"))
        else:
            chosen.append(Reference(kind="paper", outline=sheet.outline))
    if not chosen:
        found = sheets_of(small, finding)
        papers, greys = pick_paper(found, brightest_square(small, finding))
        for kind, sheets in (("paper", papers), ("grey card", greys)):
            for sheet in sheets:
                if sheet.usable < 1 - _CLIPPED_SHARE:
                    notes.append(_clipped_note(kind))
                else:
                    chosen.append(Reference(kind=kind, outline=sheet.outline, found=True))
    return Chosen(tuple(chosen), tuple(dict.fromkeys(notes)))


def _clipped_note(kind: str) -> str:
    return (
        f"The {kind} is overexposed and cannot be used: tilt away from the window, tap to darken, "
        "and take the photo again."
    )


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
    parts: list[tuple[Cells, Array]] = []
    unknown = np.full(3, np.nan)
    blocked = np.zeros(small.linear.shape[:2], bool)
    for reference in references:
        mask = polygon_mask(small, reference.outline)
        blocked |= mask
        if reference.kind == "chart":
            continue
        cells = _reference_cells(small, reference)
        known = np.log(np.maximum(SHARP_FROM_LINEAR @ reference.linear, _LEAST_LIGHT))
        parts.append((cells, known))
    surface = surface_mask(small, finding) & ~blocked
    parts.append((read_cells(small, surface), unknown))
    for group in same:
        parts.append((_fabric_cells(small, finding, group), unknown))
    filled = [(cells, known) for cells, known in parts if len(cells)]
    if not filled:
        empty = np.zeros((0, 3))
        return Samples(np.zeros((0, 2)), empty, np.zeros(0), np.zeros(0, np.intp), empty)
    return Samples(
        xy=np.concatenate([cells.xy for cells, _ in filled]),
        log=np.concatenate([sharp_log(cells.linear, tone) for cells, _ in filled]),
        sd=np.concatenate([_cell_sd(cells) for cells, _ in filled]),
        material=np.concatenate([np.full(len(c), k) for k, (c, _) in enumerate(filled)]),
        known=np.stack([known for _, known in filled]),
    )


def sharp_log(linear: Array, tone: ToneCurve) -> Array:
    """Log (..., 3) of sharpened channels, the tone curve undone."""
    sharp = tone.undo(linear) @ SHARP_FROM_LINEAR.T
    return np.asarray(np.log(np.maximum(sharp, _LEAST_LIGHT)))


def _reference_cells(small: SmallPicture, reference: Reference) -> Cells:
    for inset in (3.0, 1.5, 0.0):
        mask = polygon_mask(small, reference.outline, inset=inset)
        count = int(np.count_nonzero(mask & small.usable))
        if count >= 60:
            break
    side = max(3, round(np.sqrt(count) / 4))
    return read_cells(small, mask, cell=side, least=max(4, side * side // 2))


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
