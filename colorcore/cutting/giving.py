"""What one square of a stack can give: how many kits, and how few squares a quilt wants of it.

A kit is all that one slot of the quilt needs from one fabric; whether a square gives some kits is
searched exactly, by cuts from edge to edge.
"""

from collections.abc import Sequence
from fractions import Fraction
from functools import cache
from math import ceil, floor
from typing import TYPE_CHECKING, Final

from colorcore.cutting.guillotine import Effort, Guillotine, PieceWanted
from colorcore.errors import CuttingError
from colorcore.lengths import say_inches, say_size

if TYPE_CHECKING:
    # A pattern is read only if its pieces fit: patterns come after what is here.
    from colorcore.pattern.kits import Kit

_MOST_VECTORS: Final = 4000
_MOST_PIECES: Final = 10_000


def piece_name(width: Fraction, height: Fraction) -> str:
    """Return the name of a piece by its cut size: ``2½ × 4½``."""
    return say_size(width, height, unit=False)


class SquareGiving:
    """What one square can give in kits: ``usable`` inches of its ``side`` are left by trimming;
    ``effort`` is what is tried for all answers together, its own if none is given.

    Every answer raises CuttingError once more would have to be tried.
    """

    def __init__(
        self,
        stack: str,
        kinds: "tuple[Kit, ...]",
        usable: Fraction,
        side: Fraction,
        effort: Effort | None = None,
    ) -> None:
        self.stack, self.kinds, self.usable, self.side = stack, kinds, usable, side
        self._effort = effort or Effort()
        sizes = dict.fromkeys((p.width, p.height) for kit in kinds for p in kit)
        self.sizes = list(sizes)
        self.feasible = cache(self._feasible)

    def pieces(self, vector: tuple[int, ...]) -> tuple[list[PieceWanted], tuple[int, ...]]:
        """The pieces of so many kits, as wanted of one square."""
        counts = [0] * len(self.sizes)
        for kit, times in zip(self.kinds, vector, strict=True):
            for p in kit:
                counts[self.sizes.index((p.width, p.height))] += p.count * times
        used = [(size, n) for size, n in zip(self.sizes, counts, strict=True) if n]
        wanted = [PieceWanted(piece_name(w, h), w, h, n) for (w, h), n in used]
        return wanted, tuple(n for _, n in used)

    def _feasible(self, vector: tuple[int, ...]) -> bool:
        wanted, counts = self.pieces(vector)
        if sum((p.width * p.height * p.most for p in wanted), Fraction(0)) > self.usable**2:
            return False
        return counts in self._search(wanted).frontier()

    def _search(self, wanted: Sequence[PieceWanted]) -> Guillotine:
        return Guillotine(self.usable, self.usable, wanted, self._effort)

    def most(self, kind: int) -> int:
        """How many kits of one kind a square gives.

        Raises
        ------
        CuttingError
            If it gives none.
        """
        count = self._most(kind)
        if count == 0:
            listed = ", ".join(f"{p.count} of {piece_name(p.width, p.height)}"
                               for p in self.kinds[kind])  # fmt: skip
            if self._is_trimmed_too_much(kind):
                raise CuttingError(
                    f"{self.stack}: one unit wants {listed} in of one fabric, and trimming "
                    f"{say_inches((self.side - self.usable) / 2)} in from each edge is what makes "
                    f"them not fit: the {say_inches(self.usable)} in that it leaves do not give "
                    f"them by straight cuts, all {say_inches(self.side)} in do; trim less, or "
                    "do not trim."
                )
            raise CuttingError(
                f"{self.stack}: one unit wants {listed} in of one fabric, and a square of "
                f"{say_inches(self.usable)} in does not give them by straight cuts; "
                "take larger squares or a pattern with smaller pieces."
            )
        return count

    def _most(self, kind: int) -> int:
        kit = self.kinds[kind]
        area = sum((p.width * p.height * p.count for p in kit), Fraction(0))
        bound = min(floor(self.usable**2 / area), _MOST_PIECES // max(p.count for p in kit))
        if len(kit) == 1:
            # Of one size one search tells the most.
            (piece,) = self.pieces(self._only(kind, bound))[0] or (None,)
            return 0 if piece is None else self._search([piece]).frontier()[0][0] // kit[0].count
        # A square that gives so many gives fewer: the step doubles until it is too far, and halves.
        count, step = 0, 1
        while count < bound and self.feasible(self._only(kind, min(count + step, bound))):
            count, step = min(count + step, bound), 2 * step
        while step := step // 2:
            if count + step <= bound and self.feasible(self._only(kind, count + step)):
                count += step
        return count

    def _is_trimmed_too_much(self, kind: int) -> bool:
        """Whether a square that is not trimmed would give a kit of this kind."""
        if self.usable == self.side:
            return False
        whole = SquareGiving(self.stack, self.kinds, self.side, self.side)
        return whole.feasible(self._only(kind, 1))

    def _only(self, kind: int, count: int) -> tuple[int, ...]:
        return tuple(count if i == kind else 0 for i in range(len(self.kinds)))

    def vectors(self, wanted: tuple[int, ...]) -> list[tuple[int, ...]]:
        """Every mix of kits that a square gives, none of a kind more than is wanted.

        Raises
        ------
        CuttingError
            If there are too many to try.
        """
        found = {(0,) * len(self.kinds)}
        edge = list(found)
        while edge:
            vector = edge.pop()
            for i in range(len(self.kinds)):
                more = tuple(n + (j == i) for j, n in enumerate(vector))
                if more not in found and more[i] <= wanted[i] and self.feasible(more):
                    found.add(more)
                    edge.append(more)
            if len(found) > _MOST_VECTORS:
                raise CuttingError(
                    f"{self.stack}: too many kinds of pieces to try every mix; use fewer."
                )
        return sorted(found)


def fewest_squares(vectors: Sequence[tuple[int, ...]], wanted: tuple[int, ...]) -> int:
    """Return the fewest squares that give so many kits of each kind, from every mix of kits that
    one square gives.

    Raises
    ------
    CuttingError
        If no number of such squares gives them.
    """
    if not wanted:
        return 0
    if len(wanted) == 1:
        most = max(v[0] for v in vectors)
        return sum(shared_out([ceil(wanted[0] / most)] if most else None))
    from colorcore.cutting.covering import choose_patterns

    return sum(shared_out(choose_patterns(vectors, wanted, [1.0] * len(vectors))))


def shared_out(times: list[int] | None) -> list[int]:
    """Return how often each mix of kits is cut, if there is an answer.

    Raises
    ------
    CuttingError
        If there is none.
    """
    if times is None:
        raise CuttingError("The kits could not be shared out over the squares.")
    return times
