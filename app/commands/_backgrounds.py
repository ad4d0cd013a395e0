"""Backgrounds as the commands name them: a square, cloth in a photo, the stash or a colour."""

from collections.abc import Mapping
from functools import lru_cache
from pathlib import Path

from app.commands._cloth import NO_CLUE, Cloth, Clue, parse_cloth
from colorcore.bundle import Bundle
from colorcore.contrast import Background, find_background
from colorcore.errors import ColorError, FindingError, NothingFoundError
from colorcore.plain import writable


def read_background(
    text: str,
    bundle: Bundle,
    stash: str | None = None,
    clues: Mapping[str, Clue] | None = None,
) -> tuple[Background, tuple[str, ...]]:
    """Return the background that ``text`` means and the squares that are used up by it.

    A photo of the cloth is ``cloth.jpg`` if it shows one piece, ``cloth.jpg:B3`` for one of
    several, ``cloth.jpg@X,Y,X,Y`` for what lies between two corners in pixels; ``clues`` say by
    file what is known of it.

    Raises
    ------
    ColorError
        If it is neither a square's address nor a fabric of the stash nor a colour, or a photo
        in which the piece cannot be found.
    PhotoError, FindingError
        If a photo cannot be read, or shows no square to tell its scale by.
    StashError
        If the stash cannot be read.
    """
    from colorcore.stash.backgrounds import background_from_stash

    cloth = parse_cloth(text)
    if cloth is not None:
        clue = (clues or {}).get(cloth.file, NO_CLUE)
        return (_from_photo if cloth.region is None else _from_region)(cloth, clue), ()
    path = None if stash is None else Path(stash)
    return find_background(text, bundle, stash=lambda name: background_from_stash(name, path))


@lru_cache(maxsize=8)
def _from_photo(cloth: Cloth, clue: Clue) -> Background:
    from dataclasses import replace

    from colorcore.contrast.sources import background_from_swatch
    from colorcore.measuring import measure_photos

    name = cloth.file
    try:
        bundle = measure_photos(
            [name],
            square_inches=clue.square_inches,
            hints=[clue.hints],
            white=[clue.white],
            references=[clue.references],
        )
    except NothingFoundError as error:
        raise _no_piece(name) from error
    squares = {swatch.id.upper(): swatch for swatch in bundle.squares}
    wanted = cloth.address.upper() or (next(iter(squares)) if len(squares) == 1 else "")
    if wanted not in squares:
        shown = ", ".join(list(squares)[:12]) + (" and more" if len(squares) > 12 else "")
        raise ColorError(
            f"{name} shows {len(squares)} pieces ({shown}), and "
            f"{cloth.address or 'none is named'}{' is none of them' if cloth.address else ''}; "
            f"write {name}:{next(iter(squares))} for one of them."
        )
    label = writable(f"{Path(name).name}{f' {wanted}' if len(squares) > 1 else ''}")
    return _no_lighter_than_white(replace(background_from_swatch(squares[wanted]), label=label))


def _no_lighter_than_white(background: Background) -> Background:
    """Without a reference a photo's own scale may make cloth lighter than anything is: beside the
    squares of another photo that would seem to hold what melts."""
    from dataclasses import replace

    lightness, a, b = background.lab
    return replace(background, lab=(min(lightness, 100.0), a, b))


def _no_piece(name: str) -> FindingError:
    """What to do about a photo of the background's cloth that shows no piece of it; how to lay
    squares, or that they lie in rows and columns, would be no help."""
    return FindingError(
        f"{name}: no piece of cloth was found that ends within the photo; show the edges of one "
        "with the table around it, or measure the cloth into the stash (bundlestacks stash add "
        "PHOTO --as piece --name NAME) and give the background as that name."
    )


@lru_cache(maxsize=8)
def _from_region(cloth: Cloth, clue: Clue) -> Background:
    import numpy as np

    from colorcore.contrast.sources import background_from_photo
    from colorcore.geometry import mean_side
    from colorcore.measuring import measure_photo
    from colorcore.photo import open_photo

    name, box = cloth.file, cloth.region or (0.0, 0.0, 0.0, 0.0)
    photo = open_photo(name)
    x0, x1 = sorted((box[0], box[2]))
    y0, y1 = sorted((box[1], box[3]))
    if x1 > photo.width or y1 > photo.height or x1 - x0 < 4 or y1 - y0 < 4:
        raise ColorError(
            f"{name}@{','.join(f'{n:g}' for n in box)}: a region is at least 4 pixels wide and "
            f"high, within the photo's {photo.width} by {photo.height}."
        )
    try:
        measured = measure_photo(
            photo,
            square_inches=clue.square_inches,
            hints=clue.hints,
            white=clue.white,
            references=clue.references,
            alone=True,
        )
    except NothingFoundError as error:
        raise _no_piece(name) from error
    sides = [mean_side(found.corners) for found in measured.finding.squares]
    found = background_from_photo(
        photo,
        measured.calibration,
        np.array([(x0, y0), (x1, y0), (x1, y1), (x0, y1)]),
        photo_pixels_per_inch=float(np.median(sides)) / measured.squares[0].side_inches,
        label=writable(f"{Path(name).name}, marked region"),
    )
    return _no_lighter_than_white(found)
