"""A fabric as a picture that can be laid anywhere at true scale."""

from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from colorcore.color.spaces import linear_from_coded, linear_from_lab
from colorcore.swatch import Swatch


@dataclass(frozen=True, eq=False)
class Cloth:
    """A fabric: ``picture`` (h, w, 3) sRGB-coded at ``pixels_per_inch``, or a plain colour.

    ``whole`` is True for yardage, whose picture repeats without end; a precut square does not.
    """

    name: str
    lab: tuple[float, float, float]
    picture: NDArray[np.uint8] | None = field(default=None, repr=False)
    pixels_per_inch: float = 0.0
    whole: bool = False

    def linear(self, pixels_per_inch: float) -> NDArray[np.float32]:
        """Return the cloth in linear light (h, w, 3) at another resolution, area-averaged; a plain
        colour is one pixel."""
        import cv2

        if self.picture is None:
            plain = np.clip(linear_from_lab(np.array(self.lab)), 0, 1)
            return np.asarray(plain, dtype=np.float32).reshape(1, 1, 3)
        scale = pixels_per_inch / self.pixels_per_inch
        height, width = self.picture.shape[:2]
        size = (max(1, round(width * scale)), max(1, round(height * scale)))
        coded = np.asarray(linear_from_coded(self.picture), dtype=np.float32)
        how = cv2.INTER_AREA if scale < 1 else cv2.INTER_LINEAR
        return np.asarray(cv2.resize(coded, size, interpolation=how), dtype=np.float32)


def cloth_from_swatch(swatch: Swatch) -> Cloth:
    """Return the cloth of a measured square; what its picture does not show is filled with its
    mean colour."""
    from colorcore.color.spaces import coded8_from_linear

    picture = swatch.picture
    if swatch.valid is not None and not swatch.valid.all():
        mean = coded8_from_linear(np.clip(linear_from_lab(np.array(swatch.lab)), 0, 1))
        picture = np.where(swatch.valid[..., None], picture, mean).astype(np.uint8)
    return Cloth(swatch.id, swatch.lab, picture, picture.shape[0] / swatch.side_inches)


def cloth_from_color(
    name: str,
    lab: tuple[float, float, float],
    picture: NDArray[np.uint8] | None = None,
    pixels_per_inch: float = 0.0,
) -> Cloth:
    """Return yardage of a plain colour, CIELAB D65 (3,), or of a print if its sRGB-coded picture
    (h, w, 3) is given."""
    return Cloth(name, lab, picture, pixels_per_inch, whole=True)
