"""Squares that a hand, a label or a cup lies on or against: some of their corners still show.

What touches a square stands out from the table together with it, and that has no four sides. But
two right corners whose sides run towards each other make a square known, be they the ends of one
side or opposite ones.
"""

import cv2
import numpy as np
from numpy.typing import NDArray

from colorcore.finding import choose
from colorcore.finding.outlines import aspects, contours_of_mask, has_corners, order
from colorcore.finding.plane import fit_plane
from colorcore.finding.scene import Scene, score, shows_all_round
from colorcore.finding.singles import fill_in, lone_squares, off_size, stand_alone
from colorcore.finding.surface import pixels_within
from colorcore.finding.things import is_plain_and_light
from colorcore.geometry import Quad, areas

Quads = NDArray[np.float64]

# A contour is straight where it strays no more than this from a line, in sides of a square of its
# area, and a side of a corner is so long.
_STRAIGHT, _LONG = 0.02, 0.12
# A corner turns by a right angle to within this (as a sine); sides run along one line to within so
# much, and end on it to within so much of their length.
_RIGHT, _ALONG, _OFF = 0.35, 0.2, 0.05
# So far an outline may be from square, and so much of it must stand out from the table.
_SQUARE, _STANDS = 1.3, 0.85
_OPENINGS = (3, 9)
# Squares are so large, as a share of the picture, and share no more of themselves than this; what a
# thing hides of a side is not known, so none is surer than this.
_SMALLEST, _SHARED, _TOUCHED = 0.006, 0.03, 0.7
# Others beside them are of their size to within this, as a logarithm, and as likely as this.
_SAME_SIZE, _CLEAR = 0.12, 0.9


def squares_by_corners(scene: Scene) -> tuple[Quads, NDArray[np.float64]]:
    """Return the squares (N, 4, 2) of which a thing that lies on or against them leaves two corners
    at least, and how sure each is (N,): not very."""
    quads = _no_paper(scene, cornered(scene, _SMALLEST * scene.size[0] * scene.size[1]))
    quads, sure = stand_alone(scene, *lone_squares(scene, quads))
    # Of two that share a corner, one is made of a side of the other and of a thing beside it.
    best = choose.keep_best(quads, sure, _SHARED)
    quads, sure = fill_in(scene, quads[best], sure[best])
    best = choose.keep_best(quads, sure, _SHARED)
    return quads[best], np.minimum(sure[best], _TOUCHED)


def more_by_corners(
    scene: Scene, quads: Quads, sure: NDArray[np.float64]
) -> tuple[Quads, NDArray[np.float64]]:
    """Return a few squares (N, 4, 2), and others of their size that touch things or one another so
    that only corners of them show by themselves, with their chances (N,)."""
    more = _no_paper(scene, cornered(scene, float(areas(quads).min()) / 2))
    if len(more):
        more = more[off_size(fit_plane(quads, sure, scene.size), more) < _SAME_SIZE]
    more = more[choose.clear(more, quads, _SHARED)]
    chances = score(scene, more)
    best = choose.keep_best(more, chances, _SHARED)
    best = best[chances[best] > _CLEAR]
    found = np.minimum(chances[best], _TOUCHED)
    return np.concatenate([quads, more[best]]), np.concatenate([sure, found])


def _no_paper(scene: Scene, quads: Quads) -> Quads:
    """Return those outlines (N, 4, 2) that lie in the picture, show all round and hold no paper:
    two corners of a sheet tell a square as well, one side of which runs through the sheet."""
    far = np.array([scene.view.width, scene.view.height])
    quads = quads[((quads >= 0) & (quads <= far)).all(axis=(1, 2))]
    quads = quads[shows_all_round(scene, quads)]
    paper = np.array([is_plain_and_light(scene, quad) for quad in quads], bool)
    return np.asarray(quads[~paper])


