"""How far a reference that is at the camera's limit may lie over it.

Nothing in such a reference tells; the squares beside it do, a little: a bundle is hardly ever as
light as it then comes out. What is known of bundles in general is weighed against it.
"""

from typing import Final

import numpy as np
from numpy.typing import NDArray

from colorcore.light.model import PAPER_REFLECTANCE
from colorcore.light.tone import lightness

Array = NDArray[np.float64]

_EXCESSES: Final = np.linspace(0.0, 1.6, 33)
"""Natural log of light over the limit: five times as much is more than any photo is given that
somebody keeps."""
_USUAL_EXCESS: Final = 0.7
"""Twice the light: mean of what is expected before the squares are looked at."""
_MIDDLE: Final = (58.0, 16.0)
"""L* of a bundle's middle square: mean and standard deviation over bundles."""
_LIGHTEST: Final = (84.0, 9.0)
"""L* of its third lightest."""
_SQUARES_SD: Final = 20.0
"""Standard deviation of L* from square to square."""
_BUNDLE: Final = 10
"""Squares from which the third lightest is one of a bundle's lightest."""
_FREEDOM: Final = 4.0
"""Of Student's t: bundles all of white and all of black are made, too."""
_AT_LIMIT: Final = 0.93
"""Share of full scale from which a square's mean may as well be cut off."""


def excess_sd(luminance: Array) -> float:
    """Root mean square of the natural log of light by which white paper at the limit lies over it.

    ``luminance`` (N,) of squares as the photo claims it, 1.0 its upper end. Over 105 photos,
    rendered with 1.1 to 3.5 times the light, 73 in 100 lay within one such figure and 97 within
    two.
    """
    claimed = np.sort(PAPER_REFLECTANCE * np.clip(luminance, 1e-4, 1.0))
    log_odds = -_EXCESSES / _USUAL_EXCESS
    count = len(claimed)
    if count:
        there = lightness(float(np.median(claimed)) * np.exp(-_EXCESSES))
        # The middle of few squares is that of no bundle.
        sd = float(np.hypot(_MIDDLE[1], 1.25 * _SQUARES_SD / np.sqrt(count)))
        log_odds = log_odds + _log_likelihood((there - _MIDDLE[0]) / sd)
    if count >= _BUNDLE:
        there = lightness(claimed[-3] * np.exp(-_EXCESSES))
        off = (there - _LIGHTEST[0]) / _LIGHTEST[1]
        if claimed[-3] > _AT_LIMIT * PAPER_REFLECTANCE:
            # At the limit itself it is at least so light.
            off = np.maximum(off, 0.0)
        log_odds = log_odds + _log_likelihood(off)
    odds = np.exp(log_odds - log_odds.max())
    return float(np.sqrt(np.sum(odds * _EXCESSES**2) / odds.sum()))


def _log_likelihood(off: Array) -> Array:
    """Student's t, but for a constant."""
    return np.asarray(-0.5 * (_FREEDOM + 1) * np.log1p(off**2 / _FREEDOM))
