"""A colour in words, so that nobody needs to see it to follow the sheet.

The words are our own partition, built like the ISCC-NBS method (K. L. Kelly and D. B. Judd,
'Color: universal language and dictionary of names', NBS Special Publication 440, 1976): a hue
name with modifiers for lightness and saturation, and names of their own where people have them
(brown is dark orange, olive dark yellow, pink light red, navy very dark blue). It is coarser than
that system's 267 blocks, and keeps names that a person would use of cloth.

Lightness is CIELAB L*, saturation CIELAB C*; the hue angle is OKLab's, since CIELAB bends blue
towards purple. Hue boundaries lie between the Munsell hue families (tests/color/test_naming.py
checks both the families and the names against outside data). Rows are tried in order and the
first that holds the colour names it; the hues of the last rows meet all round.
"""

import math
from collections.abc import Sequence
from itertools import combinations
from typing import Final, NamedTuple

import numpy as np
from numpy.typing import ArrayLike

from colorcore.color.oklab import oklab_from_xyz
from colorcore.color.spaces import xyz_from_lab

Range = tuple[float, float]
_ANY: Final[Range] = (-math.inf, math.inf)
_ROUND: Final[Range] = (0.0, 360.0)


class _Row(NamedTuple):
    """A name for a box in hue, L* and C*, each from and up to but not including.

    A hue range may run through 0. Within the box 'dark' is below ``dark``, 'light' from ``light``,
    'greyish' below ``greyish``, 'vivid' from ``vivid``; 'pale' is light and greyish, 'deep' dark
    and vivid.
    """

    name: str
    hue: Range
    lightness: Range
    chroma: Range
    dark: float = -math.inf
    light: float = math.inf
    greyish: float = -math.inf
    vivid: float = math.inf


_NEUTRALS: Final = (
    _Row("black", _ROUND, (-math.inf, 10), (0, 12)),
    _Row("black", _ROUND, (10, 19), (0, 5)),
    _Row("charcoal", _ROUND, (19, 31), (0, 4.5)),
    _Row("grey", _ROUND, (31, 88), (0, 4.5), dark=48, light=70),
    _Row("white", _ROUND, (92, math.inf), (0, 3.5)),
    _Row("off-white", _ROUND, (88, 92), (0, 3.5)),
    _Row("off-white", (40, 125), (88, math.inf), (0, 8)),
)

_TINTED: Final = (
    ("pinkish", (338, 42)),
    ("brownish", (42, 82)),
    ("olive", (82, 115)),
    ("greenish", (115, 184)),
    ("bluish", (184, 284)),
    ("purplish", (284, 338)),
)

_NAMES: Final = (
    *(_Row(f"{tint} black", hue, (10, 19), (5, 8)) for tint, hue in _TINTED),
    *(_Row(f"{tint} grey", hue, (19, 84), (4.5, 8), dark=45, light=68) for tint, hue in _TINTED),
    *(_Row(f"{tint} white", hue, (84, math.inf), (0, 6)) for tint, hue in _TINTED),
    _Row("cream", (58, 115), (84, math.inf), (6, 31)),
    _Row("beige", (45, 115), (72, 84), (8, 20)),
    _Row("terracotta", (39, 63), (48, 73), (33, 57)),
    _Row("peach", (38, 73), (74, math.inf), (6, 50), greyish=14, light=84),
    _Row("tan", (45, 93), (56, 80), (8, 46), greyish=21),
    _Row("khaki", (93, 115), (58, 84), (8, 46)),
    _Row("coral", (20, 46), (57, 78), (40, math.inf), vivid=68),
    _Row("maroon", (350, 34), (10, 30), (12, math.inf), dark=18, greyish=18),
    _Row("rust", (35, 50), (32, 57), (42, math.inf)),
    _Row("reddish brown", (22, 42), (10, 50), (8, 34), dark=28),
    _Row("brown", (35, 84), (-math.inf, 63), (8, 63), dark=28, light=46, greyish=14),
    _Row("gold", (72, 93), (68, 86), (52, math.inf)),
    _Row("mustard", (72, 109), (52, 77), (46, math.inf)),
    _Row("olive", (84, 128), (-math.inf, 60), (8, 60), dark=34, light=52, greyish=15),
    _Row("sage", (115, 168), (52, 82), (8, 28)),
    _Row("mint", (146, 177), (80, math.inf), (6, 56)),
    _Row("teal", (177, 216), (-math.inf, 62), (8, math.inf), dark=32, light=52, greyish=14),
    _Row("aqua", (177, 216), (62, math.inf), (6, math.inf), light=84, greyish=20, vivid=38),
    _Row("navy", (222, 290), (-math.inf, 26), (8, 86)),
    _Row("lavender", (276, 336), (66, math.inf), (6, 54), light=82, greyish=14),
    _Row("plum", (302, 352), (-math.inf, 38), (8, 48), dark=22, greyish=15),
    _Row("magenta", (320, 350), (40, math.inf), (62, math.inf)),
)

_FAMILIES: Final = (
    _Row("pink", (336, 42), (48, 60), (0, 40), dark=60, greyish=28),
    _Row("pink", (336, 12), (55, math.inf), _ANY, light=72, greyish=20, vivid=55),
    _Row("pink", (12, 42), (60, math.inf), _ANY, light=72, greyish=20, vivid=55),
    _Row("purplish red", (338, 12), _ANY, _ANY, dark=34, greyish=22, vivid=58),
    _Row("red", (12, 42), _ANY, _ANY, dark=34, greyish=28, vivid=66),
    _Row("orange", (42, 78), _ANY, _ANY, dark=58, light=78, greyish=40, vivid=74),
    _Row("yellow", (78, 113), _ANY, _ANY, dark=72, light=84, greyish=46, vivid=84),
    _Row("yellow-green", (113, 134), _ANY, _ANY, dark=52, light=80, greyish=34, vivid=74),
    _Row("green", (134, 177), _ANY, _ANY, dark=40, light=66, greyish=22, vivid=60),
    _Row("aqua", (177, 216), _ANY, _ANY, light=84, greyish=20, vivid=38),
    _Row("blue", (216, 286), _ANY, _ANY, dark=32, light=64, greyish=20, vivid=60),
    _Row("purple", (286, 338), _ANY, _ANY, dark=32, light=60, greyish=22, vivid=62),
)

