"""Precut strips: long, all of one width and length, side by side with wide gaps or hardly any.

A strip's short side is seldom seen well enough to tell its direction, so every outline is held to
the one shape; and where the gaps are narrow, a strip's neighbours say where to look for it.
"""

import numpy as np
from numpy.typing import NDArray

from colorcore.finding import choose
from colorcore.finding.blocks import true_aspects
from colorcore.finding.context import chance, expected, keep_company
from colorcore.finding.outlines import aspects
from colorcore.finding.plane import Plane, fit_plane
from colorcore.finding.refine import fit_sides
from colorcore.finding.rigid import common_size, hold_shape
from colorcore.finding.scene import Scene, score, snap, trim
from colorcore.finding.within import share_a_seam

Quads = NDArray[np.float64]
Scores = NDArray[np.float64]
_NONE = np.zeros((0, 4, 2)), np.zeros(0)

# So many rounds, each of which finds the neighbours of the strips that are known.
_ROUNDS = 12
# A strip is looked for so far beside where its neighbours say, as rows laid by hand drift, and is
# moved onto steps so far away, first and then, in widths: a print has steps of its own not far off.
_WIDELY, _CLOSELY = (0.2, 0.1), (0.06,)
_LOOKS = ((-0.15, _WIDELY), (0.0, _WIDELY), (0.15, _WIDELY), (0.0, _CLOSELY))
# The least chance of a strip beside others.
_LONE = 0.5
# Shapes have a side in common to within this, as a logarithm; one holds so many strips at most;
# strips are this slender at least and at most, and this much of their sides shows.
_SAME_LENGTH, _MOST_STRIPS, _SLENDER, _THINNEST, _CLEAR = 0.05, 20, 3.0, 20.0, 0.5
# No photo shows more strips than this: so many shapes alike are the checks of a cloth.
_MOST_IN_ALL = 200
# Narrow gaps between strips, in widths of a strip.
_GAPS = np.linspace(0, 0.2, 9)
# The long sides say how a strip lies, the short ones only where it ends.
_WEIGHTS = np.array([0.15, 1.0, 0.15, 1.0])


def fill_in_strips(scene: Scene, quads: Quads, sure: Scores) -> tuple[Quads, Scores]:
    """Hold strips (N, 4, 2) to one shape, drop what is none, and add those beside them that show.

    Each strip must start at the same end, with a short or a long side for all. Returns the strips
    and their chances.
    """
    plane = fit_plane(quads, sure, scene.size)
    held = hold_strips(plane, quads, scene.size)
    chances = score(scene, held)
    kept = choose.keep_best(held, np.where(chances > _LONE, chances + 1, sure), 0.1)
    quads, sure = held[kept], np.maximum(chances[kept], np.minimum(sure[kept], 0.6))
    for _ in range(_ROUNDS):
        plane = fit_plane(quads, sure, scene.size)
        size = common_size(plane, quads)
        company = keep_company(plane, quads)
        places = expected(company)
        if not len(places):
            break
        best, most = places, np.zeros(len(places))
        narrow = int(np.argmin(size * _steps(plane)))
        for shift, reaches in _LOOKS:
            moved = plane.straighten(places)
            moved[..., narrow] += shift * size[narrow]
            fitted = _fit(scene, plane, plane.picture(moved), reaches)
            chances = chance(scene, company, fitted)
            best = np.where((chances > most)[:, None, None], fitted, best)
            most = np.maximum(chances, most)
        good = np.flatnonzero(most > _LONE)
        good = good[choose.keep_best(best[good], most[good], 0.1)] if len(good) else good
        clear = [k for k in good if choose.clear_of(best[k], quads, 0.12)]
        if not clear:
            break
        quads, sure = np.concatenate([quads, best[clear]]), np.concatenate([sure, most[clear]])
    return quads, sure


def part_strips(scene: Scene, shapes: Quads) -> tuple[Quads, Scores]:
    """Explain ``shapes`` (N, 4, 2) that have one side in common as strips side by side, one or
    several to a shape, where gaps close here and there; returns them, each starting with a short
    side, and their chances, or none."""
    along, wide, long = _of_one_length(snap(scene, shapes, 0.03))
    if len(along) < 2:
        return _NONE
    for most in range(1, _MOST_STRIPS + 1):
        counts, gap, width = _count(wide, most)
        if counts.sum() > _MOST_IN_ALL:
            break
        if not _SLENDER < long / width < _THINNEST or counts.max() > _MOST_STRIPS:
            continue
        parts = [_divide(quad, count, gap) for quad, count in zip(along, counts, strict=True)]
        strips = trim(scene, np.concatenate(parts), 0.05)
        chances = score(scene, strips)
        good = chances > _LONE
        # Of a wrong count few sides show; what holds two strips has a seam in the middle.
        if float(good.mean()) > _CLEAR and not share_a_seam(scene, strips[good]):
            return fill_in_strips(scene, strips[good], chances[good])
    return _NONE


