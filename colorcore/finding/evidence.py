"""What the picture says for an outline: its four sides, looked at across their whole length.

Across each side short profiles run from inside to outside. A true side has a step at the same
place in most of them; a print's own edges step here and there, the table's texture everywhere.
"""

from dataclasses import dataclass, field
from typing import Any

import cv2
import numpy as np
from numpy.typing import NDArray

from colorcore.geometry import areas

_ALONG = 24
# Of a side of which less lies in the picture nothing is known.
_IN = np.float32(0.1)
_ACROSS = 17
_NEXT = [1, 2, 3, 0]
# A change from table to no table weighs as much as this many CIELAB units.
TABLE_WEIGHT = np.float32(30)


@dataclass(frozen=True, eq=False)
class SideEvidence:
    """Per outline and side (N, 4).

    ``step`` mean size of the change from inside to outside in units of the table's own changes;
    ``share`` how much of the side has a change above the table's; ``sharp`` how much of the side
    has its steepest place at the outline; ``even`` how alike the change is along the side (1: the
    same everywhere); ``outside`` and ``inside`` the mean surface likelihood just beyond and within;
    ``seen`` how much of the side lies in the picture. ``bare`` (N,) is the mean surface likelihood
    over the whole of the outline.
    """

    step: NDArray[np.float32] = field(repr=False)
    share: NDArray[np.float32] = field(repr=False)
    sharp: NDArray[np.float32] = field(repr=False)
    even: NDArray[np.float32] = field(repr=False)
    outside: NDArray[np.float32] = field(repr=False)
    inside: NDArray[np.float32] = field(repr=False)
    seen: NDArray[np.float32] = field(repr=False)
    bare: NDArray[np.float32] = field(repr=False)

    @property
    def shown(self) -> NDArray[np.float32]:
        """How much of what lies in the picture of each side (N, 4) has a change above the table's;
        1 where hardly anything of it does."""
        share = self.share / np.maximum(self.seen, _IN)
        return np.asarray(np.where(self.seen > _IN, share, np.float32(1)))

    def rows(self) -> NDArray[np.float64]:
        """Return all as one row of numbers (N, 29) per outline."""
        kinds = (self.step, self.share, self.sharp, self.even, self.outside, self.inside)
        return np.column_stack([*kinds, self.seen, self.bare]).astype(np.float64)

    @classmethod
    def of_rows(cls, rows: NDArray[np.float64]) -> "SideEvidence":
        """Return what such rows (N, 29) say."""
        values = rows.astype(np.float32)
        kinds = values[:, :-1].reshape(-1, 7, 4)
        step, share, sharp, even, outside, inside, seen = (kinds[:, k] for k in range(7))
        return cls(step, share, sharp, even, outside, inside, seen, values[:, -1])


