"""Amounts as a maker says them, and how many squares they give.

A yard is a length of cloth of 42 in usable width; a fat quarter is 18 by 22 in (both common
practice, no source).
"""

import re
from collections.abc import Sequence
from fractions import Fraction
from math import floor
from typing import Final

from colorcore.cutting.yardage import USABLE_WIDTH, squares_from
from colorcore.errors import CuttingError, StashError
from colorcore.lengths import CM_PER_INCH, INCHES_PER_YARD, parse_length, say_inches

FAT_QUARTER: Final = (Fraction(22), Fraction(18))
"""Width and length in inches."""

_UNITS: Final = {
    "yard": ("yards", Fraction(1)),
    "yd": ("yards", Fraction(1)),
    "metre": ("yards", 100 / CM_PER_INCH / INCHES_PER_YARD),
    "meter": ("yards", 100 / CM_PER_INCH / INCHES_PER_YARD),
    "m": ("yards", 100 / CM_PER_INCH / INCHES_PER_YARD),
    "cm": ("yards", 1 / CM_PER_INCH / INCHES_PER_YARD),
    "inch": ("yards", Fraction(1, INCHES_PER_YARD)),
    "inche": ("yards", Fraction(1, INCHES_PER_YARD)),
    "in": ("yards", Fraction(1, INCHES_PER_YARD)),
    "fat quarter": ("fat quarters", Fraction(1)),
    "square": ("squares", Fraction(1)),
    "spool": ("spools", Fraction(1)),
    "reel": ("spools", Fraction(1)),
}
_WORDS: Final = {
    "a": "1", "an": "1", "one": "1", "two": "2", "three": "3", "four": "4", "five": "5",
    "six": "6", "seven": "7", "eight": "8", "nine": "9", "ten": "10", "twelve": "12",
    "half": "1/2", "third": "1/3", "quarter": "1/4", "quarters": "1/4", "eighth": "1/8",
    "eighths": "1/8",
}  # fmt: skip
_FRACTIONS: Final = ("half", "third", "quarter", "quarters", "eighth", "eighths")


def parse_amount(text: str, *, unit: str = "yards") -> tuple[Fraction, str]:
    """Return amount and unit of ``1 1/2 yards``, ``half a yard``, ``2 fat quarters``, ``50 cm``,
    ``3 spools``; a bare number counts in ``unit``.

    Metric lengths and inches become yards, rounded to the nearest sixty-fourth.

    Raises
    ------
    StashError
        If it cannot be understood.
    """
    wrong = StashError(
        f"'{text}' is no amount; write it like '1 1/2 yards', 'half a yard', '2 fat quarters', "
        "'6 squares', '50 cm' or '3 spools'."
    )
    words = re.sub(r"(\d)-(?=\d)", r"\1 ", text.lower()).replace("-", " - ").split()
    found = (unit, Fraction(1))
    joined = re.fullmatch(r"([\d./½¼¾⅛⅜⅝⅞⅓⅔]+)([a-z]+)", words[-1]) if words else None
    if joined:
        words[-1:] = joined.groups()
    for count in (2, 1):
        named = " ".join(words[-count:]).rstrip(".")
        single = named.removesuffix("s") if len(named) > 1 else named
        if single in _UNITS:
            found, words = _UNITS[single], words[:-count]
            break
    try:
        amount = parse_length(_figures(words), what="amount") * found[1]
    except CuttingError:
        raise wrong from None
    if amount.denominator > 64 and found[0] == "yards":
        amount = Fraction(round(amount * 64), 64)
    return amount, found[0]


def _figures(words: Sequence[str]) -> str:
    """Turn ``half a``, ``three quarters of a``, ``one and a half`` into figures."""
    left = [w for w in words if w not in ("and", "of")]
    if len(left) > 1 and left[-1] == "a":
        left = left[:-1]
    values = [_value(word) for word in left]
    known = [v for v in values if v is not None]
    if len(known) < len(left) or not any(w in _WORDS for w in left) or len(left) > 3:
        return " ".join(left)
    if len(left) == 1:
        return str(known[0])
    if left[-1] not in _FRACTIONS:
        return ""
    # 'three quarters', or 'two and a quarter', 'one and three quarters'.
    return str(known[-2] * known[-1] + (known[0] if len(left) == 3 else 0))


def _value(word: str) -> Fraction | None:
    if word in _WORDS:
        return Fraction(_WORDS[word])
    return Fraction(word) if word.isascii() and word.isdigit() else None


def say_amount(amount: Fraction, unit: str) -> str:
    """Return ``1½ yards``, ``1 square``, ``½ yard``."""
    return f"{say_inches(amount)} {unit if amount > 1 or not amount else unit.removesuffix('s')}"


def squares_given(amount: Fraction, unit: str, side: Fraction, *, own_side: Fraction) -> int:
    """Return how many squares of ``side`` inches an amount gives, cut in strips.

    ``own_side`` is the side of the squares that ``amount`` counts if it counts squares. Thread
    gives none.

    Raises
    ------
    CuttingError
        If ``side`` is not above 0, but of thread.
    """
    if unit == "yards":
        return squares_from(side, USABLE_WIDTH, amount * INCHES_PER_YARD)
    if unit == "fat quarters":
        return floor(amount) * squares_from(side, *FAT_QUARTER)
    if unit == "squares":
        return floor(amount) * squares_from(side, own_side, own_side)
    return 0
