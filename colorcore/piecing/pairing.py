"""Which prints meet: a fabric for every slot of the quilt.

The pieces are cut; what is left to choose is which kit goes into which slot. Three things cost:
prints of one unit that a pattern wants different and that hardly differ; one fabric, or two that
look alike, beside each other; one fabric or colour gathered in a corner instead of spread over
the whole. Each is a sum over pairs of slots; kits are exchanged from a fixed seed until no single
exchange improves the layout (``annealing``).
"""

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field
from typing import Final

import numpy as np
from numpy.typing import NDArray

from colorcore.color.difference import ciede2000
from colorcore.cutting.guillotine import CutPart
from colorcore.cutting.kits import StackCutting
from colorcore.errors import CuttingError
from colorcore.pattern.layout import Layout, touching
from colorcore.piecing.annealing import Movable, exchange_kits
from colorcore.swatch import Swatch

CLEARLY_DIFFERENT: Final = 15.0
"""CIEDE2000 from which two prints of a unit differ clearly (our choice: cloth of that difference
reads as another colour at a glance)."""

_AIM: Final = 20.0
"""CIEDE2000 beyond which more difference is worth no more."""

_W_DIFFER: Final = 30.0
_W_BESIDE: Final = 10.0
_W_SPREAD: Final = 4.0
_NEAR_INCHES: Final = 4.0
_MOST_SLOTS: Final = 2_500


@dataclass(frozen=True)
class Supply:
    """One kit, cut: from which ``square`` of which ``stack``, which ``kind`` of kit of that stack,
    and where its pieces lie in the square."""

    stack: str
    square: str
    kind: int
    parts: tuple[CutPart, ...]


@dataclass(frozen=True)
class Pairing:
    """A fabric for every slot. ``supplies[i]`` fills slot i; ``spare`` kits are left over.

    ``repeats`` are pairs of slots beside each other with one fabric; ``alike`` pairs of slots
    that the pattern wants different and whose prints differ by less than ``CLEARLY_DIFFERENT``,
    with the CIEDE2000 between them; ``cost`` compares pairings of one quilt.
    """

    supplies: tuple[Supply, ...]
    spare: tuple[Supply, ...]
    repeats: tuple[tuple[int, int], ...]
    alike: tuple[tuple[int, int, float], ...]
    cost: float
    seed: int
    locked: tuple[int, ...] = field(default=())

    def squares(self) -> tuple[str, ...]:
        """Return the square that fills each slot."""
        return tuple(supply.square for supply in self.supplies)


def _supplies_of(stacks: Sequence[StackCutting]) -> tuple[Supply, ...]:
    """Return every kit that the stacks were cut into."""
    return tuple(
        Supply(stack.stack, cut.square, kind, parts)
        for stack in stacks
        for cut in stack.cuts
        for kind, parts in cut.kit_parts(stack.kinds)
    )


def pair(
    layout: Layout,
    stacks: Sequence[StackCutting],
    swatches: Mapping[str, Swatch],
    *,
    seed: int = 1,
    locks: Mapping[int, str] | None = None,
    effort: float = 1.0,
    progress: Callable[[float], None] | None = None,
) -> Pairing:
    """Choose a kit for every slot.

    Parameters
    ----------
    locks : mapping
        Slots to the square that must fill them.
    effort : float
        Multiplies the number of exchanges tried; 1 is a second or so for a throw.

    Raises
    ------
    CuttingError
        If there are fewer kits than slots, or a lock asks for a kit that there is not.
    """
    if len(layout.slots) > _MOST_SLOTS:
        raise CuttingError(
            f"This quilt takes {len(layout.slots)} prints; up to {_MOST_SLOTS} can be paired. "
            "Make it in parts."
        )
    supplies = _supplies_of(stacks)
    groups = _group(layout, stacks, supplies)
    squares = sorted({s.square for s in supplies})
    number = {square: i for i, square in enumerate(squares)}
    for square in squares:
        if square not in swatches:
            raise CuttingError(
                f"Square {square} is to be cut but is not in the bundle; deal again."
            )
    terms = _Terms.of(layout, [swatches[square] for square in squares])
    held = _hold_locks(layout, supplies, groups, locks or {})
    assigned = _start(groups, held, len(layout.slots))
    labels = np.array([number[s.square] for s in supplies], dtype=np.int64)
    exchange_kits(
        terms.weights, terms.penalties, _movable(groups, held, assigned), assigned, labels,
        seed=seed, effort=effort, progress=progress,
    )  # fmt: skip
    chosen = tuple(supplies[assigned[i]] for i in range(len(layout.slots)))
    used = set(assigned.tolist())
    pairing = Pairing(
        chosen,
        tuple(s for i, s in enumerate(supplies) if i not in used),
        *terms.faults(labels[assigned]),
        cost=terms.cost(labels[assigned]),
        seed=seed,
        locked=tuple(sorted(held)),
    )
    return pairing


