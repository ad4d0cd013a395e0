"""Faint sides: what shows along a whole side, though at no single place of it.

A square of the table's very colour in a dim picture is told by eye from the thin shadow at its foot
or a trace of a step, both lost in the noise at any one place. Averaged along the side they stand
out; a slow change of light does not, since only what changes faster at the outline than beside it
counts, and neither does a line of the table's own, since it runs on beyond the corners.
"""

import numpy as np
from numpy.typing import NDArray

from colorcore.finding import choose
from colorcore.finding.beyond import read_across

Quads = NDArray[np.float64]

# Places along a side, and beyond each of its corners, from and to as shares of the gap and no
# further than this share of the side; places across, out to this share of the side.
_ALONG, _BEYOND, _FROM, _TO, _FURTHEST = 48, 8, 0.25, 0.75, 0.2
_ACROSS, _REACH = 17, 0.05
# Neighbouring places share pixels: so many are worth one.
_SHARED = 2.0
# Noise is no less than this, in CIELAB units.
_LEAST_NOISE = 0.05
# All but one of the sides must stand out by so many standard errors, and the last one by so many;
# of a trace no more than this may run on.
_CLEAR, _LAST, _ON = 4.5, 1.7, 0.5


def traced(channels: NDArray[np.float32], quads: Quads, gap: float) -> NDArray[np.bool_]:
    """Return which outlines (N, 4, 2) in a view of CIELAB ``channels`` (h, w, 3) show a trace of
    their own along their sides; ``gap`` is the distance between squares in sides of a square."""
    if not len(quads):
        return np.zeros(0, bool)
    ahead = np.linspace(_FROM, _TO, _BEYOND) * min(max(gap, 0.0), _FURTHEST)
    places = np.concatenate([-ahead, np.linspace(0.04, 0.96, _ALONG), 1 + ahead])
    reach = np.maximum(5.0, _REACH * choose.sides(quads))
    read, seen = read_across(channels, quads, places, np.linspace(-1, 1, _ACROSS), reach)
    first, own, last = (
        slice(0, _BEYOND), slice(_BEYOND, -_BEYOND), slice(len(places) - _BEYOND, None)
    )  # fmt: skip
    best = np.zeros((len(quads), 4))
    for trace in (_step(read), _line(read)):
        mean = trace[:, :, own].mean(axis=2)
        error = trace[:, :, own].std(axis=2) / np.sqrt(_ALONG / _SHARED)
        worth = np.sqrt(((mean / np.maximum(error, _LEAST_NOISE)) ** 2).sum(axis=-1))
        size = np.maximum((mean * mean).sum(axis=-1), 1e-6)
        on = [(trace[:, :, k].mean(axis=2) * mean).sum(axis=-1) / size for k in (first, last)]
        best = np.maximum(best, np.where(np.minimum(*on) < _ON, worth, 0.0))
    ranked = np.sort(best, axis=1)
    return np.asarray(seen.all(axis=(1, 2)) & (ranked[:, 0] > _LAST) & (ranked[:, 1] > _CLEAR))


def _step(read: Quads) -> Quads:
    """Return the step at an outline (..., K, C) of values across it (..., K, 17, C), less what the
    light changes beside it anyway."""
    far, near, here, next_ = (
        read[..., k, :].mean(axis=-2)
        for k in (slice(0, 4), slice(4, 8), slice(9, 13), slice(13, 17))
    )
    return np.asarray((here - near) - 0.625 * ((near - far) + (next_ - here)))


def _line(read: Quads) -> Quads:
    """Return how far the outline itself (..., K, C) differs from both its sides."""
    near, here, beyond = (
        read[..., k, :].mean(axis=-2) for k in (slice(3, 6), slice(7, 10), slice(11, 14))
    )
    return np.asarray(here - (near + beyond) / 2)
