"""What a pattern wants: stacks, pieces, sizes."""

from colorcore.pattern.model import (
    Pattern,
    PatternSize,
    PieceRule,
    Role,
    StackRule,
    ValueRule,
)
from colorcore.pattern.reading import decode_pattern, parse_pattern, read_pattern, shipped_patterns

__all__ = [
    "Pattern",
    "PatternSize",
    "PieceRule",
    "Role",
    "StackRule",
    "ValueRule",
    "decode_pattern",
    "parse_pattern",
    "read_pattern",
    "shipped_patterns",
]
