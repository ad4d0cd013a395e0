"""What all steps of finding look at: the reduced picture, the table, and both together."""

from collections.abc import Callable
from dataclasses import dataclass, field
from functools import cached_property

import cv2
import numpy as np
from numpy.typing import NDArray

from colorcore.finding import choose
from colorcore.finding.beyond import runs_on
from colorcore.finding.evidence import (
    TABLE_WEIGHT,
    SideEvidence,
    features,
    grid_within,
    roughness,
    weigh_sides,
)
from colorcore.finding.outlines import has_corners
from colorcore.finding.refine import fit_sides
from colorcore.finding.surface import Surface, pixels_within, see_surface, surface_masks
from colorcore.finding.through import goes_on, runs_through
from colorcore.finding.view import Picture, View, make_view

#: Fewer cannot tell the table's shades from what lies on it: 16 bins of 20 pixels.
RIM_PIXELS = 320
# What is thinner than this are lines and shadows on the table.
_BRUSH = np.ones((7, 7), np.uint8)
# So many numbers say what the sides of an outline show.
_SIDES = 29
# An outline shows all round that has a step along so much of it, and along so much of each side.
_ALL_ROUND, _SOME_OF_EACH = 0.7, 0.3


@dataclass(frozen=True, eq=False)
class Scene:
    """``channels`` (h, w, 4): CIELAB with the light evened out, and the likelihood of table;
    ``masks`` of the table, the boldest first; ``rough`` the size of step that the table shows by
    itself; ``beyond`` (h, w) True for what counts as table though it is another one than the
    squares lie on, None for none; ``plain_and_light`` what ``things`` has seen of outlines
    already."""

    view: View
    surface: Surface
    masks: tuple[NDArray[np.bool_], ...] = field(repr=False)
    channels: NDArray[np.float32] = field(repr=False)
    rough: float
    beyond: NDArray[np.bool_] | None = field(default=None, repr=False)
    plain_and_light: dict[bytes, bool] = field(default_factory=dict, init=False, repr=False)
    _shown: dict[bytes, NDArray[np.float64]] = field(default_factory=dict, init=False, repr=False)
    _looked: dict[bytes, NDArray[np.float64]] = field(default_factory=dict, init=False, repr=False)
    _through: dict[bytes, NDArray[np.float64]] = field(default_factory=dict, init=False, repr=False)
    _going_on: dict[float, dict[bytes, NDArray[np.float64]]] = field(
        default_factory=dict, init=False, repr=False
    )

    @property
    def size(self) -> tuple[int, int]:
        """Height and width of the view."""
        return self.view.height, self.view.width

    @property
    def table(self) -> NDArray[np.bool_]:
        """Where the table shows, as well as one mask can say."""
        return self.masks[min(1, len(self.masks) - 1)]

    @property
    def ground(self) -> NDArray[np.bool_]:
        """Where the table shows that the squares lie on."""
        return self.table if self.beyond is None else self.table & ~self.beyond

    @cached_property
    def standing(self) -> NDArray[np.uint8]:
        """1 where something stands on the table (h, w), what is thinner than 7 pixels left out."""
        shows = (~self.table).view(np.uint8)
        return np.asarray(cv2.morphologyEx(shows, cv2.MORPH_OPEN, _BRUSH), dtype=np.uint8)


def look(photo: Picture) -> Scene:
    """Reduce the photo and tell its table from what lies on it."""
    return see(make_view(photo))


