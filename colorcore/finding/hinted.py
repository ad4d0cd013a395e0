"""What the maker knows better: squares added, things to leave out, rows and columns, corners."""

import cv2
import numpy as np
from numpy.typing import NDArray

from colorcore.errors import FindingError
from colorcore.finding import choose
from colorcore.finding.blocks import Block, split_block, true_aspect
from colorcore.finding.group import Group
from colorcore.finding.layout import lay_out
from colorcore.finding.model import Hints
from colorcore.finding.overlaps import overlapping
from colorcore.finding.plane import fit_plane
from colorcore.finding.scene import Scene, trim
from colorcore.geometry import areas, holds, reaches_far

Quads = NDArray[np.float64]

# A square laid by hand lies so far off its place at most, in sides, and is seen so much larger or
# smaller, as a logarithm; two places differ by a whole side and more.
_OFF_PLACE, _OTHER_SIZE = 0.3, 0.2
# Outlines so alike in how far they lie off their places, in sides, are told apart by the picture.
_AS_NEAR = 0.1
# So much of an outline lies within the outer corners at least.
_MOST_WITHIN = 0.75


def check_hints(hints: Hints, width: int, height: int) -> None:
    """Refuse hints that cannot be meant.

    Raises
    ------
    FindingError
        With what was given and what is possible.
    """
    if hints.grid is not None and (min(hints.grid) < 1 or max(hints.grid) > 60):
        rows, columns = hints.grid
        raise FindingError(
            f"The grid {rows}x{columns} is no layout; give rows and columns from 1 to 60."
        )
    for x, y in hints.ignore:
        if not (0 <= x <= width and 0 <= y <= height):
            raise FindingError(
                f"The point to ignore ({x:g}, {y:g}) lies outside the picture of "
                f"{width} x {height} pixels."
            )
    outlines = [("corners", hints.corners)] if hints.corners is not None else []
    outlines += [("square to add", quad) for quad in hints.add]
    for name, quad in outlines:
        points = np.asarray(quad, dtype=np.float64)
        if points.shape != (4, 2) or not np.isfinite(points).all():
            raise FindingError(f"The {name} must be four points x,y; got {points.tolist()}.")
        if not _is_convex(points):
            raise FindingError(
                f"The {name} {points.tolist()} do not go around a four-sided shape; "
                "give them in turn, clockwise from the top left."
            )
        low, high = points.min(axis=0), points.max(axis=0)
        if high[0] <= 0 or high[1] <= 0 or low[0] >= width or low[1] >= height:
            raise FindingError(
                f"The {name} {points.tolist()} lie outside the picture of "
                f"{width} x {height} pixels."
            )
        if reaches_far(points, width, height):
            raise FindingError(
                f"The {name} {points.tolist()} reach further beyond the picture of "
                f"{width} x {height} pixels than it is large."
            )


def _is_convex(points: NDArray[np.float64]) -> bool:
    run = np.roll(points, -1, axis=0) - points
    turn = run[:, 0] * np.roll(run[:, 1], -1) - run[:, 1] * np.roll(run[:, 0], -1)
    return bool(np.all(turn > 0) or np.all(turn < 0))


def clockwise(quad: Quads) -> Quads:
    """Return four corners clockwise on screen, the first one kept."""
    points = np.asarray(quad, dtype=np.float64)
    x, y = points.T
    around = float(np.sum(x * np.roll(y, -1) - np.roll(x, -1) * y))
    return points if around > 0 else points[[0, 3, 2, 1]]


def within(quads: Quads, corners: Quads) -> NDArray[np.bool_]:
    """Return which outlines (N, 4, 2) lie within the corners of the layout: their middle and most
    of each, since outer corners are drawn only roughly."""
    slack = corners.mean(axis=0) + 1.02 * (corners - corners.mean(axis=0))
    inside = np.array([_share_within(quad, slack) > _MOST_WITHIN for quad in quads], dtype=bool)
    return np.asarray(holds(slack, quads.mean(axis=1)) & inside)


def _share_within(quad: Quads, corners: Quads) -> float:
    shared, _ = cv2.intersectConvexConvex(quad.astype(np.float32), corners.astype(np.float32))
    return float(shared) / max(float(areas(quad[None])[0]), 1e-9)


def divide(scene: Scene, corners: Quads, grid: tuple[int, int] | None) -> Block | None:
    """Tell apart the squares between the outer ``corners`` (4, 2) of a layout in the view.

    With a ``grid`` of (rows, columns) that many are laid whatever the seams say.
    """
    quad = clockwise(corners)
    counts = (grid[1], grid[0]) if grid is not None else None
    return split_block(
        scene.surface.flat, quad, true_aspect(quad, scene.size), tolerance=0.2, counts=counts
    )


def settle(scene: Scene, quads: Quads) -> Quads:
    """Move laid outlines onto steps nearby; one that would leave its place by much stays."""
    moved = trim(scene, quads, 0.05)
    far = np.abs(moved - quads).max(axis=(1, 2)) > 0.12 * choose.sides(quads)
    return np.where(far[:, None, None], quads, moved)


