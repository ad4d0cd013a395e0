"""Outlines moved onto the steps that they stand for.

Each side becomes a straight line through the steepest places of its profiles, fitted robustly.
A pinked edge is a zigzag: profiles meet it at all its phases, so the line runs through its mean,
which is the nominal cut.
"""

from typing import Any

import numpy as np
from numpy.typing import NDArray

from colorcore.finding.evidence import side_profiles
from colorcore.geometry import areas


def fit_sides(
    channels: NDArray[Any],
    quads: NDArray[np.float64],
    reach: NDArray[np.float64],
    *,
    along: int = 32,
    across: int = 25,
    window: int = 3,
) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Move the sides of ``quads`` (N, 4, 2) onto the nearest steep steps of ``channels``.

    ``reach`` (N,) pixels is how far a side may move; ``window`` is how many samples on either side
    of a place count for its step. Returns the quads and, per side (N, 4), the spread of the steps
    about their line in pixels.
    """
    if not len(quads):
        return quads.copy(), np.zeros((0, 4))
    samples, seen = side_profiles(channels, quads, reach, along, across)
    # A place lies between two samples; the means before and after it differ by its step.
    apart = samples[:, window:] - samples[:, :-window]
    count = across - 2 * window + 1
    change = apart[:, :count].copy()
    for k in range(1, window):
        change += apart[:, k : k + count]
    offset = (np.arange(window, across - window + 1) - across / 2) * (2 / (across - 1))
    offset = offset.astype(np.float32)
    step = np.sqrt(np.einsum("ckn,ckn->kn", change, change))
    step *= ((1 - 0.45 * offset**2) / np.float32(window))[:, None]
    best = np.argmax(step, axis=0)
    # The middle of the peak's top: a soft edge has a flat one, and its first place would be biased.
    peak = step.max(axis=0)
    around = np.arange(count)
    near = np.abs(around[:, None] - around) <= 2 * window
    top = np.maximum(step - np.float32(0.4) * peak, 0) * near[:, best]
    place = (offset @ top) / np.maximum(top.sum(axis=0), 1e-9)
    place, peak = (v.reshape(seen.shape).astype(np.float64) for v in (place, peak))
    unseen = seen.mean(axis=2) < 0.6
    weight = peak * seen + 1e-6
    # A side beyond the picture's edge stays where it is.
    place = np.where(unseen[..., None], 0.0, place)
    return _lines(quads, place * reach[:, None, None], weight)


def sharpen(
    pixels: NDArray[Any], quads: NDArray[np.float64]
) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Refine ``quads`` (N, 4, 2) on the full picture (H, W, 3), whatever its size.

    Returns the quads in pixels of that picture and, per side (N, 4), the spread of the steps about
    their line as a share of the side.
    """
    spread = np.zeros((len(quads), 4))
    for share, window in ((0.035, 3), (0.018, 3)):
        size = np.sqrt(np.maximum(areas(quads), 1.0))
        moved, spread = fit_sides(
            pixels, quads, np.maximum(3.0, share * size), along=36, across=27, window=window
        )
        far = np.abs(moved - quads).max(axis=(1, 2)) > 2.5 * np.maximum(3.0, share * size)
        quads = np.where(far[:, None, None], quads, moved)
        spread = spread / size[:, None]
    return quads, spread


def _lines(
    quads: NDArray[np.float64], place: NDArray[np.float64], weight: NDArray[np.float64]
) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Fit a line per side to offsets ``place`` (N, 4, K) and cross neighbouring lines."""
    along = place.shape[2]
    t = np.linspace(0.06, 0.94, along) - 0.5
    cap = _middle(weight)[..., None]
    firm = np.minimum(weight, cap)
    # A first line that bends to no outliers: the best of lines through pairs of places.
    level, slope = _start(place, firm, t)
    spread = np.ones(place.shape[:2])
    powers = np.stack([np.ones(along), t, t * t])
    for _ in range(6):
        off = place - level[..., None] - slope[..., None] * t
        spread = 1.4826 * _middle(np.abs(off))
        wide = np.maximum(spread, 0.25)[..., None]
        off /= 1.5 * wide
        w = firm / np.square(1 + np.square(off))
        s0, s1, s2 = (powers @ w.reshape(-1, along).T).reshape(3, *spread.shape)
        w *= place
        m0, m1 = (powers[:2] @ w.reshape(-1, along).T).reshape(2, *spread.shape)
        det = np.maximum(s0 * s2 - s1 * s1, 1e-12)
        level, slope = (m0 * s2 - m1 * s1) / det, (m1 * s0 - m0 * s1) / det
    start, stop = quads, np.roll(quads, -1, axis=1)
    run = stop - start
    length = np.maximum(np.linalg.norm(run, axis=-1, keepdims=True), 1e-6)
    normal = np.stack([run[..., 1], -run[..., 0]], axis=-1) / length
    p = (start + stop) / 2 + normal * level[..., None]
    d = run + normal * slope[..., None]
    q, e = np.roll(p, 1, axis=1), np.roll(d, 1, axis=1)
    turn = e[..., 0] * d[..., 1] - e[..., 1] * d[..., 0]
    safe = np.where(np.abs(turn) < 1e-9, 1.0, turn)
    w2 = p - q
    run_on = (w2[..., 0] * d[..., 1] - w2[..., 1] * d[..., 0]) / safe
    corners = q + e * run_on[..., None]
    bad = (np.abs(turn) < 1e-9).any(axis=1) | ~np.isfinite(corners).all(axis=(1, 2))
    corners[bad] = quads[bad]
    return corners, spread


def _middle(values: NDArray[np.float64]) -> NDArray[np.float64]:
    """Return the upper median along the last axis."""
    half = values.shape[-1] // 2
    return np.asarray(np.partition(values, half, axis=-1)[..., half])


def _start(
    place: NDArray[np.float64], weight: NDArray[np.float64], t: NDArray[np.float64]
) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    along = place.shape[2]
    pairs = [
        (i, j)
        for i in range(1, along // 2, 3)
        for j in range(along // 2, along - 1, 3)
        if j - i > along // 4
    ]
    i, j = np.array(pairs).T
    slope = (place[..., j] - place[..., i]) / (t[j] - t[i])
    level = place[..., i] - slope * t[i]
    # (N, 4, pairs, along): how much of the side each line passes by closely.
    off = place[..., None, :] - level[..., None] - slope[..., None] * t
    held = ((np.abs(off) < 1.2).astype(np.float64) @ weight[..., None])[..., 0]
    held *= 1 - np.minimum(np.abs(slope) * 0.01, 0.5)
    best = np.argmax(held, axis=-1)[..., None]
    return (
        np.take_along_axis(level, best, axis=-1)[..., 0],
        np.take_along_axis(slope, best, axis=-1)[..., 0],
    )
