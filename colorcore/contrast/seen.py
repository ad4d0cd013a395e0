"""What the eye sees of a fabric from a distance: its lightness place by place."""

from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from colorcore.contrast.background import Background
from colorcore.contrast.measures import Thresholds
from colorcore.swatch import Swatch

FloatArray = NDArray[np.float64]

EDGE_DEPTH_INCHES: Final = 1 / 8
"""How far in from a seam a print still makes the edge: our own choice, half a seam allowance."""
_FINEST: Final = 24.0
"""Pixels per inch: twice as fine as an eye tells apart from six feet, six in a seam allowance."""
_MOST_SAMPLES: Final = 2048


@dataclass(frozen=True, eq=False)
class Seen:
    """A fabric as seen from a distance.

    ``lightness`` (N, M) L* of each place, NaN where the picture does not show the fabric;
    ``across`` and ``down`` (N, M) the same after the mean in linear light over
    ``EDGE_DEPTH_INCHES`` in a row, or in a column: what makes an edge that runs the other way;
    ``luminance`` (N, M) Y of the unfiltered picture, NaN where it does not show; ``offset`` what
    was added to L* so that the whole reads as what was measured of it.
    """

    lightness: FloatArray
    across: FloatArray
    down: FloatArray
    luminance: NDArray[np.float32]
    pixels_per_inch: float
    offset: float


def see(
    picture: NDArray[np.uint8],
    pixels_per_inch: float,
    measured_lightness: float,
    *,
    viewing_inches: float,
    valid: NDArray[np.bool_] | None = None,
) -> Seen:
    """Return how a fabric is seen from ``viewing_inches``.

    ``picture`` is sRGB-coded (N, M, 3); ``valid`` (N, M) is True where it shows the fabric. The
    picture cannot hold colours outside sRGB, so its L* is shifted to what was measured.
    """
    import cv2

    from colorcore.color.spaces import (
        XYZ_FROM_LINEAR,
        lightness_from_luminance,
        linear_from_coded,
    )
    from colorcore.color.viewing import filter_for_distance

    scale = min(1.0, _FINEST / pixels_per_inch)
    linear = np.asarray(linear_from_coded(picture), dtype=np.float32)
    shows = np.ones(picture.shape[:2], dtype=np.bool_) if valid is None else valid
    if not shows.any():
        shows = np.ones_like(shows)
    if scale < 1:
        size = tuple(max(1, round(n * scale)) for n in picture.shape[1::-1])
        weight = cv2.resize(shows.astype(np.float32), size, interpolation=cv2.INTER_AREA)
        light = np.where(shows[..., None], linear, np.float32(0))
        light = cv2.resize(light, size, interpolation=cv2.INTER_AREA)
        # Of a sliver no place of the smaller picture shows half.
        shows = weight > min(0.5, float(weight.max()) / 2)
        linear = np.where(shows[..., None], light / np.maximum(weight, 1e-6)[..., None], 0)
        pixels_per_inch *= size[0] / picture.shape[1]
    elif not shows.all():
        linear = np.where(shows[..., None], linear, np.float32(0))
    # The kernel's negative part answers to the wide field around a place. It falls alike on both
    # sides of a seam, so it must not count where two fabrics are filtered apart to be compared.
    filtered = filter_for_distance(
        linear,
        pixels_per_inch,
        viewing_inches,
        None if shows.all() else shows,
        inhibition=False,
    )
    to_y = XYZ_FROM_LINEAR[1:2].astype(np.float32)
    plain = np.where(shows, cv2.transform(linear, to_y), np.float32(np.nan))
    offset = measured_lightness - float(lightness_from_luminance(plain[shows].mean(dtype=float)))
    light = np.where(shows, cv2.transform(filtered, to_y), np.float32(0))
    weight = shows.astype(np.float32)

    def lightness(columns: int, rows: int) -> FloatArray:
        area = light
        if columns * rows > 1:
            area = cv2.blur(light, (columns, rows), borderType=cv2.BORDER_REPLICATE)
            if not shows.all():
                share = cv2.blur(weight, (columns, rows), borderType=cv2.BORDER_REPLICATE)
                area = area / np.maximum(share, np.float32(1e-6))
        found = lightness_from_luminance(np.maximum(area, 0))
        return np.where(shows, found + offset, np.nan)

    depth = max(1, round(EDGE_DEPTH_INCHES * pixels_per_inch))
    return Seen(
        lightness(1, 1), lightness(depth, 1), lightness(1, depth), plain, pixels_per_inch, offset
    )


def see_swatch(swatch: Swatch, thresholds: Thresholds) -> Seen:
    """Return how a square is seen from the viewing distance."""
    return see(
        swatch.picture,
        swatch.picture.shape[0] / swatch.side_inches,
        swatch.lab[0],
        viewing_inches=thresholds.viewing_inches,
        valid=swatch.valid,
    )


@dataclass(frozen=True, eq=False)
class Beside:
    """What lies beside a piece: L* values (K,), ascending, each as likely as the others to lie at
    a place of the seam. A plain background is one value; a print is all its places."""

    lightness: FloatArray
    thresholds: Thresholds

    def shares(self, lightness: FloatArray) -> tuple[FloatArray, FloatArray, FloatArray]:
        """Return for places of L* (...) the chance (...) to hold, be soft and melt here."""
        places = np.asarray(lightness, dtype=np.float64)

        def within(step: float) -> FloatArray:
            low = np.searchsorted(self.lightness, places - step, side="right")
            high = np.searchsorted(self.lightness, places + step, side="left")
            return np.asarray(np.maximum(high - low, 0) / len(self.lightness))

        melts, not_holds = within(self.thresholds.melts), within(self.thresholds.holds)
        return 1 - not_holds, not_holds - melts, melts


def beside_background(background: Background, thresholds: Thresholds) -> Beside:
    """Return a background as what lies beside a piece; a print counts with all its values."""
    if background.picture is None:
        return Beside(np.array([background.lab[0]]), thresholds)
    seen = see(
        background.picture,
        background.pixels_per_inch,
        background.lab[0],
        viewing_inches=thresholds.viewing_inches,
    )
    return Beside(_sample(seen.lightness), thresholds)


def _sample(lightness: FloatArray) -> FloatArray:
    values = np.sort(lightness[np.isfinite(lightness)])
    if len(values) <= _MOST_SAMPLES:
        return values
    middle = (np.arange(_MOST_SAMPLES) + 0.5) / _MOST_SAMPLES
    return np.asarray(values[(middle * len(values)).astype(np.int64)])
