"""From a photo to its squares: the steps of finding, in order."""

from dataclasses import dataclass, field

import cv2
import numpy as np
from numpy.typing import NDArray

from colorcore.finding import choose
from colorcore.finding.evidence import TABLE_WEIGHT, features, roughness, weigh_sides
from colorcore.finding.layout import Layout, empty_cells, lay_out
from colorcore.finding.model import Finding, FoundSquare, Hints
from colorcore.finding.outlines import is_squarish, order, outlines_of_mask
from colorcore.finding.plane import Plane, fit_plane
from colorcore.finding.refine import fit_sides, sharpen
from colorcore.finding.surface import Surface, see_surface, surface_masks
from colorcore.finding.view import Picture, View, make_view

SURE = 0.5


@dataclass(frozen=True, eq=False)
class Scene:
    """What the steps share: the view, the table, and both as channels (h, w, 4)."""

    view: View
    surface: Surface
    channels: NDArray[np.float32] = field(repr=False)
    rough: float


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
    """
    hints = hints or Hints()
    view = make_view(photo)
    surface = see_surface(view)
    masks = surface_masks(view, surface)
    channels = np.dstack([surface.flat, surface.table * TABLE_WEIGHT])
    smallest = max(120.0, view.height * view.width * 0.0004)
    quads, fits = _propose(masks, smallest)
    size = float(np.median(np.sqrt(choose.areas(quads)))) if len(quads) else 60.0
    rough = roughness(channels, masks[0], size)
    scene = Scene(view, surface, channels, rough)
    quads = _snap(scene, quads, 0.05)
    score = _score(scene, quads)
    chosen = choose.common_size(quads, score)
    quads, score = quads[chosen], score[chosen]
    quads, score = _fill_in(scene, quads, score)
    corners, _ = sharpen(photo.pixels, quads / view.scale)
    table = masks[min(1, len(masks) - 1)]
    if not len(quads):
        return Finding((), (), (), table, view.scale, "no square stands out from the table")
    plane = fit_plane(quads, score, (view.height, view.width))
    layout = lay_out(plane, quads)
    corners = _turn_alike(plane, corners, view.scale)
    squares, doubtful = [], []
    for k in range(len(quads)):
        row, column = (int(n) for n in layout.cells[k])
        sure = float(np.clip(score[k], 0, 1))
        square = FoundSquare(corners[k], row, column, sure)
        (squares if sure >= SURE else doubtful).append(square)
    squares.sort(key=lambda s: (s.row, s.column))
    return Finding(tuple(squares), tuple(doubtful), (), table, view.scale)


def _propose(
    masks: list[NDArray[np.bool_]], smallest: float
) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Collect four-sided shapes from every mask of the table, at several openings."""
    shapes = []
    for mask in masks:
        for opening in (3, 7, 13):
            shapes += outlines_of_mask(mask, opening, smallest)
    if not shapes:
        return np.zeros((0, 4, 2)), np.zeros(0)
    quads = np.array([q for q, _ in shapes])
    fits = np.array([f for _, f in shapes])
    kept = choose.distinct(quads, np.where(fits > 0.8, fits, 0))
    return quads[kept], fits[kept]


def _snap(scene: Scene, quads: NDArray[np.float64], share: float) -> NDArray[np.float64]:
    reach = np.maximum(3.0, share * np.sqrt(choose.areas(quads)))
    fitted, _ = fit_sides(scene.channels, quads, reach)
    good = np.array([is_squarish(q) for q in fitted], dtype=bool)
    return np.where(good[:, None, None], fitted, quads)


def _score(scene: Scene, quads: NDArray[np.float64]) -> NDArray[np.float64]:
    if not len(quads):
        return np.zeros(0)
    sides = weigh_sides(scene.channels, quads, scene.rough)
    return choose.score_outlines(features(sides))


def _fill_in(
    scene: Scene, quads: NDArray[np.float64], score: NDArray[np.float64]
) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Look again where rows and columns say that a square should be."""
    for _ in range(4):
        if not len(quads):
            break
        plane = fit_plane(quads, score, (scene.view.height, scene.view.width))
        layout = lay_out(plane, quads)
        more, sure = _look_again(scene, plane, layout, quads, score)
        if not len(more):
            break
        quads, score = np.concatenate([quads, more]), np.concatenate([score, sure])
    return quads, score


def _look_again(
    scene: Scene,
    plane: Plane,
    layout: Layout,
    quads: NDArray[np.float64],
    score: NDArray[np.float64],
) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    places = list(empty_cells(layout).values())
    unit = np.array([[-0.5, -0.5], [0.5, -0.5], [0.5, 0.5], [-0.5, 0.5]])
    shifts = [np.array([x, y]) for x in (-0.16, 0, 0.16) for y in (-0.16, 0, 0.16)]
    starts, owner = [], []
    for k, place in enumerate(places):
        for shift in shifts:
            quad = plane.picture(unit + place + shift)
            middle = quad.mean(axis=0)
            if 0 < middle[0] < scene.view.width and 0 < middle[1] < scene.view.height:
                starts.append(quad)
                owner.append(k)
    if not starts:
        return np.zeros((0, 4, 2)), np.zeros(0)
    fitted = _snap(scene, np.array(starts), 0.14)
    flat = plane.straighten(fitted)
    side = np.linalg.norm(np.roll(flat, -1, axis=1) - flat, axis=2)
    proper = np.all((side > 0.92) & (side < 1.08), axis=1)
    found = np.where(proper, _score(scene, fitted), 0)
    keep = np.flatnonzero(found > 0.5)
    keep = keep[choose.keep_best(fitted[keep], found[keep])] if len(keep) else keep
    keep = np.array(
        [k for k in keep if all(choose.overlap(fitted[k], q) < 0.15 for q in quads)], dtype=int
    )
    return fitted[keep], found[keep]


def _turn_alike(
    plane: Plane, corners: NDArray[np.float64], scale: float
) -> NDArray[np.float64]:
    """Start every outline at the corner that is top left in the layout's own direction."""
    turned = []
    for quad in corners:
        flat = order(plane.straighten(quad * scale))
        turned.append(plane.picture(flat) / scale)
    return np.array(turned)
