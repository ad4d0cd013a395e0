"""How far a measured colour may be off, part by part; and which squares the light spoils.

The parts: the reference's own doubt (common to the whole photo), the fitted light at the place,
the tone curve, and the camera's mixing of colours under a light that is not daylight. The first
three are covariances of log light per sharpened channel, the last a variance of CIELAB.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any, Final

import numpy as np
from numpy.typing import NDArray

from colorcore.color.charts import GREY_RAMP
from colorcore.color.spaces import lab_from_linear, linear_from_lab
from colorcore.light.camera import FLOOR, PER_CHROMA, CameraFit
from colorcore.light.chart import ReadChart
from colorcore.light.field import LightField
from colorcore.light.model import Reference
from colorcore.light.sampling import Cells
from colorcore.light.sharpened import LINEAR_FROM_SHARP, SHARP_FROM_LINEAR
from colorcore.light.tone import ToneCurve

Array = NDArray[np.float64]
FloatArray = NDArray[np.floating[Any]]

_SMOOTHNESS_SD: Final = 0.008
"""Log light that no low polynomial follows, 0.2 L*: root mean square over rendered scenes with
even, side and mixed light on plain tables, where the fit itself is sure to 0.003."""
_FAR_SD: Final = 0.05
_NO_ANCHOR: Final = 0.7
_OPEN_CURVE: Final = 6.0
_NEARLY_FULL: Final = 0.9
"""Mean linear light from which parts of a print begin to be at the camera's limit."""
_WHITE_CLOTH: Final = 96.0
"""L* that no cloth exceeds much (common practice, no source)."""
_ROOM_SD: Final = 0.6
"""Root mean square of an even spread over the room that is left, 1 / sqrt(3)."""
_COLORLESS_SD: Final = (2.0, 15.0, 15.0)
"""L*, a*, b* that a grey photo leaves open. Cloth is about so strong in colour, bright solids
among it: luma, the usual way to grey, then moves L* by 1.0 to 1.8 root mean square; the mean or
middle of the channels by 3.4 and 4.5, but by 1.8 and 2.4 where colours are half as strong."""
# The same fitted to a chart, as shares of what left-out patches show: so that 68 in 100 of the 99
# colours of CIE 224:2017, seen by two published cameras in six lights, lie within.
_CHART_FACTOR: Final = (0.55, 0.8, 0.8)
_CHART_PER_CHROMA: Final = (0.005, 0.025, 0.025)


