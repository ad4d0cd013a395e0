"""Whether what a reference makes of the squares can be: no cloth is lighter than white cloth.

A reference that is none, or lies in a shadow, makes everything too light by as much as it is
darker than it was taken for; where that passes what cloth and paper can be, it shows.
"""

from typing import Final

import numpy as np
from numpy.typing import NDArray

from colorcore.color.spaces import lab_from_linear
from colorcore.finding.model import Finding
from colorcore.light.calibration import Calibration
from colorcore.light.paper import sheets_of
from colorcore.light.sampling import SmallPicture

Array = NDArray[np.float64]

_WHITEST_CLOTH: Final = 97.5
"""L* of bleached and brightened cotton (common practice, no source)."""
_WHITEST_PAPER: Final = 100.0
"""L* of a perfect diffuser: what sends back more light is no paper, brightener aside."""
_BEYOND: Final = 2.0
"""Standard deviations above that which no doubt explains. What the camera's curve leaves open does
not count: rising everywhere, it makes nothing much lighter that is no lighter than paper. Of 88
rendered scenes, bundles all of white among them, the third lightest square was L* 95.9 at most;
beside wood or cardboard taken for paper it is 104 and more."""
_SEVERAL: Final = 3
"""Squares that must be too light: one or two may shine or be no cloth."""


def note_impossible(
    calibration: Calibration, finding: Finding, small: SmallPicture, corners: Array, lab: Array
) -> str:
    """The sentence on references that cannot be what they were taken for, and what to do; empty
    where squares (N, 4, 2) measured as L*, a*, b* (N, 3) are as light as cloth can be, and sheets
    beside a reference that the maker gave as light as paper can be."""
    references = calibration.references
    if not references:
        return ""
    given = [reference for reference in references if not reference.found]
    if _outshines_cloth(calibration, corners, lab):
        lighter = "Cloth"
    elif given and _outshone_by_sheet(calibration, finding, small):
        lighter = "Another sheet"
    else:
        return ""
    if not given:
        return (
            f"{lighter} would be lighter than white: what was taken for the {references[0].kind} "
            "is hardly that, or lies in a shadow. Point to white paper in the light of most "
            "squares, or lay a sheet there and take the photo again."
        )
    if given[0].kind == "paper":
        return (
            f"{lighter} would be lighter than white paper: the point given is hardly white paper, "
            "or lies in a shadow. Point again, to white paper in the light of most squares."
        )
    return (
        f"{lighter} would be lighter than white: what was given as {given[0].kind} is hardly that, "
        "or lies in a shadow. Give it again, in the light of most squares."
    )


def _outshines_cloth(calibration: Calibration, corners: Array, lab: Array) -> bool:
    """Whether several squares, or half of them where there are fewer, are lighter than any cloth
    can be, by more than their doubt."""
    count = min(_SEVERAL, (len(lab) + 1) // 2)
    over = lab[:, 0] > _WHITEST_CLOTH
    if not count or np.count_nonzero(over) < count:
        return False
    sd = _doubt_beside_paper(calibration, corners[over], lab[over])
    return bool(np.count_nonzero(lab[over, 0] - _BEYOND * sd > _WHITEST_CLOTH) >= count)


def _outshone_by_sheet(calibration: Calibration, finding: Finding, small: SmallPicture) -> bool:
    for sheet in sheets_of(small, finding, search=False):
        x0, y0 = sheet.outline.min(axis=0)
        x1, y1 = sheet.outline.max(axis=0)
        box = np.array([[x0, y0], [x1, y0], [x1, y1], [x0, y1]])
        grey = calibration.color_at(np.full(3, np.exp(sheet.level)), box.mean(axis=0))
        lab = np.asarray(lab_from_linear(grey), dtype=np.float64)
        sd = _doubt_beside_paper(calibration, box[None], lab[None])
        if lab[0] - _BEYOND * float(sd[0]) > _WHITEST_PAPER:
            return True
    return False


def _doubt_beside_paper(calibration: Calibration, corners: Array, lab: Array) -> Array:
    """Standard deviation (N,) of L* of what is about as light as paper."""
    own = max(reference.doubt[0] for reference in calibration.references)
    return np.asarray(np.hypot(calibration.order_sd(corners, lab), own))
