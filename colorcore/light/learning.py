"""Learn the tone curve and the camera's colours from references, the light being roughly known."""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from colorcore.color.charts import (
    EDITIONS,
    GREY_RAMP,
    chart_linear,
)
from colorcore.color.spaces import lab_from_linear
from colorcore.light.camera import FIXED, CameraFit, chart_misfit, fit_camera
from colorcore.light.chart import ReadChart
from colorcore.light.field import LightField
from colorcore.light.model import Reference
from colorcore.light.responses import LINEAR_TONE, Family, Neutral, learn_tone
from colorcore.light.sampling import Cells
from colorcore.light.sharpened import SHARP_FROM_LINEAR
from colorcore.light.tone import ToneCurve

Array = NDArray[np.float64]

_CHART_SD: Final = 0.012
_NEUTRAL_CHROMA: Final = 8.0
_LEAST_LIGHT: Final = 1e-4


@dataclass(frozen=True, eq=False)
class Evidence:
    """Colours of known reflectance as seen. ``xy`` (N, 2) places, ``seen`` and ``known`` (N, 3)
    linear light, ``sd`` (N,) of the log of ``known``."""

    xy: Array
    seen: Array
    known: Array
    sd: Array


def evidence_of_chart(chart: ReadChart, edition: str) -> Evidence:
    """Patches of a chart that can be used, against one edition's values."""
    use = chart.usable
    count = int(np.count_nonzero(use))
    return Evidence(
        chart.centers[use], chart.seen[use], chart_linear(edition)[use],
        np.full(count, _CHART_SD),
    )  # fmt: skip


def neutrals_of(chart: ReadChart, edition: str) -> Evidence:
    """The chart's grey ramp."""
    use = np.zeros(24, bool)
    use[list(GREY_RAMP)] = True
    use &= chart.usable
    # The black patch is a few percent of the light: stray light moves it most.
    sd = np.where(np.arange(24) == GREY_RAMP[-1], 0.05, _CHART_SD)
    return Evidence(chart.centers[use], chart.seen[use], chart_linear(edition)[use], sd[use])


def tells_tone(reference: Reference) -> bool:
    """Whether a reference is neutral enough to tell of the tone curve: in a strong colour the
    camera's mixing of channels would be taken for the curve."""
    lab = np.asarray(lab_from_linear(reference.linear))
    return float(np.hypot(lab[1], lab[2])) < _NEUTRAL_CHROMA


def evidence_of(reference: Reference, cells: Cells) -> Evidence:
    """A plain reference, as one reading in its middle."""
    lightness_sd = reference.doubt[0]
    y = float(np.mean(np.maximum(reference.linear, _LEAST_LIGHT)))
    per_log = (116 * np.cbrt(y)) / 3
    return Evidence(
        xy=cells.xy.mean(axis=0)[None],
        seen=np.maximum(cells.linear.mean(axis=0), _LEAST_LIGHT)[None],
        known=np.maximum(reference.linear, _LEAST_LIGHT)[None],
        sd=np.array([lightness_sd / per_log]),
    )


def tone_from(
    evidence: Sequence[Evidence], light: LightField | None, families: Sequence[Family]
) -> ToneCurve:
    """The tone curve of some family that neutrals tell, their places' light allowed for."""
    neutrals = []
    for item in evidence:
        there = np.zeros((len(item.xy), 3)) if light is None else light.log_light(item.xy)
        for i in range(len(item.xy)):
            log_true = np.log(np.maximum(item.known[i], _LEAST_LIGHT)) + there[i]
            neutrals.append(Neutral(item.seen[i], log_true, float(item.sd[i])))
    return learn_tone(neutrals, families)


def edition_of(
    charts: Sequence[ReadChart], light: LightField, families: Sequence[Family] | None
) -> str:
    """The edition whose values charts fit better, each with the tone curve and the level that its
    own grey row tells; None for ``families`` takes the picture as linear."""
    misfits = []
    for name in EDITIONS:
        neutrals = [neutrals_of(chart, name) for chart in charts]
        tone = LINEAR_TONE if families is None else tone_from(neutrals, light, families)
        sharp, known = _patches(charts, name, light, tone)
        misfits.append(chart_misfit(sharp, known))
    return EDITIONS[int(np.argmin(misfits))]


def camera_from(
    charts: Sequence[ReadChart], edition: str, light: LightField, tone: ToneCurve
) -> CameraFit:
    """The camera's colours from all charts of an edition."""
    return fit_camera(*_patches(charts, edition, light, tone)) if charts else FIXED


def _patches(
    charts: Sequence[ReadChart], edition: str, light: LightField, tone: ToneCurve
) -> tuple[Array, Array]:
    """Sharpened, light-free values (N, 3) of all patches, and their published linear light."""
    parts = [evidence_of_chart(chart, edition) for chart in charts]
    seen = np.concatenate([p.seen for p in parts])
    xy = np.concatenate([p.xy for p in parts])
    sharp = tone.undo(seen) @ SHARP_FROM_LINEAR.T * np.exp(-light.log_light(xy))
    return np.asarray(sharp), np.concatenate([p.known for p in parts])
