"""What one square shows by itself: straightened, light undone, looked at from reading distance."""

from dataclasses import dataclass, replace
from functools import lru_cache
from typing import Final, Protocol, TypeVar

import cv2
import numpy as np
from numpy.typing import NDArray

from colorcore.color.spaces import coded8_from_linear, lab_from_linear
from colorcore.geometry import Quad
from colorcore.ordering import median, quantiles
from colorcore.photo import Photo
from colorcore.swatch.blocks import BlocksAhead
from colorcore.swatch.glare import find_glare
from colorcore.swatch.pieces import piece_light
from colorcore.swatch.rectifying import away_from_edges, inner_mask, picture_side, rectify
from colorcore.swatch.texture import Texture, measure_texture, print_signal

T = TypeVar("T", bound=np.generic)

ACUITY_DEGREES: Final = 1 / 60
"""What a normal eye just resolves: one minute of arc (decimal acuity 1.0, ISO 8596)."""
MARGIN: Final = 0.03
"""Share of a side kept out at each edge: pinked teeth are at most a quarter inch of ten."""
SOLID_SPREAD: Final = 7.0
"""L* units of value spread below which a print reads as a solid: common practice, no source."""
SOLID_COLOR: Final = 5.0
"""CIELAB units (one standard deviation) below which hues within a print do not tell apart."""
_MARK: Final = 10.0
_MARK_BEYOND: Final = 3.5
_MARKS: Final = 0.004
_PARTS_MARKED: Final = 8
"""CIELAB units from the ground, and times what is usual there, from which a sample is a mark; the
share of marks, and in how many of sixteen parts they must lie, from which a cloth is printed: dots
that cover a hundredth of it leave 0.02, lint, pins and creases less or in few parts."""
PIECE_INCHES: Final = 2.5
STRONG_PRINT: Final = 12.0
"""L* units between its lightest and darkest piece from which a print is strong."""
SAMPLES: Final = 48
"""Samples along a side for colours and their spread."""
_FLAT_WITHIN: Final = 8.0
"""CIELAB units between neighbours from which a sample counts as lying on an edge."""
_EDGE_WEIGHT: Final = 0.06
"""What is all edge, as a fine print may be, still shows its colours."""
_NEIGHBOURS: Final = np.ones((3, 3), dtype=np.uint8)
_TEXTURE_SIDE: Final = 96
_LEAST_SHOWN: Final = 0.1


class Light(Protocol):
    """What measuring needs of a calibration."""

    def prepare(self, outlines: list[Quad]) -> None:
        """Get ready for squares with these outlines."""
        ...

    def apply(self, linear: NDArray[np.float32], corners: Quad) -> NDArray[np.float32]:
        """Return a patch (N, N, 3) with the light undone, 1.0 = perfect white."""
        ...

    def lab_sd(self, corners: NDArray[np.float64], lab: NDArray[np.float64]) -> NDArray[np.float64]:
        """Return one standard deviation (B, 3) of colours (B, 3) in outlines (B, 4, 2)."""
        ...

    def order_sd(
        self, corners: NDArray[np.float64], lab: NDArray[np.float64]
    ) -> NDArray[np.float64]:
        """Return one standard deviation (B,) of L* against other squares of the same photo."""
        ...

    def flags(self, corners: Quad) -> tuple[str, ...]:
        """Return keys of the flag registry that hold there."""
        ...


@dataclass(frozen=True, eq=False)
class Samples:
    """A square on an even grid: linear light and CIELAB (2304, 3); ``flatness`` (2304,), the less,
    the more CIELAB changes from a sample to its neighbours; ``shown`` (2304,). ``unrest`` is that
    change's mean square."""

    linear: NDArray[np.float32]
    lab: NDArray[np.float32]
    flatness: NDArray[np.float32]
    shown: NDArray[np.bool_]
    unrest: float


@dataclass(frozen=True, eq=False)
class Look:
    """What one square shows.

    ``lab`` (3,) its reads-as colour; ``picture`` uint8 (N, N, 3) and ``valid`` as a Swatch has
    them; ``shown``, ``clipped``, ``glare`` shares of the area, ``glare`` None for none;
    ``value_spread`` and ``variance`` (3,) of CIELAB at reading distance; ``texture`` None for what
    reads as a solid; ``strong`` whether its pieces differ much in value.
    """

    corners: Quad
    lab: NDArray[np.float64]
    picture: NDArray[np.uint8]
    valid: NDArray[np.bool_] | None
    samples: Samples
    shown: float
    clipped: float
    glare: float | None
    value_spread: float
    variance: NDArray[np.float64]
    texture: Texture | None
    strong: bool


