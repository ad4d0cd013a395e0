"""Pieces from squares and strips from yardage, by cuts from edge to edge."""

from colorcore.cutting.guillotine import (
    CutLine,
    CutPart,
    Cutting,
    Guillotine,
    PieceWanted,
)

__all__ = ["CutLine", "CutPart", "Cutting", "Guillotine", "PieceWanted"]
