"""How alike two squares are as cloth, whichever way they were turned and wherever cut.

First three figures that do not depend on a quarter turn or on where in the repeat the cutter
began: the reads-as colour, the spread of colours around it, and the print's power spectrum. Where
these leave a doubt, one picture is laid on the other in four turns and all shifts.
"""

from dataclasses import dataclass
from functools import cache, cached_property, lru_cache
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
    """What is compared; what takes longer is worked out when it is first asked for.

    Attributes
    ----------
    lab, variance : (3,)
        Reads-as colour and its variance: of the measurement, and of where the square was cut.
    linear : float32 (96, 96, 3)
        Straightened picture in linear light.
    shown : bool (96, 96)
        True where it shows the square, away from the edges.
    side_inches : float
        Of the square.
    """

    lab: NDArray[np.float64]
    variance: NDArray[np.float64]
    linear: NDArray[np.float32]
    shown: NDArray[np.bool_]
    side_inches: float

    @cached_property
    def print(self) -> NDArray[np.float32]:
        """CIELAB less its mean (96, 96, 3), 0 where it does not show."""
        lab = np.asarray(lab_from_linear(self.linear), dtype=np.float32)
        mean = np.array(cv2.mean(lab, self.shown.view(np.uint8))[:3], dtype=np.float32)
        lab -= mean
        lab *= self.shown[..., None]
        return lab

    @cached_property
    def contrast(self) -> float:
        """Standard deviation of the print in CIELAB units."""
        return float(np.linalg.norm(self.print) / np.sqrt(np.count_nonzero(self.shown)))

    @cached_property
    def quantiles(self) -> NDArray[np.float64]:
        """Colours less their mean along seven directions of CIELAB (7, 24), in rising order, from
        a quarter of the samples."""
        inside = self.print.reshape(-1, 3).take(_quarter(self.shown.tobytes()), axis=0)
        along = np.sort(_DIRECTIONS.T @ inside.T, axis=1)
        return along[:, (_QUANTILES * along.shape[1]).astype(int)].astype(np.float64)

    @cached_property
    def bands(self) -> NDArray[np.float64]:
        """Root of the print's power (10, 3) in L*, a* and b* by spatial frequency, in half octaves
        from one wave in 8 inches."""
        return _band_power(self.print, self.shown, self.side_inches)

    @cached_property
    def overlay(self) -> tuple[NDArray[np.float32], NDArray[np.bool_]]:
        """The print (48, 48, 3) and where it shows (48, 48), to be laid on another."""
        size = (_OVERLAY_SIDE, _OVERLAY_SIDE)
        away = np.asarray(cv2.resize(self.print, size, interpolation=cv2.INTER_AREA), np.float32)
        return away, cv2.resize(self.shown.view(np.uint8), size, None, 0, 0, cv2.INTER_NEAREST) > 0


def describe_print(swatch: Swatch) -> PrintProfile:
    """Return the profile of a measured square, from its straightened picture."""
    linear, shown = _reduced(swatch)
    return PrintProfile(
        lab=np.array(swatch.lab),
        variance=np.clip(swatch.lab_sd, *_SD_LIMITS) ** 2 + _crop_variance(linear, shown),
        linear=linear,
        shown=shown,
        side_inches=swatch.side_inches,
    )


@dataclass(frozen=True, eq=False)
class Unlikeness:
    """How far two squares differ by figures that do not depend on turn or cut; each is 1 where
    copies of one fabric hardly ever get. They are worked out when asked for, so ask for those
    further down only where those before leave a doubt."""

    one: PrintProfile
    other: PrintProfile

    @cached_property
    def color(self) -> float:
        """Distance of the reads-as colours, over its standard deviation and 2.5."""
        apart = np.square(self.one.lab - self.other.lab)
        return float(np.sqrt(np.sum(apart / (self.one.variance + self.other.variance)))) / 2.5

    @cached_property
    def spread(self) -> float:
        """Root mean square distance of the sorted colours (sliced Wasserstein distance; Bonneel
        et al. 2015), over what the print's contrast allows."""
        apart = np.sqrt(3 * np.mean(np.square(self.one.quantiles - self.other.quantiles)))
        return float(apart) / (0.35 + 0.10 * self._contrast)

    @cached_property
    def power(self) -> float:
        """Difference of root power by frequency, over what the print's contrast allows."""
        apart = np.sqrt(np.sum(np.square(self.one.bands - self.other.bands)))
        return float(apart) / (0.20 + 0.06 * self._contrast)

    @property
    def largest(self) -> float:
        """The largest of the three."""
        return max(self.color, self.spread, self.power)

    @property
    def _contrast(self) -> float:
        return (self.one.contrast + self.other.contrast) / 2