@dataclass(frozen=True, eq=False)
class _Terms:
    """Weights between slots (n, n) and penalties between squares (m, m), three of each."""

    weights: NDArray[np.float64]
    penalties: NDArray[np.float64]
    beside: NDArray[np.bool_]
    differ: NDArray[np.bool_]
    same: NDArray[np.bool_]
    delta_e: NDArray[np.float64]

    @classmethod
    def of(cls, layout: Layout, swatches: Sequence[Swatch]) -> "_Terms":
        n = len(layout.slots)
        labs = np.array([s.lab for s in swatches]).reshape(-1, 3)
        fabric = np.array([s.fabric if s.fabric >= 0 else -2 - i for i, s in enumerate(swatches)])
        same = fabric[:, None] == fabric[None, :]
        delta_e = np.asarray(ciede2000(labs[:, None], labs[None, :]), dtype=np.float64)
        delta_e = np.where(same, 0.0, delta_e)
        meets = touching(layout)
        centers = layout.centers() if n else np.zeros((0, 2))
        apart = np.hypot(*(centers[:, None] - centers[None, :]).transpose(2, 0, 1))
        differ = np.zeros((n, n), dtype=bool)
        for slot in layout.slots:
            differ[slot.number, list(slot.different)] = True
        beside = (meets > 0) & ~np.eye(n, dtype=bool)
        unit = np.sqrt(layout.width * layout.height / max(len(layout.cells), 1))
        spread = np.exp(-apart / unit)
        np.fill_diagonal(spread, 0)
        near = beside * np.clip(meets / _NEAR_INCHES, 0.25, 1)
        alike = np.clip(1 - delta_e / _AIM, 0, 1)
        return cls(
            weights=np.stack([_W_DIFFER * differ, _W_BESIDE * near, _W_SPREAD * spread]),
            penalties=np.stack(
                [alike + 2.0 * same, alike**2 + 3.0 * same, 0.15 * alike + 1.0 * same]
            ),
            beside=beside,
            differ=differ,
            same=same,
            delta_e=delta_e,
        )

    def cost(self, labels: NDArray[np.int64]) -> float:
        """Total cost of slots filled from squares ``labels`` (n,)."""
        chosen = self.penalties[:, labels[:, None], labels[None, :]]
        return float((self.weights * chosen).sum() / 2)

    def faults(
        self, labels: NDArray[np.int64]
    ) -> tuple[tuple[tuple[int, int], ...], tuple[tuple[int, int, float], ...]]:
        """Pairs that repeat a fabric side by side, and pairs that should differ but hardly do."""
        rows, columns = np.nonzero(np.triu(self.beside))
        repeats = tuple(
            (int(i), int(j))
            for i, j in zip(rows, columns, strict=True)
            if self.same[labels[i], labels[j]]
        )
        rows, columns = np.nonzero(np.triu(self.differ))
        alike = tuple(
            (int(i), int(j), float(self.delta_e[labels[i], labels[j]]))
            for i, j in zip(rows, columns, strict=True)
            if self.delta_e[labels[i], labels[j]] < CLEARLY_DIFFERENT
        )
        return repeats, alike


@dataclass(frozen=True)
class _Group:
    """Slots and supplies that can be exchanged: one stack, one kind of kit."""

    slots: tuple[int, ...]
    supplies: tuple[int, ...]


def _group(
    layout: Layout, stacks: Sequence[StackCutting], supplies: Sequence[Supply]
) -> tuple[_Group, ...]:
    groups = []
    for stack in stacks:
        for kind, kit in enumerate(stack.kinds):
            slots = tuple(s.number for s in layout.slots if s.stack == stack.stack and s.kit == kit)
            able = tuple(
                i for i, s in enumerate(supplies) if s.stack == stack.stack and s.kind == kind
            )
            if len(able) < len(slots):
                raise CuttingError(
                    f"{stack.sentence} The quilt wants {len(slots)} cuts for its units, and there "
                    f"are {len(able)}."
                )
            groups.append(_Group(slots, able))
    covered = {i for g in groups for i in g.slots}
    for slot in layout.slots:
        if slot.number not in covered:
            raise CuttingError(f"The quilt takes fabric from {slot.stack}, which was not cut.")
    return tuple(groups)


def _hold_locks(
    layout: Layout,
    supplies: Sequence[Supply],
    groups: Sequence[_Group],
    locks: Mapping[int, str],
) -> dict[int, int]:
    held: dict[int, int] = {}
    group_of = {slot: group for group in groups for slot in group.slots}
    for slot, square in sorted(locks.items()):
        if slot not in group_of:
            raise CuttingError(
                f"There is no slot {slot}; they run from 0 to {len(layout.slots) - 1}."
            )
        able = [
            i
            for i in group_of[slot].supplies
            if supplies[i].square == square and i not in held.values()
        ]
        if not able:
            raise CuttingError(
                f"Square {square} has no piece left for slot {slot} "
                f"({layout.slots[slot].unit}, {layout.slots[slot].stack})."
            )
        held[slot] = able[0]
    return held


def _start(groups: Sequence[_Group], held: Mapping[int, int], n: int) -> NDArray[np.int64]:
    assigned = np.full(n, -1, dtype=np.int64)
    for group in groups:
        free = [i for i in group.supplies if i not in held.values()]
        for slot in group.slots:
            assigned[slot] = held[slot] if slot in held else free.pop(0)
    return assigned


def _movable(
    groups: Sequence[_Group], held: Mapping[int, int], assigned: NDArray[np.int64]
) -> list[Movable]:
    """What each group may exchange: nothing that is held, and no single kit."""
    kept, used = set(held.values()), set(assigned.tolist())
    found = []
    for group in groups:
        slots = tuple(slot for slot in group.slots if slot not in held)
        able = [kit for kit in group.supplies if kit not in kept]
        if slots and len(able) > 1:
            found.append(Movable(slots, [kit for kit in able if kit not in used]))
    return found
