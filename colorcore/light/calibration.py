"""What a photo's light, tone curve and camera were, ready to be undone square by square."""

from dataclasses import dataclass, field
from functools import lru_cache
from typing import Any, Final

import numpy as np
from numpy.typing import NDArray

from colorcore.color.spaces import lab_from_linear, linear_from_lab
from colorcore.light.camera import CameraFit
from colorcore.light.field import LightField
from colorcore.light.local import LocalLight
from colorcore.light.model import Reference
from colorcore.light.places import grid_over
from colorcore.light.sharpened import LINEAR_FROM_SHARP, SHARP_FROM_LINEAR
from colorcore.light.tone import ToneCurve
from colorcore.light.uncertainty import Doubts

Array = NDArray[np.float64]
FloatArray = NDArray[np.floating[Any]]
LabLike = tuple[float, float, float] | FloatArray

_GRID: Final = 9
_DOUBT_GRID: Final = 5


@dataclass(frozen=True, eq=False, kw_only=True)
class Calibration:
    """How to get from a photo's linear light to true colour, and how far that is to be trusted.

    Attributes
    ----------
    size : (width, height)
        Of the upright picture in pixels.
    light : LightField
        The light over the table, in the sharpened space, after the tone curve.
    local : LocalLight
        Shadows and patches of sun.
    tone, camera : ToneCurve, CameraFit
        What the camera did; either may be "nothing".
    references : tuple of Reference
        What was used, the one that sets the level first.
    reference : str
        In words: ``paper``, ``chart+paper``, ``none``.
    trust, trust_words : str
        Grade A to D, and one sentence on what follows for contrast and order.
    notes : tuple of str
        Sentences for the maker: what was assumed, what to do better next time.
    chart_residual : float or None
        Cross-validated CIEDE2000 of the chart's patches, median.
    """

    size: tuple[int, int]
    light: LightField
    tone: ToneCurve
    camera: CameraFit
    local: LocalLight = field(repr=False)
    doubts: Doubts = field(repr=False)
    references: tuple[Reference, ...]
    reference: str
    trust: str
    trust_words: str
    notes: tuple[str, ...] = ()
    chart_residual: float | None = None
    _places: dict[bytes, "_Place"] = field(default_factory=dict, init=False, repr=False)

    def apply(self, linear: FloatArray, corners: FloatArray) -> NDArray[np.float32]:
        """Return a straightened patch as it would look under even white light.

        ``linear`` (N, M, 3) is the photo's linear light, straightened from the outline
        ``corners`` (4, 2) in picture pixels. The result (N, M, 3) is linear light, sRGB primaries,
        D65, 1.0 = perfect white, unbounded. NaN stays NaN.
        """
        import cv2

        patch = np.ascontiguousarray(linear, dtype=np.float32)
        height, width = patch.shape[:2]
        sharp = cv2.transform(self.tone.undo(patch), SHARP_FROM_LINEAR.astype(np.float32))
        gain = np.exp(-self.log_light_over(corners, _GRID)).astype(np.float32)
        even = cv2.multiply(sharp, _spread_out(gain, width, height))
        return np.asarray(self.camera.convert(np.asarray(even)), dtype=np.float32)

    def log_light_over(self, corners: FloatArray, steps: int) -> Array:
        """Return the log of the light (steps, steps, 3) over a square, shadows counted."""
        places = grid_over(corners, steps)
        smooth = self.light.log_light(places)
        extra = self.local.log_extra(corners, places)
        return smooth if extra is None else np.asarray(smooth + extra)

    def color_at(self, linear: FloatArray, xy: FloatArray) -> Array:
        """Return true linear light (..., 3) of colours (..., 3) seen at places (..., 2)."""
        seen = np.asarray(linear, dtype=np.float64)
        sharp = self.tone.undo(seen) @ SHARP_FROM_LINEAR.T
        sharp = sharp * np.exp(-self.light.log_light(xy))
        return np.asarray(self.camera.convert(sharp), dtype=np.float64)

    def lab_sd(self, corners: FloatArray, lab: LabLike) -> tuple[float, float, float]:
        """Return one standard deviation of L*, a*, b* measured as ``lab`` within an outline.

        Counts the reference's own doubt, the fitted light at that place, the camera's colour
        mixing and the tone curve. What varies within the print is not part of it.
        """
        place = self._place(corners)
        covariance = self.doubts.common_covariance(self.light, place.xy, lab) + place.covariance
        jacobian = _lab_per_log(np.asarray(lab, dtype=np.float64))
        variance = np.diag(jacobian @ covariance @ jacobian.T)
        variance = variance + self.doubts.lab_variance(lab)
        low, mid, high = np.sqrt(variance)
        return float(low), float(mid), float(high)

    def order_sd(self, corners: FloatArray, lab: LabLike) -> float:
        """Return one standard deviation of L* against other squares of the same photo: what the
        reference and the tone curve leave open moves all of them alike and does not count."""
        jacobian = _lab_per_log(np.asarray(lab, dtype=np.float64))[0]
        variance = float(jacobian @ self._place(corners).covariance @ jacobian)
        return float(np.sqrt(variance + self.doubts.lab_variance(lab)[0]))

    def flags(self, corners: FloatArray) -> tuple[str, ...]:
        """Return the flags (keys of ``colorcore.flags.FLAGS``) that the light puts on a square."""
        return self._place(corners).flags

    def _place(self, corners: FloatArray) -> "_Place":
        """What a square's place alone decides; found once, for all who ask about that square."""
        key = np.asarray(corners, dtype=np.float64).tobytes()
        known = self._places.get(key)
        if known is None:
            xy = grid_over(corners, _DOUBT_GRID)
            fitted = self.doubts.fitted_covariance(self.light, xy)
            covariance = self.doubts.place_covariance(fitted) + self.local.log_sd(corners) ** 2
            flags = (*self.local.flags(corners), *self.doubts.flags(fitted))
            known = self._places[key] = _Place(xy, covariance, flags)
        return known