def see(
    view: View, rim: NDArray[np.bool_] | None = None, beyond: NDArray[np.bool_] | None = None
) -> Scene:
    """Tell the table from what lies on it, by ``rim`` (h, w), True where it is mostly table (the
    picture's edge if None); all that is ``beyond`` (h, w) counts as table too."""
    surface = see_surface(view, rim)
    masks = tuple(surface_masks(view, surface, edge=rim))
    plain = masks[0] if rim is None else masks[min(1, len(masks) - 1)]
    if beyond is not None:
        table = np.where(beyond, np.float32(1), surface.table)
        surface = Surface(surface.likelihood, table, surface.flat)
        masks = tuple(m | beyond for m in masks)
        plain &= ~beyond
    channels = np.asarray(cv2.merge((surface.flat, surface.table * TABLE_WEIGHT)), np.float32)
    rough = roughness(channels, plain, 0.08 * min(view.height, view.width))
    return Scene(view, surface, masks, channels, rough, beyond)


def look_within(scene: Scene, mat: NDArray[np.bool_]) -> Scene | None:
    """Look again at what lies on a mat or cloth, ``mat`` (h, w) True where it and all on it lies.

    Its rim shows the new table; all beyond counts as table too. None if the rim is too thin to
    show anything.
    """
    depth = cv2.distanceTransform(mat.astype(np.uint8), cv2.DIST_L2, 3)
    side = float(np.sqrt(mat.sum()))
    beyond = depth < 0.012 * side
    rim = ~beyond & (depth < 0.045 * side)
    return see(scene.view, rim, beyond) if rim.sum() >= RIM_PIXELS else None


def snap(scene: Scene, quads: NDArray[np.float64], share: float) -> NDArray[np.float64]:
    """Move outlines (N, 4, 2) onto steps within ``share`` of their side; those that would lose
    their shape stay."""
    if not len(quads):
        return quads
    reach = np.maximum(3.0, share * choose.sides(quads))
    fitted, _ = fit_sides(scene.channels, quads, reach, along=24, across=21)
    good = has_corners(fitted)
    return np.where(good[:, None, None], fitted, quads)


def trim(scene: Scene, quads: NDArray[np.float64], share: float = 0.04) -> NDArray[np.float64]:
    """Move outlines (N, 4, 2) onto steps of colour alone, which leaves out the shadow at their
    foot; those that would lose their shape stay."""
    if not len(quads):
        return quads
    reach = np.maximum(2.0, share * choose.sides(quads))
    fitted, _ = fit_sides(scene.surface.flat, quads, reach, along=24, across=21, window=3)
    return np.where(has_corners(fitted)[:, None, None], fitted, quads)


def evidence(scene: Scene, quads: NDArray[np.float64]) -> NDArray[np.float64]:
    """Return what the sides of outlines (N, 4, 2) show, as numbers (N, F)."""
    return _weighed(scene, quads)[:, :-_SIDES]


def sides_of(scene: Scene, quads: NDArray[np.float64]) -> SideEvidence:
    """Return what the sides of outlines (N, 4, 2) show, side by side."""
    return SideEvidence.of_rows(_weighed(scene, quads)[:, -_SIDES:])


def _weighed(scene: Scene, quads: NDArray[np.float64]) -> NDArray[np.float64]:
    def weigh(new: NDArray[np.float64]) -> NDArray[np.float64]:
        sides = weigh_sides(scene.channels, new, scene.rough)
        return np.concatenate([features(sides), sides.rows()], axis=1)

    return _recall(scene._shown, quads, weigh)


def going_on(scene: Scene, quads: NDArray[np.float64], gap: float) -> NDArray[np.float64]:
    """Return how far each side of outlines (N, 4, 2) goes on beyond its corners (N, 4), squares
    lying ``gap`` apart in sides of a square."""
    known = scene._going_on.setdefault(round(gap, 2), {})
    return _recall(known, quads, lambda new: runs_on(scene.channels, new, round(gap, 2)))


def holds_table(scene: Scene, quads: NDArray[np.float64]) -> NDArray[np.bool_]:
    """Return which outlines (N, 4, 2) hold what goes on beyond them: the table, be it bare or under
    a clear ruler."""
    through = _recall(scene._through, quads, lambda new: runs_through(scene.surface.flat, new))
    return goes_on(through, sides_of(scene, quads), scene.rough)