def look_at_square(
    photo: Photo,
    light: Light,
    corners: Quad,
    visible: NDArray[np.float64] | None,
    *,
    side_inches: float,
    reading_inches: float,
    ahead: BlocksAhead | None = None,
) -> Look:
    """Return what the square inside ``corners`` (4, 2) shows; ``visible`` is the polygon (K, 2)
    that is not covered, None for all. Safe to call from several threads."""
    side = picture_side(corners)
    patch = rectify(photo, corners, side=side, visible=visible, ahead=ahead)
    linear = np.asarray(light.apply(patch.linear, corners), dtype=np.float32)
    inner = inner_mask(side, MARGIN)
    whole = bool(patch.shows.all())
    shows = patch.shows if whole else away_from_edges(patch.shows, MARGIN)
    mask = inner if whole else inner & shows
    glare = find_glare(linear, mask)
    if glare is not None:
        mask, shows, whole = mask & ~glare, shows & ~glare, False
    shown = 1.0 if whole else float(np.count_nonzero(mask) / np.count_nonzero(inner))
    if shown < _LEAST_SHOWN:
        mask = inner
    clipped = np.count_nonzero(patch.clipped & mask) / np.count_nonzero(mask)

    seen = np.asarray(lab_from_linear(_at_distance(linear, side / side_inches, reading_inches)))
    samples = _sample(linear, seen, mask)
    colors = samples.lab[samples.shown]
    low, high = quantiles(colors[:, 0], 0.1, 0.9).tolist()
    variance = np.square(cv2.meanStdDev(colors[:, None])[1].ravel())
    solid = high - low < SOLID_SPREAD and float(np.sqrt(variance.sum())) < SOLID_COLOR
    solid = solid and not _has_marks(samples)
    pieces = piece_light(linear, mask, side_inches, PIECE_INCHES)
    mean = np.array([cv2.mean(linear, mask.view(np.uint8))[:3]])
    labs = np.asarray(lab_from_linear(np.concatenate([mean, pieces])))
    values = labs[1:, 0]
    return Look(
        corners=corners,
        lab=labs[0],
        picture=coded8_from_linear(linear),
        valid=None if whole else shows,
        samples=samples,
        shown=shown,
        clipped=float(clipped),
        glare=None if glare is None else float(glare.mean()),
        value_spread=high - low,
        variance=variance,
        texture=None if solid else _texture(seen, mask, colors, side_inches),
        strong=len(values) > 1 and float(np.ptp(values)) > STRONG_PRINT,
    )


def _sample(
    linear: NDArray[np.float32], lab: NDArray[np.float32], mask: NDArray[np.bool_]
) -> Samples:
    shown = _spread(mask)
    change = _spread(np.asarray(cv2.morphologyEx(lab, cv2.MORPH_GRADIENT, _NEIGHBOURS)))
    steepness = np.einsum("ij,ij->i", change, change)
    steepness /= np.float32(_FLAT_WITHIN**2)
    return Samples(
        linear=_spread(linear),
        lab=_spread(lab),
        flatness=(_EDGE_WEIGHT + 1 / (1 + np.square(steepness))).astype(np.float32),
        shown=shown if shown.any() else np.ones_like(shown),
        unrest=float(steepness.sum()) / len(steepness) * _FLAT_WITHIN**2,
    )


def _has_marks(samples: Samples) -> bool:
    """Whether marks of another colour lie scattered over a ground that is else of one colour."""
    ground = median(samples.lab[samples.shown])
    off = samples.lab - ground.astype(np.float32)
    away = np.sqrt(np.einsum("ij,ij->i", off, off))
    least = max(_MARK, _MARK_BEYOND * float(median(away[samples.shown])))
    marks = samples.shown & (away > least)
    parts = marks.reshape(4, SAMPLES // 4, 4, SAMPLES // 4).any(axis=(1, 3))
    enough = np.count_nonzero(marks) >= _MARKS * np.count_nonzero(samples.shown)
    return bool(enough and np.count_nonzero(parts) >= _PARTS_MARKED)


def _spread(picture: NDArray[T]) -> NDArray[T]:
    """The samples (2304, ...) of a picture (N, N, ...), row by row, evenly spread."""
    step, rest = divmod(len(picture), SAMPLES)
    if not rest:
        even = picture[step // 2 :: step, step // 2 :: step]
        return even.reshape(-1, *picture.shape[2:])
    along = _places(len(picture))
    return picture.take(along, axis=0).take(along, axis=1).reshape(-1, *picture.shape[2:])


@lru_cache(maxsize=256)
def _places(side: int) -> NDArray[np.intp]:
    """Places (48,) of the samples along a side."""
    places = (2 * np.arange(SAMPLES) + 1) * side // (2 * SAMPLES)
    places.flags.writeable = False
    return places


def _at_distance(
    linear: NDArray[np.float32], per_inch: float, reading_inches: float
) -> NDArray[np.float32]:
    """The picture as an eye resolves it at that distance: blurred by one just resolved angle."""
    blur = np.deg2rad(ACUITY_DEGREES) * reading_inches * per_inch / 2
    if blur < 0.25:
        return linear
    return np.asarray(cv2.GaussianBlur(linear, (0, 0), float(blur)), dtype=np.float32)


def _texture(
    lab: NDArray[np.float32],
    mask: NDArray[np.bool_],
    colors: NDArray[np.float32],
    side_inches: float,
) -> Texture:
    """The print's texture, its scale in inches; measured on fewer samples than the picture has,
    which still shows repeats down to a thirtieth of the side."""
    signal = print_signal(lab, colors)
    side = min(lab.shape[0], _TEXTURE_SIDE)
    if side < lab.shape[0]:
        signal = np.asarray(cv2.resize(signal, (side, side), interpolation=cv2.INTER_AREA))
        near = cv2.resize(mask.view(np.uint8), (side, side), interpolation=cv2.INTER_NEAREST)
        mask = np.asarray(near > 0)
    texture = measure_texture(signal, mask)
    return replace(texture, scale=texture.scale * side_inches / side)
