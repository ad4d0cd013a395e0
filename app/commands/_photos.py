"""Arguments that every command takes which measures photos, and what they mean."""

import argparse
import re
from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Any

from colorcore.errors import BundleError, PhotoError

if TYPE_CHECKING:
    from colorcore.finding import Hints
    from colorcore.geometry import Quad
    from colorcore.light import Reference

Point = tuple[float, float]
DEFAULT_SIDE = 10.0
PICTURE_ENDINGS = frozenset((
    ".jpg", ".jpeg", ".jpe", ".png", ".tif", ".tiff", ".webp", ".heic", ".heif",
    ".dng", ".cr2", ".cr3", ".nef", ".arw", ".orf", ".rw2", ".raf", ".pef", ".srw",
))  # fmt: skip


def add_photo_arguments(parser: argparse.ArgumentParser) -> None:
    """Add the options that say what the maker knows better than the photo shows."""
    group = parser.add_argument_group(
        "what you know better",
        "Points are pixels of the upright photo, from its top left corner. With several photos, "
        "put the photo's number before a point: 2:1480,300. Photos of background cloth are "
        "counted after the others.",
    )
    group.add_argument(
        "--white",
        metavar="X,Y",
        type=photo_point,
        action="append",
        default=[],
        help="a point on the white paper; found by itself where it can be",
    )
    group.add_argument(
        "--reference",
        metavar=("KIND", "X,Y", "X,Y", "X,Y", "X,Y"),
        nargs=5,
        action=ReferenceAction,
        default=[],
        help="something of known colour and its four corners: paper, grey (an 18 %% card), chart "
        "(24 patches), or fabric=COLOR where the colour is a CSS colour or a name in the stash "
        "(may be repeated; then none is searched for)",
    )
    group.add_argument(
        "--grid", metavar="6x7", type=grid, help="how many rows and columns of squares there are"
    )
    group.add_argument(
        "--corners",
        metavar="X,Y",
        nargs=4,
        type=photo_point,
        help="the four outer corners of the whole layout, clockwise from top left",
    )
    group.add_argument(
        "--ignore",
        metavar="X,Y",
        type=photo_point,
        action="append",
        default=[],
        help="a point on something that is not a square (may be repeated)",
    )
    group.add_argument(
        "--add",
        metavar="X,Y",
        nargs=4,
        type=photo_point,
        action="append",
        default=[],
        help="the four corners of a square that was missed, clockwise from its top left "
        "(may be repeated)",
    )
    group.add_argument(
        "--square-inches",
        metavar="10",
        type=side,
        default=DEFAULT_SIDE,
        help="side of the precut squares in inches (default 10)",
    )
    parser.add_argument("--name", default="", metavar="WORDS", help="what you call this bundle")


def add_terminal_arguments(parser: argparse.ArgumentParser) -> None:
    """Add the options that say how much to tell on the way."""
    parser.add_argument("--quiet", action="store_true", help="no summary in the terminal")
    parser.add_argument(
        "--progress",
        action="store_true",
        help="print progress as plain lines, also where standard error is no terminal",
    )


def photo_point(text: str) -> tuple[int, Point]:
    """Read ``X,Y`` or ``PHOTO:X,Y``; the photo's number is returned from 0, and 0 if missing."""
    number = r"\d+(?:\.\d+)?"
    match = re.fullmatch(rf"(?:([1-9]\d{{0,5}}):)?({number})[,x]({number})", text.strip())
    if match is None:
        raise argparse.ArgumentTypeError(f"a point reads like 812,340, not {text!r}")
    photo, x, y = match.groups()
    return int(photo or 1) - 1, (float(x), float(y))


def grid(text: str) -> tuple[int, int]:
    """Read ``ROWSxCOLUMNS``."""
    match = re.fullmatch(r"(\d{1,3})\s*[xX×]\s*(\d{1,3})", text.strip())
    if match is None or "0" in (match[1].lstrip("0") or "0", match[2].lstrip("0") or "0"):
        raise argparse.ArgumentTypeError(
            f"rows and columns read like 6x7 (6 rows of 7), not {text!r}"
        )
    return int(match[1]), int(match[2])


def side(text: str) -> float:
    """Read the side of a square: ``10``, ``2 1/2``, ``25 cm``."""
    from colorcore.lengths import parse_length

    try:
        inches = float(parse_length(text))
    except BundleError as error:
        raise argparse.ArgumentTypeError(str(error).rstrip(".")) from error
    if not 0.5 <= inches <= 60:
        raise argparse.ArgumentTypeError(f"a side lies between 0.5 and 60 inches, not {text!r}")
    return inches


