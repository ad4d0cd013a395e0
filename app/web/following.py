"""What was said of a square stays with it when photos, or what is known of them, change.

Pure steps from choices to choices; a workshop is asked for the squares.
"""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

from colorcore.errors import BundleError
from colorcore.project import Choices, ProjectPhoto
from colorcore.project.addresses import (
    says_of_squares,
    with_corrected,
    with_counted,
    with_photos,
    with_renamed,
)

if TYPE_CHECKING:
    from app.web.workshop import Workshop


def corrected(workshop: Workshop, choices: Choices, photo: ProjectPhoto) -> Choices:
    """Return choices with what is known better of one of their photos, in which what was said of a
    square by its address is said of it still, should rows and columns be counted anew."""
    new = with_corrected(choices, photo)
    if not says_of_squares(choices):
        return new
    place = [p.sha256 for p in choices.photos].index(photo.sha256) + 1
    try:
        before, after = (
            {s.address: s.corners for s in workshop.finding(item, choices.square_inches).squares}
            for item in (choices.photos[place - 1], photo)
        )
    except BundleError:
        # Nothing is found any more, or nothing was: there is nothing to follow.
        return new
    return with_renamed(new, place, before, after, _same_squares(workshop, choices))


def without(workshop: Workshop, choices: Choices, photo: ProjectPhoto) -> Choices:
    """Return choices without one of their photos, in which what was said of a square that another
    photo shows as well is said of it still."""
    left = tuple(p for p in choices.photos if p.sha256 != photo.sha256)
    same = _same_squares(workshop, choices) if says_of_squares(choices) else ()
    return with_photos(choices, left, same)


def as_counted(workshop: Workshop, choices: Choices) -> Choices:
    """Return choices in which what was said of a square is said of the photo in which it is counted
    by now: another may show it better. Squares then have to be dealt anew.

    Raises
    ------
    FindingError, ColorError
        As ``Workshop.measured``.
    """
    if len(choices.photos) < 2 or not says_of_squares(choices):
        return choices
    new = with_counted(choices, workshop.bundle(replace(choices, swaps=())).counted)
    return choices if new == choices else replace(new, dealt_for="")


def _same_squares(workshop: Workshop, choices: Choices) -> tuple[tuple[str, ...], ...]:
    """The addresses of each square that shows in several photos."""
    if len(choices.photos) < 2:
        return ()
    try:
        return workshop.bundle(replace(choices, swaps=())).same_squares
    except BundleError:
        # Nothing was found in a photo: that is told where the squares are looked at.
        return ()
