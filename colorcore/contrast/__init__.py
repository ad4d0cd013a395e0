"""How fabrics stand off from what lies beside them."""

from colorcore.contrast.background import Background
from colorcore.contrast.measures import (
    HOLDS,
    MELTS,
    SOFT,
    VERDICTS,
    Contrast,
    Thresholds,
    contrast,
)
from colorcore.contrast.sources import find_background

__all__ = [
    "HOLDS",
    "MELTS",
    "SOFT",
    "VERDICTS",
    "Background",
    "Contrast",
    "Thresholds",
    "contrast",
    "find_background",
]
