"""The print of a square: its scale in inches and the direction of its stripes.

Everything rests on the autocorrelation of one signal, the print's CIELAB along the direction in
which it varies most, so that red on green of one lightness counts as a print as well. The grain
of the cloth and the noise of the camera gather in its single middle sample, which is left out.
"""

from dataclasses import dataclass
from functools import lru_cache
from typing import Final

import cv2
import numpy as np
from numpy.typing import NDArray

_REPEATS_FROM: Final = 0.4
"""Autocorrelation from which a shifted print counts as repeating itself."""
_DIP: Final = 0.35
_MANY_MOTIFS: Final = 2.3
_ANGLES: Final = 180
_STRIPE_ALONG: Final = 0.7
_STRIPE_LEAD: Final = 0.4
_ON_THE_WAY: Final = np.linspace(0.1, 0.9, 33)[:, None]


@dataclass(frozen=True)
class Texture:
    """``scale``: samples from one motif to the next, or the repeat where that is hardly longer;
    ``stripe_degrees``: direction of stripes, 0 to 180 counter-clockwise, or None."""

    scale: float
    stripe_degrees: float | None


def print_signal(lab: NDArray[np.float32], samples: NDArray[np.float32]) -> NDArray[np.float32]:
    """Return (N, N): deviation from the mean along the main axis of CIELAB (N, N, 3). Lighter is
    positive. ``samples`` (K, 3), K at least 2, are some of the print's colours: they give mean and
    axis."""
    flags = cv2.COVAR_NORMAL | cv2.COVAR_ROWS | cv2.COVAR_SCALE
    covariance, mean = cv2.calcCovarMatrix(samples, None, flags, ctype=cv2.CV_64F)  # type: ignore[call-overload]
    axis = np.asarray(cv2.eigen(covariance)[2])[:1]
    if axis[0, 0] < 0:
        axis = -axis
    signal = cv2.transform(lab, np.hstack([axis, -mean @ axis.T]))
    return np.asarray(signal, dtype=np.float32)


def measure_texture(signal: NDArray[np.float32], mask: NDArray[np.bool_]) -> Texture:
    """Measure the print in ``signal`` (N, N), of which what ``mask`` leaves out does not count.

    1. Stripes, if the print looks the same however far it is shifted one way, but not the other.
    2. The repeat: the shortest shift that brings the print back onto itself.
    3. The motifs: in scattered prints many lie within one repeat, each about as far from its
       neighbours; there the mean over directions dips, then rises again at that distance. It
       counts if the repeat is more than 2.3 times as long, so that a frame within a frame or a
       stripe within a plaid does not.
    4. Without a repeat (a large print), twice the distance of the first dip: half way between
       neighbours the print is least like itself.
    """
    shown = np.asarray(cv2.multiply(signal, mask.astype(np.float32)), dtype=np.float32)
    correlation = autocorrelate(shown, mask)
    polar = _polar(correlation)
    stripe = _stripe_degrees(polar)
    if stripe is not None:
        profile = polar[round(stripe + 90) % _ANGLES]
        repeat = _first_return(profile)
        motif = _first_rise(profile, least_rise=0.1, least_height=0.4)
    else:
        profile = np.asarray(cv2.reduce(polar, 0, cv2.REDUCE_AVG), dtype=np.float32)[0]
        repeat = _nearest_return(correlation)
        motif = _first_rise(profile, least_rise=0.015, least_height=-1.0)
    if repeat is None:
        return Texture(_twice_first_dip(profile), stripe)
    if motif is not None and repeat > _MANY_MOTIFS * motif:
        return Texture(float(motif), stripe)
    return Texture(repeat, stripe)


def autocorrelate(signal: NDArray[np.float32], mask: NDArray[np.bool_]) -> NDArray[np.float32]:
    """Return the autocorrelation (N + 1, N + 1) for shifts of up to N / 2, middle at [N/2, N/2].

    Each shift is divided by how many samples overlap; shifts with fewer than an eighth of the
    samples are 0. Scaled so that the mean over the four shifts by one sample is 1, which leaves
    grain out; a signal of grain alone gives values that never settle near 1 beyond.
    """
    n = signal.shape[0] // 2 * 2
    raw = _correlation(signal[:n, :n])
    weight = _share_weight(mask[:n, :n].tobytes(), n)
    correlation = np.asarray(cv2.multiply(raw, weight), dtype=np.float32)
    half = n // 2
    level = (
        correlation[half, half - 1]
        + correlation[half, half + 1]
        + correlation[half - 1, half]
        + correlation[half + 1, half]
    ) / 4
    correlation /= max(float(level), 1e-6)
    correlation[half, half] = 1.0
    return correlation


def _correlation(signal: NDArray[np.float32]) -> NDArray[np.float32]:
    """Sum of products (N + 1, N + 1) of a signal (N, N) with itself shifted by up to N / 2."""
    n, half = signal.shape[0], signal.shape[0] // 2
    # Room for shifts of a half; what wraps around from there is longer than that.
    padded = np.zeros((n + half, n + half), dtype=np.float32)
    padded[:n, :n] = signal
    spectrum = cv2.dft(padded)
    power = cv2.mulSpectrums(spectrum, spectrum, 0, conjB=True)
    full = cv2.idft(power, flags=cv2.DFT_SCALE | cv2.DFT_REAL_OUTPUT)
    middle = np.empty((n + 1, n + 1), dtype=np.float32)
    middle[half:, half:] = full[: half + 1, : half + 1]
    middle[half:, :half] = full[: half + 1, n:]
    middle[:half, half:] = full[n:, : half + 1]
    middle[:half, :half] = full[n:, n:]
    return middle


