"""Outlines moved as wholes: all four sides at once, the square's size and right angles kept.

Side by side, a print's own frame may be a stronger step than its edge. But the four true edges lie
a known side apart and turn together, and frames within a print seldom do at the right size.
"""

import numpy as np
from numpy.typing import NDArray

from colorcore.finding.evidence import side_profiles
from colorcore.finding.plane import Plane

_ALONG, _ACROSS, _WINDOW = 24, 41, 2
# How far a side may lie from its place, and a square's sides from the common one, as shares of it.
_REACH, _SIZE = 0.2, 0.02
# Turns that are tried, in radians.
_TURNS = np.radians(np.linspace(-8, 8, 13))
_NEXT = [1, 2, 3, 0]
Quads = NDArray[np.float64]


def fit_whole(channels: NDArray[np.float32], plane: Plane, quads: Quads, rough: float) -> Quads:
    """Move outlines (N, 4, 2) in the view onto the place nearby where a square of the common size
    in the ``plane`` has steps of ``channels`` (h, w, C) along all its sides; ``rough`` is the size
    of step that the table shows by itself."""
    if not len(quads):
        return quads
    flat = _upright(plane.straighten(quads))
    start = plane.picture(flat)
    side = np.sqrt(np.linalg.norm(start[:, 1] - start[:, 0], axis=1)
                   * np.linalg.norm(start[:, 2] - start[:, 1], axis=1))  # fmt: skip
    shown = _shown(channels, start, _REACH * side, rough)
    turn, offset = _best(shown)
    return plane.picture(_moved(flat, turn, offset))


def _upright(flat: Quads) -> Quads:
    """Return unit squares (N, 4, 2) that lie and lean as quads in the plane do."""
    middle = flat.mean(axis=1, keepdims=True)
    across = flat[:, 1] - flat[:, 0] + flat[:, 2] - flat[:, 3]
    across = across / np.maximum(np.linalg.norm(across, axis=1, keepdims=True), 1e-9)
    down = np.stack([-across[:, 1], across[:, 0]], axis=1)
    u, v = across[:, None] / 2, down[:, None] / 2
    return np.asarray(middle + np.concatenate([-u - v, u - v, u + v, v - u], axis=1))


def _shown(
    channels: NDArray[np.float32], quads: Quads, reach: NDArray[np.float64], rough: float
) -> NDArray[np.float32]:
    """Return how much of each side would show if it lay ``offset`` further out and the square were
    turned by ``turn``: (N, 4, turns, offsets), 0 to 1."""
    samples, seen = side_profiles(channels, quads, reach, _ALONG, _ACROSS)
    count = _ACROSS - _WINDOW + 1
    total = samples[:, :count].copy()
    for k in range(1, _WINDOW):
        total += samples[:, k : k + count]
    change = total[:, _WINDOW:] - total[:, :-_WINDOW]
    length = np.sqrt((change * change).sum(axis=0)) / np.float32(_WINDOW)
    clear = length / (length + np.float32(rough))
    # An edge may wave a little: the clearest of three places counts.
    wide = clear.copy()
    wide[1:] = np.maximum(wide[1:], clear[:-1])
    wide[:-1] = np.maximum(wide[:-1], clear[1:])
    steps = wide.reshape(len(wide), len(quads), 4, _ALONG) * seen
    t = np.linspace(0.06, 0.94, _ALONG) - 0.5
    shift = _TURNS[:, None] * t / (2 * _REACH / (_ACROSS - 1))
    rows = np.arange(len(wide))[None, :, None] + np.round(shift).astype(np.int64)[:, None]
    rows = np.clip(rows, 0, len(wide) - 1)
    held = steps[rows, :, :, np.arange(_ALONG)].mean(axis=2)
    # Where the picture ends nothing is known: such a side neither helps nor hinders.
    return np.asarray(np.moveaxis(held, (2, 3), (0, 1)), dtype=np.float32)


def _best(shown: NDArray[np.float32]) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Return the turn (N,) in radians and the offsets outward (N, 4) in sides that show most."""
    places = shown.shape[-1]
    step = 2 * _REACH / (_ACROSS - 1)
    offset = (np.arange(places) - (places - 1) / 2) * step
    # Opposite sides together keep the size; where they lie away from their start costs a little.
    most = round(3 * _SIZE / step)
    grown = range(-most, most + 1)
    pairs = np.full((*shown[:, :2].shape, len(grown)), -9.0, np.float32)
    for k, more in enumerate(grown):
        one = np.arange(max(0, more), places + min(0, more))
        two = places - 1 - one + more
        price = 0.05 * (more * step / _SIZE) ** 2 + 0.15 * (offset[one] / _REACH) ** 2
        pairs[..., one, k] = shown[:, :2][..., one] + shown[:, 2:][..., two] - price
    flat = pairs.reshape(*pairs.shape[:3], -1)
    turn = np.argmax(flat.max(axis=-1).sum(axis=1) - 0.1 * np.abs(_TURNS), axis=1)
    best = np.argmax(flat[np.arange(len(shown)), :, turn], axis=-1)
    one, more = np.divmod(best, len(grown))
    two = places - 1 - one + more - most
    return _TURNS[turn], offset[np.concatenate([one, two], axis=1)]


def _moved(flat: Quads, turn: NDArray[np.float64], offset: NDArray[np.float64]) -> Quads:
    """Return squares with their sides moved outward and then turned about their middle."""
    top, right, bottom, left = offset.T[..., None]
    u, v = flat[:, 1] - flat[:, 0], flat[:, 3] - flat[:, 0]
    corners = np.stack([flat[:, 0] - u * left - v * top, flat[:, 1] + u * right - v * top,
                        flat[:, 2] + u * right + v * bottom, flat[:, 3] - u * left + v * bottom],
                       axis=1)  # fmt: skip
    middle = flat.mean(axis=1, keepdims=True)
    c, s = np.cos(turn)[:, None], np.sin(turn)[:, None]
    x, y = np.moveaxis(corners - middle, -1, 0)
    return np.asarray(middle + np.stack([c * x - s * y, s * x + c * y], axis=-1))
