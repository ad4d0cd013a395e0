"""From a photo to its squares: the steps of finding, in order."""

import numpy as np
from numpy.typing import NDArray

from colorcore.finding import choose
from colorcore.finding.explain import explain
from colorcore.finding.group import Explanation, Group, close
from colorcore.finding.hinted import check_hints, clockwise, divide, hold_places, lay_grid, within
from colorcore.finding.layout import lay_out
from colorcore.finding.model import Finding, FoundSquare, FoundThing, Hints
from colorcore.finding.outlines import aspects, order
from colorcore.finding.overlaps import overlapping
from colorcore.finding.plane import Plane, fit_plane
from colorcore.finding.refine import sharpen
from colorcore.finding.rigid import common_size, hold_shape, in_picture, uncover
from colorcore.finding.scene import Scene, look, snap
from colorcore.finding.strips import hold_strips
from colorcore.finding.things import name_things
from colorcore.finding.view import Picture
from colorcore.geometry import holds

SURE = 0.5
_UNSURE = 0.75
# An outline of which a side shows less than this runs out of the picture.
_CUT = 0.97
# From this ratio of its sides on, an outline's short sides do not say their own direction.
_SLENDER = 2.5
# What is found and covers more than this of what the maker drew, or is covered so by it, is wrong.
_DRAWN = 0.2
Quads = NDArray[np.float64]


def find_squares(
    photo: Picture, *, hints: Hints | None = None, square_inches: float = 10.0
) -> Finding:
    """Find the precut squares in a photo.

    Parameters
    ----------
    photo
        The opened photo.
    hints
        What the maker knows better.
    square_inches
        Nominal side of the squares in inches; all squares of a photo have the same size.

    Returns
    -------
    Finding
        Outlines run along the nominal cut: of a pinked edge, the mean line of its zigzag. What is
        less than half sure is among ``doubtful``. A photo without squares gives an empty finding
        with its reason.

    Raises
    ------
    FindingError
        If hints contradict the photo or themselves.
    ValueError
        If ``square_inches`` is not a positive length.
    """
    hints = hints or Hints()
    if not 0 < square_inches < float("inf"):
        raise ValueError(f"square_inches must be a positive length; got {square_inches}")
    check_hints(hints, photo.width, photo.height)
    seen = explain(look(photo))
    group, dropped = _heed(seen, hints)
    scene = seen.scene
    things = name_things(scene, seen.shapes, seen.fits, group.visible)
    things += tuple(FoundThing("other", q / scene.view.scale) for q in dropped.quads)
    squares, doubtful = _report(photo, scene, group, hints)
    reason = "" if squares else "no square of cloth stands out from the table"
    return Finding(squares, doubtful, things, scene.ground, scene.view.scale, reason)


def _heed(seen: Explanation, hints: Hints) -> tuple[Group, Group]:
    """Return the squares after the maker's hints, and those that she says are none."""
    scene, group = seen.scene, seen.group
    scale = scene.view.scale
    if hints.corners is not None:
        corners = np.asarray(hints.corners, dtype=np.float64) * scale
        group = group.pick(within(group.quads, corners)) if len(group.quads) else group
        block = divide(scene, corners, hints.grid)
        if block is not None:
            laid = close(block.quads, np.full(len(block.quads), 0.9), block.visible)
            if len(group.quads) < 0.8 * len(block.quads):
                group = laid
            elif hints.grid is not None:
                # Corners and numbers say where every square lies, however sure others look.
                group = hold_places(laid, group)
    if hints.grid is not None and len(group.quads):
        group = lay_grid(scene, group, hints.grid)
    spots = np.array(hints.ignore, dtype=np.float64).reshape(-1, 2) * scale
    ignored = np.array([holds(q, spots).any() for q in group.visible], dtype=bool)
    dropped, group = group.pick(ignored), group.pick(~ignored)
    added = [clockwise(q) * scale for q in hints.add]
    if added:
        clear = np.array([choose.clear_of(q, np.array(added), _DRAWN) for q in group.visible], bool)
        group = group.pick(clear)
    return group, dropped


