"""How alike two squares are as cloth, whichever way they were turned and wherever cut.

First three figures that do not depend on a quarter turn or on where in the repeat the cutter
began: the reads-as colour, the spread of colours around it, and the print's power spectrum. Where
these leave a doubt, one picture is laid on the other in four turns and all shifts.
"""

from dataclasses import dataclass
from functools import cache
from typing import Final

import cv2
import numpy as np
from numpy.typing import NDArray

from colorcore.color.spaces import lab_from_linear, linear_from_coded
from colorcore.swatch.model import Swatch
from colorcore.swatch.rectifying import inner_mask

_SIDE: Final = 96
_OVERLAY_SIDE: Final = 48
_MARGIN: Final = 0.04
_QUANTILES: Final = (np.arange(24) + 0.5) / 24
_BANDS: Final = 10
_LEAST_OVERLAP: Final = 0.2
"""As a share of the smaller of the two areas that show."""
_SD_LIMITS: Final = (0.3, 0.7)
"""Two squares of one photo share most of what their sd counts, so it may not excuse more."""


def _directions() -> NDArray[np.float32]:
    """Seven directions of CIELAB (3, 7): edges and space diagonals of a cube."""
    steps = [(1, 0, 0), (0, 1, 0), (0, 0, 1), (1, 1, 1), (1, 1, -1), (1, -1, 1), (1, -1, -1)]
    axes = np.array(steps, dtype=np.float32)
    return np.asarray((axes / np.linalg.norm(axes, axis=1, keepdims=True)).T)


_DIRECTIONS: Final = _directions()


@dataclass(frozen=True, eq=False)
class PrintProfile:
    """What is compared.

    Attributes
    ----------
    lab, variance : (3,)
        Reads-as colour and its variance: of the measurement, and of where the square was cut.
    quantiles : (7, 24)
        Colours less their mean along seven directions of CIELAB, in rising order.
    bands : (10, 3)
        Root of the print's power in L*, a* and b* by spatial frequency, in half octaves from one
        wave in 8 inches.
    away : float32 (48, 48, 3)
        Straightened picture in CIELAB less its mean, 0 where it does not show.
    shows : bool (48, 48)
        True where it shows.
    contrast : float
        Standard deviation of the print in CIELAB units.
    """

    lab: NDArray[np.float64]
    variance: NDArray[np.float64]
    quantiles: NDArray[np.float64]
    bands: NDArray[np.float64]
    away: NDArray[np.float32]
    shows: NDArray[np.bool_]
    contrast: float


def describe_print(swatch: Swatch) -> PrintProfile:
    """Return the profile of a measured square, from its straightened picture."""
    linear, shows = _reduced(swatch)
    lab = np.asarray(lab_from_linear(linear), dtype=np.float32)
    mean = np.array(cv2.mean(lab, shows.view(np.uint8))[:3], dtype=np.float32)
    shown = cv2.merge([shows.astype(np.float32)] * 3)
    away = np.asarray(cv2.multiply(lab - mean, shown), dtype=np.float32)
    inside = away[shows]
    along = np.sort(_DIRECTIONS.T @ inside.T, axis=1)
    size = (_OVERLAY_SIDE, _OVERLAY_SIDE)
    return PrintProfile(
        lab=np.array(swatch.lab),
        variance=np.clip(swatch.lab_sd, *_SD_LIMITS) ** 2 + _crop_variance(linear, shows),
        quantiles=along[:, (_QUANTILES * along.shape[1]).astype(int)].astype(np.float64),
        bands=_band_power(away, shows, swatch.side_inches),
        away=np.asarray(cv2.resize(away, size, interpolation=cv2.INTER_AREA), dtype=np.float32),
        shows=cv2.resize(shows.astype(np.uint8), size, interpolation=cv2.INTER_NEAREST) > 0,
        contrast=float(np.linalg.norm(inside)) / float(np.sqrt(len(inside))),
    )


@dataclass(frozen=True)
class Unlikeness:
    """How far two squares differ; each figure is 1 where copies of one fabric hardly ever get.

    ``color``: reads-as colour, over its standard deviation and 2.5. ``spread``: root mean square
    distance of the sorted colours (sliced Wasserstein distance; Bonneel et al. 2015). ``power``:
    difference of root power by frequency. The last two are over what a print's contrast allows.
    """

    color: float
    spread: float
    power: float

    @property
    def largest(self) -> float:
        """The largest of the three."""
        return max(self.color, self.spread, self.power)


def unlikeness(one: PrintProfile, other: PrintProfile) -> Unlikeness:
    """Return how far two squares differ by figures that do not depend on turn or cut."""
    contrast = (one.contrast + other.contrast) / 2
    color = np.sqrt(np.sum((one.lab - other.lab) ** 2 / (one.variance + other.variance)))
    spread = np.sqrt(3 * np.mean((one.quantiles - other.quantiles) ** 2))
    power = np.sqrt(np.sum((one.bands - other.bands) ** 2))
    return Unlikeness(
        color=float(color) / 2.5,
        spread=float(spread) / (0.35 + 0.10 * contrast),
        power=float(power) / (0.20 + 0.06 * contrast),
    )