def cornered(scene: Scene, smallest: float) -> Quads:
    """Return outlines (N, 4, 2) of ``smallest`` square pixels and more that two corners tell."""
    found: list[Quad] = []
    for mask in scene.masks:
        for opening in _OPENINGS:
            for contour in contours_of_mask(mask, opening):
                if len(contour) >= 4 and cv2.contourArea(contour) >= smallest:
                    found += _of_contour(contour, scene.size, smallest)
    return np.array(found).reshape(-1, 4, 2)


def _of_contour(contour: NDArray[np.int32], size: tuple[int, int], smallest: float) -> list[Quad]:
    side = float(np.sqrt(cv2.contourArea(contour)))
    places, ahead, back = _corners(contour, side)
    quads = [
        quad
        for i in range(len(places))
        for j in range(len(places))
        if i != j and (quad := _square(places[[i, j]], ahead[[i, j]], back[[i, j]])) is not None
    ]
    if not quads:
        return []
    upright = order(np.array(quads) + 0.5)
    good = has_corners(upright) & (aspects(upright) < _SQUARE) & (areas(upright) > smallest)
    standing = np.zeros(size, np.uint8)
    cv2.drawContours(standing, [contour], -1, 1, -1)
    return [quad for quad in upright[good] if _share(standing, quad) > _STANDS]


def _corners(contour: NDArray[np.int32], side: float) -> tuple[Quads, Quads, Quads]:
    """Return where a contour (K, 1, 2) has right corners (N, 2), and the directions (N, 2) of the
    sides that lead on from each and back from it."""
    line = cv2.approxPolyDP(contour, _STRAIGHT * side + 1, True).reshape(-1, 2).astype(np.float64)
    if cv2.contourArea(line.astype(np.float32), True) < 0:
        line = line[::-1]
    run = np.roll(line, -1, axis=0) - line
    length = np.maximum(np.linalg.norm(run, axis=1), 1e-6)
    ahead = run / length[:, None]
    back = -np.roll(ahead, 1, axis=0)
    turn = back[:, 1] * ahead[:, 0] - back[:, 0] * ahead[:, 1]
    right = (np.abs((ahead * back).sum(axis=1)) < _RIGHT) & (turn > 0)
    long = np.minimum(length, np.roll(length, 1)) > _LONG * side
    return line[right & long], ahead[right & long], back[right & long]


def _square(places: Quads, ahead: Quads, back: Quads) -> Quad | None:
    """Return the square that has two corners at ``places`` (2, 2), if the side ``ahead`` (2, 2) of
    the first leads to the side ``back`` (2, 2) of the second; None if it does not."""
    step = places[1] - places[0]
    length = float(np.linalg.norm(step))
    off = abs(ahead[0, 0] * step[1] - ahead[0, 1] * step[0]) / max(length, 1e-6)
    if off < _OFF and ahead[0] @ step > 0 and ahead[0] @ back[1] < -1 + _ALONG**2:
        # Both ends of one side.
        return np.array([*places, places[1] + length * ahead[1], places[0] + length * back[0]])
    if abs(float(ahead[0] @ back[1])) > _RIGHT:
        return None
    # Opposite corners.
    one, two = (_meet(step, a, b) for a, b in ((ahead[0], back[1]), (back[0], ahead[1])))
    if one is None or two is None:
        return None
    return np.array([places[0], places[0] + one, places[1], places[0] + two])


def _meet(step: NDArray[np.float64], a: Quad, b: Quad) -> Quad | None:
    """Return where a line from 0 in direction ``a`` meets one from ``step`` in direction ``b``, if
    it does ahead of both."""
    turn = a[0] * b[1] - a[1] * b[0]
    if abs(turn) < 1e-6:
        return None
    along = (step[0] * b[1] - step[1] * b[0]) / turn
    other = (step[0] * a[1] - step[1] * a[0]) / turn
    return a * along if along > 0 and other > 0 else None


def _share(standing: NDArray[np.uint8], quad: Quad) -> float:
    """Return how much of an outline (4, 2) stands out from the table, 0 to 1."""
    part, inside = pixels_within((standing.shape[0], standing.shape[1]), quad, 1.0)
    return float(standing[part][inside].mean()) if inside.any() else 0.0