def _report(
    photo: Picture, scene: Scene, group: Group, hints: Hints
) -> tuple[tuple[FoundSquare, ...], tuple[FoundSquare, ...]]:
    """Return squares and doubtful squares, sharpened on the full picture, in reading order."""
    scale = scene.view.scale
    added = np.array([clockwise(q) for q in hints.add]).reshape(-1, 4, 2)
    everything = np.concatenate([group.quads, added * scale])
    if not len(everything):
        return (), ()
    sure = np.concatenate([group.sure, np.ones(len(added))])
    plane = fit_plane(everything, sure, scene.size)
    firm = sure >= SURE
    quads, visible = _finish(photo, scene, plane, group)
    quads, visible = np.concatenate([quads, added]), np.concatenate([visible, added])
    none = np.zeros(len(added), bool)
    covered = np.concatenate([group.covered, none])
    placed = np.concatenate([group.placed, none])
    # Only sure squares say what the rows and columns are; doubtful ones are numbered by them.
    order_of = np.concatenate([np.flatnonzero(firm), np.flatnonzero(~firm)])
    cells = np.zeros((len(everything), 2), np.int64)
    cells[order_of] = lay_out(plane, everything[order_of], int(firm.sum())).cells
    squares: list[FoundSquare] = []
    doubtful: list[FoundSquare] = []
    shared = np.zeros(len(everything), bool)
    held = np.flatnonzero(firm)
    for pair in overlapping(visible[held]):
        shared[held[list(pair)]] = True
    for k in range(len(everything)):
        flags = _flags(photo, quads[k], float(sure[k]))
        flags += ("covered",) * bool(covered[k]) + ("placed-by-layout",) * bool(placed[k])
        flags += ("overlapping",) * bool(shared[k])
        square = FoundSquare(
            quads[k], int(cells[k, 0]), int(cells[k, 1]), float(sure[k]),
            visible[k] if covered[k] else None, flags,
        )  # fmt: skip
        (squares if firm[k] else doubtful).append(square)
    squares.sort(key=lambda s: (s.row, s.column))
    doubtful.sort(key=lambda s: (s.row, s.column))
    return tuple(squares), tuple(doubtful)


def _flags(photo: Picture, quad: Quads, sure: float) -> tuple[str, ...]:
    height, width = photo.height, photo.width
    slack = 0.01 * float(choose.sides(quad[None])[0])
    out = quad.min() < -slack or quad[:, 0].max() > width + slack
    flags = []
    if out or quad[:, 1].max() > height + slack:
        flags.append("cut-off")
    if sure < _UNSURE:
        flags.append("unsure-outline")
    return tuple(flags)


def _finish(photo: Picture, scene: Scene, plane: Plane, group: Group) -> tuple[Quads, Quads]:
    """Return the outlines and what shows of them, sharpened on the full picture, started at the
    corner that is top left in the layout's own direction."""
    if not len(group.quads):
        return group.quads, group.quads
    start = plane.picture(order(plane.straighten(group.visible)))
    shown = start.copy()
    shown[group.covered] = snap(scene, start[group.covered], 0.03)
    shown, _ = sharpen(photo.pixels, shown / scene.view.scale)
    slender = not group.covered.any() and float(np.median(aspects(start))) > _SLENDER
    if len(shown) > 1 and slender:
        scaled = shown * scene.view.scale
        shown = hold_strips(plane, scaled, scene.size) / scene.view.scale
    whole = shown.copy()
    if group.covered.any():
        rough = plane.picture(order(plane.straighten(group.quads)))
        full = uncover(plane, rough, start, shown * scene.view.scale) / scene.view.scale
        whole[group.covered] = full[group.covered]
    return _extend(photo, scene, plane, whole), shown


def _extend(photo: Picture, scene: Scene, plane: Plane, quads: Quads) -> Quads:
    """Return outlines of the photo, those that run out of it as large as the others."""
    height, width = photo.height, photo.width
    shown = in_picture(quads, width, height)
    cut = (shown[..., 1] - shown[..., 0]).min(axis=1) < _CUT
    if not cut.any() or cut.all():
        return quads
    size = common_size(plane, quads[~cut] * scene.view.scale)
    held = quads.copy()
    held[cut] = hold_shape(plane, quads[cut] * scene.view.scale, shown[cut], size)
    held[cut] /= scene.view.scale
    return held