def looks(scene: Scene, quads: NDArray[np.float64]) -> NDArray[np.float64]:
    """Return how plain the content of each outline (N, 4, 2) is (1: one even colour) and how light
    for the picture (0 to 1), (N, 2)."""
    return _recall(scene._looked, quads, lambda new: _looks(scene.view, new))


def _recall(
    known: dict[bytes, NDArray[np.float64]],
    quads: NDArray[np.float64],
    work: Callable[[NDArray[np.float64]], NDArray[np.float64]],
) -> NDArray[np.float64]:
    """Return a row for each outline (N, 4, 2): the same one is judged again and again as its
    company changes, and what is ``known`` of it is not looked at twice."""
    names = [quad.tobytes() for quad in quads]
    fresh = [k for k, name in enumerate(names) if name not in known]
    if len(fresh) == len(names):
        rows = work(quads)
        known.update(zip(names, rows, strict=True))
        return rows
    if fresh:
        known.update(zip([names[k] for k in fresh], work(quads[fresh]), strict=True))
    return np.array([known[name] for name in names])


def _looks(view: View, quads: NDArray[np.float64]) -> NDArray[np.float64]:
    darkest, _, lightest = view.tones
    spot = grid_within(quads, 0.12, 20)
    column = np.clip(spot[..., 0].astype(np.int32), 0, view.width - 1)
    row = np.clip(spot[..., 1].astype(np.int32), 0, view.height - 1)
    # (3, N, places): medians along a last axis of three would be slow.
    value = np.ascontiguousarray(np.moveaxis(view.lab[row, column], -1, 0))
    middle = np.median(value, axis=-1, keepdims=True)
    rough = np.abs(value - middle).mean(axis=-1).sum(axis=0)
    light = (middle[0, :, 0] - darkest) / max(float(lightest - darkest), 1.0)
    return np.column_stack([1 / (1 + (rough / 2.5) ** 2), np.clip(light, 0, 1)])


def shows_all_round(scene: Scene, quads: NDArray[np.float64]) -> NDArray[np.bool_]:
    """Return which outlines (N, 4, 2) show a step along most of their sides, and along some of
    each, as far as it lies in the picture."""
    if not len(quads):
        return np.zeros(0, bool)
    shown = sides_of(scene, quads).shown
    return np.asarray((shown.min(axis=1) > _SOME_OF_EACH) & (shown.mean(axis=1) > _ALL_ROUND))


def table_within(scene: Scene, quad: NDArray[np.float64]) -> float:
    """Return how much of the table shows within an outline (4, 2), clear of its sides, 0 to 1."""
    part, shown = pixels_within(scene.size, quad, 0.85)
    return float(scene.surface.table[part][shown].mean()) if shown.any() else 0.0


def is_round(scene: Scene, quads: NDArray[np.float64]) -> NDArray[np.bool_]:
    """Return which outlines (N, 4, 2) show table in their corners and none within: coins, cups."""
    middle = quads.mean(axis=1, keepdims=True)
    table = scene.surface.table

    def at(share: float) -> NDArray[np.float32]:
        spot = middle + share * (quads - middle)
        column = np.clip(spot[..., 0].astype(np.int64), 0, table.shape[1] - 1)
        row = np.clip(spot[..., 1].astype(np.int64), 0, table.shape[0] - 1)
        return np.asarray(table[row, column])

    corners = (at(0.84) > 0.6).sum(axis=1) + (at(0.9) > 0.6).sum(axis=1)
    return np.asarray((corners >= 6) & ((at(0.5) + at(0.3)).mean(axis=1) < 0.8))


def score(scene: Scene, quads: NDArray[np.float64]) -> NDArray[np.float64]:
    """Return the chance (N,) that each outline is a square lying free on the table."""
    if not len(quads):
        return np.zeros(0)
    chance = choose.score_outlines(evidence(scene, quads))
    return np.where(is_round(scene, quads), 0.0, chance)