@dataclass(frozen=True, eq=False, kw_only=True)
class Doubts:
    """What the standard deviations are made of.

    ``level`` (3, 3) covariance of the log level; ``tone`` the curve with its own doubt, and
    ``anchor`` (3, 6) how its weights move the level; ``floor`` (3,) and ``per_chroma`` (3,) the
    camera's part: sd = floor + per_chroma * C*; ``colorless`` whether the photo holds no colours.
    """

    level: Array
    tone: ToneCurve
    anchor: Array
    floor: Array
    per_chroma: Array
    colorless: bool = False

    @property
    def tone_open(self) -> bool:
        """Whether the camera's tone curve could not be learned."""
        return bool(self.tone.covariance[1, 1] > _OPEN_CURVE**2)

    def common_covariance(self, log_light: FloatArray, lab: FloatArray | Any) -> Array:
        """Covariance (..., 3, 3) of the log of a square's colour by sharpened channel that the
        level and the tone curve leave open, under a mean log light (..., 3), measured as ``lab``
        (..., 3)."""
        bent = self.tone.log_slopes(self._seen(log_light, lab)) - self.anchor
        return np.asarray(self.level + bent @ self.tone.covariance @ np.swapaxes(bent, -1, -2))

    def full_variance(self, log_light: FloatArray, lab: FloatArray | Any) -> Array:
        """Variance (..., 3) of L*, a*, b* of what is near the camera's limit, where it may be as
        light as white cloth is; arguments as of ``common_covariance``."""
        highest = self._seen(log_light, lab).max(axis=-1)
        near = np.clip((highest - _NEARLY_FULL) / (1 - _NEARLY_FULL), 0.0, 1.0)
        room = np.maximum(_WHITE_CLOTH - np.asarray(lab, dtype=np.float64)[..., 0], 0.0)
        return np.asarray(((near * room * _ROOM_SD)[..., None] * np.array([1.0, 0.5, 0.5])) ** 2)

    def _seen(self, log_light: FloatArray, lab: FloatArray | Any) -> Array:
        """Linear light (..., 3) that the photo claims for a colour under a mean log light."""
        sharp = linear_from_lab(np.asarray(lab, dtype=np.float64)) @ SHARP_FROM_LINEAR.T
        fallen = (sharp * np.exp(log_light)) @ LINEAR_FROM_SHARP.T
        return self.tone.seen(np.maximum(fallen, 1e-3))

    def fitted_covariance(self, light: LightField, xy: FloatArray) -> Array:
        """Covariance (..., 3, 3) of the mean log light over places (..., N, 2) that the fit
        leaves."""
        return np.asarray(light.log_covariance(xy))

    def place_covariance(self, fitted: Array) -> Array:
        """The same (..., 3, 3), with what no fitted field follows."""
        return np.asarray(fitted + _SMOOTHNESS_SD**2 * _MOSTLY_COMMON)

    def lab_variance(self, lab: FloatArray | Any) -> Array:
        """Variance (..., 3) of L*, a*, b* (..., 3) that the camera's colour mixing and oddities of
        its tone curve leave."""
        values = np.asarray(lab, dtype=np.float64)
        chroma = np.hypot(values[..., 1], values[..., 2])
        variance = np.asarray((self.floor + self.per_chroma * chroma[..., None]) ** 2)
        variance[..., 0] += self.tone.misfit_variance(values[..., 0])
        if self.colorless:
            variance += np.square(_COLORLESS_SD)
        return variance

    def flags(self, fitted: Array) -> tuple[str, ...]:
        """Flags of a square at whose place the fit leaves a covariance (3, 3)."""
        return ("far-light",) if float(np.sqrt(fitted.mean())) > _FAR_SD else ()


_MOSTLY_COMMON: Final = np.full((3, 3), 0.8) + 0.2 * np.eye(3)


def make_doubts(
    level: Array,
    light: LightField,
    tone: ToneCurve,
    camera: CameraFit,
    plain: Sequence[tuple[Reference, Cells]],
    charts: Sequence[ReadChart],
    *,
    colorless: bool = False,
) -> Doubts:
    """Put together what is open about a photo."""
    seen = [cells.linear.mean(axis=0) for _, cells in plain]
    for chart in charts:
        seen += list(chart.seen[[i for i in GREY_RAMP if chart.usable[i]]])
    if not seen:
        seen = [np.full(3, _NO_ANCHOR)]
    anchor = np.mean([tone.log_slopes(s) for s in seen], axis=0)
    if camera.residual is None:
        floor, per_chroma = np.array(FLOOR), np.array(PER_CHROMA)
    else:
        floor, per_chroma = np.array(_CHART_FACTOR) * camera.residual, np.array(_CHART_PER_CHROMA)
    return Doubts(
        level=level,
        tone=tone,
        anchor=anchor,
        floor=floor,
        per_chroma=per_chroma,
        colorless=colorless,
    )


def reference_covariance(references: Sequence[Reference]) -> Array:
    """Covariance (3, 3) of the log level that the references' own doubt leaves, all references
    of a photo taken together with equal weight."""
    total = np.zeros((3, 3))
    for reference in references:
        total += _log_covariance_of(reference)
    return np.asarray(total / max(len(references), 1) ** 2)


def _log_covariance_of(reference: Reference) -> Array:
    lab = np.asarray(lab_from_linear(reference.linear), dtype=np.float64)
    sharp = SHARP_FROM_LINEAR @ reference.linear
    step = 0.05
    moved = linear_from_lab(lab + step * np.eye(3)) @ SHARP_FROM_LINEAR.T
    per_lab = ((moved - sharp) / sharp / step).T
    return np.asarray(per_lab @ np.diag(np.square(reference.doubt)) @ per_lab.T)
