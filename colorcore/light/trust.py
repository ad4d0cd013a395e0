"""A photo's trust grade, in plain words.

Two numbers decide: how far a square's L* may be off (contrast with things outside the photo), and
how far two squares may be off against each other (order), which what is common to the whole photo
does not touch.

=====  ==============================================================================
grade  meaning
=====  ==============================================================================
A      values good to 1.3 L*: contrast and order can be relied on
B      values good to 2.8 L*
C      a reference, and the order holds; values may be further off
D      no reference, one that cannot be right, or a light that could hardly be told
=====  ==============================================================================

Bounds: common practice, no source.
"""

from typing import Final

import numpy as np
from numpy.typing import NDArray

_A: Final = 1.3
_B: Final = 2.8
_ORDER: Final = 2.5
_TWO_SQUARES: Final = 2 * np.sqrt(2)


def grade(
    reference: str,
    total_sd: NDArray[np.float64],
    order_sd: NDArray[np.float64],
    tone_open: bool,
    *,
    doubtful: str = "",
) -> tuple[str, str]:
    """Return the grade A to D and its sentence.

    ``reference`` as in ``Calibration.reference``; ``total_sd`` and ``order_sd`` (S,) standard
    deviations of L* over the photo, whole and without what is common to it; ``tone_open`` whether
    the camera's own curve could not be learned; ``doubtful`` why the reference itself cannot be
    relied on, as a clause that begins with "but".
    """
    total = float(np.median(total_sd)) if total_sd.size else 99.0
    order = float(np.median(order_sd)) if order_sd.size else 99.0
    apart = max(1.0, round(_TWO_SQUARES * order))
    if reference == "none":
        return "D", (
            "No reference in the photo, so the light was guessed: squares more than "
            f"{apart:.0f} L* apart are in the right order, but values and contrast are not to be "
            "relied on."
        )
    against = f"Measured against {reference.replace('+', ' and ')}"
    in_order = f"squares more than {apart:.0f} L* apart are in the right order"
    if doubtful:
        return "D", (
            f"{against}, {doubtful}: {in_order}, but values and contrast are not to be relied on."
        )
    if total <= _A:
        return "A", f"{against}: values are good to {total:.1f} L*, and {in_order}."
    if total <= _B:
        return "B", (
            f"{against}: values are good to {total:.1f} L*, and {in_order}; look twice at contrast "
            f"within {2 * total:.0f} L* of a limit."
        )
    letter = "C" if order <= _ORDER else "D"
    if tone_open:
        return letter, (
            f"{against}: {in_order}, but the camera's own processing is unknown and may shift "
            f"middle values by some {total:.0f} L*; a grey card or a 24-patch chart beside the "
            "paper would settle it."
        )
    return letter, (
        f"{against}: {in_order}, but values are only good to {total:.1f} L*; check contrast by eye."
    )
