"""Squares that lie close together: touching blocks, and rows or columns laid like shingles."""

from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from colorcore.finding import choose
from colorcore.finding.bands import count_rows, slice_rows, split_bands, split_loosely
from colorcore.finding.blocks import Block, split_block, true_aspect, true_aspects
from colorcore.finding.outlines import order
from colorcore.finding.scene import Scene, snap
from colorcore.finding.surface import pixels_within
from colorcore.finding.within import of_one_cloth, repeats
from colorcore.geometry import areas

Quads = NDArray[np.float64]

# From this share of the picture on, a shape is no block on a table.
_FILLS = 0.97
# Seams that only nearly line up stand out by so much each, or by so many times more than others.
_CLEAR, _CLEARER = 1.8, 1.3
# An outline that is square to this, as a logarithm, may be one square with a bold print, whose
# lines stand out by less than the one each, or the other together.
_SQUARE, _BEYOND_PRINTS, _FEW_LINES = 0.12, 3.0, 15.0
# The same for parts that share no colours, as the parts of a print nearly always do.
_OF_ALL_COLORS = 2.4
# An outline may be wrong by the first share of its side; by the second no seam is missed.
_MOVED, _AS_IT_IS = 0.03, 0.006
# Seams that stand out by so much each need no other try.
_CLEARLY = 2.6


@dataclass(frozen=True, eq=False)
class Packed:
    """``quads`` (N, 4, 2) whole squares, ``visible`` (N, 4, 2) what shows of each, and ``sure``
    (N,) the chance of each."""

    quads: Quads = field(repr=False)
    visible: Quads = field(repr=False)
    sure: NDArray[np.float64] = field(repr=False)


def pack(scene: Scene, shapes: Quads, fits: NDArray[np.float64]) -> Packed | None:
    """Explain the larger shapes as blocks of squares, all of one size; None if that fails."""
    blocks = []
    outer = _outer_shapes(shapes, fits, scene)[:10]
    for quad in outer:
        block = _best_split(scene, quad)
        if block is not None and _stands_out(block):
            blocks.append(block)
    if outer and not blocks:
        return _pack_rows(scene, order(outer[0])) or _pack_loosely(scene, order(outer[0]))
    blocks = [b for b in blocks if not repeats(scene, b.visible)]
    if not blocks:
        return None
    blocks.sort(key=lambda b: -b.gain)
    if _overlap_both_ways(blocks[0]) and blocks[0].contrast < _CLEARLY:
        # Seams that only nearly line up are easily taken for other ones that line up better.
        least = _CLEARER * blocks[0].contrast
        loose = _pack_loosely(scene, order(outer[0]), least)
        if loose is not None:
            return loose
    size = float(np.median(choose.sides(blocks[0].quads)))
    alike = [b for b in blocks if abs(np.log(np.median(choose.sides(b.quads)) / size)) < 0.15]
    return _gather(scene, alike)


def _best_split(scene: Scene, quad: Quads) -> Block | None:
    """Return the squares that seams tell best within a shape (4, 2), as it is or moved onto steps:
    in an outline that is a little wrong, seams lie where other squares would have them."""
    moved = snap(scene, quad[None], _MOVED)[0]
    near = np.abs(moved - quad).max() < _AS_IT_IS * float(choose.sides(quad[None])[0])
    blocks = [
        block
        for upright in map(order, (quad,) if near else (quad, moved))
        if (block := split_block(scene.surface.flat, upright, true_aspect(upright, scene.size)))
    ]
    return max(blocks, key=lambda block: block.gain, default=None)


