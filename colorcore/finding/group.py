"""Squares as finding hands them from step to step, and what they explain."""

from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from colorcore.finding.scene import Scene
from colorcore.geometry import areas

Quads = NDArray[np.float64]


@dataclass(frozen=True, eq=False)
class Group:
    """Squares in the view: ``quads`` (N, 4, 2), ``sure`` (N,) the chance of each, ``visible``
    (N, 4, 2) what shows of it, ``covered`` (N,) True where others lie on top, and ``placed``
    (N,) True where only rows and columns say that it is there."""

    quads: Quads = field(repr=False)
    sure: NDArray[np.float64] = field(repr=False)
    visible: Quads = field(repr=False)
    covered: NDArray[np.bool_] = field(repr=False)
    placed: NDArray[np.bool_] = field(repr=False)

    def pick(self, keep: NDArray[np.bool_]) -> "Group":
        """Return the squares that ``keep`` (N,) names."""
        return Group(
            self.quads[keep],
            self.sure[keep],
            self.visible[keep],
            self.covered[keep],
            self.placed[keep],
        )


def apart(quads: Quads, sure: NDArray[np.float64]) -> Group:
    """Return squares of which none covers another as a group."""
    no = np.zeros(len(quads), bool)
    return Group(quads, sure, quads, no, no)


def close(quads: Quads, sure: NDArray[np.float64], visible: Quads) -> Group:
    """Return squares of which parts may be covered as a group."""
    covered = areas(visible) < 0.97 * areas(quads)
    return Group(quads, sure, visible, covered, np.zeros(len(quads), bool))


@dataclass(frozen=True, eq=False)
class Explanation:
    """The ``scene`` that was looked at, the ``shapes`` (N, 4, 2) that stand out in it with their
    ``fits`` (N,), and the ``group`` of squares."""

    scene: Scene
    shapes: Quads = field(repr=False)
    fits: NDArray[np.float64] = field(repr=False)
    group: Group
