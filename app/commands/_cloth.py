"""Photos of cloth as backgrounds: which piece in which photo, and what is known of the photo."""

import argparse
import re
from dataclasses import dataclass, replace
from pathlib import Path
from typing import TYPE_CHECKING, Final

from app.commands._photos import (
    PICTURE_ENDINGS,
    Point,
    hints_for,
    picture_paths,
    references_for,
    whites_for,
)

if TYPE_CHECKING:
    from colorcore.finding import Hints
    from colorcore.light import Reference

_REGION = re.compile(r"(?P<file>.+)@(?P<numbers>\d+(?:\.\d+)?(?:,\d+(?:\.\d+)?){3})")
_SQUARE = re.compile(r"(?P<file>.+):(?P<address>[A-Za-z]{1,2}\d{1,3})")


@dataclass(frozen=True)
class Cloth:
    """A photo of cloth: ``address`` of one of several pieces, or ``region`` (x0, y0, x1, y1)."""

    file: str
    address: str = ""
    region: tuple[float, float, float, float] | None = None


@dataclass(frozen=True, eq=False)
class Clue:
    """What the maker knows of a photo of cloth better than it shows. Told apart by identity."""

    square_inches: float = 10.0
    hints: "Hints | None" = None
    white: Point | None = None
    references: "tuple[Reference, ...]" = ()


NO_CLUE: Final = Clue()


def parse_cloth(text: str) -> Cloth | None:
    """Return the photo of cloth that a background's name means, None if it means none."""
    text = text.strip()
    region = _REGION.fullmatch(text)
    if region and is_picture(region["file"]):
        x0, y0, x1, y1 = (float(n) for n in region["numbers"].split(","))
        return Cloth(region["file"], region=(x0, y0, x1, y1))
    square = _SQUARE.fullmatch(text)
    if square and is_picture(square["file"]):
        return Cloth(square["file"], square["address"])
    return Cloth(text) if is_picture(text) else None


def is_picture(name: str) -> bool:
    """Whether a name is that of a picture."""
    return Path(name).suffix.lower() in PICTURE_ENDINGS


def cloth_clues(args: argparse.Namespace) -> dict[str, Clue]:
    """Return what the arguments say of every photo of cloth, by its file.

    These photos are counted after those of the bundle, in the order in which they are named; the
    side of the squares is that of the bundle's.
    """
    files = cloth_files(args)
    if not files:
        return {}
    bundle = [name for name in args.photos if not name.lower().endswith(".json")]
    first = len(picture_paths(bundle))
    count = first + len(files)
    each = zip(
        files,
        hints_for(args, count)[first:],
        whites_for(args, count)[first:],
        references_for(args, count)[first:],
        strict=True,
    )
    # Rows and columns are those of the bundle.
    return {
        file: Clue(args.square_inches, replace(hints, grid=None), white, references)
        for file, hints, white, references in each
    }


def cloth_files(args: argparse.Namespace) -> tuple[str, ...]:
    """Return the photos of cloth that the arguments name as backgrounds, in their order."""
    named = getattr(args, "tries", None) or [getattr(args, "background", None) or ""]
    cloths = (parse_cloth(text) for text in named)
    return tuple(dict.fromkeys(cloth.file for cloth in cloths if cloth))
