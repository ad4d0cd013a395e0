"""Recognise one piece of cloth in two photos: its print lies in the same place in both."""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

import cv2
import numpy as np
from numpy.typing import NDArray

from colorcore.color.spaces import lab_from_linear, linear_from_coded
from colorcore.swatch.model import Swatch

_SIDE: Final = 96
_MARGIN: Final = 6
_REACH: Final = 4
_LEAST_LIKENESS: Final = 0.6
"""Camera noise and creases keep faint prints from fitting better than this."""
_LEAST_CONTRAST: Final = 2.5
_LEAST_LEAD: Final = 0.25
"""How much better the pinned place must fit than places well away from it: a print that repeats
fits at many places and proves nothing."""


@dataclass(frozen=True)
class PinnedPair:
    """Indices of two squares; ``quarter_turns`` counter-clockwise take the other to the one."""

    one: int
    other: int
    quarter_turns: int
    likeness: float


def pinned_pairs(ones: Sequence[Swatch], others: Sequence[Swatch]) -> list[PinnedPair]:
    """Return the pairs whose prints lie in the same place, edge to edge, in one of four turns."""
    first = [_Print(s) for s in ones]
    second = [_Print(s) for s in others]
    if not first or not second:
        return []
    coarse_one = np.stack([p.coarse() for p in first])
    pairs = []
    best = np.full((len(first), len(second), 4), -1.0)
    for turns in range(4):
        coarse_other = np.stack([p.coarse(turns) for p in second])
        best[:, :, turns] = coarse_one @ coarse_other.T
    for i, j in np.argwhere(best.max(axis=2) > 0.5):
        if min(first[i].contrast, second[j].contrast) < _LEAST_CONTRAST:
            continue
        turns = int(np.argmax(best[i, j]))
        likeness, lead = _pin(first[i].away, np.rot90(second[j].away, turns))
        if likeness >= _LEAST_LIKENESS and lead >= _LEAST_LEAD:
            pairs.append(PinnedPair(int(i), int(j), turns, likeness))
    return pairs


class _Print:
    """A square's print at 96 samples a side, CIELAB less its mean."""

    def __init__(self, swatch: Swatch) -> None:
        linear = np.asarray(linear_from_coded(swatch.picture), dtype=np.float32)
        small = cv2.resize(linear, (_SIDE, _SIDE), interpolation=cv2.INTER_AREA)
        lab = np.asarray(lab_from_linear(np.asarray(small)), dtype=np.float32)
        inner = lab[_MARGIN:-_MARGIN, _MARGIN:-_MARGIN]
        self.away = lab - inner.mean(axis=(0, 1))
        self.contrast = float(np.sqrt(np.sum(np.var(inner, axis=(0, 1)))))

    def coarse(self, turns: int = 0) -> NDArray[np.float32]:
        """Unit vector of the print at 16 samples a side, turned."""
        small = cv2.resize(np.rot90(self.away, turns), (16, 16), interpolation=cv2.INTER_AREA)
        flat = np.asarray(small, dtype=np.float32)[1:-1, 1:-1].ravel()
        flat = flat - flat.mean()
        return np.asarray(flat / max(float(np.linalg.norm(flat)), 1e-6))


def _pin(one: NDArray[np.float32], other: NDArray[np.float32]) -> tuple[float, float]:
    """Correlation at the best small shift, and its lead over shifts well away from it."""
    far = 4 * _REACH
    inner = np.ascontiguousarray(other[far:-far, far:-far])
    near = cv2.matchTemplate(np.ascontiguousarray(one), inner, cv2.TM_CCOEFF_NORMED)
    middle = near.shape[0] // 2
    window = near[middle - _REACH : middle + _REACH + 1, middle - _REACH : middle + _REACH + 1]
    best = float(window.max())
    y, x = np.unravel_index(int(np.argmax(window)), window.shape)
    rows, columns = np.mgrid[0 : near.shape[0], 0 : near.shape[1]]
    away = np.hypot(rows - (middle - _REACH + y), columns - (middle - _REACH + x)) > 2 * _REACH
    return best, best - float(near[away].max())