def hold_places(laid: Group, found: Group) -> Group:
    """Keep of ``found`` squares those that lie in the places that the maker's corners, rows and
    columns give, ``laid`` out, one to a place; every other place keeps the outline laid there.

    A square laid by hand lies a little off its place and is no less or more than a square; what
    lies across two places, or is of another size, is none of hers, however sure it looks.
    """
    if not len(found.quads):
        return laid
    side = choose.sides(laid.quads)
    size = choose.sides(found.quads)
    off = np.linalg.norm(laid.quads.mean(axis=1)[:, None] - found.quads.mean(axis=1), axis=2)
    able = off < _OFF_PLACE * side[:, None]
    able &= np.abs(np.log(size[None] / side[:, None])) < _OTHER_SIZE
    at, by = np.where(able, off, np.inf), np.full(len(laid.quads), -1)
    for place, square in zip(*np.unravel_index(np.argsort(at, axis=None), at.shape), strict=True):
        if able[place, square] and by[place] < 0 and square not in by:
            by[place] = square
    held, empty = found.pick(by[by >= 0]), laid.pick(by < 0)
    return Group(
        *(
            np.concatenate([getattr(held, name), getattr(empty, name)])
            for name in ("quads", "sure", "visible", "covered", "placed")
        )
    )


def _wrong_of_two(
    quads: Quads, sure: NDArray[np.float64], cells: NDArray[np.int64]
) -> NDArray[np.bool_]:
    """Return which outlines (N, 4, 2) cover the same cloth as another that lies nearer to the place
    of its row and column, or, as near, that is surer."""
    pairs = overlapping(quads)
    wrong = np.zeros(len(quads), bool)
    if not pairs:
        return wrong
    clear = np.ones(len(quads), bool)
    clear[[k for pair in pairs for k in pair]] = False
    if clear.sum() < 3:
        clear[:] = True
    middles, terms = quads.mean(axis=1), np.column_stack([np.ones(len(quads)), cells])
    places = terms @ np.linalg.lstsq(terms[clear], middles[clear], rcond=None)[0]
    off = np.linalg.norm(middles - places, axis=1) / float(np.median(choose.sides(quads)))
    for one, other in pairs:
        nearer = off[one] - off[other]
        if abs(nearer) < _AS_NEAR:
            nearer = sure[other] - sure[one]
        wrong[one if nearer > 0 else other] = True
    return wrong


def lay_grid(scene: Scene, group: Group, grid: tuple[int, int]) -> Group:
    """Fit found squares to the maker's rows and columns.

    Squares beyond them become doubtful, and so does one of two that cover the same cloth. Empty
    places get an outline where the picture does not show table, as sure as the maker's word and no
    more.
    """
    rows, columns = grid
    plane = fit_plane(group.quads, group.sure, scene.size)
    layout = lay_out(plane, group.quads)
    first = _window(layout.cells, group.sure, rows, columns)
    cells = layout.cells - first
    kept = np.all((cells >= 0) & (cells < [rows, columns]), axis=1)
    if not group.covered.any():
        kept[kept] = ~_wrong_of_two(group.quads[kept], group.sure[kept], cells[kept])
    sure = np.where(kept, group.sure, np.minimum(group.sure, 0.4))
    group = Group(group.quads, sure, group.visible, group.covered, group.placed)
    if group.covered.any() or kept.sum() < 3:
        return group
    taken = {(int(r), int(c)) for r, c in cells[kept]}
    empty = [(r, c) for r in range(rows) for c in range(columns) if (r, c) not in taken]
    if not empty:
        return group
    terms = np.column_stack([np.ones(int(kept.sum())), cells[kept][:, ::-1]])
    usual = [v if np.isfinite(v) else 1.1 for v in layout.pitch]
    target = layout.middles[kept] - cells[kept][:, ::-1] * usual
    # The usual pitch carries directions that are seen too little for a fit of their own.
    lean = np.linalg.solve(terms.T @ terms + np.diag([1e-9, 0.5, 0.5]), terms.T @ target)
    unit = np.array([[-0.5, -0.5], [0.5, -0.5], [0.5, 0.5], [-0.5, 0.5]])
    laid = []
    for row, column in empty:
        middle = np.array([1, column, row]) @ lean + np.array([column, row]) * usual
        laid.append(plane.picture(unit + middle))
    quads = settle(scene, np.array(laid))
    table = scene.surface.table
    fresh = np.array(
        [choose.clear_of(q, group.quads[kept], 0.3) and _bare(table, q) < 0.75 for q in quads],
        dtype=bool,
    )
    quads = quads[fresh]
    return Group(
        np.concatenate([group.quads, quads]),
        np.concatenate([group.sure, np.full(len(quads), 0.6)]),
        np.concatenate([group.visible, quads]),
        np.concatenate([group.covered, np.zeros(len(quads), bool)]),
        np.concatenate([group.placed, np.ones(len(quads), bool)]),
    )


def _window(
    cells: NDArray[np.int64], sure: NDArray[np.float64], rows: int, columns: int
) -> NDArray[np.int64]:
    """Return the first row and column of the grid that holds most of the squares."""
    best, first = -1.0, np.zeros(2, np.int64)
    low, high = cells.min(axis=0), cells.max(axis=0)
    for row in range(int(low[0]), max(int(low[0]), int(high[0]) - rows + 1) + 1):
        for column in range(int(low[1]), max(int(low[1]), int(high[1]) - columns + 1) + 1):
            off = cells - [row, column]
            held = float(sure[np.all((off >= 0) & (off < [rows, columns]), axis=1)].sum())
            if held > best:
                best, first = held, np.array([row, column])
    return first


def _bare(table: NDArray[np.float32], quad: Quads) -> float:
    inner = quad.mean(axis=0) + 0.8 * (quad - quad.mean(axis=0))
    mask = np.zeros(table.shape, np.uint8)
    cv2.fillConvexPoly(mask, np.round(inner).astype(np.int32), 1)
    return float(table[mask > 0].mean()) if mask.any() else 1.0
