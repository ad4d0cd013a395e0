"""Lengths as a quilter says them: exact fractions of an inch, or centimetres for display."""

from dataclasses import dataclass
from fractions import Fraction
from math import ceil, floor
from typing import Final

from colorcore.errors import CuttingError
from colorcore.plain import shown

SEAM: Final = Fraction(1, 4)
"""Seam allowance on every edge of a piece, in inches (common practice, no source)."""

INCHES_PER_YARD: Final = 36
CM_PER_INCH: Final = Fraction(254, 100)

_GLYPHS: Final = {
    "½": Fraction(1, 2), "¼": Fraction(1, 4), "¾": Fraction(3, 4), "⅛": Fraction(1, 8),
    "⅜": Fraction(3, 8), "⅝": Fraction(5, 8), "⅞": Fraction(7, 8), "⅓": Fraction(1, 3),
    "⅔": Fraction(2, 3),
}  # fmt: skip
_BY_VALUE: Final = {value: glyph for glyph, value in _GLYPHS.items()}


def exact_inches(inches: float) -> Fraction:
    """Return a length that a file or a photo gave as the sixty-fourths that cutting counts in."""
    return Fraction(inches).limit_denominator(64)


def parse_length(text: object, *, what: str = "length") -> Fraction:
    """Return inches from ``"2 1/2"``, ``"2½"``, ``2.5``, ``"2 1/2 in"`` or ``"6.4 cm"``.

    Centimetres are rounded to the next sixteenth of an inch, which a ruler can show.

    Raises
    ------
    CuttingError
        If it is no length, is negative, or is longer than 10,000 inches.
    """
    sentence = f"{what}: {shown(text)} is no length; write it like 2 1/2, 2.5 or '6.4 cm'."
    too_long = f"{what}: {shown(text)} is longer than 10,000 inches; check the unit."
    if isinstance(text, bool) or not isinstance(text, str | int | float | Fraction):
        raise CuttingError(sentence)
    if isinstance(text, int) and not 0 <= text <= 10_000:
        raise CuttingError(sentence if text < 0 else too_long)
    written = str(text).strip().lower()
    metric = written.endswith("cm")
    for unit in ("inches", "inch", "in.", "in", "cm", '"', "″"):
        if written.endswith(unit):
            written = written[: -len(unit)].strip()
            break
    for glyph, value in _GLYPHS.items():
        written = written.replace(glyph, f" {value}")
    parts = written.replace("-", " ").split() if not written.startswith("-") else []
    if len(written) > 24 or len(parts) not in (1, 2):
        raise CuttingError(sentence)
    try:
        inches = sum((_plain_fraction(part) for part in parts), Fraction(0))
    except (ValueError, ZeroDivisionError):
        raise CuttingError(sentence) from None
    if len(parts) == 2 and not ("/" in parts[1] and "/" not in parts[0]):
        raise CuttingError(sentence)
    if metric:
        inches = Fraction(round(inches / CM_PER_INCH * 16), 16)
    if inches > 10_000:
        raise CuttingError(too_long)
    return inches


def _plain_fraction(part: str) -> Fraction:
    if not all(c in "0123456789./" for c in part):
        raise ValueError(part)
    return Fraction(part)


def say_inches(length: Fraction, *, unit: bool = False) -> str:
    """Return a length as it is read off a ruler: ``2½``, ``5 3/16``; with ``unit`` ``2½ in``.

    A length that no sixteenth meets is rounded to the nearest and marked ``about``.
    """
    marked = ""
    if length.denominator not in (1, 2, 3, 4, 8, 16):
        length, marked = Fraction(round(length * 16), 16), "about "
    whole, rest = divmod(length, 1)
    if rest == 0:
        said = str(whole)
    elif rest in _BY_VALUE:
        said = f"{whole or ''}{_BY_VALUE[rest]}"
    else:
        said = f"{whole} {rest}" if whole else str(rest)
    return marked + said + (" in" if unit else "")


def say_cm(length: Fraction, *, unit: bool = False) -> str:
    """Return a length in inches as centimetres: to half a millimetre up to 30 cm, which a ruler
    can show and which keeps four 6.35 cm within 25.4 cm, and to a millimetre above."""
    cm = length * CM_PER_INCH
    steps = 20 if cm <= 30 else 10
    said = f"{int(cm * steps + Fraction(1, 2)) / steps:.2f}"
    said = said.removesuffix("0") if steps == 20 else said[:-1]
    return said + (" cm" if unit else "")


def say_length(length: Fraction, *, metric: bool = False, unit: bool = True) -> str:
    """Return a length in the maker's measure."""
    return say_cm(length, unit=unit) if metric else say_inches(length, unit=unit)


def say_size(width: Fraction, height: Fraction, *, metric: bool = False, unit: bool = True) -> str:
    """Return width by height: ``2½ × 4½ in``."""
    first = say_length(width, metric=metric, unit=False)
    return f"{first} × {say_length(height, metric=metric, unit=unit)}"


def round_up_yards(inches: Fraction) -> Fraction:
    """Return yards to buy for a length in inches: the next eighth of a yard."""
    return Fraction(ceil(inches * 8 / INCHES_PER_YARD), 8)


def say_yardage(inches: Fraction, *, metric: bool = False) -> str:
    """Return what to buy, rounded up to an eighth of a yard or a tenth of a metre."""
    if metric:
        return f"{ceil(float(inches * CM_PER_INCH) / 10 - 1e-9) / 10:.1f} m"
    yards = round_up_yards(inches)
    return f"{say_inches(yards)} yard" + ("s" if yards > 1 else "")


@dataclass(frozen=True)
class Measure:
    """The maker's measure: inches and yards, or centimetres and metres."""

    metric: bool = False

    def length(self, length: Fraction, *, unit: bool = True) -> str:
        """Return a length in inches as the maker reads it."""
        return say_length(length, metric=self.metric, unit=unit)

    def size(self, width: Fraction, height: Fraction) -> str:
        """Return width by height."""
        return say_size(width, height, metric=self.metric)

    def cut(self, width: Fraction, height: Fraction) -> str:
        """Return the cut size of a piece that finishes at width by height inches."""
        return self.size(width + 2 * SEAM, height + 2 * SEAM)

    def held(self, length: Fraction) -> str:
        """Return a length of cloth in inches that is there: whole eighths of a yard, or whole
        tenths of a metre, as what is bought is counted; what is less than one as a length."""
        if self.metric:
            metres = floor(float(length * CM_PER_INCH) / 10 + 1e-9)
            return f"{metres / 10:.1f} m" if metres else self.length(length)
        yards = Fraction(floor(length * 8 / INCHES_PER_YARD), 8)
        return (
            f"{say_inches(yards)} yard{'s' if yards > 1 else ''}"
            if yards
            else (self.length(length))
        )

    def yardage(self, length: Fraction) -> str:
        """Return what to buy of a length in inches."""
        return say_yardage(length, metric=self.metric)
