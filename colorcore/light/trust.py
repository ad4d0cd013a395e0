"""A photo's trust grade, in plain words."""

from typing import Final

import numpy as np
from numpy.typing import NDArray

_WORDS: Final = {
    "A": "{what}: values are good to about {sd:.1f} L*, so order and contrast can be relied on.",
    "B": "{what}: values are good to about {sd:.1f} L*; contrast calls hold, and squares closer "
    "than {twice:.0f} L* may swap places.",
    "C": "{what}: values are good to about {sd:.1f} L*; check soft contrasts and squares closer "
    "than {twice:.0f} L* by eye.",
    "D": "{what}: values are only good to about {sd:.1f} L*; the order of clearly different "
    "squares holds, contrast with anything outside this photo does not.",
}


def grade(reference: str, lightness_sd: NDArray[np.float64]) -> tuple[str, str]:
    """Return the grade A to D and its sentence.

    ``lightness_sd`` (S,) are the standard deviations of L* over the photo. A up to 0.9, B up to
    1.6, C up to 3, else D; without a reference always D (bounds: common practice, no source).
    """
    typical = float(np.median(lightness_sd)) if lightness_sd.size else 99.0
    if reference == "none":
        letter = "D"
    else:
        letter = next((g for g, top in (("A", 0.9), ("B", 1.6), ("C", 3.0)) if typical <= top), "D")
    what = (
        "No reference in the photo, the light was guessed"
        if reference == "none"
        else f"Measured against {reference.replace('+', ' and ')}"
    )
    words = _WORDS[letter].format(what=what, sd=typical, twice=2 * np.sqrt(2) * typical)
    return letter, words
