"""Backgrounds that a maker marks on her photos, and what tells one background from another."""

from __future__ import annotations

import hashlib
from typing import TYPE_CHECKING

from colorcore.errors import ColorError
from colorcore.project import Choices, ProjectPhoto
from colorcore.project.addresses import region_name

# The first page is shown before any of these is needed.
if TYPE_CHECKING:
    from colorcore.bundle import Bundle
    from colorcore.contrast import Background
    from colorcore.measuring import MeasuredPhoto
    from colorcore.photo import Photo


def background_mark(background: Background) -> tuple[object, ...]:
    """Return what tells a background from another: of one name, a fabric of the stash may be
    another one since."""
    picture = background.picture
    return (
        background.label, background.lab, background.lab_sd, background.order_sd, background.photo,
        background.pixels_per_inch,
        "" if picture is None else hashlib.sha256(picture.tobytes()).hexdigest(),
    )  # fmt: skip


def marked_photo(choices: Choices, number: int) -> ProjectPhoto:
    """Return the photo of that number, counted from 1, on which background fabric is marked.

    Raises
    ------
    ColorError
        If there is none.
    """
    item = dict(enumerate(choices.photos, start=1)).get(number)
    if item is None or not item.background:
        raise ColorError(
            f"{region_name(number)}: no background fabric is marked there; mark it on the page "
            "'Check the squares'."
        )
    return item


def region_background(
    item: ProjectPhoto, number: int, measured: MeasuredPhoto, photo: Photo, square_inches: float
) -> Background:
    """Return what is marked on the photo of that number, measured, as a background."""
    import numpy as np

    from colorcore.contrast.sources import background_from_photo
    from colorcore.geometry import mean_side

    corners = np.array(item.background) * [photo.width, photo.height]
    sides = [mean_side(found.corners) for found in measured.finding.squares]
    return background_from_photo(
        photo,
        measured.calibration,
        corners,
        photo_pixels_per_inch=float(np.median(sides)) / square_inches,
        label=region_name(number),
        index=number - 1,
    )


def marked_squares(choices: Choices, bundle: Bundle) -> tuple[str, ...]:
    """Return the squares on whose cloth a region lies that is marked as background fabric."""
    import numpy as np

    from colorcore.geometry import center, holds

    found = list[str]()
    for index, (item, record) in enumerate(zip(choices.photos, bundle.photos, strict=True)):
        if not item.background:
            continue
        middle = center(np.array(item.background) * [record.width, record.height])
        # Squares that overlap hold one another's middles.
        near = {
            square.id: float(np.linalg.norm(center(np.array(square.corners)) - middle))
            for square in bundle.squares
            if square.photo == index and holds(np.array(square.corners), middle)
        }
        found += [min(near, key=near.__getitem__)] if near else []
    return tuple(found)
