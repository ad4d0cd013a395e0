"""Measure found squares: from their outlines in a photo to Swatches, all squares together."""

from collections.abc import Callable, Sequence
from concurrent.futures import Executor, ThreadPoolExecutor
from typing import Final

import numpy as np
from numpy.typing import NDArray

from colorcore.finding.model import FoundSquare
from colorcore.geometry import mean_side, side_lengths
from colorcore.photo import Photo
from colorcore.swatch.blocks import BlocksAhead, begin_blocks, window_of
from colorcore.swatch.looking import Light, Look, look_at_square
from colorcore.swatch.model import PaletteColor, Swatch
from colorcore.swatch.palette import extract_palettes
from colorcore.swatch.rectifying import picture_side
from colorcore.swatch.texture import Texture

READING_INCHES: Final = 72.0
"""Reading distance, 6 ft: common practice for looking at fabric on a wall, no source."""
GLARE_SD: Final = 6.0
"""CIELAB units of doubt, times the share that glares: its tail reaches beyond what is left out."""
SHARPENED_SD: Final = 0.001
"""CIELAB units of doubt per unit of a print's unrest. The mean of light rises with the variance
of codes that sharpening adds, by -0.0004 L* (not sharpened, chroma at half resolution) to 0.0016
(unsharp mask of strength 1, standard deviation 1.2 pixels) per unit: 390 rendered squares."""
_LONG: Final = 0.6
"""How much longer than wide an outline must be to be a strip: no tilt makes a square that long."""
_LEAST_PIXELS: Final = 96
_CLIPPED: Final = 0.01

Array = NDArray[np.float64]


def measure_squares(
    photo: Photo,
    calibration: Light,
    found: Sequence[FoundSquare],
    *,
    side_inches: float,
    index: int = 0,
    reading_inches: float = READING_INCHES,
    threads: int = 1,
    each: Callable[[int], None] | None = None,
    ahead: BlocksAhead | None = None,
) -> tuple[Swatch, ...]:
    """Return what every square of ``found`` measures, in that order.

    Parameters
    ----------
    side_inches : float
        Nominal side of the precut squares.
    index : int
        The photo's place in the bundle.
    reading_inches : float
        The distance at which value spread, busyness and reads-as-solid are judged.
    threads : int
        How many squares are looked at side by side; the result is the same for any number.
    each : function of the number of squares looked at, optional
        Called in this thread; what it raises ends the measuring, and squares that were not begun
        are left.
    ahead : BlocksAhead, optional
        What ``read_ahead`` began.

    Numbers are rounded to what a bundle file keeps, so that a file gives back the same.
    """
    outlines = [np.asarray(square.corners, dtype=np.float64) for square in found]
    if not outlines:
        return ()
    calibration.prepare(outlines)

    def look(number: int) -> Look:
        return look_at_square(
            photo,
            calibration,
            outlines[number],
            found[number].visible,
            side_inches=side_inches,
            reading_inches=reading_inches,
            ahead=ahead,
        )

    workers = max(1, min(threads, len(found)))
    with ThreadPoolExecutor(workers) as pool:
        if each is None:
            looks = _in_shares(pool, look, len(found), workers)
        else:
            looks = _side_by_side(pool, look, len(found), each)
        shares = [looks[first::workers] for first in range(workers)]
        palettes: list[tuple[PaletteColor, ...]] = [()] * len(looks)
        for first, some in enumerate(pool.map(_palettes, shares)):
            palettes[first::workers] = some
    lab_sd, order_sd = _doubts(calibration, looks, photo.scene_linear)
    return tuple(
        _swatch(square, looks[i], palettes[i], lab_sd[i], order_sd[i], flags, side_inches, index)
        for i, square in enumerate(found)
        for flags in [_flags(calibration, square, looks[i])]
    )


def read_ahead(photo: Photo, found: Sequence[FoundSquare], pool: Executor) -> BlocksAhead:
    """Let a thread of ``pool`` read the pixels of squares that will be measured, while other work
    goes on: the light does not have to be known for that."""
    outlines = [np.asarray(square.corners, dtype=np.float64) for square in found]
    windows = [window_of(photo, corners, picture_side(corners)) for corners in outlines]
    return begin_blocks(photo, windows, pool)


def measure_square(
    photo: Photo,
    calibration: Light,
    found: FoundSquare,
    *,
    side_inches: float,
    index: int = 0,
    reading_inches: float = READING_INCHES,
) -> Swatch:
    """Return what one square measures; see ``measure_squares``."""
    (swatch,) = measure_squares(
        photo,
        calibration,
        [found],
        side_inches=side_inches,
        index=index,
        reading_inches=reading_inches,
    )
    return swatch


