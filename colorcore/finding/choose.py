"""Which outlines are squares: one common size, no two in the same place, the best evidence."""

import cv2
import numpy as np
from numpy.typing import NDArray

from colorcore.geometry import areas

# Fitted by penalised logistic regression (ridge) to outlines judged in rendered scenes of seeds 0
# to 4 and in drawings: right from an overlap of 0.93 on, wrong below 0.85. What came later starts
# at 0; tests/bench/finding_fit.py fits them anew. An intercept, then one weight per feature.
WEIGHTS = np.array(
    [
        -4.840,
        -14.271,
        6.936,
        2.878,
        -0.065,
        4.681,
        -0.194,
        6.453,
        -3.057,
        -0.412,
        -0.430,
        2.848,
        0.843,
        1.523,
        1.942,
        2.221,
        -14.081,
        5.311,
        10.714,
        1.586,
        -5.381,
        5.193,
        -7.193,
        -2.681,
    ]
)


def sides(quads: NDArray[np.float64]) -> NDArray[np.float64]:
    """Return the side (N,) of a square of each quad's area, in pixels."""
    return np.asarray(np.sqrt(np.maximum(areas(quads), 1e-9)))


def score_outlines(features: NDArray[np.float64]) -> NDArray[np.float64]:
    """Return the chance (N,) that each outline is a square rightly outlined, from what is known of
    it (N, F): a logistic model."""
    return np.asarray(1 / (1 + np.exp(-np.clip(features @ WEIGHTS[1:] + WEIGHTS[0], -30, 30))))


def logit(worth: NDArray[np.float64]) -> NDArray[np.float64]:
    """Return what an outline alone is worth (N,) as its company takes it: not beyond a chance of
    one in ten thousand either way."""
    most = np.log((1 - 1e-4) / 1e-4)
    return np.asarray(np.clip(worth, -most, most))


def overlap(one: NDArray[np.float64], two: NDArray[np.float64]) -> float:
    """Return the area shared by two quads over the smaller of their areas."""
    shared, _ = cv2.intersectConvexConvex(one.astype(np.float32), two.astype(np.float32))
    small = min(abs(cv2.contourArea(one.astype("f4"))), abs(cv2.contourArea(two.astype("f4"))))
    return float(shared) / max(small, 1e-9)


def clear_of(quad: NDArray[np.float64], quads: NDArray[np.float64], most: float) -> bool:
    """Whether a quad overlaps none of ``quads`` by more than ``most`` of the smaller."""
    return bool(clear(quad[None], quads, most)[0])


def clear(
    quads: NDArray[np.float64], others: NDArray[np.float64], most: float
) -> NDArray[np.bool_]:
    """Return which of ``quads`` (N, 4, 2) overlap none of ``others`` (M, 4, 2) by more than
    ``most`` of the smaller."""
    free = np.ones(len(quads), bool)
    if not len(quads) or not len(others):
        return free
    for k, m in np.argwhere(_near(quads, others)):
        if free[k] and overlap(quads[k], others[m]) > most:
            free[k] = False
    return free


def sharing(quads: NDArray[np.float64], most: float) -> list[tuple[int, int]]:
    """Return which of ``quads`` (N, 4, 2) overlap another by more than ``most`` of the smaller, as
    pairs of indices, the first one first."""
    near = np.argwhere(np.triu(_near(quads, quads), 1)) if len(quads) else ()
    return [(int(k), int(m)) for k, m in near if overlap(quads[k], quads[m]) > most]


def keep_best(
    quads: NDArray[np.float64], score: NDArray[np.float64], most: float = 0.2
) -> NDArray[np.int64]:
    """Return the indices of outlines, best first, that overlap no better one by over ``most``."""
    order = np.argsort(-score, kind="stable")
    ranked = quads[order]
    near = _near(ranked, ranked)
    kept: list[int] = []
    for i in range(len(order)):
        beside = [j for j in kept if near[i, j]]
        if not any(overlap(ranked[i], ranked[j]) > most for j in beside):
            kept.append(i)
    return order[kept]


def _near(quads: NDArray[np.float64], others: NDArray[np.float64]) -> NDArray[np.bool_]:
    """Return which of ``quads`` (N, 4, 2) may overlap which of ``others`` (M, 4, 2), as the boxes
    around them do, (N, M)."""
    low = np.maximum(quads.min(axis=1)[:, None], others.min(axis=1))
    high = np.minimum(quads.max(axis=1)[:, None], others.max(axis=1))
    return np.asarray((low < high).all(axis=2))


def distinct(
    quads: NDArray[np.float64], score: NDArray[np.float64], apart: float = 0.05
) -> NDArray[np.int64]:
    """Return the indices of outlines with a positive ``score``, best first, without those that
    nearly repeat a better one (middle and size within ``apart`` of the side)."""
    size = np.sqrt(areas(quads))
    middles = quads.mean(axis=1)
    kept: list[int] = []
    free = score > 0
    for i in np.argsort(-score, kind="stable"):
        if not free[i]:
            continue
        kept.append(int(i))
        near = np.abs(middles - middles[i]).max(axis=1) < apart * size[i]
        free &= ~(near & (np.abs(size / size[i] - 1) < apart))
    return np.array(kept, dtype=np.int64)


def common_size(
    quads: NDArray[np.float64],
    score: NDArray[np.float64],
    spread: float = 0.12,
    *,
    slender: bool = False,
) -> NDArray[np.int64]:
    """Return the indices of the outlines of the size that explains the picture best.

    ``slender`` asks for the same ratio of sides too, within twice ``spread``.

    Sizes may drift across the picture as under a tilt. Of all sizes, the one whose outlines,
    overlaps settled, cover most by area and evidence.
    """
    if not len(quads):
        return np.zeros(0, np.int64)
    size = np.log(np.sqrt(areas(quads)))
    length = np.linalg.norm(np.roll(quads, -1, axis=1) - quads, axis=2)
    shape = np.log((length[:, 0] + length[:, 2]) / np.maximum(length[:, 1] + length[:, 3], 1e-6))
    middles = quads.mean(axis=1)
    reach = max(float(np.ptp(middles, axis=0).max()), 1.0)
    terms = np.column_stack([np.ones(len(quads)), (middles - middles.mean(0)) / reach])
    best, winner = -1.0, np.zeros(0, np.int64)
    anchors = np.argsort(-score * np.exp(size), kind="stable")[:60]
    tried: list[float] = []
    for anchor in anchors:
        if any(abs(size[anchor] - s) < 0.04 for s in tried):
            continue
        tried.append(float(size[anchor]))
        near = np.abs(size - size[anchor]) < 0.35
        if slender:
            near &= np.abs(shape - shape[anchor]) < 2 * spread
        model = np.array([size[anchor], 0.0, 0.0])
        for width in (0.2, 0.14, 0.1, 0.08, 0.08):
            off = size - terms @ model
            w = np.where(near, score**2, 0) / (1 + (off / width) ** 2) ** 2
            solve = (terms * w[:, None]).T @ terms + np.diag([0, 0.05, 0.05]) * w.sum()
            model = np.linalg.solve(solve + 1e-9 * np.eye(3), (terms * w[:, None]).T @ size)
        alike = np.flatnonzero(near & (np.abs(size - terms @ model) < spread))
        if not len(alike):
            continue
        chosen = alike[keep_best(quads[alike], score[alike])]
        total = float((score[chosen] ** 2 * np.exp(size[chosen])).sum())
        if total > best:
            best, winner = total, chosen
    return winner
