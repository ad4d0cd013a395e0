"""What was made is kept under what it rests on, so that it is made once."""

import threading
from collections import OrderedDict
from collections.abc import Callable
from typing import Any, TypeVar

T = TypeVar("T")


class Memory:
    """The newest results by key; each is made once, also when two sessions ask at once."""

    def __init__(self, most: int) -> None:
        self._most = most
        self._kept: OrderedDict[Any, Any] = OrderedDict()
        self._locks: dict[Any, threading.Lock] = {}
        self._guard = threading.Lock()

    def __len__(self) -> int:
        with self._guard:
            return len(self._kept)

    def __contains__(self, key: Any) -> bool:
        with self._guard:
            return key in self._kept

    def get(self, key: Any, make: Callable[[], T]) -> T:
        """Return what is kept under a key, made now if it is not there."""
        with self._guard:
            if key in self._kept:
                self._kept.move_to_end(key)
                found: T = self._kept[key]
                return found
            lock = self._locks.setdefault(key, threading.Lock())
        with lock:
            with self._guard:
                if key in self._kept:
                    again: T = self._kept[key]
                    return again
            made = make()
            with self._guard:
                self._kept[key] = made
                self._locks.pop(key, None)
                while len(self._kept) > self._most:
                    self._kept.popitem(last=False)
            return made