def unlikeness(one: PrintProfile, other: PrintProfile) -> Unlikeness:
    """Return how far two squares differ by figures that do not depend on turn or cut."""
    return Unlikeness(one, other)


def overlay_likeness(one: PrintProfile, other: PrintProfile, *, enough: float = 1.0) -> float:
    """Return how alike two squares are, -1 to 1, laid on each other in the best of four quarter
    turns and all shifts that leave at least a fifth of them on each other; in the first turn in
    which they are as alike as is ``enough``.

    Twice the sum of products over the sum of squares, in CIELAB less each square's mean: it is
    1 only where the pictures agree in strength as well, which a correlation does not ask.
    """
    fixed = _waves(*one.overlay)
    away, shown = other.overlay
    best = -1.0
    for turn in range(4):
        moved = _waves(np.rot90(away, turn), np.rot90(shown, turn))
        best = max(best, _best_shift(fixed, moved))
        if best >= enough:
            break
    return best


def _reduced(swatch: Swatch) -> tuple[NDArray[np.float32], NDArray[np.bool_]]:
    """Linear light (96, 96, 3) and where it shows the square, away from the edges."""
    linear = linear_from_coded(swatch.picture).astype(np.float32, copy=False)
    side = len(linear)
    shown = _reduced_mask(side, None if swatch.valid is None else swatch.valid.tobytes())
    if side == _SIDE:
        return linear, shown
    way = cv2.INTER_AREA if side > _SIDE else cv2.INTER_LINEAR
    small = cv2.resize(linear, (_SIDE, _SIDE), interpolation=way)
    return np.asarray(small, dtype=np.float32), shown


@lru_cache(maxsize=64)
def _reduced_mask(side: int, valid: bytes | None) -> NDArray[np.bool_]:
    """Where a picture of ``side`` samples shows the square, at 96 samples a side."""
    shown = inner_mask(side, _MARGIN)
    if valid is not None:
        within = shown & np.frombuffer(valid, dtype=np.bool_).reshape(side, side)
        shown = within if within.any() else shown
    if side == _SIDE:
        return shown
    way = cv2.INTER_AREA if side > _SIDE else cv2.INTER_LINEAR
    share = cv2.resize(shown.astype(np.float32), (_SIDE, _SIDE), interpolation=way)
    whole = np.asarray(share > 0.99)
    whole = whole if whole.any() else np.asarray(share >= share.max())
    whole.flags.writeable = False
    return whole


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
    power = np.empty((3, _SIDE, _SIDE), dtype=np.float32)
    for channel in range(3):
        wave = cv2.dft(cv2.multiply(cv2.extractChannel(away, channel), window))
        cv2.mulSpectrums(wave, wave, 0, c=power[channel], conjB=True)
    sums = (_bands_of(side_inches) @ power.reshape(3, -1).T).astype(np.float64)
    return np.sqrt(np.maximum(sums, 0.0) / (float(np.vdot(window, window)) * _SIDE * _SIDE))


