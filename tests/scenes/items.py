"""Things that lie on the table: squares of cloth, references and what else gets in the picture.

An item has its own flat frame in inches, (0, 0) its top left; a pose takes it to the table.
"""

from collections.abc import Callable
from dataclasses import dataclass, field
from functools import cache, partial
from typing import Any

import cv2
import numpy as np
from numpy.typing import NDArray

from tests.scenes import spectra
from tests.scenes.prints import Fabric, Tile
from tests.scenes.truth import ColorTruth

Points = NDArray[np.float64]
Rng = np.random.Generator
MARGIN = 0.4  # inches of an item's picture beyond its outline


@dataclass(frozen=True, eq=False)
class Item:
    """One thing on the table.

    ``corners`` (4, 2) its nominal shape and ``outline`` (K, 2) its real edge, in its own frame;
    ``paint`` returns ink numbers at some pixels per inch for the frame widened by MARGIN;
    ``inks`` (n, 81) reflectances; ``pose`` (3, 3) takes the frame to the table, in inches.
    ``lift`` is the height of its edge above the table in inches, ``weave`` the strength of the
    cloth's texture, ``rim`` how pale its cut edge is, ``round_edge`` inches over which it bends
    away, ``opacity`` that of each ink (n,), or of all (1,): 1 for all but clear plastic.
    """

    kind: str
    size: tuple[float, float]
    corners: Points
    outline: Points
    inks: NDArray[np.float64]
    paint: Callable[[float], Tile]
    pose: Points
    seed: int
    lift: float = 0.03
    weave: float = 0.0
    creases: int = 0
    rim: float = 0.0
    threads: int = 0
    opacity: NDArray[np.float64] = field(default_factory=lambda: np.ones(1))
    gloss: float = 0.0
    round_edge: float = 0.0
    truth: dict[str, Any] = field(default_factory=dict)

    def on_table(self, points: Points) -> Points:
        """Return points (K, 2) of the item's frame in table inches."""
        return np.asarray(points @ self.pose[:2, :2].T + self.pose[:2, 2])


def pose_at(x: float, y: float, degrees: float, size: tuple[float, float]) -> Points:
    """Return the pose that puts an item's middle at (x, y), turned clockwise on screen."""
    c, s = np.cos(np.radians(degrees)), np.sin(np.radians(degrees))
    turn = np.array([[c, -s], [s, c]])
    pose = np.eye(3)
    pose[:2, :2] = turn
    pose[:2, 2] = np.array([x, y]) - turn @ (np.array(size) / 2)
    return pose


def picture_shape(size: tuple[float, float], pixels_per_inch: float) -> tuple[int, int]:
    """Return rows and columns of an item's picture, which reaches MARGIN beyond its frame."""
    width, height = size
    return (
        round((height + 2 * MARGIN) * pixels_per_inch),
        round((width + 2 * MARGIN) * pixels_per_inch),
    )


def rectangle(width: float, height: float) -> Points:
    return np.array([[0.0, 0.0], [width, 0.0], [width, height], [0.0, height]])


def _pinked(corners: Points, rng: Rng, pitch: float, bow: float) -> Points:
    """Return a zigzag (K, 2) whose mean line is the four-sided outline, sides bowed a little as
    cloth lies. ``pitch`` 0 gives a straight cut."""
    points = []
    for a, b in zip(corners, np.roll(corners, -1, axis=0), strict=True):
        length = float(np.linalg.norm(b - a))
        along = (b - a) / length
        outward = np.array([along[1], -along[0]])
        teeth = max(2, 2 * round(length / pitch)) if pitch else 24
        t = (np.arange(teeth) + (0.5 if pitch else 0)) / teeth
        tooth = np.where(np.arange(teeth) % 2, 1, -1) * pitch / 4
        wave = bow * np.sin(2 * np.pi * t + rng.uniform(0, 6.3)) * np.sin(np.pi * t)
        wave += 0.4 * bow * np.sin(4 * np.pi * t + rng.uniform(0, 6.3)) * np.sin(np.pi * t)
        # Without net area, so that the nominal side stays the mean line of the cut.
        wave -= wave.mean()
        fray = rng.normal(0, 0.006, teeth) if pitch or bow else 0.0
        points.append(a + np.outer(t * length, along) + np.outer(tooth + wave + fray, outward))
    return np.concatenate(points)


