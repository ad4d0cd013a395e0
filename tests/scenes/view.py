"""Where things on the table land in the picture: a pinhole camera over a plane."""

from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

Points = NDArray[np.float64]


@dataclass(frozen=True, eq=False)
class View:
    """A picture of the table. ``matrix`` (3, 3) takes table inches to picture pixels, (0, 0)
    being the outer corner of the first pixel, through a perfect lens; ``lens`` is by how much, at
    the corners, the real one bends straight lines: below 0 like a barrel, above like a
    pincushion."""

    width: int
    height: int
    matrix: Points
    lens: float = 0.0

    def pixels(self, inches: Points) -> Points:
        """Return points (K, 2) of the table in the picture of a perfect lens."""
        return apply(self.matrix, inches)

    def pictured(self, inches: Points) -> Points:
        """Return points (K, 2) of the table where the real lens puts them."""
        middle = np.array([self.width, self.height]) / 2
        away = self.pixels(inches) - middle
        squared = np.sum(away**2, axis=-1, keepdims=True) / np.sum(middle**2)
        return np.asarray(middle + away * self._stretch(squared))

    def _stretch(self, squared: Points) -> Points:
        # Nothing from beyond the perfect picture's edge may come into the real one.
        return np.asarray((1 + self.lens * squared) / (1 + min(self.lens, 0.0)))

    def bend(self, picture: NDArray[np.float32]) -> NDArray[np.float32]:
        """Return the picture (H, W, 3) of a perfect lens as the real one gives it."""
        if not self.lens:
            return picture
        radius = np.linspace(0, 1.05, 200)
        bent = radius * self._stretch(radius**2)
        reach = np.hypot(self.width, self.height) / 2
        x = np.arange(self.width, dtype=np.float32)[None, :] + 0.5 - self.width / 2
        y = np.arange(self.height, dtype=np.float32)[:, None] + 0.5 - self.height / 2
        # One quarter of the picture tells all four.
        away = np.hypot(x[:, self.width // 2 :], y[self.height // 2 :]) / reach
        quarter = np.interp(away, bent[1:], radius[1:] / bent[1:]).astype(np.float32)
        shrink = quarter[np.ix_(_from_middle(self.height), _from_middle(self.width))]
        return np.asarray(
            cv2.remap(
                picture,
                x * shrink + np.float32(self.width / 2 - 0.5),
                y * shrink + np.float32(self.height / 2 - 0.5),
                cv2.INTER_CUBIC,
                borderMode=cv2.BORDER_REPLICATE,
            )
        )

    def inches(self, pixels: Points) -> Points:
        """Return points (K, 2) of the picture on the table."""
        return apply(np.linalg.inv(self.matrix), pixels)

    def pixels_per_inch(self, inches: Points) -> float:
        """Return the larger local scale at one point (2,) of the table."""
        step = 0.05
        x, y = inches
        ends = self.pixels(np.array([[x, y], [x + step, y], [x, y + step]]))
        return float(np.linalg.norm(ends[1:] - ends[0], axis=1).max() / step)


def _from_middle(count: int) -> NDArray[np.int64]:
    """Return how many places each of a row's pixels lies from its middle."""
    return np.abs(2 * np.arange(count) - (count - 1)) // 2


def apply(matrix: Points, points: Points) -> Points:
    """Return points (K, 2) taken through a projective matrix (3, 3)."""
    whole = np.column_stack([points, np.ones(len(points))]) @ matrix.T
    return np.asarray(whole[:, :2] / whole[:, 2:])


def frame(
    points: Points,
    *,
    megapixels: float,
    aspect: float,
    turn: float,
    tilt: float,
    tilt_towards: float,
    distance: float,
    margin: float,
    lens: float = 0.0,
) -> View:
    """Return a view that shows all points (K, 2) of the table.

    ``aspect`` is the longer side over the shorter; ``turn`` (degrees, clockwise on screen) turns
    the picture, ``tilt`` (degrees) leans the camera towards the direction ``tilt_towards``
    (radians); ``distance`` of the camera as a multiple of the layout's size, ``margin`` the share
    of the picture left free on each side (negative: the layout runs out of the picture); ``lens``
    as in View.
    """
    middle = (points.min(axis=0) + points.max(axis=0)) / 2
    extent = float((points.max(axis=0) - points.min(axis=0)).max())
    c, s = np.cos(np.radians(turn)), np.sin(np.radians(turn))
    to_middle = np.array([[c, -s, 0], [s, c, 0], [0, 0, 1.0]]) @ np.array(
        [[1, 0, -middle[0]], [0, 1, -middle[1]], [0, 0, 1.0]]
    )
    # Lean about an axis across the direction: foreshortening along it, depth rising along it.
    lean = np.radians(tilt)
    ux, uy = np.cos(tilt_towards), np.sin(tilt_towards)
    along = np.outer([ux, uy], [ux, uy])
    across = np.eye(2) - along
    project = np.eye(3)
    project[:2, :2] = across + along * np.cos(lean)
    project[2, :2] = np.array([ux, uy]) * np.sin(lean) / (distance * extent)
    rough = project @ to_middle
    seen = apply(rough, points)
    low, high = seen.min(axis=0), seen.max(axis=0)
    span = high - low
    longer = np.sqrt(megapixels * 1e6 * aspect)
    size = (
        np.array([longer, longer / aspect])
        if span[0] >= span[1]
        else np.array([longer / aspect, longer])
    )
    size = np.round(size)
    scale = float(np.min(size * (1 - 2 * margin) / span))
    offset = size / 2 - scale * (low + high) / 2
    fit = np.array([[scale, 0, offset[0]], [0, scale, offset[1]], [0, 0, 1.0]])
    return View(int(size[0]), int(size[1]), fit @ rough, lens)
