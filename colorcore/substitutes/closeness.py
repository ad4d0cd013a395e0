"""How near one fabric comes to another: colour, print scale, value spread.

All differences are defined for flat samples without texture; of a print they compare what it reads
as, and the print itself is compared by its scale, its spread and the colours within it.
"""

import math
from typing import Final

import numpy as np

from colorcore.color.difference import ciede2000, cmc
from colorcore.color.grades import grade
from colorcore.substitutes.model import Closeness
from colorcore.swatch import Swatch
from colorcore.swatch.likeness import PrintProfile, describe_print

_COLOR_STEP: Final = 5.0
"""CIEDE2000 that counts as one step of unlikeness: two fabrics that pass for each other across a
room, not in the hand (common practice, no source)."""
_OWN_SD: Final = 0.7
"""L* of a square's own within one photo, where it was not measured: the most that
``colorcore.swatch.likeness`` allows."""
_SPREAD_STEP: Final = 12.0
_OCTAVE_STEP: Final = 1.0
_PRINT_STEP: Final = 8.0
_PALETTE_STEP: Final = 8.0
_PLAIN_BELOW: Final = 2.0
"""CIELAB units between the colours within two fabrics below which neither counts as a print."""


def closeness(original: Swatch, candidate: Swatch, *, same_photo: bool = False) -> Closeness:
    """Return how near ``candidate`` comes to ``original``.

    Two squares of the ``same_photo`` share most of what their standard deviations count, so it
    cancels in their difference.
    """
    one, other = np.array(original.lab), np.array(candidate.lab)
    return Closeness(
        delta_e=float(ciede2000(one, other)),
        cmc=float(cmc(one, other)),
        grade=grade(one, other),
        lightness=float(other[0] - one[0]),
        lightness_sd=math.hypot(*_own_sds(original, candidate, same_photo)),
        value_spread=candidate.value_spread - original.value_spread,
        octaves=_octaves(original, candidate),
        prints=_print_distance(describe_print(original), describe_print(candidate)),
        palette=_palette_distance(original, candidate),
    )


def _own_sds(one: Swatch, other: Swatch, same_photo: bool) -> tuple[float, float]:
    if not same_photo:
        return one.lab_sd[0], other.lab_sd[0]
    first, second = (
        min(s.lab_sd[0], _OWN_SD) if s.order_sd is None else s.order_sd for s in (one, other)
    )
    return first, second


def looks_score(found: Closeness) -> float:
    """Return how unlike two fabrics look: 0 the same, about 1 for one step in one respect.

    A print whose size is not known counts half an octave off: neither praised nor blamed.
    """
    is_print = found.octaves is not None or found.prints >= _PLAIN_BELOW
    octaves = 0.5 if found.octaves is None else min(abs(found.octaves), 3.0)
    return math.sqrt(
        (found.delta_e / _COLOR_STEP) ** 2
        + (found.palette / _PALETTE_STEP) ** 2
        + (found.value_spread / _SPREAD_STEP) ** 2
        + (octaves / _OCTAVE_STEP * is_print) ** 2
        + (found.prints / _PRINT_STEP) ** 2
    )


def _octaves(original: Swatch, candidate: Swatch) -> float | None:
    sizes = []
    for swatch in (original, candidate):
        known = "no-scale" not in swatch.flags
        if swatch.reads_as_solid or not swatch.print_scale_inches or not known:
            return None
        sizes.append(swatch.print_scale_inches)
    return math.log2(sizes[1] / sizes[0])


def _print_distance(one: PrintProfile, other: PrintProfile) -> float:
    """Sliced Wasserstein distance of the colours of two prints, each less its mean."""
    return float(np.sqrt(3 * np.mean((one.quantiles - other.quantiles) ** 2)))


def _palette_distance(one: Swatch, other: Swatch) -> float:
    """Mean CIEDE2000, by shares and both ways, from each colour to the nearest of the other."""
    if not one.palette or not other.palette:
        return float(ciede2000(np.array(one.lab), np.array(other.lab)))
    first = np.array([color.lab for color in one.palette])
    second = np.array([color.lab for color in other.palette])
    apart = np.asarray(ciede2000(first[:, None], second[None]), dtype=np.float64)
    there = np.average(apart.min(axis=1), weights=_shares(one))
    back = np.average(apart.min(axis=0), weights=_shares(other))
    return float(there + back) / 2


def _shares(swatch: Swatch) -> list[float]:
    return [max(color.share, 1e-6) for color in swatch.palette]
