"""Take values out of parsed JSON, or say which key is wrong and what was expected."""

import math
from collections.abc import Callable
from typing import Any, NoReturn, TypeVar

from colorcore.errors import BundleFileError
from colorcore.plain import printable, shown, writable

T = TypeVar("T")
Triple = tuple[float, float, float]


class Checker:
    """One JSON object of a file; ``name`` is the file's, ``at`` the object's place in it.

    Every method raises BundleFileError with file, key and what was expected when the value is
    missing or wrong. Keys that nobody asks for are left alone, so that files may carry more.
    """

    def __init__(self, name: str, data: Any, at: str = "") -> None:
        self._name = name
        self._at = at
        self._data: dict[str, Any] = {}
        if not isinstance(data, dict):
            self.refuse("", "an object {...}", data)
        self._data = data

    def refuse(self, key: str, expected: str, got: object) -> NoReturn:
        """Raise a BundleFileError on a key of this object ("" for the object itself).

        Raises
        ------
        BundleFileError
            Always.
        """
        where = self._path(key) or "the whole file"
        raise BundleFileError(
            printable(f"{self._name}: {where}: expected {expected}, got {shown(got)}.")
        )

    def has(self, key: str) -> bool:
        """Whether the key is there and not null."""
        return self._data.get(key) is not None

    def record(self, key: str) -> "Checker":
        """Return the object under a key."""
        return Checker(self._name, self._get(key, "an object {...}"), self._path(key))

    def records(self, key: str) -> list["Checker"]:
        """Return the objects of the list under a key."""
        items = self._list(key, "a list of objects")
        place = self._path(key)
        return [Checker(self._name, item, f"{place}[{i}]") for i, item in enumerate(items)]

    def all_texts(self) -> tuple[tuple[str, str], ...]:
        """Return every pair of this object, all of which must be texts."""
        for key, value in self._data.items():
            if not isinstance(value, str):
                self.refuse(key, "a text", value)
        return tuple((writable(key), writable(value)) for key, value in self._data.items())

    def text(self, key: str, *, choices: tuple[str, ...] = (), default: str | None = None) -> str:
        """Return a text; one of ``choices`` if there are any; ``default`` if it is missing."""
        if default is not None and key not in self._data:
            return default
        expected = f"one of {', '.join(choices)}" if choices else "a text"
        value = self._get(key, expected)
        if not isinstance(value, str) or (choices and value not in choices):
            self.refuse(key, expected, value)
        return writable(value)

    def texts(self, key: str, *, choices: tuple[str, ...] = ()) -> tuple[str, ...]:
        """Return a list of texts, each one of ``choices`` if there are any."""
        expected = f"one of {', '.join(choices)}" if choices else "a text"
        items = self._list(key, "a list of texts")
        for i, item in enumerate(items):
            if not isinstance(item, str) or (choices and item not in choices):
                self.refuse(f"{key}[{i}]", expected, item)
        return tuple(writable(item) for item in items)

    def truth(self, key: str) -> bool:
        """Return true or false."""
        value = self._get(key, "true or false")
        if not isinstance(value, bool):
            self.refuse(key, "true or false", value)
        return value

    def integer(self, key: str, *, least: int, most: int | None = None) -> int:
        """Return a whole number within limits."""
        expected = f"a whole number {_limits(least, most)}"
        value = self._get(key, expected)
        if isinstance(value, float) and value.is_integer():
            value = int(value)
        if isinstance(value, bool) or not isinstance(value, int):
            self.refuse(key, expected, value)
        if value < least or (most is not None and value > most):
            self.refuse(key, expected, value)
        return value

    def number(self, key: str, *, least: float | None = None, most: float | None = None) -> float:
        """Return a finite number within limits."""
        return self._number(key, self._get(key, f"a number {_limits(least, most)}"), least, most)

    def number_or_none(
        self, key: str, *, least: float | None = None, most: float | None = None
    ) -> float | None:
        """Return a finite number within limits, or None for null."""
        value = self._get(key, f"a number {_limits(least, most)} or null")
        return None if value is None else self._number(key, value, least, most)

    def triple(self, key: str, *, least: float | None = None) -> Triple:
        """Return three finite numbers."""
        expected = f"three numbers {_limits(least, None)}".rstrip()
        values = self._list(key, expected)
        if len(values) != 3:
            self.refuse(key, expected, values)
        first, second, third = (
            self._number(f"{key}[{i}]", v, least, None) for i, v in enumerate(values)
        )
        return first, second, third

    def lab(self, key: str) -> Triple:
        """Return a CIELAB colour: L* from -1 to 200, a* and b* within 300."""
        lab = self.triple(key)
        if not (-1 <= lab[0] <= 200 and abs(lab[1]) <= 300 and abs(lab[2]) <= 300):
            self.refuse(key, "a CIELAB colour [L*, a*, b*]", list(lab))
        return lab

    def points(self, key: str, count: int) -> tuple[tuple[float, float], ...]:
        """Return ``count`` points (x, y)."""
        expected = f"{count} points [x, y]"
        values = self._list(key, expected)
        if len(values) != count:
            self.refuse(key, expected, values)
        points = []
        for i, value in enumerate(values):
            if not isinstance(value, list) or len(value) != 2:
                self.refuse(f"{key}[{i}]", "a point [x, y]", value)
            x, y = (self._number(f"{key}[{i}]", v, None, None) for v in value)
            points.append((x, y))
        return tuple(points)

    def decoded(self, key: str, decode: Callable[[str], T]) -> T:
        """Return what ``decode`` makes of a text; its ValueError says what was expected."""
        text = self.text(key)
        try:
            return decode(text)
        except ValueError as error:
            self.refuse(key, str(error), text)

    def _path(self, key: str) -> str:
        return f"{self._at}.{key}" if self._at and key else self._at or key

    def _get(self, key: str, expected: str) -> Any:
        if key not in self._data:
            raise BundleFileError(
                printable(f"{self._name}: {self._path(key)}: missing; expected {expected}.")
            )
        return self._data[key]

    def _list(self, key: str, expected: str) -> list[Any]:
        value = self._get(key, expected)
        if not isinstance(value, list):
            self.refuse(key, expected, value)
        return value

    def _number(self, key: str, value: Any, least: float | None, most: float | None) -> float:
        expected = f"a number {_limits(least, most)}".rstrip()
        # A whole number too large for a float would overflow rather than compare.
        if isinstance(value, bool) or not isinstance(value, int | float) or abs(value) > 1e300:
            self.refuse(key, expected, value)
        number = float(value)
        outside = (least is not None and number < least) or (most is not None and number > most)
        if not math.isfinite(number) or outside:
            self.refuse(key, expected, value)
        return number


def _limits(least: float | None, most: float | None) -> str:
    if least is not None and most is not None:
        return f"from {least:g} to {most:g}"
    if least is not None:
        return f"of at least {least:g}"
    return "" if most is None else f"of at most {most:g}"
