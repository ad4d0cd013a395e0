"""Kits exchanged between the slots of a quilt until no single exchange helps.

Simulated annealing as S. Kirkpatrick, C. D. Gelatt and M. P. Vecchi describe it ("Optimization by
simulated annealing", Science 220, 1983), from a fixed seed, then the best single exchanges.

n slots hold kits cut from m squares. What a filling costs is a sum over pairs of slots of weight
times penalty, in three terms: weights (3, n, n) between slots, penalties (3, m, m) between squares,
both symmetric.
"""

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

_MOST_SETTLED: Final = 800
"""Slots up to which every exchange is weighed at once in the end; it takes their square."""
_HOT: Final = 3.0
_COLD: Final = 0.03
_TELL_EVERY: Final = 2000

Array = NDArray[np.float64]
Index = NDArray[np.int64]


@dataclass(frozen=True)
class Movable:
    """Kits that can change places: the slots they may fill, and those that fill none yet."""

    slots: tuple[int, ...]
    spare: list[int]


def exchange_kits(
    weights: Array,
    penalties: Array,
    movable: Sequence[Movable],
    assigned: Index,
    square_of: Index,
    *,
    seed: int,
    effort: float,
    progress: Callable[[float], None] | None = None,
) -> None:
    """Exchange in place which kit ``assigned`` (n,) fills each slot.

    ``square_of`` gives the square, 0 to m - 1, of every kit; ``effort`` multiplies how many
    exchanges are tried.
    """
    if not movable:
        return
    rng = np.random.default_rng(seed)
    filled = _Filled(weights, penalties, square_of[assigned])
    settles = len(assigned) <= _MOST_SETTLED
    group_of = [(slot, group) for group in movable for slot in group.slots]
    steps = int(effort * (60 if settles else 90) * len(group_of)) + 500
    for step in range(steps):
        if progress is not None and step % _TELL_EVERY == 0:
            progress(step / steps)
        heat = _HOT * (_COLD / _HOT) ** (step / steps)
        slot, group = group_of[int(rng.integers(len(group_of)))]
        pick = int(rng.integers(len(group.slots) + len(group.spare)))
        if pick < len(group.slots):
            other = group.slots[pick]
            if filled.squares[slot] == filled.squares[other]:
                continue
            change = filled.cost_of_exchange(slot, other)
            if change <= 0 or rng.random() < math.exp(-change / heat):
                assigned[slot], assigned[other] = assigned[other], assigned[slot]
                filled.exchange(slot, other)
            continue
        place = pick - len(group.slots)
        square = int(square_of[group.spare[place]])
        change = filled.cost_of_filling(slot, square)
        if change <= 0 or rng.random() < math.exp(-change / heat):
            assigned[slot], group.spare[place] = group.spare[place], int(assigned[slot])
            filled.fill(slot, square)
    if settles:
        _settle(weights, penalties, movable, assigned, np.array(filled.squares))


class _Filled:
    """The square of each slot, and what every square would cost beside each of them: (m, 3, n), so
    that trying an exchange gathers nothing."""

    def __init__(self, weights: Array, penalties: Array, squares: Index) -> None:
        self.squares: list[int] = squares.tolist()
        self._weights = weights
        self._penalties = np.ascontiguousarray(penalties.transpose(1, 0, 2))
        self._beside = np.ascontiguousarray(self._penalties[:, :, squares])

    def cost_of_exchange(self, one: int, other: int) -> float:
        change = self._beside[self.squares[other]] - self._beside[self.squares[one]]
        # The pair itself keeps its cost, as the penalties are symmetric.
        change[:, one] = 0.0
        change[:, other] = 0.0
        return float(np.vdot(self._weights[:, one] - self._weights[:, other], change))

    def cost_of_filling(self, slot: int, square: int) -> float:
        change = self._beside[square] - self._beside[self.squares[slot]]
        return float(np.vdot(self._weights[:, slot], change))

    def exchange(self, one: int, other: int) -> None:
        first, second = self.squares[one], self.squares[other]
        self.fill(one, second)
        self.fill(other, first)

    def fill(self, slot: int, square: int) -> None:
        self.squares[slot] = square
        self._beside[:, :, slot] = self._penalties[:, :, square]


def _settle(
    weights: Array,
    penalties: Array,
    movable: Sequence[Movable],
    assigned: Index,
    current: Index,
) -> None:
    """Take the exchange that helps most until none helps.

    ``bill[s, q]`` is what slot s would cost with square q, all else as it is; an exchange of two
    slots is four of its entries, less what the two slots cost each other.
    """
    n = len(assigned)
    group = np.full(n, -1)
    for number, one_group in enumerate(movable):
        group[list(one_group.slots)] = number
    allowed = (group[:, None] == group[None, :]) & (group[:, None] >= 0)
    bill = np.einsum("tsk,tqk->sq", weights, penalties[:, :, current], optimize=True)
    mutual = _mutual(weights, penalties, current, slice(None))
    for _ in range(50 * n):
        at = bill[:, current]
        own = np.diagonal(at)
        change = at + at.T - own[:, None] - own[None, :] - mutual
        change = np.where(allowed, change, 0.0)
        one, other = np.unravel_index(int(np.argmin(change)), change.shape)
        if change[one, other] > -1e-9:
            return
        a, b = current[one], current[other]
        shift = penalties[:, :, b] - penalties[:, :, a]
        bill += np.einsum("ts,tq->sq", weights[:, :, one] - weights[:, :, other], shift)
        assigned[one], assigned[other] = assigned[other], assigned[one]
        current[one], current[other] = b, a
        both = [int(one), int(other)]
        mutual[both] = _mutual(weights, penalties, current, both)
        mutual[:, both] = mutual[both].T


def _mutual(weights: Array, penalties: Array, current: Index, slots: slice | list[int]) -> Array:
    """What some slots and all others (k, n) cost each other beyond an exchange of the two."""
    own = penalties[:, current, current]
    among = penalties[:, current[slots][:, None], current[None, :]]
    return np.asarray(
        (weights[:, slots] * (own[:, slots, None] + own[:, None, :] - 2 * among)).sum(axis=0)
    )
