"""How large a print is, in words: one scale for dealing, for figures and for shopping."""

from typing import Final

from colorcore.color.naming import LARGE_PRINT_INCHES, SMALL_PRINT_INCHES
from colorcore.swatch.model import Swatch

PRINTS: Final = ("solid", "small print", "medium print", "large print")


def print_class(swatch: Swatch) -> str:
    """Return one of ``PRINTS``."""
    if swatch.reads_as_solid or swatch.print_scale_inches is None:
        return PRINTS[0]
    if swatch.print_scale_inches < SMALL_PRINT_INCHES:
        return PRINTS[1]
    return PRINTS[2] if swatch.print_scale_inches < LARGE_PRINT_INCHES else PRINTS[3]
