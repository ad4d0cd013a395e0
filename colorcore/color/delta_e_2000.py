"""CIEDE2000 colour difference.

Source: ISO/CIE 11664-6:2014; equation numbers below are those of G. Sharma, W. Wu and
E. N. Dalal, 'The CIEDE2000 color-difference formula', Color Research and Application 30 (2005),
21-30, whose 34 pairs it meets to 1e-4.

Valid for flat samples without texture, about 4 degrees or larger, side by side on a grey ground
of L* 50 under 1000 lx of D65, and for differences up to 5 units. Printed cloth is none of that:
beyond 5 units the number orders well enough, but its size means little.

The hue angles are never taken apart: the direction of the mean hue is that of the sum of both
unit vectors, and a hue difference is their chord, which saves two arctangents and three cosines
and loses no digits for nearly equal colours.
"""

import math
from typing import Final

import numpy as np
from numpy.typing import ArrayLike

from colorcore.color.planes import FloatArray, Planes, compare

_POW25_7: Final = 25.0**7
_OPPOSITE: Final = math.radians(1e-9) ** 2
"""Hues within 1e-9 degrees of opposite count as a difference of 180 degrees, not more."""

_COS_30, _SIN_30 = math.cos(math.radians(30)), math.sin(math.radians(30))
_COS_6, _SIN_6 = math.cos(math.radians(6)), math.sin(math.radians(6))
_COS_63, _SIN_63 = math.cos(math.radians(63)), math.sin(math.radians(63))


def ciede2000(lab1: ArrayLike, lab2: ArrayLike) -> FloatArray:
    """Return the CIEDE2000 difference (...) of CIELAB D65 arrays (..., 3) that broadcast.

    k_L = k_C = k_H = 1. Symmetric; not a metric. NaN in gives NaN out. float32 stays float32.
    """
    return compare(_formula, lab1, lab2)


def _seventh_root_term(chroma: FloatArray) -> FloatArray:
    """sqrt(C^7 / (C^7 + 25^7)), which eqs 4 and 17 share."""
    power = chroma * chroma
    power *= power * power
    power *= chroma
    return np.asarray(np.sqrt(power / (power + _POW25_7)))


def _formula(one: Planes, two: Planes) -> FloatArray:
    l1, a1, b1 = one
    l2, a2, b2 = two

    # Eqs 2 to 6: chroma with a* stretched near the grey axis.
    stretch = np.sqrt(a1 * a1 + b1 * b1) + np.sqrt(a2 * a2 + b2 * b2)
    stretch *= 0.5
    stretch = 1.5 - 0.5 * _seventh_root_term(stretch)
    a1 = a1 * stretch
    a2 = a2 * stretch
    c1 = np.sqrt(a1 * a1 + b1 * b1)
    c2 = np.sqrt(a2 * a2 + b2 * b2)

    # Eq 7: the hue as a unit vector; a grey has none, and its zero drops out of sum and chord.
    inverse1 = 1 / np.where(c1 == 0, 1, c1)
    inverse2 = 1 / np.where(c2 == 0, 1, c2)
    x1, y1 = a1 * inverse1, b1 * inverse1
    x2, y2 = a2 * inverse2, b2 * inverse2

    # Eqs 8 to 11.
    delta_l = l2 - l1
    delta_c = c2 - c1
    chord_x, chord_y = x2 - x1, y2 - y1
    chord = chord_x * chord_x
    chord += chord_y * chord_y
    delta_h = np.sqrt(chord * (c1 * c2))
    np.negative(delta_h, out=delta_h, where=x1 * y2 < y1 * x2)

    # Eqs 12 to 14.
    mean_l = 0.5 * (l1 + l2)
    mean_c = 0.5 * (c1 + c2)
    cos_h, sin_h = x1 + x2, y1 + y2
    length = cos_h * cos_h
    length += sin_h * sin_h
    opposite = length <= _OPPOSITE
    if opposite.any():
        angle = np.broadcast_to(np.arctan2(y1, x1) % math.tau, opposite.shape)[opposite]
        angle += np.broadcast_to(np.arctan2(y2, x2) % math.tau, opposite.shape)[opposite]
        angle *= 0.5
        cos_h[opposite], sin_h[opposite], length[opposite] = np.cos(angle), np.sin(angle), 1
    length = 1 / np.sqrt(length)
    cos_h *= length
    sin_h *= length

    # Eq 15, the cosines of multiples of the mean hue from its own.
    cos_2h = cos_h * cos_h
    cos_2h *= 2
    cos_2h -= 1
    sin_2h = sin_h * cos_h
    sin_2h *= 2
    t = 1 - 0.17 * (cos_h * _COS_30 + sin_h * _SIN_30)
    t += 0.24 * cos_2h
    t += (0.32 * _COS_6) * (cos_2h * cos_h - sin_2h * sin_h)
    t -= (0.32 * _SIN_6) * (sin_2h * cos_h + cos_2h * sin_h)
    t -= (0.20 * _COS_63) * (2 * cos_2h * cos_2h - 1)
    t -= (0.40 * _SIN_63) * (sin_2h * cos_2h)

    # Eqs 16 to 21.
    hue = np.arctan2(sin_h, cos_h)
    hue *= 180 / math.pi
    hue -= 275 - 360 * (hue < 0)
    hue *= 1 / 25
    hue *= hue
    turn = np.exp(np.negative(hue, out=hue), out=hue)
    turn *= math.pi / 3
    rotation = _seventh_root_term(mean_c)
    rotation *= np.sin(turn, out=turn)
    rotation *= -2
    mean_l -= 50
    mean_l *= mean_l
    delta_l /= 1 + 0.015 * mean_l / np.sqrt(20 + mean_l)
    delta_c /= 1 + 0.045 * mean_c
    t *= mean_c
    t *= 0.015
    t += 1
    delta_h /= t

    # Eq 22.
    rotation *= delta_c * delta_h
    rotation += delta_l * delta_l
    rotation += delta_c * delta_c
    rotation += delta_h * delta_h
    return np.asarray(np.sqrt(np.maximum(rotation, 0, out=rotation), out=rotation))
