"""Measure one found square: from its outline in the photo to a Swatch."""

from dataclasses import replace
from typing import Final, Protocol

import cv2
import numpy as np
from numpy.typing import NDArray

from colorcore.color.spaces import coded8_from_linear, lab_from_linear
from colorcore.finding.model import FoundSquare
from colorcore.geometry import Quad, side_lengths
from colorcore.photo import Photo
from colorcore.swatch.glare import find_glare
from colorcore.swatch.model import Swatch
from colorcore.swatch.ordering import quantiles
from colorcore.swatch.palette import extract_palette
from colorcore.swatch.pieces import piece_values_of
from colorcore.swatch.rectifying import away_from_edges, inner_mask, picture_side, rectify
from colorcore.swatch.texture import Texture, measure_texture, print_signal

READING_INCHES: Final = 72.0
"""Reading distance, 6 ft: common practice for looking at fabric on a wall, no source."""
ACUITY_DEGREES: Final = 1 / 60
"""What a normal eye just resolves: one minute of arc (decimal acuity 1.0, ISO 8596)."""
MARGIN: Final = 0.03
"""Share of a side kept out at each edge: pinked teeth are at most a quarter inch of ten."""
SOLID_SPREAD: Final = 7.0
"""L* units of value spread below which a print reads as a solid: common practice, no source."""
SOLID_COLOR: Final = 5.0
"""CIELAB units (one standard deviation) below which hues within a print do not tell apart."""
PIECE_INCHES: Final = 2.5
STRONG_PRINT: Final = 12.0
"""L* units between its lightest and darkest piece from which a print is strong."""
GLARE_SD: Final = 6.0
"""CIELAB units of doubt, times the share that glares: its tail reaches beyond what is left out."""
_FLAT_WITHIN: Final = 8.0
"""CIELAB units between neighbours from which a sample counts as lying on an edge."""
_EDGE_WEIGHT: Final = 0.06
"""What is all edge, as a fine print may be, still shows its colours."""
_NEIGHBOURS: Final = np.ones((3, 3), dtype=np.uint8)
_TEXTURE_SIDE: Final = 128
_LONG: Final = 0.6
"""How much longer than wide an outline must be to be a strip: no tilt makes a square that long."""
_LEAST_PIXELS: Final = 96
_LEAST_SHOWN: Final = 0.1


class Light(Protocol):
    """What measuring needs of a calibration."""

    def apply(self, linear: NDArray[np.float32], corners: Quad) -> NDArray[np.float32]:
        """Return a patch (N, N, 3) with the light undone, 1.0 = perfect white."""
        ...

    def lab_sd(
        self, corners: Quad, lab: tuple[float, float, float]
    ) -> NDArray[np.float64] | tuple[float, float, float]:
        """Return one standard deviation (3,) of a colour measured there."""
        ...

    def order_sd(self, corners: Quad, lab: tuple[float, float, float]) -> float:
        """Return one standard deviation of L* against other squares of the same photo."""
        ...

    def flags(self, corners: Quad) -> tuple[str, ...]:
        """Return keys of the flag registry that hold there."""
        ...


