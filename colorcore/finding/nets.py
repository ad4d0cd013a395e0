"""Squares that fill the picture: the table shows as no more than a net between them.

The first look takes the picture's edge for table. Where squares run out of the picture on all
sides, nearly all of its edge is cloth. But the table still hangs together: one colour that reaches
from edge to edge both ways, with holes in it as large as squares.
"""

import cv2
import numpy as np
from numpy.typing import NDArray

from colorcore.finding.parts import largest_part
from colorcore.finding.scene import RIM_PIXELS, Scene, see

# So many colours a picture full of prints is parted into; looked for in every so many rows and
# columns, among one in so many of the pixels there.
_COLORS, _EVERY, _SAMPLED = 8, 2, 11
# Of fewer pixels no net can be made out.
_FEWEST = 1000
# Lines and creases across the table narrower than this share of the picture do not part it.
_BRIDGED = 0.006
# A net reaches along so much of both sides of the picture, and has so many holes at least that
# cover between the first and the second share of it.
_REACHES, _HOLES, _SMALLEST, _LARGEST = 0.95, 4, 0.008, 0.4
# So many nets are tried at most, those of most holes first.
_TRIED = 2


def scenes_with_nets(scene: Scene) -> list[Scene]:
    """Return the picture seen anew with a net of one colour as its table, once for each colour
    that may be one, the likeliest first."""
    lab = np.ascontiguousarray(scene.view.lab[::_EVERY, ::_EVERY])
    if lab[..., 0].size < _FEWEST:
        return []
    found: list[tuple[int, NDArray[np.bool_]]] = []
    owner = _by_color(lab)
    brush = 2 * round(_BRIDGED * min(owner.shape) / 2) + 1
    for color in range(_COLORS):
        net = largest_part(owner == color, brush)
        holes = _holes(net)
        if holes >= _HOLES and _reaches(net) and net.sum() >= RIM_PIXELS:
            found.append((holes, net))
    found.sort(key=lambda each: -each[0])
    height, width = scene.size
    return [
        see(scene.view, cv2.resize(net.view(np.uint8), (width, height), None, 0, 0, 0) > 0)
        for _, net in found[:_TRIED]
    ]


def _by_color(lab: NDArray[np.float32]) -> NDArray[np.uint8]:
    """Return which of the picture's main colours each pixel (h, w) has."""
    pixels = lab.reshape(-1, 3)
    stop = (cv2.TERM_CRITERIA_EPS + cv2.TERM_CRITERIA_COUNT, 20, 0.5)
    sample = np.ascontiguousarray(pixels[::_SAMPLED])
    # Begun from the darkest to the lightest, it ends the same on every run.
    rank = np.argsort(sample[:, 0], kind="stable")
    begun = np.empty(len(sample), np.int32)
    begun[rank] = np.arange(len(sample)) * _COLORS // len(sample)
    _, _, colors = cv2.kmeans(sample, _COLORS, begun, stop, 1, cv2.KMEANS_USE_INITIAL_LABELS)
    # Distances but for what is the same for all colours.
    nearest = pixels @ (-2 * colors.T) + np.square(colors).sum(axis=1)
    return np.asarray(nearest.argmin(axis=1).reshape(lab.shape[:2]), dtype=np.uint8)


def _reaches(net: NDArray[np.bool_]) -> bool:
    """Whether a part of the picture reaches along both of its sides."""
    return all(
        np.ptp(np.flatnonzero(net.any(axis=k))) > _REACHES * net.shape[1 - k] for k in (0, 1)
    )


def _holes(net: NDArray[np.bool_]) -> int:
    """Return how many holes as large as squares a part of the picture has."""
    _, _, stats, _ = cv2.connectedComponentsWithStats((~net).view(np.uint8), connectivity=4)
    size = stats[1:, cv2.CC_STAT_AREA] / net.size
    return int(((size > _SMALLEST) & (size < _LARGEST)).sum())
