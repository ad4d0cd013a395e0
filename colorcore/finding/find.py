"""From a photo to its squares: the steps of finding, in order."""

from dataclasses import dataclass, field

import cv2
import numpy as np
from numpy.typing import NDArray

from colorcore.finding import choose
from colorcore.finding.layout import lay_out
from colorcore.finding.model import Finding, FoundSquare, Hints
from colorcore.finding.outlines import aspects, order
from colorcore.finding.packed import pack, unpack_bands
from colorcore.finding.plane import Plane, fit_plane
from colorcore.finding.refine import sharpen
from colorcore.finding.scene import Scene, look, look_within, snap
from colorcore.finding.singles import (
    fill_in,
    fill_in_bands,
    lone_bands,
    lone_squares,
    propose,
)
from colorcore.finding.things import is_sheet_like, name_things
from colorcore.finding.view import Picture

SURE = 0.5
# From this many squares of one size on, lying apart needs no second explanation.
_PLENTY = 5
# Longer than this for their width, pieces that are alike are precut strips.
_STRIP = 3.0
Quads = NDArray[np.float64]


@dataclass(frozen=True, eq=False)
class Group:
    """One explanation of the picture: ``quads`` (N, 4, 2) in the view, ``sure`` (N,) and
    ``covered`` (N,) True where other squares lie on top; ``visible`` (N, 4, 2)."""

    quads: Quads = field(repr=False)
    sure: NDArray[np.float64] = field(repr=False)
    visible: Quads = field(repr=False)
    covered: NDArray[np.bool_] = field(repr=False)


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
    scene = look(photo)
    shapes, fits = propose(scene)
    group = explain(scene, shapes, fits)
    if len(group.quads) < _PLENTY or float(group.sure.mean()) < 0.9:
        scene, shapes, fits, group = _on_a_mat(scene, shapes, fits, group)
    things = name_things(scene, shapes, fits, group.visible)
    if not len(group.quads):
        return Finding(
            (), (), things, scene.table, scene.view.scale, "no square stands out from the table"
        )
    plane = fit_plane(group.quads, group.sure, scene.size)
    layout = lay_out(plane, group.quads)
    quads, visible = _finish(photo, scene, plane, group)
    squares, doubtful = [], []
    for k in range(len(quads)):
        row, column = (int(n) for n in layout.cells[k])
        square = FoundSquare(
            quads[k], row, column, float(group.sure[k]),
            visible[k] if group.covered[k] else None,
            ("covered",) if group.covered[k] else (),
        )  # fmt: skip
        (squares if square.confidence >= SURE else doubtful).append(square)
    squares.sort(key=lambda s: (s.row, s.column))
    return Finding(tuple(squares), tuple(doubtful), things, scene.table, scene.view.scale)


def _on_a_mat(
    scene: Scene, shapes: Quads, fits: NDArray[np.float64], group: Group
) -> tuple[Scene, Quads, NDArray[np.float64], Group]:
    """Look within the largest shape as if it were a mat with squares on it; return what was seen
    there if it explains more, else what was given."""
    size = choose.areas(shapes)
    large = np.flatnonzero((size > 0.1 * scene.size[0] * scene.size[1]) & (fits > 0.85))
    if not len(large):
        return scene, shapes, fits, group
    mat = shapes[large[np.argmax(size[large] * fits[large])]]
    within = look_within(scene, mat)
    inner, inner_fits = propose(within)
    found = _apart(*fill_in(within, *lone_squares(within, inner)))
    if float(found.sure.sum()) <= max(2.0, float(group.sure.sum())):
        return scene, shapes, fits, group
    return within, inner, inner_fits, found


def explain(scene: Scene, shapes: Quads, fits: NDArray[np.float64]) -> Group:
    """Return the squares that explain the picture best: apart, touching or overlapping.

    ``shapes`` (N, 4, 2) are what stands out in the view, ``fits`` (N,) how four-sided each is.
    """
    sheets = np.array([is_sheet_like(scene, q) for q in shapes], dtype=bool)
    shapes, fits = shapes[~sheets], fits[~sheets]
    quads, sure = fill_in(scene, *lone_squares(scene, shapes))
    apart = _apart(quads, sure)
    if len(quads) >= _PLENTY:
        return apart
    shares = _explained(scene, quads)
    bands, band_sure = lone_bands(scene, shapes)
    if len(bands) >= 2:
        bands, band_sure = fill_in_bands(scene, bands, band_sure)
        if _explained(scene, bands) > shares:
            packed = unpack_bands(scene, bands)
            if packed is not None:
                return Group(packed.quads, packed.sure, packed.visible, packed.covered)
            if len(bands) > 2 and float(np.median(aspects(bands))) > _STRIP:
                return _apart(_upright(bands), band_sure)
    packed = pack(scene, shapes, fits)
    if packed is not None and _explained(scene, packed.visible) > 0.8 * shares:
        return Group(packed.quads, packed.sure, packed.visible, packed.covered)
    return apart


def _apart(quads: Quads, sure: NDArray[np.float64]) -> Group:
    return Group(quads, sure, quads, np.zeros(len(quads), bool))


def _upright(bands: Quads) -> Quads:
    """Start bands that run down the picture with their short side."""
    run = (bands[:, 1] - bands[:, 0]).mean(axis=0)
    quarter = round(np.arctan2(run[1], run[0]) / (np.pi / 2))
    return np.roll(bands, quarter, axis=1)


def _explained(scene: Scene, quads: Quads) -> float:
    """Return the share of what is not table that the squares account for."""
    standing = cv2.morphologyEx(
        (~scene.table).astype(np.uint8), cv2.MORPH_OPEN, np.ones((7, 7), np.uint8)
    )
    total = int(standing.sum())
    for quad in quads:
        cv2.fillConvexPoly(standing, np.round(quad).astype(np.int32), 0)
    return 1 - int(standing.sum()) / max(total, 1)


def _finish(
    photo: Picture, scene: Scene, plane: Plane, group: Group
) -> tuple[Quads, Quads]:
    """Return the outlines and what shows of them, sharpened on the full picture, started at the
    corner that is top left in the layout's own direction."""
    start = np.array([plane.picture(order(plane.straighten(q))) for q in group.visible])
    shown = start.copy()
    shown[group.covered] = snap(scene, start[group.covered], 0.03)
    shown, _ = sharpen(photo.pixels, shown / scene.view.scale)
    whole = shown.copy()
    for k in np.flatnonzero(group.covered):
        whole[k] = _uncover(plane, group.quads[k], start[k], shown[k] * scene.view.scale)
        whole[k] /= scene.view.scale
    return whole, shown


def _uncover(plane: Plane, quad: Quads, before: Quads, after: Quads) -> Quads:
    """Return the whole outline of a covered square from the strip that shows of it.

    The sides that show have moved by sharpening; the covered ones move along with them.
    """
    flat = order(plane.straighten(quad))
    old, new = plane.straighten(before), plane.straighten(after)
    moved = flat.copy()
    near = np.abs(old[:, None] - flat[None]).max(axis=2)
    own = near.min(axis=0) < 0.02
    shift = new - old
    if own.any():
        moved += shift[near.argmin(axis=0)[own]].mean(axis=0)
    return plane.picture(moved)
