"""Whether a photo is blurred: no outline of a square has a sharp step, nor has its print."""

from typing import Final

import numpy as np
from numpy.typing import NDArray

from colorcore.finding.model import Finding
from colorcore.light.places import outlines_of
from colorcore.photo import Photo

Array = NDArray[np.float64]

_SQUARES: Final = 16
_ALONG: Final = np.array([0.2, 0.35, 0.5, 0.65, 0.8])
"""Where along a side a square is looked across."""
_REACH: Final = 0.2
"""How far to either side of the outline, as a share of the side."""
_SAMPLES: Final = 81
_CONTRAST: Final = 0.12
"""Least step, as a share of full scale: soft shadows round cloth that lies on its own colour are
weaker."""
_LEAST: Final = 24
"""Steps that must be seen before anything is said."""
_SHARPEST: Final = 0.25
_WIDE: Final = 0.05
"""Share of a square's side."""
_WIDE_PIXELS: Final = 5.0

BLUR_NOTE: Final = (
    "The photo is blurred: hold the camera still, tap on a square to focus, and take it again."
)


def is_blurred(photo: Photo, finding: Finding) -> bool:
    """Whether even the sharper steps across the outlines of squares are spread over more than a
    twentieth of a square's side.

    Of 44 rendered scenes, sharp ones came to 0.2 to 0.5 of that, slightly blurred and badly stored
    ones to 0.6; a Gaussian of 0.06 of a side makes it 1.3 to 2.4.
    """
    widths = step_widths(photo, finding)
    if len(widths) < _LEAST:
        return False
    return bool(np.quantile(widths, _SHARPEST) > 1.0)


def step_widths(photo: Photo, finding: Finding) -> Array:
    """Widths (N,) of the steps across outlines, 1.0 what counts as blurred: each the whole rise
    over the steepest slope, so that noise, prints and whole pixels make them narrower, never
    wider."""
    outlines = outlines_of(finding)
    outlines = outlines[:: max(1, len(outlines) // _SQUARES)]
    if not len(outlines):
        return np.zeros(0)
    start, stop = outlines, np.roll(outlines, -1, axis=1)
    side = stop - start
    length = np.linalg.norm(side, axis=-1)
    across = np.stack([side[..., 1], -side[..., 0]], axis=-1)
    offsets = np.linspace(-_REACH, _REACH, _SAMPLES)
    feet = start[:, :, None] + side[:, :, None] * _ALONG[:, None]
    points = feet[..., None, :] + across[:, :, None, None] * offsets[:, None]
    columns, rows = np.moveaxis(np.floor(points).astype(np.intp), -1, 0)
    inside = (columns >= 0) & (rows >= 0) & (columns < photo.width) & (rows < photo.height)
    whole = inside.all(axis=-1)
    values = photo.pixels[rows[whole], columns[whole], 1].astype(np.float64)
    values /= np.iinfo(photo.pixels.dtype).max
    lengths = np.broadcast_to(length[..., None], whole.shape)[whole]
    rise = np.ptp(values, axis=1)
    # Over two samples: one step of pixels may fall between two of them.
    steepest = np.abs(values[:, 2:] - values[:, :-2]).max(axis=1)
    seen = rise > _CONTRAST
    spacing = 2 * (offsets[1] - offsets[0])
    width = rise[seen] / steepest[seen] * spacing * lengths[seen]
    return np.asarray(width / np.maximum(_WIDE * lengths[seen], _WIDE_PIXELS))