def measure_square(
    photo: Photo,
    calibration: Light,
    found: FoundSquare,
    *,
    side_inches: float,
    index: int = 0,
    reading_inches: float = READING_INCHES,
) -> Swatch:
    """Return what one square measures.

    ``side_inches`` is the nominal side of the precut square, ``index`` the photo's place in the
    bundle, ``reading_inches`` the distance at which value spread, busyness and reads-as-solid are
    judged. Numbers are rounded to what a bundle file keeps, so that a file gives back the same.
    """
    corners = np.asarray(found.corners, dtype=np.float64)
    side = picture_side(corners)
    patch = rectify(photo, corners, side=side, visible=found.visible)
    linear = np.asarray(calibration.apply(patch.linear, corners), dtype=np.float32)
    flags = [*found.flags, *calibration.flags(corners)]

    inner = inner_mask(side, MARGIN)
    shows = patch.shows if patch.shows.all() else away_from_edges(patch.shows, MARGIN)
    mask = inner & shows
    glare = find_glare(linear, mask)
    if glare is not None:
        flags.append("glare")
        mask, shows = mask & ~glare, shows & ~glare
    shown = np.count_nonzero(mask) / np.count_nonzero(inner)
    if shown < _LEAST_SHOWN:
        mask = inner
    lab = lab_from_linear(np.array(cv2.mean(linear, mask.view(np.uint8))[:3]))

    clipped = float(np.count_nonzero(patch.clipped & mask) / np.count_nonzero(mask))
    if clipped > 0.01:
        flags.append("clipped")
    if side < _LEAST_PIXELS:
        flags.append("few-pixels")
    lengths = side_lengths(corners)
    if lengths.max() > (1 + _LONG) * lengths.min():
        flags.append("no-scale")

    seen = np.asarray(lab_from_linear(_at_distance(linear, side / side_inches, reading_inches)))
    sample = _Sample(linear, seen, mask)
    low, high = quantiles(sample.lab[:, 0], 0.1, 0.9)
    variance = sample.lab.var(axis=0, dtype=np.float64)
    solid = float(high - low) < SOLID_SPREAD and float(np.sqrt(variance.sum())) < SOLID_COLOR
    texture = None if solid else _texture(seen, mask, sample.lab, side_inches)

    sd = np.asarray(calibration.lab_sd(corners, _triple(lab)), dtype=np.float64)
    own = _own_doubt(shown, clipped, variance)
    sd = np.hypot(sd, own)
    order_sd = float(np.hypot(calibration.order_sd(corners, _triple(lab)), own[0]))
    if glare is not None:
        sd = sd + GLARE_SD * float(glare.mean())
        order_sd += GLARE_SD * float(glare.mean())
    if _differs_by_piece(linear, mask, side_inches):
        flags.append("strong-print")

    return Swatch(
        id=found.address,
        photo=index,
        row=found.row,
        column=found.column,
        corners=tuple((round(float(x), 2), round(float(y), 2)) for x, y in corners),
        lab=_triple(lab),
        lab_sd=_triple(sd),
        value_spread=round(float(high - low), 2),
        palette=extract_palette(sample.linear, sample.lab, sample.flatness),
        print_scale_inches=None if texture is None else round(texture.scale, 2),
        stripe_degrees=_stripes(texture),
        busyness=round(float(np.sqrt(variance[0])), 2),
        reads_as_solid=solid,
        fabric=-1,
        confidence=round(float(found.confidence), 3),
        flags=tuple(dict.fromkeys(flags)),
        side_inches=float(side_inches),
        picture=coded8_from_linear(linear),
        valid=None if shows.all() else shows,
        order_sd=round(min(order_sd, float(sd[0])), 3),
    )


def _triple(values: NDArray[np.floating]) -> tuple[float, float, float]:
    first, second, third = (round(float(v), 3) for v in values)
    return first, second, third


class _Sample:
    """About 2,000 samples of a square on an even grid: ``linear`` (K, 3), ``lab`` (K, 3), and
    ``flatness`` (K,), which is the less, the more CIELAB changes from one to its neighbours."""

    def __init__(
        self, linear: NDArray[np.float32], lab: NDArray[np.float32], mask: NDArray[np.bool_]
    ) -> None:
        step = max(1, linear.shape[0] // 48)
        keep = mask[::step, ::step]
        if np.count_nonzero(keep) < 2:
            step, keep = 1, mask
        change = np.asarray(cv2.morphologyEx(lab, cv2.MORPH_GRADIENT, _NEIGHBOURS))
        steepness = np.square(change[::step, ::step][keep]).sum(axis=1) / _FLAT_WITHIN**2
        self.flatness = np.asarray(_EDGE_WEIGHT + 1 / (1 + np.square(steepness)), np.float32)
        self.linear = linear[::step, ::step][keep]
        self.lab = lab[::step, ::step][keep]


def _own_doubt(shown: float, clipped: float, variance: NDArray[np.float64]) -> NDArray[np.float64]:
    """One standard deviation (3,) that the square itself adds: parts that are hidden may differ
    from those that show, and clipped parts may be brighter than they seem."""
    hidden = 0.5 * (1.0 - shown) * float(np.sqrt(variance.max()))
    return np.array([hidden + 4.0 * clipped, hidden + 6.0 * clipped, hidden + 6.0 * clipped])


def _differs_by_piece(
    linear: NDArray[np.float32], mask: NDArray[np.bool_], side_inches: float
) -> bool:
    """Whether pieces of the usual size, as they would be cut, differ much in value."""
    values = piece_values_of(linear, mask, side_inches, PIECE_INCHES)
    return len(values) > 1 and float(np.ptp(values[:, 0])) > STRONG_PRINT


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
    samples: NDArray[np.float32],
    side_inches: float,
) -> Texture:
    """The print's texture, its scale in inches; measured on fewer samples than the picture has,
    which still shows repeats down to a fortieth of the side."""
    signal = print_signal(lab, samples)
    side = min(lab.shape[0], _TEXTURE_SIDE)
    if side < lab.shape[0]:
        signal = np.asarray(cv2.resize(signal, (side, side), interpolation=cv2.INTER_AREA))
        near = cv2.resize(mask.view(np.uint8), (side, side), interpolation=cv2.INTER_NEAREST)
        mask = np.asarray(near > 0)
    texture = measure_texture(signal, mask)
    return replace(texture, scale=texture.scale * side_inches / side)


def _stripes(texture: Texture | None) -> float | None:
    if texture is None or texture.stripe_degrees is None:
        return None
    return round(texture.stripe_degrees, 1) % 180.0