@lru_cache(maxsize=64)
def _quarter(shown: bytes) -> NDArray[np.intp]:
    """Places of every other sample along both sides (K,) where a print (96, 96) shows, row by row;
    of all where none of those does."""
    shows = np.frombuffer(shown, dtype=np.bool_).reshape(_SIDE, _SIDE)
    rows, columns = np.nonzero(shows[::2, ::2])
    return 2 * rows * _SIDE + 2 * columns if len(rows) else np.flatnonzero(shows)


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
def _bands_of(side_inches: float) -> NDArray[np.float32]:
    """How many coefficients of each band (10,) each number (9216,) of a packed transform of real
    values stands for: none where it is an imaginary part, or lies below the first or above the last
    band.

    OpenCV packs as Intel's library does: row k holds real and imaginary parts of row k by turns,
    but for the first and last column, which hold those of the lowest and highest wave downwards.
    """
    last = _SIDE - 1
    row, column = np.divmod(np.arange(_SIDE * _SIDE), _SIDE)
    edge = (column == 0) | (column == last)
    down = np.where(edge, (row + 1) // 2, np.minimum(row, _SIDE - row))
    across = (column + 1) // 2
    along = np.where(edge, row, column)
    alone = edge & ((row == 0) | (row == last))
    weight = np.where(alone, 1.0, np.where(along % 2 == 1, 2.0, 0.0))
    radius = np.hypot(down, across) / side_inches
    band = np.floor(2 * np.log2(np.maximum(radius, 1e-9) * 8))
    return np.where(band == np.arange(_BANDS)[:, None], weight, 0.0).astype(np.float32)


@dataclass(frozen=True, eq=False)
class _Waves:
    """Fourier transforms (96, 96), as OpenCV packs them, of a picture (channel by channel), of its
    square and of where it shows, each padded to twice its side."""

    picture: list[NDArray[np.float32]]
    energy: NDArray[np.float32]
    shown: NDArray[np.float32]

    @property
    def area(self) -> float:
        """How many samples show: the mean wave."""
        return float(self.shown[0, 0])


def _waves(away: NDArray[np.float32], shows: NDArray[np.bool_]) -> _Waves:
    return _Waves(
        [_wave(away[..., channel]) for channel in range(3)],
        _wave(np.einsum("ijk,ijk->ij", away, away)),
        _mask_wave(shows.tobytes()),
    )


@lru_cache(maxsize=64)
def _mask_wave(shows: bytes) -> NDArray[np.float32]:
    """The wave of where a print (48, 48) shows: mostly the same."""
    mask = np.frombuffer(shows, dtype=np.bool_).reshape(_OVERLAY_SIDE, _OVERLAY_SIDE)
    wave = _wave(mask.astype(np.float32))
    wave.flags.writeable = False
    return wave


def _wave(layer: NDArray[np.float32]) -> NDArray[np.float32]:
    padded = np.zeros((2 * _OVERLAY_SIDE, 2 * _OVERLAY_SIDE), dtype=np.float32)
    padded[:_OVERLAY_SIDE, :_OVERLAY_SIDE] = layer
    return np.asarray(cv2.dft(padded, nonzeroRows=_OVERLAY_SIDE), dtype=np.float32)


def _sum_over_shifts(
    fixed: list[NDArray[np.float32]], moved: list[NDArray[np.float32]]
) -> NDArray[np.float32]:
    """Sum of products of two pictures, given as waves, for every shift (96, 96)."""
    products = [cv2.mulSpectrums(f, m, 0, conjB=True) for f, m in zip(fixed, moved, strict=True)]
    flags = cv2.DFT_SCALE | cv2.DFT_REAL_OUTPUT
    return np.asarray(cv2.idft(np.sum(products, axis=0), flags=flags), dtype=np.float32)


def _best_shift(fixed: _Waves, moved: _Waves) -> float:
    """Highest likeness over shifts, each over the part that overlaps."""
    overlap = _sum_over_shifts([fixed.shown], [moved.shown])
    enough = overlap > _LEAST_OVERLAP * min(fixed.area, moved.area)
    if not enough.any():
        return -1.0
    together = _sum_over_shifts(fixed.picture, moved.picture)
    both = _sum_over_shifts([fixed.energy, fixed.shown], [moved.shown, moved.energy])
    level = np.maximum(both[enough] / 2, 1e-6)
    return float(np.clip(together[enough] / level, -1, 1).max())
