"""The squares in a photo."""

from colorcore.finding.model import Finding, FoundSquare, FoundThing, Hints

__all__ = ["Finding", "FoundSquare", "FoundThing", "Hints"]