_TABLE: Final = _NEUTRALS + _NAMES + _FAMILIES


def describe_color(lab: ArrayLike) -> str:
    """Return plain words such as 'dark greyish blue', 'cream' or 'vivid red' for CIELAB D65 (3,).

    Raises
    ------
    ValueError
        If the colour is not three finite numbers.
    """
    lightness, a, b = _three(lab)
    ok = oklab_from_xyz(xyz_from_lab((lightness, a, b)))
    hue = math.degrees(math.atan2(float(ok[2]), float(ok[1]))) % 360
    chroma = math.hypot(a, b)
    row = next(row for row in _TABLE if _holds(row, hue, lightness, chroma))
    return _modify(row, lightness, chroma)


def _three(lab: ArrayLike) -> tuple[float, float, float]:
    values = np.asarray(lab, dtype=np.float64)
    if values.shape != (3,) or not np.isfinite(values).all():
        raise ValueError(f"a colour needs three finite numbers, not {values.tolist()}")
    lightness, a, b = values.tolist()
    return lightness, a, b


def _holds(row: _Row, hue: float, lightness: float, chroma: float) -> bool:
    start, end = row.hue
    turned = start <= hue < end if start < end else hue >= start or hue < end
    return (
        (turned or row.hue == _ROUND)
        and row.lightness[0] <= lightness < row.lightness[1]
        and row.chroma[0] <= chroma < row.chroma[1]
    )


def _modify(row: _Row, lightness: float, chroma: float) -> str:
    dark, light = lightness < row.dark, lightness >= row.light
    greyish, vivid = chroma < row.greyish, chroma >= row.vivid
    if light and greyish:
        return f"pale {row.name}"
    if dark and vivid:
        return f"deep {row.name}"
    words = [
        word
        for word, applies in (
            ("dark", dark),
            ("light", light and not vivid),
            ("greyish", greyish),
            ("vivid", vivid),
        )
        if applies
    ]
    return " ".join([*words, row.name])


SMALL_PRINT_INCHES: Final = 1.0
LARGE_PRINT_INCHES: Final = 3.0
"""Repeat or motif below which a print is small, and from which it is large; common practice, no
source."""
_GROUND_SPREAD: Final = 7.0
_GROUND_SHARE: Final = 0.85
_LOW_VOLUME: Final = 70.0
_OF_NOTE: Final = 0.08
_OTHER_HUE: Final = 20.0
"""L* units of value spread below which, and share of the ground from which, a print is sparse; the
L* of its ground from which quilters call it low-volume; the share from which a colour counts, and
the a* b* units from which two are no tones of one hue: common practice, no source."""


def describe_print(
    lab: ArrayLike,
    *,
    reads_as_solid: bool,
    print_scale_inches: float | None = None,
    stripe_degrees: float | None = None,
    value_spread: float = 0.0,
    palette: Sequence[tuple[ArrayLike, float]] = (),
) -> str:
    """Return a square in words: 'dark greyish blue with cream, small print'.

    ``lab`` is the reads-as colour, CIELAB D65 (3,); the rest is as a ``Swatch`` carries it, with
    ``palette`` as pairs of CIELAB and share. A second colour is named if it covers at least 15 %,
    lies at least 20 L* or chroma units off, and goes by another name.

    Raises
    ------
    ValueError
        If a colour is not three finite numbers.
    """
    color = describe_color(lab)
    if reads_as_solid:
        return f"{color}, {'solid' if value_spread < 4 else 'reads as solid'}"
    second = _second_color(lab, color, palette)
    words = []
    if print_scale_inches is not None:
        if print_scale_inches < SMALL_PRINT_INCHES:
            words.append("small")
        else:
            words.append("large" if print_scale_inches >= LARGE_PRINT_INCHES else "medium")
    if palette and 0 < value_spread < _GROUND_SPREAD and palette[0][1] >= _GROUND_SHARE:
        # Nearly all is ground, of one colour: what is printed there are scattered marks.
        words.append("low-volume" if _three(lab)[0] >= _LOW_VOLUME else "sparse")
    elif not second and 0 < value_spread < 12 and _is_of_one_hue(palette):
        words.append("tone-on-tone")
    words.append("print" if stripe_degrees is None else "stripe")
    return f"{color}{second}, {' '.join(words)}"


def _is_of_one_hue(palette: Sequence[tuple[ArrayLike, float]]) -> bool:
    """Whether no two colours of note lie far apart in a* and b*."""
    tints = [_three(color)[1:] for color, share in palette if share >= _OF_NOTE]
    return all(math.dist(one, other) < _OTHER_HUE for one, other in combinations(tints, 2))


def _second_color(lab: ArrayLike, color: str, palette: Sequence[tuple[ArrayLike, float]]) -> str:
    """' with cream', or nothing."""
    base = _three(lab)
    for other, share in sorted(palette, key=lambda entry: -entry[1]):
        if share < 0.15:
            break
        off = _three(other)
        name = describe_color(off)
        far = abs(off[0] - base[0]) >= 20 or math.dist(off[1:], base[1:]) >= _OTHER_HUE
        if far and name != color:
            return f" with {name}"
    return ""
