"""Which squares of a bundle are cut from one fabric.

A bundle holds copies, and colourways of one design that must not be taken for copies: a wrong
"same" would spread two different fabrics as if they were one, a missed one costs little. So
squares count as one fabric only where colour, palette and print agree, and in doubt where one
lies on the other.
"""

from collections.abc import Sequence
from dataclasses import replace
from typing import Final

import numpy as np

from colorcore.swatch.likeness import (
    PrintProfile,
    describe_print,
    overlay_likeness,
    unlikeness,
)
from colorcore.swatch.model import Swatch

SURE_BELOW: Final = 0.75
"""Unlikeness below which prints pass for one without being laid on each other."""
DOUBT_BELOW: Final = 1.6
OVERLAY_FROM: Final = 0.7
PLAIN_CONTRAST: Final = 1.5
"""CIELAB units of contrast below which there is no print to compare, only a colour."""
PLAIN_BELOW: Final = 0.55
_WITHIN_GROUP: Final = 1.3


def group_fabrics(squares: Sequence[Swatch]) -> tuple[Swatch, ...]:
    """Return the squares with ``fabric`` set: equal numbers mean the same fabric.

    Fabrics are numbered from 0 in the order in which they first appear. Pairs join from the most
    alike on; two groups join only if all their pairs are alike within a wider limit.
    """
    group = list(range(len(squares)))
    figures = _Figures(squares)
    for _, i, j in sorted(figures.alike_pairs()):
        first, second = group[i], group[j]
        if first == second:
            continue
        ones = [k for k, g in enumerate(group) if g == first]
        others = [k for k, g in enumerate(group) if g == second]
        if all(figures.unlike(a, b) < DOUBT_BELOW * _WITHIN_GROUP for a in ones for b in others):
            for k in others:
                group[k] = first
    numbers: dict[int, int] = {}
    for g in group:
        numbers.setdefault(g, len(numbers))
    return tuple(
        replace(square, fabric=numbers[g]) for square, g in zip(squares, group, strict=True)
    )


class _Figures:
    """Profiles and unlikeness, each computed once and only where needed."""

    def __init__(self, squares: Sequence[Swatch]) -> None:
        self._squares = squares
        self._profiles: dict[int, PrintProfile] = {}
        self._unlike: dict[tuple[int, int], float] = {}

    def unlike(self, i: int, j: int) -> float:
        key = (min(i, j), max(i, j))
        if key not in self._unlike:
            self._unlike[key] = unlikeness(self._profile(i), self._profile(j))
        return self._unlike[key]

    def alike_pairs(self) -> list[tuple[float, int, int]]:
        """Unlikeness and indices of every pair that counts as one fabric by itself."""
        pairs = []
        for i, j in self._worth_comparing():
            far = self.unlike(i, j)
            if self._same(i, j, far):
                pairs.append((far, i, j))
        return pairs

    def _same(self, i: int, j: int, far: float) -> bool:
        one, other = self._profile(i), self._profile(j)
        if min(one.contrast, other.contrast) < PLAIN_CONTRAST:
            return far < PLAIN_BELOW
        if far < SURE_BELOW:
            return True
        return far < DOUBT_BELOW and overlay_likeness(one, other) >= OVERLAY_FROM

    def _profile(self, i: int) -> PrintProfile:
        if i not in self._profiles:
            self._profiles[i] = describe_print(self._squares[i])
        return self._profiles[i]

    def _worth_comparing(self) -> list[tuple[int, int]]:
        """Pairs whose colour and busyness do not already tell them apart."""
        if len(self._squares) < 2:
            return []
        lab = np.array([s.lab for s in self._squares])
        busy = np.array([s.busyness for s in self._squares])
        both = np.maximum(busy[:, None], busy[None, :])
        near = np.linalg.norm(lab[:, None] - lab[None], axis=2) < 3.0 + 0.25 * both
        near &= np.abs(busy[:, None] - busy[None, :]) < 0.8 + 0.15 * both
        return [(int(i), int(j)) for i, j in np.argwhere(np.triu(near, 1))]
