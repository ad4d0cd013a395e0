"""OKLab, whose hue angle keeps blue blue.

Source: B. Ottosson, 'A perceptual color space for image processing' (2020), with the matrices of
the sample code of W3C, CSS Color Module Level 4, exact to float64 against its D65.

CIELAB bends blues towards purple as they gain chroma; here they keep their angle, so this is where
hues get their names. For distances CIELAB and its differences stay in charge.
"""

from typing import Final

import numpy as np
from numpy.typing import ArrayLike

from colorcore.color.spaces import FloatArray

_LMS_FROM_OKLAB: Final = np.array(
    [
        [1.0, 0.3963377773761749, 0.2158037573099136],
        [1.0, -0.1055613458156586, -0.0638541728258133],
        [1.0, -0.0894841775298119, -1.2914855480194092],
    ]
)
_XYZ_FROM_LMS: Final = np.array(
    [
        [1.2268798758459243, -0.5578149944602171, 0.2813910456659647],
        [-0.0405757452148008, 1.1122868032803170, -0.0717110580655164],
        [-0.0763729366746601, -0.4214933324022432, 1.5869240198367816],
    ]
)
_OKLAB_FROM_LMS: Final = np.linalg.inv(_LMS_FROM_OKLAB)
_LMS_FROM_XYZ: Final = np.linalg.inv(_XYZ_FROM_LMS)


def xyz_from_oklab(oklab: ArrayLike) -> FloatArray:
    """Return XYZ D65 (..., 3), Y = 1 for white, from OKLab (..., 3), L 0 to 1."""
    lms = np.asarray(oklab, dtype=np.float64) @ _LMS_FROM_OKLAB.T
    return np.asarray(lms**3 @ _XYZ_FROM_LMS.T)


def oklab_from_xyz(xyz: ArrayLike) -> FloatArray:
    """Return OKLab (..., 3), L 0 to 1, from XYZ D65 (..., 3), Y = 1 for white."""
    lms = np.asarray(xyz, dtype=np.float64) @ _LMS_FROM_XYZ.T
    return np.asarray(np.cbrt(lms) @ _OKLAB_FROM_LMS.T)