@lru_cache(maxsize=8)
def _share_weight(mask: bytes, n: int) -> NDArray[np.float32]:
    """One over how many samples a mask shares with itself, shift by shift; 0 for too few."""
    shows = np.frombuffer(mask, dtype=np.bool_).reshape(n, n)
    shared = _correlation(shows.astype(np.float32))
    enough = shared > shared.max() / 8
    weight = np.where(enough, 1 / np.maximum(shared, 1.0), 0.0).astype(np.float32)
    weight.flags.writeable = False
    return weight


def _polar(correlation: NDArray[np.float32]) -> NDArray[np.float32]:
    """Rows: directions of 0 to 179 degrees counter-clockwise; columns: shifts of 0 to N/2 - 1."""
    x, y = _polar_places(correlation.shape[0] // 2)
    return np.asarray(cv2.remap(correlation, x, y, cv2.INTER_LINEAR), dtype=np.float32)


@lru_cache(maxsize=8)
def _polar_places(half: int) -> tuple[NDArray[np.float32], NDArray[np.float32]]:
    angle = np.deg2rad(np.arange(_ANGLES, dtype=np.float32))[:, None]
    radius = np.arange(half, dtype=np.float32)[None, :]
    x, y = half + np.cos(angle) * radius, half - np.sin(angle) * radius
    x.flags.writeable = y.flags.writeable = False
    return x, y


def _stripe_degrees(polar: NDArray[np.float32]) -> float | None:
    """The direction in which the print looks the same however far it is shifted, if at right
    angles to it it does not."""
    reach = polar.shape[1]
    counted = polar[:, reach // 8 : reach * 3 // 4]
    along = np.asarray(cv2.reduce(counted, 1, cv2.REDUCE_AVG), dtype=np.float32).ravel()
    best = int(np.argmax(along))
    across = float(along[(best + _ANGLES // 2) % _ANGLES])
    if along[best] < _STRIPE_ALONG or along[best] - across < _STRIPE_LEAD:
        return None
    return (best + _vertex(along.take([best - 1, best, best + 1], mode="wrap"))) % 180.0


def _vertex(three: NDArray[np.float32]) -> float:
    """Where, from -0.5 to 0.5, the parabola through a high and its neighbours (3,) peaks."""
    left, middle, right = three.tolist()
    bend = left - 2 * middle + right
    return 0.0 if bend >= 0 else min(max(0.5 * (left - right) / bend, -0.5), 0.5)


def _first_return(profile: NDArray[np.float32]) -> float | None:
    """Shift at which a profile (R,) first comes back to a high after falling low."""
    low = np.flatnonzero(profile < 0.5)
    if not len(low):
        return None
    start = int(low[0])
    inner = profile[start + 1 : -1]
    peaks = (
        start + 1 + np.flatnonzero((inner >= profile[start:-2]) & (inner > profile[start + 2 :]))
    )
    peaks = peaks[profile[peaks] >= _REPEATS_FROM]
    if not len(peaks):
        return None
    best = float(profile[peaks].max())
    first = int(peaks[profile[peaks] >= 0.8 * best][0])
    return first + _vertex(profile[first - 1 : first + 2])


def _nearest_return(correlation: NDArray[np.float32]) -> float | None:
    """Length of the shortest shift that brings the print back onto itself, in samples."""
    half = correlation.shape[0] // 2
    smooth = np.asarray(cv2.GaussianBlur(correlation, (3, 3), 0), dtype=np.float32)
    # A shift and its opposite are alike: half of them are looked at.
    below = slice(half - 3, None)
    top = np.asarray(cv2.dilate(smooth[below], np.ones((5, 5), dtype=np.uint8)))[3:]
    lower = smooth[half:]
    dy, columns = np.divmod(
        np.flatnonzero((lower >= top) & (lower >= _REPEATS_FROM)), smooth.shape[1]
    )
    dx = columns - half
    away = np.hypot(dy, dx)
    keep = (away >= 3) & (away < half - 2) & ((dy > 0) | (dx > 0))
    dy, dx, away = dy[keep], dx[keep], away[keep]
    if not len(away):
        return None
    height = lower[dy, half + dx]
    y = np.rint(half + _ON_THE_WAY * dy).astype(np.intp)
    x = np.rint(half + _ON_THE_WAY * dx).astype(np.intp)
    between = smooth.take(y * smooth.shape[1] + x).min(axis=0)
    separate = between < 0.6 * height
    if not separate.any():
        return None
    best = float(height[separate].max())
    good = np.flatnonzero(separate & (height >= 0.75 * best))
    nearest = good[np.argmin(away[good])]
    row, column = half + int(dy[nearest]), half + int(dx[nearest])
    up = _vertex(smooth[row - 1 : row + 2, column])
    right = _vertex(smooth[row, column - 1 : column + 2])
    return float(np.hypot(row + up - half, column + right - half))


def _first_rise(
    profile: NDArray[np.float32], *, least_rise: float, least_height: float
) -> int | None:
    """Shift of the first high of a profile (R,) that stands ``least_rise`` above a dip before it
    and at least ``least_height`` high."""
    lowest = 1.0
    for i in range(1, len(profile) - 1):
        here = float(profile[i])
        lowest = min(lowest, here)
        is_high = here >= profile[i - 1] and here > profile[i + 1]
        if is_high and lowest < _DIP and here - lowest >= least_rise and here > least_height:
            return i
    return None


def _twice_first_dip(profile: NDArray[np.float32]) -> float:
    """Twice the shift of the first low of a profile (R,), or its whole reach without one."""
    for i in range(1, len(profile) - 1):
        here = profile[i]
        if here < _DIP and here <= profile[i - 1] and here < profile[i + 1]:
            return 2.0 * i
    return 2.0 * len(profile)
