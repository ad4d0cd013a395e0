"""What squares show within: prints that repeat one another, or seams where a square has none.

The parts of one print repeat, and two squares of a bundle seldom do. A line at the same place
within most of the squares is no print either: what was taken for one square are several.
"""

import cv2
import numpy as np
from numpy.typing import NDArray

from colorcore.finding.blocks import seam_profile
from colorcore.finding.outlines import order
from colorcore.finding.plane import fit_plane
from colorcore.finding.scene import Scene
from colorcore.finding.surface import EVENLY

Quads = NDArray[np.float64]

# Two parts of a print have colours this close (CIELAB units, lightness halved) and correlate so
# far, seen at so many pixels across. So many of the parts have another like them.
_SAME_COLOR, _SAME_PRINT, _PATCH, _MOST = 4.0, 0.55, 14, 0.7
# Two parts share their colours if this much of each is in the other, by so many places across.
_SAME_COLORS, _PALETTE = 0.85, 6
# Bundles hold two or three squares of a cloth; of parts of one print, so many are alike on average,
# or, of a few parts, this share of them.
_ALIKE, _SHARE_ALIKE = 3.5, 0.5
# From so many parts on, they tell more: each is as even as this share of the others, as a
# logarithm, and has their mean colour. Squares that are all white are not: in each other print.
_MANY, _AS_EVEN, _SAME_MEAN, _SAME_KIND = 12, 0.3, 1.2, 0.2
# Of the parts of checks or a plaid, such a share of all pairs has its colours in common; of squares
# that touch, rendered ones at least, up to 0.2, and if all are white 0.66 and more.
_FEW_GROUPS = 0.25, 0.57
# All parts together are straightened to this many pixels. From one place to where a picture
# correlates less with itself than this it is the same thing; beyond, prints reach 0.75 to 1, 46
# bundles 0.41. Where less than this share is left, shifted, anything may be like anything.
_WIDE, _LIKE_ITSELF, _COMES_AGAIN, _LEFT = 96, 0.4, 0.6, 0.3
# Squares are straightened to this many pixels; no seam is looked for so near to their sides.
_SIDE, _RIM = 80, 17
# From this many squares on, a seam at one place in half of them (of overlapping squares the
# topmost show whole) is no chance: it stands out by so many standard deviations on average, where
# squares that lie by themselves reach 1.9.
_SOME, _STANDS_OUT = 4, 2.2


def repeats(scene: Scene, quads: Quads) -> bool:
    """Whether what outlines (N, 4, 2) hold repeats, place by place, as the parts of a print do."""
    cells = _patches(scene, quads, _PATCH)
    means = cells.mean(axis=1)
    rest = (cells - means[:, None]).reshape(len(cells), -1)
    unit = rest / np.maximum(np.linalg.norm(rest, axis=1, keepdims=True), 1e-6)
    alike = (unit @ unit.T > _SAME_PRINT) & (_apart(means) < _SAME_COLOR)
    return _mostly(alike)


def of_one_cloth(scene: Scene, quads: Quads, *, pairs: bool = False, groups: bool = False) -> bool:
    """Whether most of what outlines (N, 4, 2) hold has the colours of several others, as parts of
    one print have, or squares cut from one cloth; a bundle in which each comes twice has not. With
    ``pairs`` one other is enough: each of several squares may be parted in two or three. With
    ``groups`` many that fall into a few groups, each of the same colours, are parts of one print,
    too: what they would be parts of is a clear square."""
    colors = _patches(scene, quads, _PALETTE)
    shared = np.zeros((len(quads), len(quads)))
    # (3, places, outlines): the long axis comes last.
    others = np.ascontiguousarray(colors.transpose(2, 1, 0))
    for k, own in enumerate(colors):
        # (places of this one, places of others, others)
        apart = np.zeros((len(own), *others.shape[1:]), np.float32)
        for channel, weight in enumerate(EVENLY):
            step = (own[:, channel, None, None] - others[channel]) * weight
            apart += step * step
        near = apart.min(axis=1) < _SAME_COLOR**2
        shared[k] = near.mean(axis=0)
    alike = np.minimum(shared, shared.T) > _SAME_COLORS
    if pairs or not _mostly(alike):
        return _mostly(alike)
    family = (alike | np.eye(len(alike), dtype=bool)).sum(axis=1)
    if float(family[family > 1].mean()) < min(_ALIKE, _SHARE_ALIKE * len(quads)):
        return False
    if len(quads) < _MANY:
        return True
    in_groups = float(family.sum() - len(quads)) / (len(quads) * (len(quads) - 1))
    if groups and _FEW_GROUPS[0] < in_groups < _FEW_GROUPS[1]:
        return True
    return _of_few_kinds(scene, quads)


