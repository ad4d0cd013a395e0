"""Published values of the common 24-patch colour chart.

Four rows of six patches, described by C. S. McCamy, H. Marcus and J. G. Davidson, 'A
color-rendition chart', Journal of Applied Photographic Engineering 2 (1976), 95-99. Its maker
republished the values for both formulations in 2016; charts made from November 2014 on differ
from earlier ones by about 1 CIELAB unit. Both tables are CIELAB for D50, 2 degree observer, as
published, and equal to those that colour-science carries. Values for D65 are adapted from D50 by
the linear Bradford transform and then corrected, patch by patch, by what that transform does wrong
to the patch's published reflectance ('BabelColor Average', a mean over charts): it is off by 0.5
CIEDE2000 in the median and by 1.4 on saturated patches. The correction made from one set of
reflectances takes another ('ISO 17321-1') from 0.56 to 0.09.

Patches run row by row from the brown one at the top left to the black one at the bottom right,
the grey row at the bottom.
"""

from typing import Final

import numpy as np
from numpy.typing import NDArray

from colorcore.color.spaces import adapt_white, linear_from_xyz, xyz_from_lab
from colorcore.errors import ColorError

CHART_ROWS: Final = 4
CHART_COLUMNS: Final = 6
GREY_RAMP: Final = tuple(range(18, 24))
"""The patches of the grey row, light to dark."""

PATCH_NAMES: Final[tuple[str, ...]] = (
    "dark skin",
    "light skin",
    "blue sky",
    "foliage",
    "blue flower",
    "bluish green",
    "orange",
    "purplish blue",
    "moderate red",
    "purple",
    "yellow green",
    "orange yellow",
    "blue",
    "green",
    "red",
    "yellow",
    "magenta",
    "cyan",
    "white",
    "neutral 8",
    "neutral 6.5",
    "neutral 5",
    "neutral 3.5",
    "black",
)

AFTER_2014: Final = "after November 2014"
BEFORE_2014: Final = "before November 2014"

_LAB_D50: Final[dict[str, tuple[tuple[float, float, float], ...]]] = {
    AFTER_2014: (
        (37.54, 14.37, 14.92),
        (64.66, 19.27, 17.5),
        (49.32, -3.82, -22.54),
        (43.46, -12.74, 22.72),
        (54.94, 9.61, -24.79),
        (70.48, -32.26, -0.37),
        (62.73, 35.83, 56.5),
        (39.43, 10.75, -45.17),
        (50.57, 48.64, 16.67),
        (30.1, 22.54, -20.87),
        (71.77, -24.13, 58.19),
        (71.51, 18.24, 67.37),
        (28.37, 15.42, -49.8),
        (54.38, -39.72, 32.27),
        (42.43, 51.05, 28.62),
        (81.8, 2.67, 80.41),
        (50.63, 51.28, -14.12),
        (49.57, -29.71, -28.32),
        (95.19, -1.03, 2.93),
        (81.29, -0.57, 0.44),
        (66.89, -0.75, -0.06),
        (50.76, -0.13, 0.14),
        (35.63, -0.46, -0.48),
        (20.64, 0.07, -0.46),
    ),
    BEFORE_2014: (
        (37.986, 13.555, 14.059),
        (65.711, 18.13, 17.81),
        (49.927, -4.88, -21.905),
        (43.139, -13.095, 21.905),
        (55.112, 8.844, -25.399),
        (70.719, -33.397, -0.199),
        (62.661, 36.067, 57.096),
        (40.02, 10.41, -45.964),
        (51.124, 48.239, 16.248),
        (30.325, 22.976, -21.587),
        (72.532, -23.709, 57.255),
        (71.941, 19.363, 67.857),
        (28.778, 14.179, -50.297),
        (55.261, -38.342, 31.37),
        (42.101, 53.378, 28.19),
        (81.733, 4.039, 79.819),
        (51.935, 49.986, -14.574),
        (51.038, -28.631, -28.638),
        (96.539, -0.425, 1.186),
        (81.257, -0.638, -0.335),
        (66.766, -0.734, -0.504),
        (50.867, -0.153, -0.27),
        (35.656, -0.421, -1.231),
        (20.461, -0.079, -0.973),
    ),
}

DAYLIGHT_RATIO: Final = np.array(
    [
        (0.9805, 0.9871, 1.0000),
        (0.9767, 0.9911, 0.9886),
        (1.0113, 1.0068, 1.0012),
        (1.0087, 1.0045, 1.0010),
        (0.9976, 0.9990, 1.0011),
        (1.0197, 1.0153, 0.9879),
        (0.9713, 0.9747, 1.0030),
        (1.0119, 1.0027, 1.0011),
        (0.9559, 0.9667, 1.0000),
        (0.9856, 0.9826, 1.0169),
        (1.0088, 1.0052, 0.9864),
        (0.9827, 0.9840, 1.0116),
        (1.0138, 1.0020, 0.9978),
        (1.0252, 1.0170, 0.9786),
        (0.9350, 0.9528, 0.9912),
        (0.9887, 0.9926, 0.9936),
        (0.9611, 0.9684, 1.0101),
        (1.0196, 1.0246, 0.9859),
        (0.9988, 1.0001, 0.9971),
        (1.0001, 1.0002, 0.9986),
        (1.0005, 1.0002, 0.9992),
        (1.0009, 1.0004, 0.9993),
        (1.0013, 1.0005, 0.9999),
        (1.0004, 0.9999, 1.0009),
    ]
)
"""XYZ (24, 3) under D65 over XYZ under D50 adapted to D65 by Bradford, from the reflectances of
'BabelColor Average' as colour-science carries them, CIE 1931 observer, 380 to 780 nm by 5 nm. Of
the newer formulation no reflectances are published; it differs so little that this serves both."""

EDITIONS: Final[tuple[str, ...]] = tuple(_LAB_D50)
"""The formulations of the chart, newest first."""


def chart_lab_d50(edition: str = AFTER_2014) -> NDArray[np.float64]:
    """Return CIELAB for D50 (24, 3) as published.

    Raises
    ------
    ColorError
        If there is no such edition.
    """
    if edition not in _LAB_D50:
        known = " or ".join(repr(name) for name in EDITIONS)
        raise ColorError(f"the chart edition {edition!r} is unknown; give {known}")
    return np.array(_LAB_D50[edition])


def chart_linear(edition: str = AFTER_2014) -> NDArray[np.float64]:
    """Return linear light (24, 3), sRGB primaries, D65 white, 1.0 a perfect white; see the top.

    One patch (cyan) lies outside the sRGB gamut, so a value is below 0. Errors as
    ``chart_lab_d50``.
    """
    adapted = adapt_white(xyz_from_lab(chart_lab_d50(edition), "D50"), "D50", "D65")
    return np.asarray(linear_from_xyz(adapted * DAYLIGHT_RATIO))
