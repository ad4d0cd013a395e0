"""Where a background comes from: a square, a region of a photo, the stash or a colour."""

from collections.abc import Callable
from dataclasses import replace
from typing import TYPE_CHECKING, Any, Final

import numpy as np
from numpy.typing import NDArray

from colorcore.bundle import Bundle
from colorcore.bundle.addressing import which_photo
from colorcore.contrast.background import Background
from colorcore.errors import ColorError
from colorcore.geometry import Quad, area, mean_side
from colorcore.plain import writable
from colorcore.swatch import Swatch
from colorcore.wording import as_typed

if TYPE_CHECKING:
    from colorcore.light import Calibration
    from colorcore.photo import Photo

STASH_PREFIX: Final = "stash:"
"""Says that a name is meant for the stash alone, should it also be a colour or an address."""

StashLookup = Callable[[str], Background | None]
"""Returns the fabric of that name as a background, or None if the stash has none."""


def find_background(
    text: str, bundle: Bundle | None = None, *, stash: StashLookup | None = None
) -> tuple[Background, tuple[str, ...]]:
    """Return the background that ``text`` means, and the squares that are used up by it.

    A square's address is looked for first (no colour reads like one; the light cancels, as it
    fell on both), then the stash, then a colour as CSS writes it.

    Raises
    ------
    ColorError
        If it is none of them.
    """
    from colorcore.color.parse import parse_color

    name = writable(as_typed(text))
    squares = () if bundle is None or name.startswith(STASH_PREFIX) else bundle.squares
    elsewhere = {} if bundle is None else bundle.counted
    counted = {address.casefold(): square for address, square in elsewhere.items()}
    for square in squares:
        if square.id.casefold() == counted.get(name.casefold(), name).casefold():
            found = background_from_swatch(square)
            return replace(found, order_sd=square.order_sd, photo=square.photo), (square.id,)
    in_stash = name.removeprefix(STASH_PREFIX).strip()
    kept = stash(in_stash) if stash is not None and in_stash else None
    if kept is not None:
        return kept, ()
    if name.startswith(STASH_PREFIX):
        raise ColorError(
            f"The stash has no fabric named {in_stash!r}; give a name that it lists, or a colour."
        )
    try:
        return Background(label=name, lab=parse_color(name)), ()
    except ColorError as error:
        remedy = which_photo(name, [square.id for square in squares])
        if remedy:
            raise ColorError(f"{name} does not say which photo's square it is; {remedy}.") from None
        places = "the address of a square" + (
            " or the name of a fabric in the stash" if stash else ""
        )
        raise ColorError(f"{str(error).rstrip('.')}. A background may also be {places}.") from None


def background_from_swatch(swatch: Swatch) -> Background:
    """Return a measured square as background; it counts as a print unless it reads as a solid."""
    return Background(
        label=f"square {swatch.id}",
        lab=swatch.lab,
        lab_sd=swatch.lab_sd,
        picture=None if swatch.reads_as_solid else _filled(swatch.picture, swatch.valid),
        pixels_per_inch=swatch.picture.shape[0] / swatch.side_inches,
    )


def background_from_region(
    linear: NDArray[np.floating[Any]],
    *,
    label: str,
    pixels_per_inch: float,
    lab_sd: tuple[float, float, float] = (0.0, 0.0, 0.0),
    solid_spread: float = 6.0,
) -> Background:
    """Return a region of a photo as background.

    Parameters
    ----------
    linear : (N, M, 3)
        The region straightened, light undone, linear light (1.0 = perfect white).
    solid_spread : float
        Below this spread of L* (90th less 10th percentile, over eighths of an inch) it counts as
        a plain colour.

    Raises
    ------
    ColorError
        If the region holds no pixels.
    """
    from colorcore.color.spaces import coded_from_linear, lab_from_linear

    if linear.ndim != 3 or linear.shape[2] != 3 or not linear.size:
        raise ColorError("The region marked as background is empty; mark a larger one.")
    mean = linear.reshape(-1, 3).mean(axis=0, dtype=np.float64)
    lab = tuple(float(v) for v in lab_from_linear(mean))
    step = max(1, round(pixels_per_inch / 8))
    rows, columns = (max(1, n // step) for n in linear.shape[:2])
    blocks = linear[: rows * step, : columns * step]
    if min(linear.shape[:2]) >= step:
        blocks = blocks.reshape(rows, step, columns, step, 3).mean(axis=(1, 3))
    low, high = np.percentile(lab_from_linear(blocks)[..., 0], [10, 90])
    coded = np.clip(coded_from_linear(linear), 0, 1)
    return Background(
        label=label,
        lab=(lab[0], lab[1], lab[2]),
        lab_sd=lab_sd,
        picture=None
        if high - low < solid_spread
        else np.asarray(np.rint(coded * 255), dtype=np.uint8),
        pixels_per_inch=pixels_per_inch,
    )


def background_from_photo(
    photo: "Photo",
    calibration: "Calibration",
    corners: Quad,
    *,
    photo_pixels_per_inch: float,
    label: str,
    index: int | None = None,
) -> Background:
    """Return the region inside ``corners`` (4, 2), pixels of the upright photo, as background.

    ``photo_pixels_per_inch`` is that of the squares near it. ``index`` is the photo's place in the
    bundle, if these are squares of it: then light and camera cancel in the comparison.

    Raises
    ------
    ColorError
        If the region is empty.
    """
    from colorcore.swatch.rectifying import picture_side, rectify

    if abs(area(corners)) < 1 or not photo_pixels_per_inch > 0:
        raise ColorError("The region marked as background is empty; mark a larger one.")
    side = picture_side(corners)
    patch = rectify(photo, corners, side=side)
    even = calibration.apply(patch.linear, corners)
    inches = mean_side(corners) / photo_pixels_per_inch
    found = background_from_region(even, label=label, pixels_per_inch=side / inches)
    lab = np.array(found.lab)
    sd = calibration.lab_sd(corners, lab)
    return replace(
        found,
        lab_sd=(float(sd[0]), float(sd[1]), float(sd[2])),
        order_sd=None if index is None else float(calibration.order_sd(corners, lab)),
        photo=index,
    )


def _filled(picture: NDArray[np.uint8], valid: NDArray[np.bool_] | None) -> NDArray[np.uint8]:
    """Return an upright part of a square that shows wholly, as much as its worst edges leave one
    after another, or all of it if that comes to nothing."""
    if valid is None or valid.all():
        return picture
    top, bottom, left, right = 0, picture.shape[0], 0, picture.shape[1]
    while bottom - top > 8 and right - left > 8 and not valid[top:bottom, left:right].all():
        missing = {
            "top": (~valid[top, left:right]).mean(),
            "bottom": (~valid[bottom - 1, left:right]).mean(),
            "left": (~valid[top:bottom, left]).mean(),
            "right": (~valid[top:bottom, right - 1]).mean(),
        }
        worst = max(missing, key=lambda side: missing[side])
        if missing[worst] == 0:
            # A hole inside; leave the narrower side of it out by going on from the top.
            worst = "top"
        top += worst == "top"
        bottom -= worst == "bottom"
        left += worst == "left"
        right -= worst == "right"
    shown = valid[top:bottom, left:right].all()
    return picture[top:bottom, left:right] if shown else picture
