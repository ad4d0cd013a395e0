"""Write a small digital negative (DNG 1.4, tags by the published specification) for tests."""

from pathlib import Path

import numpy as np
import tifffile
from numpy.typing import NDArray

WHITE_LEVEL = 16000


def write_negative(
    path: Path,
    camera_rgb: NDArray[np.float64],
    xyz_to_camera: NDArray[np.float64],
    neutral: tuple[float, float, float] = (1.0, 1.0, 1.0),
) -> None:
    """Write camera values (H, W, 3), 0 to 1, through a colour filter array to a DNG file.

    ``xyz_to_camera`` (3, 3) is for D65; ``neutral`` what the camera saw of white.
    """
    level = np.rint(np.clip(camera_rgb, 0, 1) * WHITE_LEVEL).astype(np.uint16)
    mosaic = level[..., 1].copy()
    mosaic[::2, ::2], mosaic[1::2, 1::2] = level[::2, ::2, 0], level[1::2, 1::2, 2]

    def rationals(values: NDArray[np.float64] | tuple[float, ...]) -> list[int]:
        return [n for v in np.ravel(values) for n in (round(float(v) * 10**6), 10**6)]

    d65, dng_cfa = 21, 32803
    tifffile.imwrite(
        path,
        mosaic,
        photometric=dng_cfa,
        subfiletype=0,
        extratags=[
            (50706, "B", 4, (1, 4, 0, 0), True),
            (50707, "B", 4, (1, 1, 0, 0), True),
            (50708, "s", 0, "Rendered", True),
            (33421, "H", 2, (2, 2), True),
            (33422, "B", 4, (0, 1, 1, 2), True),
            (50714, "I", 1, 0, True),
            (50717, "I", 1, WHITE_LEVEL, True),
            (50721, "2i", 9, rationals(xyz_to_camera), True),
            (50728, "2I", 3, rationals(neutral), True),
            (50778, "H", 1, d65, True),
        ],
    )
