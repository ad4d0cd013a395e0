"""A print as the eye sees it from a distance: the spatial filter of S-CIELAB.

Source: X. Zhang and B. A. Wandell, 'A spatial extension of CIELAB for digital color image
reproduction', SID Symposium Digest 27 (1996), 731-734. The picture goes into three opponent
channels (light-dark, red-green, blue-yellow); each is blurred by its own sum of Gaussians, whose
spreads are degrees of visual angle, and goes back. Colour blurs sooner than light and dark, which
is why a print of small red and green dots reads as one brown while a black and white one of the
same size still shows.

Kernels and weights are those of the paper's table; the matrix to opponent channels is that of the
authors' own program, of which the paper prints three decimals (its last term of the second row
with the opposite sign; the rows follow A. B. Poirson and B. A. Wandell, 1993).

Valid for daylight vision of a still picture. The kernels were measured up to some 20 cycles per
degree; where a pixel is wider than about 1/60 degree, the picture itself is coarser than the eye.
"""

import math
from typing import Any, Final

import numpy as np
from numpy.typing import NDArray

from colorcore.color.spaces import XYZ_FROM_LINEAR

Picture = NDArray[np.float32]

READING_INCHES: Final = 18.0
"""Arm's length: how near a print is held; common practice, no source."""
ROOM_INCHES: Final = 72.0
"""Across the room: from where a quilt is looked at; common practice, no source."""

OPPONENT_FROM_XYZ: Final = (
    np.array(
        [
            [278.7336, 721.8031, -106.5520],
            [-448.7736, 289.8056, 77.1569],
            [85.9513, -589.9859, 501.1089],
        ]
    )
    / 1000
)

KERNELS: Final[tuple[tuple[tuple[float, float], ...], ...]] = (
    ((0.921, 0.0283), (0.105, 0.133), (-0.108, 4.336)),
    ((0.531, 0.0392), (0.330, 0.494)),
    ((0.488, 0.0536), (0.371, 0.386)),
)
"""Per opponent channel (light-dark, red-green, blue-yellow) the weight and spread of each
Gaussian; a spread s in degrees stands for exp(-(x^2 + y^2) / s^2). Weights are divided by their
sum before use."""

_OPPONENT_FROM_LINEAR: Final = OPPONENT_FROM_XYZ @ XYZ_FROM_LINEAR
_LINEAR_FROM_OPPONENT: Final = np.linalg.inv(_OPPONENT_FROM_LINEAR)
_WIDEST_SIGMA: Final = 6.0
"""Pixels; a wider Gaussian is applied to a picture made smaller, to 1 % of the slow way."""


def pixels_per_degree(pixels_per_inch: float, distance_inches: float) -> float:
    """Return how many pixels one degree of visual angle covers, straight ahead."""
    return pixels_per_inch * 2 * distance_inches * math.tan(math.radians(0.5))


def filter_for_distance(
    linear: NDArray[np.floating[Any]],
    pixels_per_inch: float,
    distance_inches: float = ROOM_INCHES,
    valid: NDArray[np.bool_] | None = None,
    *,
    inhibition: bool = True,
) -> Picture:
    """Return the picture as seen from a distance, linear light (H, W, 3) float32.

    Parameters
    ----------
    linear : (H, W, 3)
        Linear light, sRGB primaries, D65 white.
    pixels_per_inch : float
        Of the cloth, not of a print-out of it.
    distance_inches : float
        Between eye and cloth.
    valid : bool (H, W), optional
        True where the picture shows the cloth. What is not, counts for nothing, as does all
        beyond the picture's edge, and comes back NaN.
    inhibition : bool
        False leaves the kernel's negative part out: for a picture that is to be looked at, since
        the eye that looks adds its own.

    A constant picture comes back unchanged. Colours may leave 0 to 1 by a little where the
    kernel's negative part overshoots beside an edge.

    Raises
    ------
    ValueError
        If the picture is not (H, W, 3), the mask does not fit, or a length is not above 0.
    """
    if linear.ndim != 3 or linear.shape[2] != 3:
        raise ValueError(f"a picture is (H, W, 3), not {linear.shape}")
    if valid is not None and valid.shape != linear.shape[:2]:
        raise ValueError(f"a mask {valid.shape} does not fit a picture {linear.shape}")
    for name, length in (
        ("pixels_per_inch", pixels_per_inch),
        ("distance_inches", distance_inches),
    ):
        if not (math.isfinite(length) and length > 0):
            raise ValueError(f"{name} must be above 0, not {length}")
    if linear.size == 0:
        return np.zeros(linear.shape, np.float32)

    picture = np.ascontiguousarray(linear, dtype=np.float32)
    mask = None
    if valid is not None and not valid.all():
        mask = valid.astype(np.float32)
        picture = np.where(valid[..., None], picture, np.float32(0))
    per_degree = pixels_per_degree(pixels_per_inch, distance_inches)
    seen = _transform(picture, _OPPONENT_FROM_LINEAR)
    for channel, kernel in enumerate(KERNELS):
        plane = np.ascontiguousarray(seen[..., channel])
        kernel = tuple(part for part in kernel if inhibition or part[0] > 0)
        whole = sum(weight for weight, _ in kernel)
        total: Picture = np.zeros_like(plane)
        for weight, spread in kernel:
            # exp(-r^2 / s^2) is a Gaussian of standard deviation s / sqrt(2).
            sigma = spread * per_degree / math.sqrt(2)
            total += np.float32(weight / whole) * _blur(plane, sigma, mask)
        seen[..., channel] = total
    result = _transform(seen, _LINEAR_FROM_OPPONENT)
    if valid is not None:
        result[~valid] = np.nan
    return result


