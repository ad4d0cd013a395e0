"""What a photo's light, tone curve and camera were, ready to be undone square by square."""

from collections.abc import Sequence
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

    def prepare(self, outlines: Sequence[FloatArray]) -> None:
        """Work out at once what the places of squares with these outlines, (4, 2) each, decide:
        what is then asked about them one by one is known already."""
        new = {_key(o): o for o in outlines if _key(o) not in self._places}
        if not new:
            return
        corners = np.stack([np.asarray(o, dtype=np.float64) for o in new.values()])
        places = grid_over(corners, _GRID)
        smooth = self.light.log_light(places)
        middle = places[:, ::2, ::2].reshape(len(new), -1, 2)
        fitted = self.doubts.fitted_covariance(self.light, middle)
        covariance = self.doubts.place_covariance(fitted)
        for i, key in enumerate(new):
            extra = self.local.log_extra(corners[i], places[i])
            self._places[key] = _Place(
                log_light=smooth[i] if extra is None else np.asarray(smooth[i] + extra),
                mean=smooth[i, ::2, ::2].mean(axis=(0, 1)),
                covariance=covariance[i] + self.local.log_sd(corners[i]) ** 2,
                flags=(*self.local.flags(corners[i]), *self.doubts.flags(fitted[i])),
            )

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
        gain = np.exp(-self._place(corners).log_light).astype(np.float32)
        even = cv2.multiply(sharp, _spread_out(gain, width, height))
        return np.asarray(self.camera.convert(np.asarray(even)), dtype=np.float32)

    def color_at(self, linear: FloatArray, xy: FloatArray) -> Array:
        """Return true linear light (..., 3) of colours (..., 3) seen at places (..., 2)."""
        seen = np.asarray(linear, dtype=np.float64)
        sharp = self.tone.undo(seen) @ SHARP_FROM_LINEAR.T
        sharp = sharp * np.exp(-self.light.log_light(xy))
        return np.asarray(self.camera.convert(sharp), dtype=np.float64)

    def lab_sd(self, corners: FloatArray, lab: LabLike) -> Array:
        """Return one standard deviation (..., 3) of L*, a*, b* measured as ``lab`` (..., 3)
        within outlines (..., 4, 2).

        Counts the reference's own doubt, the fitted light at that place, the camera's colour
        mixing and the tone curve. What varies within the print is not part of it.
        """
        colors = np.asarray(lab, dtype=np.float64)
        places = self._places_of(corners)
        means = np.stack([place.mean for place in places]).reshape(colors.shape)
        common = self.doubts.common_covariance(means, colors)
        whole = common + _covariances(places).reshape(common.shape)
        slopes = _lab_per_log(colors)
        variance = np.einsum("...ij,...jk,...ik->...i", slopes, whole, slopes)
        variance += self.doubts.lab_variance(colors) + self.doubts.full_variance(means, colors)
        return np.asarray(np.sqrt(variance))

    def order_sd(self, corners: FloatArray, lab: LabLike) -> Array:
        """Return one standard deviation (...) of L* against other squares of the same photo: what
        the reference and the tone curve leave open moves all of them alike and does not count.
        ``corners`` (..., 4, 2), ``lab`` (..., 3)."""
        colors = np.asarray(lab, dtype=np.float64)
        slope = _lab_per_log(colors)[..., 0, :]
        places = self._places_of(corners)
        means = np.stack([place.mean for place in places]).reshape(colors.shape)
        covariance = _covariances(places).reshape(*colors.shape[:-1], 3, 3)
        variance = np.einsum("...j,...jk,...k->...", slope, covariance, slope)
        own = self.doubts.lab_variance(colors) + self.doubts.full_variance(means, colors)
        return np.asarray(np.sqrt(variance + own[..., 0]))

    def flags(self, corners: FloatArray) -> tuple[str, ...]:
        """Return the flags (keys of ``colorcore.flags.FLAGS``) that the light puts on a square."""
        return self._place(corners).flags

    def _places_of(self, corners: FloatArray) -> "list[_Place]":
        outlines = list(np.asarray(corners, dtype=np.float64).reshape(-1, 4, 2))
        self.prepare(outlines)
        return [self._places[_key(outline)] for outline in outlines]

    def _place(self, corners: FloatArray) -> "_Place":
        return self._places_of(corners)[0]


@dataclass(frozen=True, eq=False)
class _Place:
    """What a square's place alone decides: ``log_light`` (9, 9, 3) over it, shadows counted, the
    ``mean`` (3,) of the smooth light, ``covariance`` (3, 3) of the log light there by sharpened
    channel, and the square's flags."""

    log_light: Array
    mean: Array
    covariance: Array
    flags: tuple[str, ...]


def _key(corners: FloatArray) -> bytes:
    return np.asarray(corners, dtype=np.float64).tobytes()


def _covariances(places: "Sequence[_Place]") -> Array:
    return np.stack([place.covariance for place in places])


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
    """Change (..., 3, 3) of L*, a*, b* (..., 3) by the log of each sharpened channel."""
    sharp = linear_from_lab(lab) @ SHARP_FROM_LINEAR.T
    step = 1e-3
    moved = sharp[..., None, :] * (1 + step * np.eye(3)) @ LINEAR_FROM_SHARP.T
    change = (lab_from_linear(moved) - lab[..., None, :]) / step
    return np.asarray(np.swapaxes(change, -1, -2))
