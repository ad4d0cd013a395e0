"""Which squares of two photos are one and the same piece of cloth.

A print that lies in the same place from edge to edge in both photos is one piece; a copy cut
elsewhere in the repeat does not lie so. Where such prints show how one photo lies on the other,
or that it shows the same squares again, solids and fine prints are recognised as well.
"""

from collections.abc import Sequence
from typing import Final

import numpy as np
from numpy.typing import NDArray

from colorcore.bundle.pinning import PinnedPair, pinned_pairs
from colorcore.color.spaces import lab_from_linear, linear_from_lab
from colorcore.swatch.likeness import PrintProfile, describe_print, unlikeness
from colorcore.swatch.model import Swatch
from colorcore.swatch.rescaling import rescale

_SAME_COLOR: Final = 5.0
"""CIELAB units within which two photos may show one square."""
_ALIKE_IN_PLACE: Final = 1.5
_ALIKE_ANYWHERE: Final = 0.6
_AGREEING: Final = 0.6
"""Share of the recognised prints that must agree how the photos lie."""
_MOST: Final = 0.6
"""Share of a photo's squares from which it counts as showing the same squares again."""


def same_squares(ones: Sequence[Swatch], others: Sequence[Swatch]) -> tuple[tuple[int, int], ...]:
    """Index pairs: the same piece of cloth in both photos, each used once.

    1. Prints that lie in the same place from edge to edge.
    2. If two or more of these agree how one photo lies on the other: what lies at the same place
       and is alike, so that solids and fine prints between them are recognised as well.
    3. If by then most squares of the smaller photo are paired, it shows the same squares again,
       perhaps laid anew: then what is left and is alike is paired, the most alike first.
    """
    pinned = pinned_pairs(ones, others)
    if not pinned:
        return ()
    gain = log_gain(ones, others, [(p.one, p.other) for p in pinned])
    likeness = _Likeness(ones, others, gain)
    pairs = _Pairs()
    for pair in sorted(pinned, key=lambda p: -p.likeness):
        if likeness.color(pair.one, pair.other) < _SAME_COLOR:
            pairs.add(pair.one, pair.other)
    for i, j in _by_place(ones, others, pinned):
        if likeness.of(i, j) < _ALIKE_IN_PLACE:
            pairs.add(i, j)
    if len(pairs.found) >= _MOST * min(len(ones), len(others)):
        left = [
            (likeness.of(i, j), i, j)
            for i in range(len(ones))
            for j in range(len(others))
            if pairs.free(i, j)
        ]
        for far, i, j in sorted(left):
            if far < _ALIKE_ANYWHERE:
                pairs.add(i, j)
    return tuple(sorted(pairs.found.items()))


class _Pairs:
    """Pairs of indices in which each appears once; the first to claim a square has it."""

    def __init__(self) -> None:
        self.found: dict[int, int] = {}
        self._taken: set[int] = set()

    def free(self, one: int, other: int) -> bool:
        return one not in self.found and other not in self._taken

    def add(self, one: int, other: int) -> None:
        if self.free(one, other):
            self.found[one] = other
            self._taken.add(other)


class _Likeness:
    """How alike squares of two photos are, the other's light brought to the one's."""

    def __init__(
        self, ones: Sequence[Swatch], others: Sequence[Swatch], gain: NDArray[np.float64]
    ) -> None:
        self._ones, self._others = ones, others
        self._gain = np.exp(gain)
        moved = linear_from_lab(np.array([s.lab for s in others])) * self._gain
        far = np.array([s.lab for s in ones])[:, None] - np.asarray(lab_from_linear(moved))[None]
        self._color = np.linalg.norm(far, axis=2)
        self._profiles: dict[tuple[int, int], PrintProfile] = {}

    def color(self, one: int, other: int) -> float:
        """CIELAB units between their reads-as colours."""
        return float(self._color[one, other])

    def of(self, one: int, other: int) -> float:
        """Below 1 they may well be one; the largest of the differences in colour, in the spread
        of colours and in the print's power."""
        color = self.color(one, other) / _SAME_COLOR
        if color >= 1:
            return np.inf
        far = unlikeness(self._profile(0, one), self._profile(1, other))
        return max(color, far.spread / 1.6, far.power / 2.0)

    def _profile(self, photo: int, index: int) -> PrintProfile:
        key = (photo, index)
        if key not in self._profiles:
            swatch = self._ones[index] if photo == 0 else self._others[index]
            if photo == 1:
                swatch = rescale(swatch, self._gain, (0.0, 0.0, 0.0))
            self._profiles[key] = describe_print(swatch)
        return self._profiles[key]


def _by_place(
    ones: Sequence[Swatch], others: Sequence[Swatch], pinned: Sequence[PinnedPair]
) -> list[tuple[int, int]]:
    """Pairs at the same place of the table, if two or more prints agree how the photos lie."""
    found: list[tuple[int, int]] = []
    places = {(s.row, s.column): i for i, s in enumerate(ones)}
    for turns in range(4):
        # Squares may be turned one by one when they are laid anew: their turn has no vote.
        votes: dict[tuple[int, int], int] = {}
        for p in pinned:
            row, column = _turned_place(others[p.other], turns)
            key = (ones[p.one].row - row, ones[p.one].column - column)
            votes[key] = votes.get(key, 0) + 1
        (down, across), count = max(votes.items(), key=lambda item: (item[1], item[0]))
        if count < 2 or count < _AGREEING * len(pinned):
            continue
        for j, square in enumerate(others):
            row, column = _turned_place(square, turns)
            i = places.get((row + down, column + across))
            if i is not None:
                found.append((i, j))
        break
    return found


def _turned_place(square: Swatch, quarter_turns: int) -> tuple[int, int]:
    """Row and column (offsets may be negative) after counter-clockwise quarter turns."""
    row, column = square.row, square.column
    for _ in range(quarter_turns % 4):
        row, column = -column, row
    return row, column


def log_gain(
    ones: Sequence[Swatch], others: Sequence[Swatch], pairs: Sequence[tuple[int, int]]
) -> NDArray[np.float64]:
    """Median log ratio (3,) of linear light that takes ``others`` to ``ones``."""
    ratios = [_log(ones[i]) - _log(others[j]) for i, j in pairs]
    return np.asarray(np.median(ratios, axis=0))


def _log(square: Swatch) -> NDArray[np.float64]:
    return np.asarray(np.log(np.maximum(linear_from_lab(np.array(square.lab)), 1e-3)))