class ReferenceAction(argparse.Action):
    """Read ``KIND X,Y X,Y X,Y X,Y``."""

    def __call__(
        self,
        parser: argparse.ArgumentParser,
        namespace: argparse.Namespace,
        values: Any,
        option_string: str | None = None,
    ) -> None:
        """Keep the kind and its four points."""
        kind, *corners = values
        if kind not in ("paper", "grey", "chart") and not kind.startswith("fabric="):
            raise argparse.ArgumentError(
                self, f"a reference is paper, grey, chart or fabric=COLOR, not {kind!r}"
            )
        try:
            points = [photo_point(corner) for corner in corners]
        except argparse.ArgumentTypeError as error:
            raise argparse.ArgumentError(self, str(error)) from None
        setattr(namespace, self.dest, [*getattr(namespace, self.dest), (kind, points)])


def picture_paths(given: list[str]) -> list[Path]:
    """Return the photos meant: files as they are, a folder as the pictures in it, by name.

    Raises
    ------
    PhotoError
        If a folder holds no picture, or one photo is named twice.
    """
    paths: list[Path] = []
    for name in given:
        path = Path(name)
        if path.is_dir():
            inside = sorted(
                p
                for p in path.iterdir()
                if p.suffix.lower() in PICTURE_ENDINGS and not p.name.startswith(".")
            )
            if not inside:
                raise PhotoError(f"{path}: no pictures in this folder; name the photos themselves.")
            paths += inside
        else:
            paths.append(path)
    seen: set[Path] = set()
    for path in paths:
        real = path.resolve()
        if real in seen:
            raise PhotoError(f"{path}: named twice; name every photo once.")
        seen.add(real)
    return paths


def hints_for(args: argparse.Namespace, photos: int) -> tuple["Hints", ...]:
    """Return what the arguments say about each photo.

    Raises
    ------
    BundleError
        If a point names a photo that there is not, or corners lie in different photos.
    """
    from colorcore.finding import Hints

    outlines = list(args.add) + ([args.corners] if args.corners else [])
    outlines += [points for _, points in args.reference]
    for outline in outlines:
        if len({photo for photo, _ in outline}) > 1:
            raise BundleError("Four corners belong to one photo; give all four the same number.")
    for photo, _ in [*args.white, *args.ignore, *(outline[0] for outline in outlines)]:
        if photo >= photos:
            raise BundleError(
                f"A point names photo {photo + 1}, but there "
                f"{'is 1 photo' if photos == 1 else f'are {photos} photos'}."
            )

    return tuple(
        Hints(
            grid=args.grid,
            corners=_quad(args.corners) if args.corners and args.corners[0][0] == n else None,
            ignore=tuple(point for photo, point in args.ignore if photo == n),
            add=tuple(_quad(outline) for outline in args.add if outline[0][0] == n),
        )
        for n in range(photos)
    )


def references_for(args: argparse.Namespace, photos: int) -> tuple[tuple["Reference", ...], ...]:
    """Return the references of each photo that are set by hand.

    Raises
    ------
    ColorError
        If a fabric's colour is none.
    """
    from app.commands._backgrounds import read_background
    from colorcore.bundle import Bundle
    from colorcore.light import Reference

    by_photo: list[list[Reference]] = [[] for _ in range(photos)]
    for kind, points in args.reference:
        name, _, color = kind.partition("=")
        lab, lab_sd = None, None
        if name == "fabric":
            fabric, _ = read_background(color, Bundle((), ()), getattr(args, "stash", None))
            lab, lab_sd = fabric.lab, fabric.lab_sd if any(fabric.lab_sd) else None
        usual = {"grey": "grey card"}.get(name, name)
        by_photo[points[0][0]].append(
            Reference(kind=usual, outline=_quad(points), lab=lab, lab_sd=lab_sd)
        )
    return tuple(map(tuple, by_photo))


def _quad(outline: Sequence[tuple[int, Point]]) -> "Quad":
    import numpy as np

    return np.array([point for _, point in outline], dtype=np.float64)


def whites_for(args: argparse.Namespace, photos: int) -> tuple[Point | None, ...]:
    """Return the point on white paper of each photo, None where none is given.

    Raises
    ------
    BundleError
        If one photo has two.
    """
    whites: list[Point | None] = [None] * photos
    for photo, point in args.white:
        if whites[photo] is not None:
            raise BundleError(f"Photo {photo + 1} has two points on white paper; give one.")
        whites[photo] = point
    return tuple(whites)
