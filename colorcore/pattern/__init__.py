"""What a pattern wants: stacks, pieces, sizes."""

from colorcore.pattern.model import (
    Pattern,
    PatternSize,
    PieceRule,
    Role,
    StackRule,
    ValueRule,
)

__all__ = ["Pattern", "PatternSize", "PieceRule", "Role", "StackRule", "ValueRule"]
