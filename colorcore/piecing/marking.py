"""Graphite or chalk: what shows on each fabric.

Chalk on dark cloth is common practice, no source. A soft pencil line reads at about L* 35 and a
chalk line at about L* 92 on cloth (from memory; lines are thin, so both are milder than the bare
material); whichever stands further from the fabric shows better.
"""

from dataclasses import dataclass
from typing import Final

from colorcore.swatch import Swatch

GRAPHITE_LIGHTNESS: Final = 35.0
CHALK_LIGHTNESS: Final = 92.0
_TOO_CLOSE: Final = 8.0
_HARD_TO_SEE: Final = 12.0


@dataclass(frozen=True)
class MarkingAdvice:
    """``tool`` is graphite, chalk or either; ``contrast`` in L* units on the fabric's reads-as
    value; ``busy`` is True if the print's own lights and darks may hide any line."""

    tool: str
    contrast: float
    busy: bool
    sentence: str


def advise_marking(swatch: Swatch) -> MarkingAdvice:
    """Return what to mark a fabric with, from its value and value spread."""
    lightness = swatch.lab[0]
    graphite = lightness - GRAPHITE_LIGHTNESS
    chalk = CHALK_LIGHTNESS - lightness
    margin = max(_TOO_CLOSE, 2 * swatch.lab_sd[0])
    if abs(graphite - chalk) < margin:
        tool, contrast = "either", min(abs(graphite), abs(chalk))
        sentence = "Graphite or chalk: try both on a scrap."
    elif graphite > chalk:
        tool, contrast = "graphite", graphite
        sentence = "Graphite."
    else:
        tool, contrast = "chalk", chalk
        sentence = "Chalk."
    busy = contrast - swatch.value_spread / 2 < _HARD_TO_SEE
    if busy:
        sentence += " The print may hide the line: mark on the wrong side, or press a crease."
    return MarkingAdvice(tool, contrast, busy, sentence)
