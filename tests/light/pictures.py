"""Small pictures painted for one purpose each: flat colours on a flat table under given light."""

from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

from colorcore.color.charts import AFTER_2014, CHART_COLUMNS, CHART_ROWS, chart_linear
from colorcore.color.spaces import coded8_from_linear, linear_from_lab
from colorcore.finding.model import Finding, FoundSquare, FoundThing
from colorcore.photo import Photo, photo_from_array

Array = NDArray[np.float64]


def quad(x: float, y: float, width: float, height: float, degrees: float = 0.0) -> Array:
    """Corners (4, 2) of a rectangle with its middle at (x, y)."""
    turn = np.radians(degrees)
    rotate = np.array([[np.cos(turn), np.sin(turn)], [-np.sin(turn), np.cos(turn)]])
    half = np.array([[-1, -1], [1, -1], [1, 1], [-1, 1]]) * [width / 2, height / 2]
    return np.asarray(half @ rotate + [x, y])


def fill(picture: NDArray[np.float32], corners: Array, linear: Array) -> None:
    points = np.round((corners - 0.5) * 16).astype(np.int32)
    cv2.fillPoly(picture, [points], [float(v) for v in linear], lineType=cv2.LINE_AA, shift=4)


@dataclass(frozen=True, eq=False)
class Table:
    """A painted table: linear light (H, W, 3) before any light falls on it, and what lies there."""

    picture: NDArray[np.float32]
    squares: tuple[FoundSquare, ...]
    labs: Array
    things: tuple[FoundThing, ...]

    def photo(
        self, light: NDArray[np.floating] | float = 1.0, *, noise: float = 0.8, seed: int = 0
    ) -> Photo:
        rng = np.random.default_rng(seed)
        lit = self.picture * np.asarray(light, np.float32)
        coded = coded8_from_linear(lit).astype(np.float32)
        coded += rng.normal(0, noise, coded.shape).astype(np.float32)
        return photo_from_array(np.clip(np.rint(coded), 0, 255).astype(np.uint8))

    def finding(self, *, things: bool = True) -> Finding:
        height, width = self.picture.shape[:2]
        surface = np.full((height // 4, width // 4), 255, np.uint8)
        for outline in [s.corners for s in self.squares] + [t.outline for t in self.things]:
            cv2.fillPoly(surface, [np.round(outline / 4).astype(np.int32)], 0)
        return Finding(self.squares, (), self.things if things else (), surface > 0, 0.25)


def make_table(
    *,
    rows: int = 4,
    columns: int = 5,
    surface: tuple[float, float, float] = (60, 2, 6),
    paper: tuple[float, float, float] | None = (95.15, 0, 0),
    seed: int = 3,
) -> Table:
    """Return a table of 1200 x 900 with squares of flat colours and a sheet at the right."""
    rng = np.random.default_rng(seed)
    picture = np.empty((900, 1200, 3), np.float32)
    picture[:] = linear_from_lab(np.array(surface))
    squares, labs = [], []
    for row in range(rows):
        for column in range(columns):
            corners = quad(140 + column * 175, 130 + row * 190, 140, 140, rng.uniform(-2, 2))
            lab = np.array([rng.uniform(18, 90), *rng.uniform(-18, 18, 2)])
            fill(picture, corners, linear_from_lab(lab))
            squares.append(FoundSquare(corners, row, column, 1.0))
            labs.append(lab)
    things = []
    if paper is not None:
        outline = quad(1080, 300, 150, 200, 4)
        fill(picture, outline, linear_from_lab(np.array(paper)))
        things.append(FoundThing("sheet", outline))
    return Table(picture, tuple(squares), np.array(labs), tuple(things))


def paint_chart(
    picture: NDArray[np.float32],
    x: float,
    y: float,
    pitch: float,
    degrees: float,
    *,
    mirrored: bool = False,
    edition: str = AFTER_2014,
) -> Array:
    """Paint a chart with its middle at (x, y); return the centres (24, 2) of its patches."""
    fill(picture, quad(x, y, 6.4 * pitch, 4.4 * pitch, degrees), np.full(3, 0.03))
    turn = np.radians(degrees)
    rotate = np.array([[np.cos(turn), np.sin(turn)], [-np.sin(turn), np.cos(turn)]])
    centers = []
    for number, linear in enumerate(np.clip(chart_linear(edition), 0, None)):
        row, column = divmod(number, CHART_COLUMNS)
        across = (column - (CHART_COLUMNS - 1) / 2) * (-1 if mirrored else 1)
        place = np.array([across, row - (CHART_ROWS - 1) / 2]) * pitch
        center = place @ rotate + [x, y]
        fill(picture, quad(*center, 0.86 * pitch, 0.86 * pitch, degrees), linear)
        centers.append(center)
    return np.array(centers)


def ramp(shape: tuple[int, int], across: float, down: float, tint: float = 0.0) -> Array:
    """Return light (h, w, 3) that falls by ``exp(-across)`` and ``exp(-down)`` over the picture,
    redder or bluer along the way by ``tint``."""
    height, width = shape
    u = np.linspace(0, 1, width)[None, :, None]
    v = np.linspace(0, 1, height)[:, None, None]
    color = np.array([-tint, 0.0, tint])
    return np.asarray(np.exp(-across * u - down * v + color * (u + v - 1)))