def side_profiles(
    channels: NDArray[Any],
    quads: NDArray[np.float64],
    reach: NDArray[np.float64],
    along: int = _ALONG,
    across: int = _ACROSS,
) -> tuple[NDArray[np.float32], NDArray[np.float32]]:
    """Sample ``channels`` (h, w, C), of any type that a picture has, across the sides of ``quads``
    (N, 4, 2).

    ``reach`` (N,) is how far a profile runs to either side in pixels. Returns the samples
    (C, across, N * 4 * along), from inside to outside, and how much of each profile lies in the
    picture (N, 4, along). The long axis comes last: sums over a short last axis are slow.
    """
    height, width = channels.shape[:2]
    if not len(quads):
        return (
            np.zeros((channels.shape[2], across, 0), np.float32),
            np.zeros((0, 4, along), np.float32),
        )
    run = quads[:, _NEXT] - quads
    length = np.maximum(np.sqrt((run * run).sum(axis=-1)), 1e-6)
    outward = np.stack([run[..., 1], -run[..., 0]], axis=-1) * (reach[:, None] / length)[..., None]
    t = np.linspace(0.06, 0.94, along)
    offset = np.linspace(-1, 1, across)
    # Map coordinates count from the middle of the first pixel.
    foot = quads[:, :, None] + run[:, :, None] * t[:, None] - 0.5
    spot = [
        (
            foot[..., k, None].astype(np.float32)
            + (outward[:, :, k, None, None] * offset).astype(np.float32)
        ).reshape(-1, across)
        for k in (0, 1)
    ]
    low, high = [float(v.min()) for v in spot], [float(v.max()) for v in spot]
    if min(low) >= -0.5 and high[0] <= width - 0.5 and high[1] <= height - 0.5:
        seen = np.ones((len(quads), 4, along), np.float32)
    else:
        x, y = spot
        inside = (x >= -0.5) & (x <= width - 0.5) & (y >= -0.5) & (y <= height - 0.5)
        seen = inside.mean(axis=1, dtype=np.float32).reshape(len(quads), 4, along)
    samples = np.empty((channels.shape[2], across, len(spot[0])), np.float32)
    # remap takes at most 32767 rows.
    for first in range(0, len(spot[0]), 32000):
        rows = slice(first, first + 32000)
        read = cv2.remap(
            channels, spot[0][rows], spot[1][rows],
            cv2.INTER_LINEAR, borderMode=cv2.BORDER_REPLICATE,
        )  # fmt: skip
        for k, plane in enumerate(cv2.split(read)):
            samples[k, :, rows] = cv2.transpose(plane)
    return samples, seen


def step_across(samples: NDArray[np.float32]) -> NDArray[np.float32]:
    """Return the change from inside to outside (C, N) of samples (C, across, N), clear of the
    outline itself."""
    half = samples.shape[1] // 2
    change = samples[:, half + 2 : -1].mean(axis=1) - samples[:, 1 : half - 1].mean(axis=1)
    return np.asarray(change)


def weigh_sides(
    channels: NDArray[np.float32], quads: NDArray[np.float64], rough: float
) -> SideEvidence:
    """Weigh the sides of ``quads`` (N, 4, 2).

    ``channels`` (h, w, 4): CIELAB and the surface likelihood times TABLE_WEIGHT; ``rough`` the size
    of step that the table shows by itself.
    """
    size = np.sqrt(np.maximum(areas(quads), 1.0))
    # What lies beside a strip is not further away than its width.
    run = np.roll(quads, -1, axis=1) - quads
    size = np.minimum(size, 1.5 * np.sqrt((run * run).sum(axis=2)).min(axis=1))
    reach = np.maximum(4.0, 0.06 * size)
    samples, seen = side_profiles(channels, quads, reach)
    half = _ACROSS // 2
    color, likely = samples[:3], samples[3] / TABLE_WEIGHT
    step = step_across(color)
    strength = np.sqrt((step * step).sum(axis=0))
    bend = color[:, 2:] - color[:, :-2]
    slope = (bend * bend).sum(axis=0)
    steepest = np.argmax(slope, axis=0) + 1
    sharp = (np.abs(steepest - half) <= 2) & (slope.max(axis=0) > rough * rough)
    mean_strength = _along(strength)
    mean_step = _along(step)
    return SideEvidence(
        step=mean_strength / np.float32(rough),
        share=_along(strength > rough),
        sharp=_along(sharp),
        even=np.sqrt((mean_step * mean_step).sum(axis=0)) / np.maximum(mean_strength, 1e-6),
        outside=_along(likely[half + 2 :].mean(axis=0)),
        inside=_along(likely[: half - 1].mean(axis=0)),
        seen=seen.mean(axis=2),
        bare=bare_share(channels, quads),
    )


def _along(values: NDArray[Any]) -> NDArray[np.float32]:
    """Return the means along each side (..., N, 4) of values (..., N * 4 * along)."""
    rows = values.reshape(*values.shape[:-1], -1, 4, _ALONG)
    return np.asarray(rows.mean(axis=-1, dtype=np.float32))


