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
    Unlikeness,
    describe_print,
    overlay_likeness,
    unlikeness,
)
from colorcore.swatch.model import Swatch

PLAIN_CONTRAST: Final = 1.5
"""CIELAB units of contrast below which there is no print to compare, only a colour."""
PLAIN_WITHIN: Final = 0.5
"""CIELAB units within which solids count as one: less than an eye tells edge to edge (about one
unit; common practice, no source)."""
SURE_BELOW: Final = 0.85
"""Unlikeness below which prints pass for one without being laid on each other."""
DOUBT_BELOW: Final = 1.6
OVERLAY_FROM: Final = 0.7
"""How well prints in doubt must lie on each other."""
FAR_BELOW: Final = 3.0
OVERLAY_SURE_FROM: Final = 0.88
"""The same for large prints, of which two cuts may show different parts."""


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
        if all(figures.may_be_same(a, b) for a in ones for b in others):
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
        self._unlike: dict[tuple[int, int], Unlikeness] = {}

    def alike_pairs(self) -> list[tuple[float, int, int]]:
        """Unlikeness and indices of every pair that counts as one fabric by itself."""
        return [
            (self._unlikeness(i, j).largest, i, j)
            for i, j in self._worth_comparing()
            if self._is_same(i, j)
        ]

    def may_be_same(self, i: int, j: int) -> bool:
        """Whether nothing speaks against a pair that others of their groups have joined."""
        far = self._unlikeness(i, j)
        return far.color < 1.5 and far.spread < FAR_BELOW

    def _is_same(self, i: int, j: int) -> bool:
        one, other = self._profile(i), self._profile(j)
        far = self._unlikeness(i, j)
        if far.color >= 1.0 or far.spread >= FAR_BELOW:
            return False
        if min(one.contrast, other.contrast) < PLAIN_CONTRAST:
            apart = float(np.linalg.norm(one.lab - other.lab))
            return apart < PLAIN_WITHIN and far.spread < SURE_BELOW
        if far.largest < SURE_BELOW:
            return True
        enough = OVERLAY_FROM if far.largest < DOUBT_BELOW else OVERLAY_SURE_FROM
        return overlay_likeness(one, other, enough=enough) >= enough

    def _unlikeness(self, i: int, j: int) -> Unlikeness:
        key = (min(i, j), max(i, j))
        if key not in self._unlike:
            self._unlike[key] = unlikeness(self._profile(i), self._profile(j))
        return self._unlike[key]

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
