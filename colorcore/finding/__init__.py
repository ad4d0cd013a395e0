"""The squares in a photo."""

from colorcore.finding.find import find_squares
from colorcore.finding.model import Finding, FoundSquare, FoundThing, Hints

__all__ = ["Finding", "FoundSquare", "FoundThing", "Hints", "find_squares"]