def _count(wide: Scores, most: int) -> tuple[NDArray[np.int64], float, float]:
    """Return how many strips shapes that are ``wide`` (N,) hold (N,) if the narrowest holds
    ``most``, the gap between them that suits all shapes best, in widths, and a strip's width."""
    width = float(wide.min()) / (most + (most - 1) * _GAPS)[:, None]
    places = (wide / width + _GAPS[:, None]) / (1 + _GAPS[:, None])
    counts = np.maximum(np.round(places), 1)
    best = int(np.argmin(np.abs(places - counts).mean(axis=1)))
    return counts[best].astype(np.int64), float(_GAPS[best]), float(width[best, 0])


def _of_one_length(shapes: Quads) -> tuple[Quads, Scores, float]:
    """Return the shapes (K, 4, 2) that have the commonest side in common, from their other side
    on, how wide they are across it (K,), and that side's length."""
    sides = np.linalg.norm(np.roll(shapes, -1, axis=1) - shapes, axis=2)
    sides = (sides[:, :2] + sides[:, 2:]) / 2
    alike = np.abs(np.log(sides[:, :, None, None] / sides[None, None])) < _SAME_LENGTH
    shape, side = divmod(int(alike.any(axis=1).sum(axis=0).argmax()), 2) if len(sides) else (0, 0)
    if not len(sides):
        return shapes, np.zeros(0), 0.0
    held = alike[:, :, shape, side]
    chosen = held.any(axis=1)
    # Where both sides are as long, what lies alike tells which.
    first = np.where(held.all(axis=1), side == 0, held[:, 0])
    turned = np.where(first[:, None, None], np.roll(shapes, -1, axis=1), shapes)
    width = np.where(first, sides[:, 1], sides[:, 0])
    return turned[chosen], width[chosen], float(sides[shape, side])


def _divide(quad: Quads, count: int, gap: float) -> Quads:
    """Divide an outline (4, 2) along its first side into ``count`` (count, 4, 2), ``gap`` widths
    apart."""
    start = np.arange(count)[:, None] * (1 + gap)
    whole = count + (count - 1) * gap
    ends = start / whole, (start + 1) / whole
    top = [quad[0] + share * (quad[1] - quad[0]) for share in ends]
    bottom = [quad[3] + share * (quad[2] - quad[3]) for share in ends]
    return np.stack([top[0], top[1], bottom[1], bottom[0]], axis=1)


def hold_strips(plane: Plane, quads: Quads, view: tuple[int, int]) -> Quads:
    """Hold outlines (N, 4, 2) in a view of height and width ``view`` to strips of one size."""
    # In a plane where a strip is one unit wide and one long, turning it would shear it.
    aspect = float(np.median(true_aspects(quads, view)))
    stretch = np.diag([aspect, 1.0, 1.0])
    even = Plane(stretch @ plane.to_plane, plane.to_picture @ np.diag([1 / aspect, 1.0, 1.0]))
    weight = _WEIGHTS if aspect < 1 else np.roll(_WEIGHTS, 1)
    shown = np.stack([0.5 - weight / 2, 0.5 + weight / 2], axis=-1)
    everywhere = np.broadcast_to(shown, (len(quads), 4, 2))
    return hold_shape(even, quads, everywhere, common_size(even, quads))


def _steps(plane: Plane) -> NDArray[np.float64]:
    """Return how long the plane's two units are in the picture, (2,), near the plane's middle."""
    ends = plane.picture(np.array([[0.0, 0.0], [1.0, 0.0], [0.0, 1.0]]))
    return np.asarray(np.linalg.norm(ends[1:] - ends[0], axis=1))


def _fit(scene: Scene, plane: Plane, quads: Quads, reaches: tuple[float, ...]) -> Quads:
    """Move strips (N, 4, 2) onto steps within each of ``reaches`` in turn, in widths of a strip,
    and hold their shape."""
    width = choose.sides(quads) / np.sqrt(aspects(quads))
    for share in reaches:
        reach = np.maximum(2.0, share * width)
        moved, _ = fit_sides(scene.channels, quads, reach, along=24, across=21)
        quads = hold_strips(plane, moved, scene.size)
    return quads
