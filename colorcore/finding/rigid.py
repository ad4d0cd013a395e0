"""Outlines held to the shape that all squares of a photo share.

A side that is hidden, or lies beyond the picture's edge, cannot be seen; but a precut square has
the size of the others, so the sides that do show say where the rest of it must be.
"""

import numpy as np
from numpy.typing import NDArray

from colorcore.finding.plane import Plane
from colorcore.geometry import areas

Quads = NDArray[np.float64]

_ALONG = 7
# How far an outline may turn while it is fitted, as a tangent.
_MOST_TURN = 0.12
# Sides that differ by less than this, as a logarithm, are those of a square.
_SQUARE = 0.1
# What shows of a square ends at its own side if it ends so near to it, in sides; and from so many
# squares of which two opposite sides show their size is measured.
_OWN, _SOME = 0.03, 4


def hold_shape(
    plane: Plane, quads: Quads, shown: NDArray[np.float64], size: NDArray[np.float64]
) -> Quads:
    """Fit upright rectangles of one size to the parts of sides that show.

    Parameters
    ----------
    plane
        The table straightened.
    quads
        Outlines (N, 4, 2) in the picture, their first side the one along the plane's x.
    shown
        From where to where each side shows (N, 4, 2), as shares from its first corner to its
        second; a side that does not show has both the same.
    size
        Width and height (2,) of the rectangle in the plane.

    Returns the fitted outlines (N, 4, 2). Where no two neighbouring sides show, an outline keeps
    its place along the hidden direction.
    """
    if not len(quads):
        return quads
    t = np.linspace(0.08, 0.92, _ALONG)
    at = shown[..., :1] + (shown[..., 1:] - shown[..., :1]) * t
    start, stop = quads, np.roll(quads, -1, axis=1)
    spots = plane.straighten(
        start[:, :, None] + (stop - start)[:, :, None] * at[..., None]
    )  # (N, 4, K, 2)
    flat = plane.straighten(quads)
    weight = np.repeat(np.maximum(shown[..., 1] - shown[..., 0], 0)[..., None], _ALONG, axis=2)
    return plane.picture(_fit(flat, spots, weight, size))


def _fit(
    flat: Quads, spots: Quads, weight: NDArray[np.float64], size: NDArray[np.float64]
) -> Quads:
    """Fit rectangles to ``spots`` (N, 4, K, 2) on the sides of ``flat`` (N, 4, 2), in the plane."""
    half = size / 2
    corners = np.array([[-1, -1], [1, -1], [1, 1], [-1, 1]]) * half
    normals = np.array([[0.0, -1], [1, 0], [0, 1], [-1, 0]])
    reach = np.abs(normals @ half)
    middle = flat.mean(axis=1)
    turn = np.zeros(len(flat))
    # Kept where nothing shows that could move it, by a weight too small to matter elsewhere.
    hold = np.diag([1e-3, 1e-3, 1e-2])
    for _ in range(3):
        c, s = np.cos(turn), np.sin(turn)
        rotation = np.stack([np.stack([c, -s], -1), np.stack([s, c], -1)], axis=-2)
        n = np.einsum("kj,nij->nki", normals, rotation)
        away = spots - middle[:, None, None]
        off = np.einsum("nksj,nkj->nks", away, n) - reach[None, :, None]
        tangent = np.stack([-n[..., 1], n[..., 0]], axis=-1)
        swing = np.einsum("nksj,nkj->nks", away, tangent)
        along = np.broadcast_to(n[:, :, None], away.shape)
        terms = np.concatenate([along, -swing[..., None]], axis=-1)
        normal = np.einsum("nksi,nks,nksj->nij", terms, weight, terms) + hold
        right = np.einsum("nksi,nks,nks->ni", terms, weight, off)
        step = np.linalg.solve(normal, right[..., None])[..., 0]
        middle = middle + step[:, :2]
        turn = np.clip(turn + step[:, 2], -_MOST_TURN, _MOST_TURN)
    c, s = np.cos(turn), np.sin(turn)
    rotation = np.stack([np.stack([c, -s], -1), np.stack([s, c], -1)], axis=-2)
    return np.asarray(middle[:, None] + np.einsum("kj,nij->nki", corners, rotation))


def common_size(plane: Plane, quads: Quads) -> NDArray[np.float64]:
    """Return the usual width and height (2,) of outlines (N, 4, 2) in the plane."""
    flat = plane.straighten(quads)
    ahead = flat + np.roll(flat, -1, axis=1)
    wide = np.linalg.norm(ahead[:, 1] - ahead[:, 3], axis=1) / 2
    high = np.linalg.norm(ahead[:, 2] - ahead[:, 0], axis=1) / 2
    # A short side drawn aslant looks longer than the strip is wide.
    wide = np.where(high > 2 * wide, areas(flat) / np.maximum(high, 1e-9), wide)
    high = np.where(wide > 2 * high, areas(flat) / np.maximum(wide, 1e-9), high)
    if abs(float(np.log(np.median(wide) / np.median(high)))) < _SQUARE:
        wide = high = np.concatenate([wide, high])
    return np.array([np.median(wide), np.median(high)])


def in_picture(quads: Quads, width: float, height: float) -> NDArray[np.float64]:
    """Return from where to where each side of outlines (N, 4, 2) lies in the picture (N, 4, 2)."""
    start, run = quads, np.roll(quads, -1, axis=1) - quads
    safe = np.where(np.abs(run) < 1e-9, 1e-9, run)
    one, two = -start / safe, (np.array([width, height]) - start) / safe
    first = np.clip(np.minimum(one, two).max(axis=-1), 0, 1)
    last = np.clip(np.maximum(one, two).min(axis=-1), 0, 1)
    return np.stack([first, np.maximum(first, last)], axis=-1)


def uncover(plane: Plane, quads: Quads, before: Quads, after: Quads) -> Quads:
    """Return the whole outlines (N, 4, 2) of squares of which a part is covered.

    ``quads`` (N, 4, 2) are the rough outlines of the whole squares and ``before`` those of what
    shows of them; ``after`` the latter once they are sharp. All start at the same corner. The sides
    that show are a square's own or the edge of the one on top; its own hold it.
    """
    flat, old, new = (plane.straighten(q) for q in (quads, before, after))
    axis = np.array([1, 0, 1, 0])

    def levels(outlines: Quads) -> NDArray[np.float64]:
        middles = (outlines + np.roll(outlines, -1, axis=1)) / 2
        return np.asarray(middles[:, np.arange(4), axis])

    own = np.abs(levels(old) - levels(flat)) < _OWN
    span = np.abs(levels(new) - np.roll(levels(new), 2, axis=1))
    side = np.concatenate([span[:, k][own[:, k] & own[:, k + 2]] for k in (0, 1)])
    size = np.full(2, float(np.median(side)) if len(side) >= _SOME else 1.0)
    shown = np.where(own[..., None], [0.0, 1.0], [0.5, 0.5])
    held = hold_shape(plane, after, shown, size)
    # Two sides in each other's line do not say where a square ends.
    both = (own[:, 0] | own[:, 2]) & (own[:, 1] | own[:, 3])
    return np.where(both[:, None, None], held, quads)