def _transform(picture: Picture, matrix: NDArray[np.floating[Any]]) -> Picture:
    import cv2

    return np.asarray(cv2.transform(picture, matrix.astype(np.float32)), dtype=np.float32)


def _blur(plane: Picture, sigma: float, mask: Picture | None) -> Picture:
    """Gaussian mean (H, W) over what is in the picture and, if given, under the mask (0 or 1),
    whose outside is 0 in ``plane``."""
    import cv2

    height, width = plane.shape
    shrink = min(int(sigma / _WIDEST_SIGMA) + 1, max(height, width))
    if shrink > 1:
        small = (math.ceil(width / shrink), math.ceil(height / shrink))
        # Averaging into larger pixels and interpolating back blur a little by themselves.
        step_x, step_y = width / small[0], height / small[1]
        sigma_x = math.sqrt((sigma / step_x) ** 2 - 1 / 4) if step_x > 1 else sigma
        sigma_y = math.sqrt((sigma / step_y) ** 2 - 1 / 4) if step_y > 1 else sigma
        plane = cv2.resize(plane, small, interpolation=cv2.INTER_AREA).astype(np.float32)
        if mask is not None:
            mask = cv2.resize(mask, small, interpolation=cv2.INTER_AREA).astype(np.float32)
    else:
        sigma_x = sigma_y = sigma
    kernel_x, kernel_y = _gaussian(sigma_x, plane.shape[1]), _gaussian(sigma_y, plane.shape[0])
    total = _convolve(plane, kernel_x, kernel_y)
    if mask is None:
        # How much of the kernel lies in the picture is a product of rows and columns.
        across = _convolve(np.ones((1, plane.shape[1]), np.float32), kernel_x, np.ones((1, 1)))
        down = _convolve(np.ones((plane.shape[0], 1), np.float32), np.ones((1, 1)), kernel_y)
        total /= across
        total /= down
    else:
        share = _convolve(mask, kernel_x, kernel_y)
        np.divide(total, share, out=total, where=share > 1e-6)
    if shrink > 1:
        resized = cv2.resize(total, (width, height), interpolation=cv2.INTER_LINEAR)
        return np.asarray(resized, dtype=np.float32)
    return total


def _gaussian(sigma: float, size: int) -> NDArray[np.float64]:
    """A Gaussian (K, 1) that sums to 1, cut at four sigma or where a picture of ``size`` ends."""
    reach = max(1, min(math.ceil(4 * sigma), size - 1))
    offsets = np.arange(-reach, reach + 1)
    kernel = np.exp(-0.5 * (offsets / sigma) ** 2)
    return np.asarray((kernel / kernel.sum())[:, None])


def _convolve(
    plane: Picture, kernel_x: NDArray[np.float64], kernel_y: NDArray[np.float64]
) -> Picture:
    """Convolve separably, with nothing beyond the edge."""
    import cv2

    out = cv2.sepFilter2D(plane, cv2.CV_32F, kernel_x, kernel_y, borderType=cv2.BORDER_CONSTANT)
    return np.asarray(out, dtype=np.float32)
