"""The nearest colours by CIEDE2000, exactly, without computing it for all.

A difference is first bounded from below at a tenth of its cost. With the names of
``colorcore.color.delta_e_2000`` (equation numbers of Sharma, Wu and Dalal 2005), write
x = dL'/S_L, y = dC'/S_C, z = dH'/S_H. Then by eq 22

    dE^2 = x^2 + y^2 + z^2 + R_T y z >= x^2 + (1 - |R_T| / 2) (y^2 + z^2),

for |y z| <= (y^2 + z^2) / 2. Three facts bound each part without hue, root or power:

* eq 15: (mL - 50)^2 / sqrt(20 + (mL - 50)^2) <= |mL - 50|, so S_L <= 1 + 0.015 |mL - 50|.
* dC'^2 + dH'^2 is the squared distance in the plane of (1 + G) a* and b* (eqs 5, 8 and 11: the
  chord of two vectors, split into lengths and angle), and G >= 0, so it is at least da*^2 + db*^2.
  S_C = 1 + 0.045 mC' is never below S_H = 1 + 0.015 mC' T, for T <= 1.93 < 3 (eq 15 of T: one plus
  the sum of its four amplitudes). As G <= 1/2, mC' <= 1.5 mC, hence
  y^2 + z^2 >= (da*^2 + db*^2) / (1 + 0.0675 mC)^2.
* |R_T| = sin(2 dTheta) R_C with dTheta <= 30 degrees and R_C <= 2 (eqs 16, 17 and 21), so
  1 - |R_T| / 2 >= 1 - sin 60 degrees > 0.1339. And R_C grows with mC', so that below a largest
  mean chroma M of the colours in hand it is at least 1 - sin 60 degrees sqrt(q / (q + 25^7))
  with q = (1.5 M)^7.
"""

import math
from typing import Final

import numpy as np
from numpy.typing import ArrayLike, NDArray

from colorcore.color.delta_e_2000 import ciede2000

_FEW: Final = 4096
"""Up to so many colours the formula itself is quickest; and so many serve as a first guess."""
_SIN_60: Final = math.sqrt(3) / 2
_SHORT: Final = 1 - 1e-9
"""A bound is computed in rounded numbers as well, so it is taken a little lower than it came."""


def nearest(
    labs: ArrayLike, query: ArrayLike, count: int
) -> tuple[NDArray[np.intp], NDArray[np.float64]]:
    """Return the ``count`` colours of ``labs`` nearest to ``query`` by CIEDE2000.

    Parameters
    ----------
    labs : (N, 3)
        CIELAB D65, finite.
    query : (3,)
        CIELAB D65, finite.
    count : int
        How many; fewer come back if there are not so many.

    Returns
    -------
    indices : (min(count, N),)
        Nearest first; of equal differences the smaller index first.
    differences : (min(count, N),)
        CIEDE2000.

    Raises
    ------
    ValueError
        If a shape is wrong, a number is not finite, or ``count`` is negative.
    """
    colors = np.asarray(labs, dtype=np.float64)
    wanted = np.asarray(query, dtype=np.float64)
    if colors.ndim != 2 or colors.shape[1] != 3 or wanted.shape != (3,):
        raise ValueError(f"colours (N, 3) and (3,) are wanted, not {colors.shape}, {wanted.shape}")
    if count < 0:
        raise ValueError(f"count is 0 or more, not {count}")
    if not (math.isfinite(float(colors.sum())) and np.isfinite(wanted).all()):
        raise ValueError("a colour is not finite")
    if not count or not len(colors):
        return np.zeros(0, np.intp), np.zeros(0)
    if len(colors) <= max(_FEW, 8 * count):
        return _order(np.arange(len(colors)), np.asarray(ciede2000(colors, wanted)), count)
    guess = np.arange(0, len(colors), max(1, len(colors) // max(_FEW, 4 * count)))
    differences = np.asarray(ciede2000(colors[guess], wanted), dtype=np.float64)
    reach = float(np.partition(differences, count - 1)[count - 1])
    # The guess as a whole is coarse; the likeliest of what it leaves tightens it.
    within = _within_bound(colors, wanted, reach)
    if len(within) > 4 * _FEW:
        near = _likeliest(colors[within], wanted, max(_FEW, 4 * count))
        differences = np.asarray(ciede2000(colors[within[near]], wanted), dtype=np.float64)
        reach = min(reach, float(np.partition(differences, count - 1)[count - 1]))
        within = within[_within_bound(colors[within], wanted, reach)]
    return _order(within, np.asarray(ciede2000(colors[within], wanted)), count)


def least_difference(labs: ArrayLike, query: ArrayLike) -> NDArray[np.float64]:
    """Return a number (N,) that CIEDE2000 between ``labs`` (N, 3) and ``query`` (3,) never falls
    below; see the module's docstring for why."""
    colors, wanted = np.asarray(labs, dtype=np.float64), np.asarray(query, dtype=np.float64)
    by_value = _squared_by_value(colors[:, 0], float(wanted[0]))
    chroma = np.hypot(colors[:, 1], colors[:, 2])
    own = math.hypot(wanted[1], wanted[2])
    share = _least_share(0.5 * (own + float(chroma.max(initial=0.0))))
    by_color = (colors[:, 1] - wanted[1]) ** 2 + (colors[:, 2] - wanted[2]) ** 2
    by_color *= share / (1 + 0.0675 * 0.5 * (chroma + own)) ** 2
    return np.asarray(np.sqrt(by_value + by_color) * _SHORT)


def _within_bound(
    colors: NDArray[np.float64], wanted: NDArray[np.float64], reach: float
) -> NDArray[np.intp]:
    """Return indices (K,) of all ``colors`` (N, 3) that may lie within ``reach`` CIEDE2000 of the
    one ``wanted`` (3,): those by value alone first, which needs no chroma, then of these those by
    the whole bound."""
    by_value = _squared_by_value(colors[:, 0], float(wanted[0])) * _SHORT**2
    kept = np.flatnonzero(by_value <= reach * reach)
    return kept[least_difference(colors[kept], wanted) <= reach]


def _squared_by_value(lightness: NDArray[np.float64], own: float) -> NDArray[np.float64]:
    middle = lightness + (own - 100)
    np.abs(middle, out=middle)
    middle *= 0.015 * 0.5
    middle += 1
    step = lightness - own
    step /= middle
    step *= step
    return step


def _least_share(chroma: float) -> float:
    """1 - |R_T| / 2 at least, for mean chroma up to this."""
    power = (1.5 * chroma) ** 7
    return 1 - _SIN_60 * math.sqrt(power / (power + 25.0**7))


def _likeliest(
    colors: NDArray[np.float64], wanted: NDArray[np.float64], count: int
) -> NDArray[np.intp]:
    """Indices of the colours that a plain weighted distance puts first."""
    away = colors - wanted
    away *= away
    weight = 1 / (1 + 0.045 * math.hypot(wanted[1], wanted[2])) ** 2
    distance = away @ np.array([1.0, weight, weight])
    return np.argpartition(distance, min(count, len(distance) - 1))[:count]


def _order(
    indices: NDArray[np.intp], differences: NDArray[np.float64], count: int
) -> tuple[NDArray[np.intp], NDArray[np.float64]]:
    if count < len(differences):
        last = np.partition(differences, count - 1)[count - 1]
        close = differences <= last
        indices, differences = indices[close], differences[close]
    order = np.lexsort((indices, differences))[:count]
    return indices[order], differences[order].astype(np.float64)
