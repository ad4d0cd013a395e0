"""Measuring as the commands do it: arguments in, a bundle out."""

import argparse
import os
from pathlib import Path

from app.commands._cloth import cloth_files
from app.commands._photos import hints_for, picture_paths, references_for, whites_for
from app.commands._workers import workers
from app.terminal import Progress
from colorcore.bundle import Bundle
from colorcore.errors import OutputError


def measure(args: argparse.Namespace) -> Bundle:
    """Measure the photos that ``args`` names, with everything it says about them."""
    from colorcore.measuring import measure_photos

    paths = picture_paths(args.photos)
    for place in (getattr(args, "overlay", None), args.out):
        if place is not None:
            _spare_photos(place, paths)
    with workers(len(paths)) as executor, Progress(lines=args.progress) as progress:
        # Photos of background cloth are counted after these.
        count = len(paths) + len(cloth_files(args))
        return measure_photos(
            paths,
            square_inches=args.square_inches,
            hints=hints_for(args, count)[: len(paths)],
            white=whites_for(args, count)[: len(paths)],
            references=references_for(args, count)[: len(paths)],
            name=args.name.strip(),
            progress=progress,
            executor=executor,
        )


def check_place(path: str) -> None:
    """See that a file can be written, before the work and not after it.

    Raises
    ------
    OutputError
        If its folder is missing or closed, or a folder of that name is in the way.
    """
    place = Path(path)
    if place.is_dir():
        raise OutputError(f"{path}: this is a folder; give the name of a file in it.")
    if not place.parent.is_dir():
        raise OutputError(f"{path}: there is no folder {place.parent}; make it first.")
    if not os.access(place.parent, os.W_OK):
        raise OutputError(f"{path}: its folder cannot be written; choose another place.")


def save_overlays(args: argparse.Namespace, bundle: Bundle) -> tuple[Path, ...]:
    """Write every photo with its squares outlined, under the addresses that they have in the
    bundle, and return the files.

    Raises
    ------
    OutputError
        If one cannot be written.
    """
    from colorcore.finding import find_squares
    from colorcore.finding.overlay import draw_outlines
    from colorcore.photo import open_photo
    from colorcore.sheets.pictures import encode_picture
    from colorcore.writing import write_atomically

    paths = picture_paths(args.photos)
    hints = hints_for(args, len(paths))
    place = Path(args.overlay)
    written = []
    for number, (path, hint) in enumerate(zip(paths, hints, strict=True), 1):
        photo = open_photo(path)
        finding = find_squares(photo, hints=hint, square_inches=args.square_inches)
        name = place.stem if len(paths) == 1 else f"{place.stem}-{number}"
        file = place.with_name(name + place.suffix)
        names = {s.address: f"{number}-{s.address}" for s in finding.squares if len(paths) > 1}
        names = {own: bundle.counted.get(name, name) for own, name in names.items()}
        picture = draw_outlines(photo, finding, names=names)
        write_atomically(file, encode_picture(picture, place.suffix))
        written.append(file)
    return tuple(written)


def _spare_photos(place: str, paths: list[Path]) -> None:
    wanted = Path(place).resolve()
    for path in paths:
        if path.resolve() == wanted:
            raise OutputError(f"{place}: this would overwrite the photo; choose another name.")
