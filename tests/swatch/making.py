"""Flat pictures of prints with known geometry, and a light that changes nothing."""

import numpy as np
from numpy.typing import NDArray

from colorcore.color.spaces import coded8_from_linear, linear_from_lab
from colorcore.finding import FoundSquare
from colorcore.photo import Photo, photo_from_array
from colorcore.swatch import Swatch, measure_square

Lab = tuple[float, float, float]
PER_INCH = 30


class EvenLight:
    """White light of full strength, known to within half a unit."""

    def apply(
        self, linear: NDArray[np.float32], corners: NDArray[np.float64]
    ) -> NDArray[np.float32]:
        return linear

    def prepare(self, outlines: list[NDArray[np.float64]]) -> None:
        pass

    def lab_sd(self, corners: NDArray[np.float64], lab: NDArray[np.float64]) -> NDArray[np.float64]:
        return np.full_like(lab, 0.5)

    def order_sd(
        self, corners: NDArray[np.float64], lab: NDArray[np.float64]
    ) -> NDArray[np.float64]:
        return np.full_like(lab[..., 0], 0.3)

    def flags(self, corners: NDArray[np.float64]) -> tuple[str, ...]:
        return ()


def linear_of(*labs: Lab) -> NDArray[np.float64]:
    return np.asarray(linear_from_lab(np.array(labs, dtype=np.float64)))


def paint(which: NDArray[np.int64], *labs: Lab) -> NDArray[np.uint8]:
    """Coded pixels (H, W, 3) of a map of inks."""
    return coded8_from_linear(linear_of(*labs)[which])


def grain(pixels: NDArray[np.uint8], seed: int, levels: float = 1.5) -> NDArray[np.uint8]:
    """The same with camera noise."""
    noise = np.random.default_rng(seed).normal(0, levels, pixels.shape)
    return np.clip(np.rint(pixels + noise), 0, 255).astype(np.uint8)


def inches(side: float = 10.0, per_inch: int = PER_INCH) -> tuple[NDArray[np.float64], ...]:
    """Coordinates x, y (N, N) of the pixels' centres of a square cloth, in inches."""
    n = round(side * per_inch)
    y, x = (np.mgrid[0:n, 0:n] + 0.5) / per_inch
    return x, y


def stripes(period: float, degrees: float = 0.0, share: float = 0.5) -> NDArray[np.int64]:
    """Stripes that run ``degrees`` counter-clockwise from the top edge, ``period`` inches wide."""
    x, y = inches()
    angle = np.deg2rad(degrees)
    across = x * np.sin(angle) + y * np.cos(angle)
    return ((across / period) % 1 < share).astype(np.int64)


def dots(pitch: float, radius: float, x0: float = 0.0, y0: float = 0.0) -> NDArray[np.int64]:
    x, y = inches()
    dx, dy = ((v - v0 + pitch / 2) % pitch - pitch / 2 for v, v0 in ((x, x0), (y, y0)))
    return (np.hypot(dx, dy) < radius).astype(np.int64)


def scattered(seed: int, size: float, count: int = 60) -> NDArray[np.int64]:
    """Discs and ovals of two inks here and there, with no repeat within the square."""
    rng = np.random.default_rng(seed)
    x, y = inches()
    which = np.zeros(x.shape, dtype=np.int64)
    for k in range(count):
        cx, cy = rng.uniform(0, 10, 2)
        reach, angle = size * rng.uniform(0.3, 0.6), rng.uniform(0, np.pi)
        u = (x - cx) * np.cos(angle) + (y - cy) * np.sin(angle)
        v = (y - cy) * np.cos(angle) - (x - cx) * np.sin(angle)
        which[np.hypot(u, v / 0.6) < reach] = 1 + k % 2
    return which


def photo_of(cloth: NDArray[np.uint8], table: int = 128, margin: int = 12) -> Photo:
    """The cloth flat on a grey table."""
    n, m = cloth.shape[:2]
    pixels = np.full((n + 2 * margin, m + 2 * margin, 3), table, dtype=np.uint8)
    pixels[margin : margin + n, margin : margin + m] = cloth
    return photo_from_array(pixels)


def outline_of(photo: Photo, margin: int = 12) -> NDArray[np.float64]:
    x, y = photo.width - margin, photo.height - margin
    return np.array([[margin, margin], [x, margin], [x, y], [margin, y]], dtype=np.float64)


def measured(
    cloth: NDArray[np.uint8],
    *,
    place: tuple[int, int] = (0, 0),
    visible: NDArray[np.float64] | None = None,
    side_inches: float = 10.0,
) -> Swatch:
    photo = photo_of(cloth)
    found = FoundSquare(outline_of(photo), *place, 1.0, visible)
    return measure_square(photo, EvenLight(), found, side_inches=side_inches)