def bare_share(channels: NDArray[np.float32], quads: NDArray[np.float64]) -> NDArray[np.float32]:
    """Return how much table shows within each outline (N,), 0 to 1, by the last channel."""
    spot = grid_within(quads, 0.07, 16)
    height, width = channels.shape[:2]
    x, y = spot[..., 0], spot[..., 1]
    shown = (x >= 0) & (y >= 0) & (x < width) & (y < height)
    column = np.clip(x.astype(np.int32), 0, width - 1)
    row = np.clip(y.astype(np.int32), 0, height - 1)
    likely = np.where(shown, channels[row, column, -1], np.float32(0)).sum(axis=1) / TABLE_WEIGHT
    count = shown.sum(axis=1)
    # Of what lies mostly beyond the picture nothing is known: it counts as table.
    share = np.where(count > 0.2 * shown.shape[1], likely / np.maximum(count, 1), 1.0)
    return np.asarray(share, dtype=np.float32)


def grid_within(quads: NDArray[np.float64], margin: float, count: int) -> NDArray[np.float32]:
    """Return ``count`` by ``count`` places (N, count**2, 2) within each of ``quads`` (N, 4, 2),
    ``margin`` of a side off its sides."""
    a = np.linspace(margin, 1 - margin, count)
    u, v = (w.ravel() for w in np.meshgrid(a, a))
    weight = np.stack([(1 - u) * (1 - v), u * (1 - v), u * v, (1 - u) * v], axis=-1)
    return np.asarray(weight.astype(np.float32) @ quads.astype(np.float32))


def features(sides: SideEvidence) -> NDArray[np.float64]:
    """Return what is known of each outline as numbers (N, F): for each kind of evidence its mean
    over the sides and its two weakest sides, then the bare share and how many
    sides are out of the picture."""
    columns = []
    seen = sides.seen > 0.6
    few = seen.sum(axis=1, keepdims=True)
    for kind in (
        np.minimum(sides.step, 8) / 8,
        sides.share,
        sides.sharp,
        sides.even,
        sides.outside,
        sides.inside,
        np.clip(sides.outside - sides.inside, 0, 1),
    ):
        # A side beyond the picture's edge says nothing: it counts as the mean of the others.
        known = np.where(seen, kind, 0).sum(axis=1, keepdims=True) / np.maximum(few, 1)
        ranked = np.sort(np.where(seen, kind, known).astype(np.float64), axis=1)
        columns += [ranked.mean(axis=1), ranked[:, 0], ranked[:, 1]]
    columns.append(sides.bare.astype(np.float64))
    columns.append((4 - few[:, 0]) / 2.0)
    return np.stack(columns, axis=1)


def roughness(channels: NDArray[np.float32], table: NDArray[np.bool_], size: float) -> float:
    """Return the size of step that the table shows by itself over profiles for outlines of side
    ``size``: its 90th percentile in CIELAB units, at least 0.7."""
    reach = max(2, round(0.03 * size))
    shift = reach + 2
    # Means over a stretch change little from place to place: every fifth row and column is plenty.
    color = blurred_rows(channels, reach, 5)
    step = color[:, shift::5] - color[:, :-shift:5]
    length = np.sqrt(np.einsum("ijk,ijk->ij", step, step))
    both = table[::5, shift::5] & table[::5, :-shift:5]
    if both.sum() < 60:
        return 2.0
    return max(0.7, float(np.percentile(length[both], 90)))


def blurred_rows(channels: NDArray[np.float32], size: int, every: int) -> NDArray[np.float32]:
    """Return the first three of ``channels`` (h, w, C) blurred over boxes of ``size`` pixels, but
    for one row in ``every`` alone: (h / every, w, 3)."""
    height = len(channels)
    total = np.zeros((len(range(0, height, every)), *channels.shape[1:]), np.float32)
    for k in range(size):
        # As OpenCV places the box, and mirrored beyond the edge as it does.
        row = np.abs(np.arange(0, height, every) + k - size // 2)
        total += channels.take(np.minimum(row, 2 * (height - 1) - row), axis=0)
    total /= np.float32(size)
    return np.asarray(cv2.blur(total, (size, 1))[..., :3], dtype=np.float32)
