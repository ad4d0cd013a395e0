"""What was made is kept under what it rests on, so that it is made once."""

import threading
from collections import Counter, OrderedDict
from collections.abc import Callable, Iterator
from contextlib import nullcontext
from dataclasses import dataclass, field, fields, is_dataclass
from typing import Any, Final, TypeVar

from app.web.turns import Turns

T = TypeVar("T")

#: Texts and the like below this size are not weighed: pictures and files are what takes room.
_SMALL_BYTES: Final = 1024


@dataclass
class _Making:
    """What is asked for and not kept yet: held by who makes it; how many have ``asked`` and have
    it not yet. The last one takes it away: else who comes later would make it beside the others."""

    lock: threading.Lock = field(default_factory=threading.Lock)
    asked: int = 0


class Memory:
    """The newest results by key; each is made once, also when two sessions ask at once.

    Parameters
    ----------
    most : int
        How many are kept.
    most_bytes : int or None
        How much room their arrays, files and drawings may take together; what several of them
        share is counted once. The newest is kept in any case. None for no such limit.
    """

    def __init__(self, most: int, most_bytes: int | None = None) -> None:
        self._most = most
        self._most_bytes = most_bytes
        self._kept: OrderedDict[Any, Any] = OrderedDict()
        self._weights: dict[Any, dict[int, int]] = {}
        self._shared: Counter[int] = Counter()
        self._bytes = 0
        self._making: dict[Any, _Making] = {}
        self._guard = threading.Lock()

    def __len__(self) -> int:
        with self._guard:
            return len(self._kept)

    def __contains__(self, key: Any) -> bool:
        with self._guard:
            return key in self._kept

    @property
    def kept_bytes(self) -> int:
        """How much room is taken, 0 where it is not limited."""
        with self._guard:
            return self._bytes

    def get(self, key: Any, make: Callable[[], T], turns: Turns | None = None) -> T:
        """Return what is kept under a key, made now, in one of ``turns`` if they are given, if it
        is not there."""
        with self._guard:
            if key in self._kept:
                self._kept.move_to_end(key)
                found: T = self._kept[key]
                return found
            making = self._making.setdefault(key, _Making())
            making.asked += 1
        try:
            # The turn before the lock: nobody waits for a turn with the lock of what others wait
            # for.
            with turns.take() if turns else nullcontext(), making.lock:
                with self._guard:
                    if key in self._kept:
                        again: T = self._kept[key]
                        return again
                made = make()
                weights = {} if self._most_bytes is None else dict(_weights(made))
                with self._guard:
                    self._kept[key] = made
                    self._count(key, weights)
                    while len(self._kept) > 1 and self._is_too_much():
                        self._forget()
                return made
        finally:
            with self._guard:
                making.asked -= 1
                if not making.asked:
                    del self._making[key]

    def _is_too_much(self) -> bool:
        return len(self._kept) > self._most or (
            self._most_bytes is not None and self._bytes > self._most_bytes
        )

    def _count(self, key: Any, weights: dict[int, int]) -> None:
        self._weights[key] = weights
        for which, size in weights.items():
            self._bytes += 0 if self._shared[which] else size
            self._shared[which] += 1

    def _forget(self) -> None:
        key, _ = self._kept.popitem(last=False)
        for which, size in self._weights.pop(key).items():
            self._shared[which] -= 1
            if not self._shared[which]:
                del self._shared[which]
                self._bytes -= size


def _weights(made: object) -> Iterator[tuple[int, int]]:
    """Identity and bytes of every array, file and text in a result; identities hold as long as the
    result does."""
    # The first page needs no arrays.
    import numpy as np

    seen: set[int] = set()
    waiting = [made]
    while waiting:
        one = waiting.pop()
        if id(one) in seen:
            continue
        seen.add(id(one))
        if isinstance(one, np.ndarray):
            # A view keeps the whole of what it is a view of.
            if isinstance(one.base, np.ndarray):
                waiting.append(one.base)
            else:
                yield id(one), one.nbytes
        elif isinstance(one, bytes | bytearray | str):
            if len(one) >= _SMALL_BYTES:
                yield id(one), len(one)
        elif isinstance(one, dict):
            waiting.extend(one.values())
        elif isinstance(one, list | tuple | set | frozenset):
            waiting.extend(one)
        elif is_dataclass(one) and not isinstance(one, type):
            waiting.extend(getattr(one, part.name, None) for part in fields(one))
            # What a cached property keeps.
            waiting.extend(getattr(one, "__dict__", {}).values())
