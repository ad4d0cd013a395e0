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
_ACROSS = 17
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


def side_profiles(
    channels: NDArray[Any],
    quads: NDArray[np.float64],
    reach: NDArray[np.float64],
    along: int = _ALONG,
    across: int = _ACROSS,
) -> tuple[NDArray[Any], NDArray[np.bool_]]:
    """Sample ``channels`` (h, w, C), of any type that a picture has, across the sides of ``quads``
    (N, 4, 2).

    ``reach`` (N,) is how far a profile runs to either side in pixels. Returns the samples
    (N, 4, along, across, C), from inside to outside, and whether each lies in the picture
    (N, 4, along, across).
    """
    height, width = channels.shape[:2]
    start, stop = quads, np.roll(quads, -1, axis=1)
    run = stop - start
    length = np.maximum(np.linalg.norm(run, axis=-1, keepdims=True), 1e-6)
    normal = np.stack([run[..., 1], -run[..., 0]], axis=-1) / length
    t = np.linspace(0.06, 0.94, along)
    offset = np.linspace(-1, 1, across)
    spot = (
        start[:, :, None, None, :]
        + run[:, :, None, None, :] * t[None, None, :, None, None]
        + normal[:, :, None, None, :]
        * (offset[None, None, None, :, None] * reach[:, None, None, None, None])
    )
    x, y = spot[..., 0], spot[..., 1]
    seen = (x >= 0) & (x <= width) & (y >= 0) & (y <= height)
    count = len(quads) * 4
    # remap takes at most 32767 rows or columns: one row per side keeps within it for long lists.
    samples = (
        np.concatenate(
            [
                cv2.remap(
                    channels,
                    (x.reshape(count, -1)[k : k + 16384] - 0.5).astype(np.float32),
                    (y.reshape(count, -1)[k : k + 16384] - 0.5).astype(np.float32),
                    cv2.INTER_LINEAR,
                    borderMode=cv2.BORDER_REPLICATE,
                ).reshape(-1, along * across, channels.shape[2])
                for k in range(0, count, 16384)
            ]
        )
        if count
        else np.zeros((0, along * across, channels.shape[2]), np.float32)
    )
    return samples.reshape(len(quads), 4, along, across, channels.shape[2]), seen


def weigh_sides(
    channels: NDArray[np.float32], quads: NDArray[np.float64], rough: float
) -> SideEvidence:
    """Weigh the sides of ``quads`` (N, 4, 2).

    ``channels`` (h, w, 4): CIELAB and the surface likelihood times TABLE_WEIGHT; ``rough`` the size
    of step that the table shows by itself.
    """
    size = np.sqrt(np.maximum(areas(quads), 1.0))
    reach = np.maximum(4.0, 0.06 * size)
    samples, inside_picture = side_profiles(channels, quads, reach)
    half = _ACROSS // 2
    color, likely = samples[..., :3], samples[..., 3] / TABLE_WEIGHT
    inner = color[..., 1 : half - 1, :].mean(axis=-2)
    outer = color[..., half + 2 : -1, :].mean(axis=-2)
    step = outer - inner
    strength = np.linalg.norm(step, axis=-1)
    slope = np.linalg.norm(color[..., 2:, :] - color[..., :-2, :], axis=-1)
    steepest = np.argmax(slope, axis=-1) + 1
    sharp = (np.abs(steepest - half) <= 2) & (slope.max(axis=-1) > rough)
    mean_step = np.linalg.norm(step.mean(axis=2), axis=-1)
    return SideEvidence(
        step=(strength / rough).mean(axis=2),
        share=(strength > rough).mean(axis=2, dtype=np.float32),
        sharp=sharp.mean(axis=2, dtype=np.float32),
        even=mean_step / np.maximum(strength.mean(axis=2), 1e-6),
        outside=likely[..., half + 2 :].mean(axis=(2, 3)),
        inside=likely[..., : half - 1].mean(axis=(2, 3)),
        seen=inside_picture.mean(axis=(2, 3), dtype=np.float32),
        bare=_bare(channels, quads),
    )


def _bare(channels: NDArray[np.float32], quads: NDArray[np.float64]) -> NDArray[np.float32]:
    """Return the mean of the last channel over a grid of places within each outline."""
    a = np.linspace(0.07, 0.93, 16)
    u, v = np.meshgrid(a, a)
    weight = np.stack([(1 - u) * (1 - v), u * (1 - v), u * v, (1 - u) * v], axis=-1)
    spot = np.einsum("ijk,nkc->nijc", weight, quads)
    height, width = channels.shape[:2]
    shown = (spot >= 0).all(axis=-1) & (spot[..., 0] < width) & (spot[..., 1] < height)
    column = np.clip(spot[..., 0].astype(np.int64), 0, width - 1)
    row = np.clip(spot[..., 1].astype(np.int64), 0, height - 1)
    likely = np.where(shown, channels[row, column, -1] / TABLE_WEIGHT, 0).sum(axis=(1, 2))
    count = shown.sum(axis=(1, 2))
    # Of what lies mostly beyond the picture nothing is known: it counts as table.
    share = np.where(count > 0.2 * a.size**2, likely / np.maximum(count, 1), 1.0)
    return np.asarray(share, dtype=np.float32)


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
    color = cv2.blur(channels[..., :3], (reach, reach))
    shift = reach + 2
    # Every third place is plenty.
    step = np.linalg.norm(color[::3, shift::3] - color[::3, :-shift:3], axis=-1)
    both = table[::3, shift::3] & table[::3, :-shift:3]
    if both.sum() < 60:
        return 2.0
    return max(0.7, float(np.percentile(step[both][:: max(1, both.sum() // 20000)], 90)))