def _in_shares(
    pool: ThreadPoolExecutor, look: Callable[[int], Look], count: int, workers: int
) -> list[Look]:
    """What ``count`` squares show, each thread looking at its share: with nobody to tell, nobody
    has to be woken for every square."""
    shares = [range(first, count, workers) for first in range(workers)]
    looks: dict[int, Look] = {}

    def look_at(share: range) -> None:
        looks.update({number: look(number) for number in share})

    list(pool.map(look_at, shares))
    return [looks[k] for k in range(count)]


def _side_by_side(
    pool: ThreadPoolExecutor,
    look: Callable[[int], Look],
    count: int,
    each: Callable[[int], None],
) -> list[Look]:
    looks: list[Look] = []
    try:
        for one in pool.map(look, range(count)):
            looks.append(one)
            each(len(looks))
    except BaseException:
        pool.shutdown(wait=False, cancel_futures=True)
        raise
    return looks


def _palettes(looks: Sequence[Look]) -> list[tuple[PaletteColor, ...]]:
    return extract_palettes(
        np.stack([one.samples.linear for one in looks]),
        np.stack([one.samples.lab for one in looks]),
        np.stack([one.samples.flatness for one in looks]),
        np.stack([one.samples.shown for one in looks]),
    )


def _doubts(calibration: Light, looks: Sequence[Look], scene_linear: bool) -> tuple[Array, Array]:
    """One standard deviation of CIELAB (B, 3), and of L* against the other squares (B,)."""
    corners = np.stack([one.corners for one in looks])
    lab = np.round([one.lab for one in looks], 3)
    own = np.array([_own_doubt(one, scene_linear) for one in looks])
    sd = np.hypot(calibration.lab_sd(corners, lab), own)
    order_sd = np.hypot(calibration.order_sd(corners, lab), own[:, 0])
    glare = GLARE_SD * np.array([one.glare or 0.0 for one in looks])
    sd = sd + glare[:, None]
    return sd, np.minimum(order_sd + glare, np.round(sd[:, 0], 3))


def _own_doubt(one: Look, scene_linear: bool) -> tuple[float, float, float]:
    """One standard deviation of L*, a*, b* that the square itself adds: parts that are hidden may
    differ from those that show, clipped parts may be brighter than they seem, and how much the
    camera sharpened a print, or halved its chroma, nobody tells."""
    hidden = 0.5 * (1.0 - one.shown) * float(np.sqrt(one.variance.max()))
    lightness, tint = hidden + 4.0 * one.clipped, hidden + 6.0 * one.clipped
    if not scene_linear:
        # Halos are a few pixels wide: the more pixels an inch has, the less of it they cover.
        fineness = len(one.picture) / mean_side(one.corners)
        sharpened = SHARPENED_SD * one.samples.unrest * fineness
        lightness, tint = float(np.hypot(lightness, sharpened)), float(np.hypot(tint, sharpened))
    return lightness, tint, tint


def _flags(calibration: Light, square: FoundSquare, one: Look) -> tuple[str, ...]:
    lengths = side_lengths(one.corners)
    own = {
        "glare": one.glare is not None,
        "clipped": one.clipped > _CLIPPED,
        "few-pixels": len(one.picture) < _LEAST_PIXELS,
        "no-scale": bool(lengths.max() > (1 + _LONG) * lengths.min()),
        "strong-print": one.strong,
    }
    flags = (*square.flags, *calibration.flags(one.corners), *(f for f, on in own.items() if on))
    return tuple(dict.fromkeys(flags))


def _swatch(
    square: FoundSquare,
    one: Look,
    palette: tuple[PaletteColor, ...],
    sd: Array,
    order_sd: float,
    flags: tuple[str, ...],
    side_inches: float,
    index: int,
) -> Swatch:
    return Swatch(
        id=square.address,
        photo=index,
        row=square.row,
        column=square.column,
        corners=tuple((round(float(x), 2), round(float(y), 2)) for x, y in one.corners),
        lab=_triple(one.lab),
        lab_sd=_triple(sd),
        value_spread=round(one.value_spread, 2),
        palette=palette,
        print_scale_inches=None if one.texture is None else round(one.texture.scale, 2),
        stripe_degrees=_stripes(one.texture),
        busyness=round(float(np.sqrt(one.variance[0])), 2),
        reads_as_solid=one.texture is None,
        fabric=-1,
        confidence=round(float(square.confidence), 3),
        flags=flags,
        side_inches=float(side_inches),
        picture=one.picture,
        valid=one.valid,
        order_sd=round(float(order_sd), 3),
    )


def _triple(values: Array) -> tuple[float, float, float]:
    first, second, third = (round(float(v), 3) for v in values)
    return first, second, third


def _stripes(texture: Texture | None) -> float | None:
    if texture is None or texture.stripe_degrees is None:
        return None
    return round(texture.stripe_degrees, 1) % 180.0