def _pack_rows(scene: Scene, quad: Quads) -> Packed | None:
    """Explain one shape as rows (or columns) that touch, each of overlapping squares.

    Rows laid by hand do not line up with one another, so each has seams of its own.
    """
    flat = scene.surface.flat
    best: list[Block] | None = None
    for turned in (quad, np.roll(quad, -1, axis=0)):
        aspect = true_aspect(turned, scene.size)
        for count in count_rows(flat, turned, aspect):
            length = aspect * count
            if not 1.2 < length < 12:
                continue
            # Two halves of one print have lines at the same places.
            if count < 3 and abs(np.log(aspect)) < _SQUARE:
                continue
            blocks = split_bands(flat, slice_rows(turned, aspect, count), length)
            if blocks is None or blocks[0].contrast < 1.2:
                continue
            if best is None or blocks[0].gain > best[0].gain:
                best = blocks
    if best is None or all(repeats(scene, b.visible) for b in best):
        return None
    return _gather(scene, best)


def _pack_loosely(scene: Scene, quad: Quads, least: float = _CLEAR) -> Packed | None:
    """Explain one shape as squares that overlap both ways, with seams that only nearly line up but
    have a contrast of ``least``."""
    aspect = true_aspect(quad, scene.size)
    block = split_loosely(scene.surface.flat, quad, aspect)
    if abs(np.log(aspect)) < _SQUARE:
        if block is None or block.gain < _FEW_LINES or not _stands_out(block):
            return None
        one = of_one_cloth(scene, block.visible, groups=True)
        least = max(least, _BEYOND_PRINTS if one else _OF_ALL_COLORS)
    if block is None or not _stands_out(block) or block.contrast < least:
        return None
    if repeats(scene, block.visible):
        return None
    return _gather(scene, [block])


def unpack_bands(scene: Scene, bands: Quads) -> Packed | None:
    """Explain long shapes that are alike as rows of overlapping squares; None if they are not."""
    aspect = float(np.median(true_aspects(bands, scene.size)))
    blocks = split_bands(scene.surface.flat, bands, aspect)
    if blocks is None or all(repeats(scene, b.visible) for b in blocks):
        return None
    return _gather(scene, blocks)


def _gather(scene: Scene, blocks: list[Block]) -> Packed | None:
    quads, visible, sure = [], [], []
    for block in blocks:
        bare = _bare(scene, block.visible)
        for i in range(len(block.quads)):
            if bare[i] > 0.7:
                continue
            quads.append(block.quads[i])
            visible.append(block.visible[i])
            sure.append(1 / (1 + np.exp(-1.6 * (block.contrast - 0.6))))
    if not quads:
        return None
    whole, shown = np.array(quads), np.array(visible)
    return Packed(whole, shown, np.array(sure))


def _stands_out(block: Block) -> bool:
    """Whether the seams are clear enough in each direction that has any."""
    axes = [p for p in (block.across, block.down) if p.count > 1]
    return (
        block.gain > 6 and block.contrast > 1.2 and all(p.gain > 0.5 * (p.count - 1) for p in axes)
    )


def _overlap_both_ways(block: Block) -> bool:
    return all(p.count > 1 and p.step < 1 for p in (block.across, block.down))


def _outer_shapes(shapes: Quads, fits: NDArray[np.float64], scene: Scene) -> list[Quads]:
    """Return shapes that lie in no other, the best of each place, the largest first."""
    size = areas(shapes)
    share = size / (scene.size[0] * scene.size[1])
    # What fills the picture is its own frame.
    large = (share > 0.01) & (share < _FILLS)
    kept: list[int] = []
    for i in np.argsort(-fits * size**0.25, kind="stable"):
        if (
            large[i]
            and fits[i] > 0.85
            and all(choose.overlap(shapes[i], shapes[k]) < 0.5 for k in kept)
        ):
            kept.append(int(i))
    kept.sort(key=lambda k: -size[k])
    return [shapes[k] for k in kept]


def _bare(scene: Scene, quads: Quads) -> NDArray[np.float64]:
    table = scene.surface.table
    shares = []
    for quad in quads:
        part, shown = pixels_within(table.shape, quad, 0.8)
        shares.append(float(table[part][shown].mean()) if shown.any() else 0.0)
    return np.array(shares)
