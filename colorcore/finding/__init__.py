"""The squares in a photo."""

from colorcore.finding.find import find_squares
from colorcore.finding.model import Finding, FoundSquare, FoundThing, Hints
from colorcore.finding.overlaps import overlapping_squares

__all__ = [
    "Finding",
    "FoundSquare",
    "FoundThing",
    "Hints",
    "find_squares",
    "overlapping_squares",
]