@dataclass(frozen=True, eq=False)
class _Place:
    """``xy`` (5, 5, 2) places over a square, ``covariance`` (3, 3) of the log light there by
    sharpened channel, and the square's flags."""

    xy: Array
    covariance: Array
    flags: tuple[str, ...]


def _spread_out(gain: NDArray[np.float32], width: int, height: int) -> NDArray[np.float32]:
    """Bilinear from nodes (S, S, 3) at the patch's edges to its pixels' centres."""
    steps = gain.shape[0]
    rows = _between(steps, height, 1) @ gain.reshape(steps, steps * 3)
    spread = np.asarray(rows @ _between(steps, width, 3).T, dtype=np.float32)
    return spread.reshape(height, width, 3)


@lru_cache(maxsize=16)
def _between(nodes: int, pixels: int, channels: int) -> NDArray[np.float32]:
    """Weights (pixels * channels, nodes * channels) of linear interpolation from nodes, the first
    and last at the edges, to the centres of pixels; channels lie innermost."""
    place = (np.arange(pixels) + 0.5) / pixels * (nodes - 1)
    weights = np.maximum(0.0, 1.0 - np.abs(place[:, None] - np.arange(nodes)))
    spread = np.kron(weights, np.eye(channels)).astype(np.float32)
    spread.flags.writeable = False
    return spread


def _lab_per_log(lab: Array) -> Array:
    """Change (3, 3) of L*, a*, b* by the log of each sharpened channel."""
    sharp = SHARP_FROM_LINEAR @ linear_from_lab(lab)
    step = 1e-3
    moved = sharp * (1 + step * np.eye(3))
    return np.asarray((lab_from_linear(moved @ LINEAR_FROM_SHARP.T) - lab).T / step)
