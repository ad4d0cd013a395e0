"""Lightness that counts saturation: a vivid red looks lighter than a grey of its L*.

Source: M. D. Fairchild and E. Pirrotta, 'Predicting the lightness of chromatic object colors using
CIELAB', Color Research and Application 16 (1991), 385-393: the Helmholtz-Kohlrausch effect as a
term added to L* that grows with C*, shrinks towards white, is smallest for yellow and largest for
blue.

Valid for flat coloured papers by daylight on a grey ground; the term averages observers who differ
widely among themselves, so it is a second opinion and L* stays the value.
"""

import numpy as np
from numpy.typing import ArrayLike

from colorcore.color.spaces import FloatArray


def lightness_with_chroma(lab: ArrayLike) -> FloatArray:
    """Return L** (...), on the scale of L*, of CIELAB D65 (..., 3). Greys keep their L*."""
    values = np.asarray(lab, dtype=np.float64)
    lightness, a, b = values[..., 0], values[..., 1], values[..., 2]
    chroma = np.hypot(a, b)
    # f2(L*) and g(h) of the paper. Above white f2 would turn negative, for which there are no data.
    fading = np.maximum(2.5 - 0.025 * lightness, 0)
    by_hue = 0.116 * np.abs(np.sin((np.arctan2(b, a) - np.pi / 2) / 2)) + 0.085
    return np.asarray(lightness + fading * by_hue * chroma)
