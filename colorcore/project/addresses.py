"""Addresses when photos come and go: what a maker said of a square stays with that square.

A square that shows in several photos is counted in one of them, and in which may change too. With
one photo a square is ``B3``, with several ``2-B3``, numbered in the order of the photos; a
region of background fabric is ``fabric on photo 2``.
"""

import re
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import replace
from typing import Any, Final, TypeVar

import numpy as np

from colorcore.geometry import Quad, center, holds
from colorcore.project.model import Choices, ProjectPhoto

_SQUARE: Final = re.compile(r"(?:(\d{1,3})-)?([a-z]{1,2}\d{1,3})", re.IGNORECASE)
T = TypeVar("T", bound=tuple[Any, ...])
_REGION: Final = re.compile(r"(?:fabric on photo|region) (\d{1,3})", re.IGNORECASE)
"""The shorter one is quicker to write, and kept in older projects."""


def region_name(place: int) -> str:
    """Return what the region of background fabric on a photo is called, counted from 1."""
    return f"fabric on photo {place}"


def region_place(text: str) -> int | None:
    """Return which photo's region a background means, counted from 1; None if it means none."""
    found = _REGION.fullmatch(text.strip())
    return int(found[1]) if found else None


def with_corrected(choices: Choices, photo: ProjectPhoto) -> Choices:
    """Return choices with what is known better of one of their photos. Background fabric that is
    marked is the background, unless another one was chosen; and no longer, once it is not."""
    place = next(n for n, p in enumerate(choices.photos, start=1) if p.sha256 == photo.sha256)
    before, now = choices.photos[place - 1].background, photo.background
    background = choices.background
    if now and not before and not background:
        background = region_name(place)
    elif before and not now and region_place(background) == place:
        background = ""
    return replace(choices.with_photo(photo), background=background)


def with_photos(
    choices: Choices,
    photos: tuple[ProjectPhoto, ...],
    same: Iterable[Sequence[str]] = (),
) -> Choices:
    """Return choices with these photos, in which locks, places, substitutes and backgrounds mean
    the squares and regions that they meant before; what was said of a photo that is gone is gone.

    ``same`` are the addresses of each square that shows in several photos: what was said of it is
    said of it still where one of these stays.
    """
    now = {photo.sha256: place for place, photo in enumerate(photos, start=1)}
    places = {place: now.get(photo.sha256) for place, photo in enumerate(choices.photos, start=1)}
    square = _any_of(_renamer(places, len(choices.photos), len(photos)), same)

    def region(place: int) -> str | None:
        new = places.get(place, place)
        return None if new is None else region_name(new)

    return replace(_renamed(choices, square, region), photos=photos)


def says_of_squares(choices: Choices) -> bool:
    """Whether something was said of a square by its address, so that it has to be followed."""
    grounds = (choices.background, *choices.tries)
    return bool(choices.locks or choices.swaps) or any(_SQUARE.fullmatch(g) for g in grounds)


def with_counted(choices: Choices, counted: Mapping[str, str]) -> Choices:
    """Return choices in which what was said of a square is said of the address that it has.

    ``counted`` gives that by the addresses that squares would have in photos where they show and
    are not counted. Where something was said of both, what was said of its own address holds.
    """
    fold = {address.casefold(): square for address, square in counted.items()}
    new = _renamed(choices, lambda old: fold.get(old.casefold(), old), region_name)
    return replace(
        new,
        locks=_once(choices.locks, new.locks),
        places=_once(choices.places, new.places),
        swaps=_once(choices.swaps, new.swaps),
    )


def with_renamed(
    choices: Choices,
    place: int,
    before: Mapping[str, Quad],
    after: Mapping[str, Quad],
    same: Iterable[Sequence[str]] = (),
) -> Choices:
    """Return choices in which what was said of a square of the photo at ``place``, counted from 1,
    is said of the square that lies there now.

    ``before`` and ``after`` are outlines (4, 2) by their addresses on that photo alone. Rows and
    columns are counted anew when squares are added or taken out, so a square may be called
    otherwise; what was said of one that is no longer there is dropped, unless it shows in another
    photo: ``same`` as in ``with_photos``.
    """
    several = len(choices.photos) > 1
    # Outlines of squares that overlap hold one another's middles: the nearest is the same square.
    pairs = sorted(
        (float(np.linalg.norm(center(one) - center(other))), old, new)
        for old, one in before.items()
        for new, other in after.items()
        if holds(other, center(one))
    )
    now: dict[str, str | None] = dict.fromkeys(before)
    for _, old, new in pairs:
        if now[old] is None and new not in now.values():
            now[old] = new

    def square(old: str) -> str | None:
        found = _SQUARE.fullmatch(old)
        if found is None or (int(found[1]) if found[1] else None) != (place if several else None):
            return old
        new = now.get(found[2].upper(), found[2])
        return None if new is None else f"{place}-{new}" if several else new

    return _renamed(choices, _any_of(square, same), region_name)


def _any_of(
    rename: Callable[[str], str | None], same: Iterable[Sequence[str]]
) -> Callable[[str], str | None]:
    """The new name of a square by any of those that it has."""
    names = {name.casefold(): group for group in same for name in group}

    def of_any(old: str) -> str | None:
        ways = (old, *names.get(old.casefold(), ()))
        return next((new for name in ways if (new := rename(name)) is not None), None)

    return of_any


def _once(before: tuple[T, ...], after: tuple[T, ...]) -> tuple[T, ...]:
    """What is said by address, once for each: that whose address did not change goes first."""
    first = [new for old, new in zip(before, after, strict=True) if old == new]
    kept = {new[0]: new for new in (*reversed(after), *first)}
    return tuple(dict.fromkeys(kept[new[0]] for new in after))


def _renamed(
    choices: Choices,
    square: Callable[[str], str | None],
    region: Callable[[int], str | None],
) -> Choices:
    """Choices with squares and regions by other names; what has none any more is dropped."""

    def ground(text: str) -> str | None:
        place = region_place(text)
        if place is not None:
            return region(place)
        return square(text.strip()) if _SQUARE.fullmatch(text.strip()) else text

    return replace(
        choices,
        background=ground(choices.background) or "",
        tries=tuple(new for text in choices.tries if (new := ground(text)) is not None),
        locks=tuple((new, to) for old, to in choices.locks if (new := square(old)) is not None),
        places=tuple((new, to) for old, to in choices.places if (new := square(old)) is not None),
        swaps=tuple(
            (new, sha256, words)
            for old, sha256, words in choices.swaps
            if (new := square(old)) is not None
        ),
    )


def _renamer(places: dict[int, int | None], before: int, after: int) -> Callable[[str], str | None]:
    """What a square is called by now; None if its photo is gone. ``places`` of photos by the
    places that they had."""

    def rename(old: str) -> str | None:
        found = _SQUARE.fullmatch(old)
        if found is None or (found[1] is None) != (before == 1):
            # Not the address of a square as these photos give it: it stays as it was said.
            return old
        new = places.get(int(found[1] or 1))
        if new is None:
            return None
        return found[2] if after == 1 else f"{new}-{found[2]}"

    return rename