def cloth(
    fabric: Fabric,
    rng: Rng,
    size: tuple[float, float],
    pose: Points,
    *,
    pinked: bool = True,
    crumpled: float = 1.0,
    kind: str = "square",
) -> Item:
    """Return a precut piece of a fabric, with its truth, from some part of the print."""
    pitch = float(rng.uniform(0.12, 0.25)) if pinked else 0.0
    slack = 0.004 * min(size) * crumpled
    corners = rectangle(*size) + np.clip(rng.normal(0, slack, (4, 2)), -2 * slack, 2 * slack)
    outline = _pinked(corners, rng, pitch, 0.004 * min(size) * crumpled)
    quarter = int(rng.integers(4))
    skew = float(rng.normal(0, 1.0))
    origin = rng.uniform(0, fabric.repeat, 2)

    def paint(pixels_per_inch: float) -> Tile:
        tile = fabric.tile(pixels_per_inch)
        down, across = picture_shape(size, pixels_per_inch)
        if tile.max() == tile.min():
            return np.full((down, across), tile.flat[0], np.uint8)
        turn = np.radians(90 * quarter + skew)
        c, s = np.cos(turn), np.sin(turn)
        scale = tile.shape[0] / fabric.repeat / pixels_per_inch
        start = origin * tile.shape[0] / fabric.repeat
        # From a pixel of the square to a pixel of the tile, which repeats.
        forward = np.array([[c * scale, -s * scale, start[0]], [s * scale, c * scale, start[1]]])
        return np.asarray(
            cv2.warpAffine(
                tile,
                forward,
                (across, down),
                flags=cv2.INTER_NEAREST | cv2.WARP_INVERSE_MAP,
                borderMode=cv2.BORDER_WRAP,
            )
        )

    stripe = None
    if fabric.stripe is not None:
        stripe = float((fabric.stripe + 90 * quarter + skew) % 180)
    truth = {
        "fabric": fabric.number,
        "family": fabric.family,
        "scale_inches": fabric.scale,
        "stripe_degrees": stripe,
        "pinking_pitch_inches": pitch,
        "colors": cache(partial(_color_truth, fabric.inks, paint, size)),
    }
    return Item(
        kind=kind,
        size=size,
        corners=corners,
        outline=outline,
        inks=fabric.inks,
        paint=paint,
        pose=pose,
        seed=int(rng.integers(2**31)),
        lift=float(rng.uniform(0.02, 0.07)) * crumpled + 0.01,
        weave=float(rng.uniform(0.015, 0.04)),
        creases=round(int(rng.integers(0, 3)) * max(1.0, crumpled)),
        rim=float(rng.uniform(0.0, 0.5)),
        threads=int(rng.integers(0, 9)),
        truth=truth,
    )


def _color_truth(
    inks: NDArray[np.float64], paint: Callable[[float], Tile], size: tuple[float, float]
) -> ColorTruth:
    """Return reads-as colour, palette and value spread from the shares of the inks."""
    detail = 60.0 if min(size) >= 5 else 120.0
    painted = paint(detail)
    edge = round(MARGIN * detail)
    inner = painted[edge:-edge, edge:-edge]
    # Counted in float32, which is exact up to 2 ** 24 pixels.
    histogram = cv2.calcHist([inner], [0], None, [len(inks)], [0, len(inks)])
    counts = histogram.ravel().astype(np.int64)
    shares = counts / counts.sum()
    lab = spectra.lab_of_xyz(shares @ spectra.xyz_of(inks))
    labs = spectra.lab_of(inks)
    order = np.argsort(labs[:, 0])
    summed = np.cumsum(shares[order])
    low, high = (labs[order[np.searchsorted(summed, q)], 0] for q in (0.1, 0.9))
    by_share = [i for i in np.argsort(-shares) if shares[i] > 0]
    return ColorTruth(
        lab=tuple(lab.tolist()),
        palette=tuple((tuple(labs[i].tolist()), float(shares[i])) for i in by_share),
        ink_lightness_spread=float(high - low),
    )


def sheet(
    kind: str,
    rng: Rng,
    size: tuple[float, float],
    reflectance: NDArray[np.float64],
    pose: Points,
    *,
    lift: float = 0.012,
) -> Item:
    """Return a plain sheet or card with its truth."""
    corners = rectangle(*size)

    def paint(pixels_per_inch: float) -> Tile:
        return np.zeros(picture_shape(size, pixels_per_inch), np.uint8)

    truth = {
        "lab": spectra.lab_of(reflectance).tolist(),
        "luminance": float(spectra.xyz_of(reflectance)[1]),
    }
    return Item(
        kind=kind,
        size=size,
        corners=corners,
        outline=_pinked(corners, rng, 0.0, 0.0),
        inks=reflectance[None],
        paint=paint,
        pose=pose,
        seed=int(rng.integers(2**31)),
        lift=lift,
        weave=0.003,
        truth=truth,
    )


def chart(
    rng: Rng,
    width: float,
    pose_of: Callable[[tuple[float, float]], Points],
    *,
    spectra_set: str = "BabelColor Average",
    mirrored: bool = False,
) -> Item:
    """Return a 24-patch chart, four rows of six, on a black frame; patches with their truth."""
    patches = spectra.chart_reflectances(spectra_set)
    pitch = width / 6.4
    size = (6.4 * pitch, 4.4 * pitch)
    frame = spectra.flat(0.04)
    inks = np.concatenate([np.stack(list(patches.values())), frame[None]])
    boxes = []
    for number in range(24):
        row, column = divmod(number, 6)
        column = 5 - column if mirrored else column
        x, y = (0.2 + column + 0.07) * pitch, (0.2 + row + 0.07) * pitch
        boxes.append((x, y, x + 0.86 * pitch, y + 0.86 * pitch))

    def paint(pixels_per_inch: float) -> Tile:
        picture = np.full(picture_shape(size, pixels_per_inch), 24, np.uint8)
        for number, box in enumerate(boxes):
            x0, y0, x1, y1 = (round((v + MARGIN) * pixels_per_inch) for v in box)
            picture[y0:y1, x0:x1] = number
        return picture

    labs = spectra.lab_of(inks)
    truth = {
        "reflectances": spectra_set,
        "mirrored": mirrored,
        "patches": [
            {"name": name, "lab": labs[i].tolist(), "box": list(boxes[i])}
            for i, name in enumerate(patches)
        ],
    }
    corners = rectangle(*size)
    return Item(
        kind="chart",
        size=size,
        corners=corners,
        outline=_pinked(corners, rng, 0.0, 0.0),
        inks=inks,
        paint=paint,
        pose=pose_of(size),
        seed=int(rng.integers(2**31)),
        lift=0.03,
        truth=truth,
    )
