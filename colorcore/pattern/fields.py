"""Read one table of a TOML file field by field, each error naming file, key and expectation."""

from collections.abc import Mapping, Sequence
from fractions import Fraction
from typing import Any, NoReturn

from colorcore.errors import CuttingError, PatternError
from colorcore.lengths import parse_length
from colorcore.plain import shown

_REQUIRED = object()
_LONGEST_TEXT = 2_000


class Table:
    """A TOML table with the file it came from and its place there (``stack 2, piece 1``).

    Every method that reads raises PatternError with file, place, key and what was expected.
    """

    def __init__(self, data: Mapping[str, Any], source: str, place: str) -> None:
        self.data = data
        self._source = source
        self._place = place

    def fail(self, key: str, expected: str) -> NoReturn:
        """Raise a PatternError: this key should have been what ``expected`` says."""
        where = f"{self._place}, {key}" if self._place else key
        raise PatternError(f"{self._source}: {where}: expected {expected}.")

    def only(self, *known: str) -> None:
        """Refuse keys that are not known: a mistyped rule must not be dropped in silence."""
        for key in self.data:
            if key not in known:
                self.fail(str(key), f"one of the keys {', '.join(known)}")

    def _get(self, key: str, default: object, expected: str) -> Any:
        if key in self.data:
            return self.data[key]
        if default is _REQUIRED:
            self.fail(key, f"{expected}, but it is missing")
        return default

    def text(self, key: str, default: object = _REQUIRED) -> str:
        """Return a text, by default one that is not empty."""
        value = self._get(key, default, "a text")
        if not isinstance(value, str) or (default is _REQUIRED and not value.strip()):
            self.fail(key, f"a text, not {shown(value)}")
        if len(value) > _LONGEST_TEXT or any(ord(c) < 32 and c not in "\n\t" for c in value):
            self.fail(key, f"a plain text of at most {_LONGEST_TEXT} characters")
        return value.strip()

    def texts(self, key: str) -> tuple[str, ...]:
        """Return a list of texts; missing is empty."""
        value = self.data.get(key, [])
        if not isinstance(value, list) or not all(isinstance(item, str) for item in value):
            self.fail(key, f"a list of texts, not {shown(value)}")
        return tuple(value)

    def choice(self, key: str, choices: Sequence[str]) -> str:
        """Return one of the choices."""
        expected = f"one of {', '.join(choices)}"
        value = self._get(key, _REQUIRED, expected)
        if value not in choices:
            self.fail(key, f"{expected}, not {shown(value)}")
        return str(value)

    def flag(self, key: str, *, default: bool) -> bool:
        """Return true or false."""
        value = self._get(key, default, "true or false")
        if not isinstance(value, bool):
            self.fail(key, f"true or false, not {shown(value)}")
        return value

    def whole(self, key: str, *, least: int, most: int, default: object = _REQUIRED) -> int:
        """Return a whole number from ``least`` to ``most``."""
        expected = f"a whole number from {least} to {most}"
        value = self._get(key, default, expected)
        if isinstance(value, bool) or not isinstance(value, int) or not least <= value <= most:
            self.fail(key, f"{expected}, not {shown(value)}")
        return value

    def optional_whole(self, key: str, *, least: int, most: int) -> int | None:
        """Return a whole number from ``least`` to ``most``, or None if the key is missing."""
        return self.whole(key, least=least, most=most) if key in self.data else None

    def optional_number(self, key: str, *, least: float, most: float) -> float | None:
        """Return a number from ``least`` to ``most``, or None if the key is missing."""
        if key not in self.data:
            return None
        value = self.data[key]
        number = isinstance(value, int | float) and not isinstance(value, bool)
        if not number or not least <= value <= most:
            self.fail(key, f"a number from {least:g} to {most:g}, not {shown(value)}")
        return float(value)

    def inches(self, key: str, default: object = _REQUIRED) -> Fraction:
        """Return a positive length in inches."""
        expected = 'a length in inches such as "2 1/2"'
        value = self._get(key, default, expected)
        length = _length(value)
        if length is None:
            self.fail(key, f"{expected}, not {shown(value)}")
        return length

    def optional_pair(self, key: str) -> tuple[Fraction, Fraction] | None:
        """Return a width and a height in inches, or None if the key is missing."""
        if key not in self.data:
            return None
        value = self.data[key]
        lengths = [_length(item) for item in value] if isinstance(value, list) else []
        if len(lengths) != 2 or lengths[0] is None or lengths[1] is None:
            self.fail(
                key,
                'width and height in inches such as ["60", "70 1/2"], not ' + shown(value),
            )
        return lengths[0], lengths[1]

    def table(self, key: str) -> "Table":
        """Return the table under this key; missing is empty."""
        value = self.data.get(key, {})
        if not isinstance(value, dict):
            self.fail(key, f"a table, not {shown(value)}")
        return Table(value, self._source, f"{self._place}, {key}" if self._place else key)

    def tables(self, key: str, *, least: int = 0, most: int = 200) -> "list[Table]":
        """Return the list of tables under this key (``[[key]]``); missing is empty."""
        value = self.data.get(key, [])
        if not isinstance(value, list) or not all(isinstance(item, dict) for item in value):
            self.fail(key, f"tables, each under [[{key}]], not {shown(value)}")
        if not least <= len(value) <= most:
            self.fail(key, f"{least} to {most} tables [[{key}]], not {len(value)}")
        place = f"{self._place}, {key}" if self._place else key
        return [Table(item, self._source, f"{place} {n}") for n, item in enumerate(value, 1)]


def _length(value: object) -> Fraction | None:
    try:
        length = parse_length(value)
    except CuttingError:
        return None
    return length if length > 0 else None