def repeats_itself(scene: Scene, parts: Quads) -> bool:
    """Whether all that the outlines (N, 4, 2) of touching squares hold together comes again when
    it is shifted, wherever their sides lie, as a print does and a bundle never: copies that lie in
    the same order below one another are found by one shift, forth and back, a print by several.

    The normalised correlation of the picture with itself, of what lies clear of the sides alone
    (Padfield 2012, masked image registration): sides come again at every square.
    """
    frame = np.array([[0, 0], [_WIDE, 0], [_WIDE, _WIDE], [0, _WIDE]], np.float32)
    around = cv2.boxPoints(cv2.minAreaRect(parts.reshape(-1, 2).astype(np.float32)))
    matrix = cv2.getPerspectiveTransform(around, frame)
    inner = cv2.perspectiveTransform(_inner(parts).reshape(-1, 1, 2), matrix).reshape(-1, 4, 2)
    shown = np.zeros((_WIDE, _WIDE), np.uint8)
    for quad in np.round(inner).astype(np.int32):
        cv2.fillConvexPoly(shown, quad, 1)
    flat = cv2.warpPerspective(
        scene.surface.flat, matrix, (_WIDE, _WIDE), borderMode=cv2.BORDER_REPLICATE
    )
    seen = shown > 0
    # What a change of light across all of it leaves.
    down, across = np.nonzero(seen)
    slope = np.column_stack([np.ones(len(down)), down, across])
    colors = flat[seen] * EVENLY
    rest = np.zeros(flat.shape, np.float32)
    rest[seen] = colors - slope @ np.linalg.lstsq(slope, colors, rcond=None)[0]
    correlation = _with_itself(rest, shown.astype(np.float32))
    # Shifted by little, everything is like itself.
    _, alike = cv2.connectedComponents((correlation > _LIKE_ITSELF).astype(np.uint8))
    again = {int(k) for k in np.unique(alike[correlation > _COMES_AGAIN])}
    return len(again - {int(alike[_WIDE, _WIDE])}) > 2


def _with_itself(rest: NDArray[np.float32], shown: NDArray[np.float32]) -> NDArray[np.float64]:
    """Return how a picture (h, w, 3), 0 where ``shown`` (h, w) is 0, correlates with itself shifted
    by every step (2h, 2w), the middle being none; 0 where too little of both is left."""
    size = (2 * shown.shape[0], 2 * shown.shape[1])
    where = np.fft.rfft2(shown, size)
    power = np.conj(np.fft.rfft2((rest * rest).sum(axis=2), size))
    product = np.fft.irfft2((np.abs(np.fft.rfft2(rest, size, axes=(0, 1))) ** 2).sum(axis=2))
    energy = np.fft.irfft2(power * where) * np.fft.irfft2(np.conj(power * where))
    enough = np.fft.irfft2(np.abs(where) ** 2) > _LEFT * shown.sum()
    found = np.where(enough, product / np.sqrt(np.maximum(energy, 1e-3)), 0.0)
    return np.asarray(np.fft.fftshift(found))


def _of_few_kinds(scene: Scene, quads: Quads) -> bool:
    """Whether what outlines (N, 4, 2) hold is of so few kinds, by mean colour and by how far
    colours stray from it, as the parts of a print are."""
    cells = _patches(scene, quads, _PATCH)
    spread = np.log(np.linalg.norm(cells.std(axis=1) * EVENLY, axis=1) + scene.view.noise)
    alike = np.abs(spread[:, None] - spread) < _AS_EVEN
    alike &= _apart(cells.mean(axis=1)) < _SAME_MEAN
    return float(alike.sum() - len(quads)) > _SAME_KIND * len(quads) * (len(quads) - 1)


def _apart(colors: NDArray[np.float32]) -> NDArray[np.float32]:
    """Return how far colours (N, 3) are from one another (N, N), lightness counting half."""
    step = (colors[:, None] - colors[None]) * EVENLY
    return np.asarray(np.linalg.norm(step, axis=2))


def _mostly(alike: NDArray[np.bool_]) -> bool:
    """Whether most have another that is alike, by a table (N, N) of which are."""
    others = alike & ~np.eye(len(alike), dtype=bool)
    return bool(others.any(axis=1).mean() > _MOST)


def _patches(scene: Scene, quads: Quads, side: int) -> NDArray[np.float32]:
    """Return what outlines (N, 4, 2) hold, clear of their sides, at ``side`` by ``side`` places:
    (N, side**2, 3)."""
    return np.array([_straighten(scene, q, side).reshape(-1, 3) for q in _inner(quads)])


def _inner(quads: Quads) -> NDArray[np.float32]:
    """Return outlines (N, 4, 2) drawn in, clear of their sides."""
    middle = quads.mean(axis=1, keepdims=True)
    return np.asarray(middle + 0.84 * (quads - middle), dtype=np.float32)


def share_a_seam(scene: Scene, quads: Quads) -> bool:
    """Whether half of what outlines (N, 4, 2) hold is parted at one and the same place."""
    if len(quads) < _SOME:
        return False
    plane = fit_plane(quads, np.ones(len(quads)), scene.size)
    upright = [plane.picture(order(plane.straighten(quad))) for quad in quads]
    flat = [_straighten(scene, quad, _SIDE) for quad in upright]
    for turned in (False, True):
        profiles = [seam_profile(f.transpose(1, 0, 2).copy() if turned else f, 2) for f in flat]
        clipped = np.clip(profiles, -2, 4)
        # Laid by hand, a seam lies a little to one side or the other.
        wide = cv2.dilate(clipped, np.ones((1, 5), np.uint8))[:, _RIM:-_RIM]
        half = np.sort(wide, axis=0)[len(wide) // 2 :]
        if float(half.mean(axis=0).max() - np.median(wide)) > _STANDS_OUT:
            return True
    return False


def _straighten(scene: Scene, quad: Quads, side: int) -> NDArray[np.float32]:
    frame = np.array([[0, 0], [side, 0], [side, side], [0, side]], np.float32)
    matrix = cv2.getPerspectiveTransform(quad.astype(np.float32), frame)
    flat = cv2.warpPerspective(
        scene.surface.flat, matrix, (side, side), borderMode=cv2.BORDER_REPLICATE
    )
    return np.asarray(flat, dtype=np.float32)