def overlay_likeness(one: PrintProfile, other: PrintProfile) -> float:
    """Return how alike two squares are, -1 to 1, laid on each other in the best of four quarter
    turns and all shifts that leave at least a fifth of them on each other.

    Twice the sum of products over the sum of squares, in CIELAB less each square's mean: it is
    1 only where the pictures agree in strength as well, which a correlation does not ask.
    """
    fixed = _transforms(one.away, one.shows)
    return max(
        _best_shift(fixed, _transforms(np.rot90(other.away, k), np.rot90(other.shows, k)))
        for k in range(4)
    )


def _reduced(swatch: Swatch) -> tuple[NDArray[np.float32], NDArray[np.bool_]]:
    """Linear light (96, 96, 3) and where it shows the square, away from the edges."""
    linear = linear_from_coded(swatch.picture).astype(np.float32, copy=False)
    side = linear.shape[0]
    shows = inner_mask(side, _MARGIN)
    if swatch.valid is not None and (shows & swatch.valid).any():
        shows = shows & swatch.valid
    if side == _SIDE:
        return linear, shows
    way = cv2.INTER_AREA if side > _SIDE else cv2.INTER_LINEAR
    small = np.asarray(cv2.resize(linear, (_SIDE, _SIDE), interpolation=way), dtype=np.float32)
    share = cv2.resize(shows.astype(np.float32), (_SIDE, _SIDE), interpolation=way)
    whole = np.asarray(share > 0.99)
    return small, whole if whole.any() else np.asarray(share >= share.max())


def _crop_variance(linear: NDArray[np.float32], shows: NDArray[np.bool_]) -> NDArray[np.float64]:
    """How much the reads-as colour would vary had the square been cut elsewhere: the variance of
    its four quarters over four."""
    half = _SIDE // 2
    parts = [
        (slice(top, top + half), slice(left, left + half))
        for top in (0, half)
        for left in (0, half)
    ]
    quarters = [
        cv2.mean(linear[part], shows[part].view(np.uint8))[:3]
        for part in parts
        if np.count_nonzero(shows[part]) >= 16
    ]
    if len(quarters) < 2:
        return np.zeros(3)
    return np.asarray(lab_from_linear(np.array(quarters)).var(axis=0, ddof=1) / len(quarters))


def _band_power(
    away: NDArray[np.float32], shows: NDArray[np.bool_], side_inches: float
) -> NDArray[np.float64]:
    """Root power (10, 3) by frequency, as if the whole square showed."""
    window = _window() * shows
    index = _band_index(side_inches)
    power = np.empty((_SIDE * _SIDE, 3))
    for channel in range(3):
        wave = cv2.dft(away[..., channel] * window, flags=cv2.DFT_COMPLEX_OUTPUT)
        real, imaginary = cv2.split(wave)
        power[:, channel] = (real * real + imaginary * imaginary).ravel()
    power /= float(np.sum(window**2)) * _SIDE * _SIDE
    sums = [np.bincount(index, power[:, c], _BANDS + 2)[1 : _BANDS + 1] for c in range(3)]
    return np.sqrt(np.stack(sums, axis=1))


@cache
def _window() -> NDArray[np.float32]:
    """Tukey window (96, 96) that tapers an eighth of the side at each edge: flat over most of the
    square, so that two cuts of one scattered print give nearly the same power."""
    rise = _SIDE // 8
    taper = np.ones(_SIDE, dtype=np.float32)
    taper[:rise] = 0.5 - 0.5 * np.cos(np.pi * (np.arange(rise) + 0.5) / rise)
    taper[-rise:] = taper[:rise][::-1]
    return np.outer(taper, taper)


@cache
def _band_index(side_inches: float) -> NDArray[np.int64]:
    """Band 1 to 10 of each Fourier coefficient (9216,); 0 is below the first, 11 above."""
    f = np.fft.fftfreq(_SIDE) * _SIDE / side_inches
    radius = np.hypot(*np.meshgrid(f, f)).ravel()
    band = np.floor(2 * np.log2(np.maximum(radius, 1e-9) * 8)) + 1
    index: NDArray[np.int64] = np.clip(band, 0, _BANDS + 1).astype(np.int64)
    return index


Transforms = tuple[NDArray[np.complex128], NDArray[np.complex128], NDArray[np.complex128]]


def _transforms(away: NDArray[np.float32], shows: NDArray[np.bool_]) -> Transforms:
    """Fourier transforms, padded to twice the side, of picture, squared picture and mask."""
    size = (2 * _OVERLAY_SIDE, 2 * _OVERLAY_SIDE)
    picture = np.fft.rfft2(away, s=size, axes=(0, 1))
    energy = np.fft.rfft2(np.sum(np.square(away), axis=2), s=size)
    return picture, energy, np.fft.rfft2(shows.astype(np.float32), s=size)


def _best_shift(fixed: Transforms, moved: Transforms) -> float:
    """Highest likeness over shifts, each over the part that overlaps."""
    together = np.fft.irfft2(np.sum(fixed[0] * np.conj(moved[0]), axis=2))
    own = np.fft.irfft2(fixed[1] * np.conj(moved[2]))
    others = np.fft.irfft2(fixed[2] * np.conj(moved[1]))
    overlap = np.fft.irfft2(fixed[2] * np.conj(moved[2]))
    whole = min(float(fixed[2][0, 0].real), float(moved[2][0, 0].real))
    enough = overlap > _LEAST_OVERLAP * whole
    if not enough.any():
        return -1.0
    level = np.maximum((own[enough] + others[enough]) / 2, 1e-6)
    return float(np.clip(together[enough] / level, -1, 1).max())
