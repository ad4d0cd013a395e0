"""The choices of a project: small, whole, and one JSON text."""

import json
import math
from dataclasses import dataclass, field, replace
from typing import TYPE_CHECKING, Any

import numpy as np

from colorcore.errors import ProjectError

if TYPE_CHECKING:
    from colorcore.finding import Hints

Point = tuple[float, float]


@dataclass(frozen=True)
class ProjectPhoto:
    """One photo of a project and what the maker knows better about it.

    All places are fractions (x, y), 0 to 1, of the upright picture's width and height, so that
    they hold for every size that the picture is shown in. ``white`` lies on the white paper;
    ``background`` are the corners of a region of background fabric.
    """

    sha256: str
    name: str
    grid: tuple[int, int] | None = None
    corners: tuple[Point, ...] = ()
    ignore: tuple[Point, ...] = ()
    add: tuple[tuple[Point, ...], ...] = ()
    white: Point | None = None
    background: tuple[Point, ...] = ()

    def hints(self, width: int, height: int) -> "Hints":
        """Return the hints in pixels of a picture of that size."""
        from colorcore.finding import Hints

        size = np.array([width, height], dtype=np.float64)

        def pixels(points: tuple[Point, ...]) -> Any:
            return np.array(points, dtype=np.float64) * size

        return Hints(
            grid=self.grid,
            corners=pixels(self.corners) if self.corners else None,
            ignore=tuple((x * width, y * height) for x, y in self.ignore),
            add=tuple(pixels(quad) for quad in self.add),
        )


@dataclass(frozen=True)
class Choices:
    """Everything that a maker has chosen in a project.

    ``pattern`` is a shipped pattern's name or the text of a pattern file; ``size`` one of its
    sizes ("" for the first); ``background`` a CSS colour, a square's address or ``stash:NAME``;
    ``tries`` other backgrounds to compare; ``locks`` pairs (square, stack or "out"); ``places``
    where every square lies now, pairs (square, stack, "" for left over or "out"), as dealt for
    ``dealt_for`` (a mark of photos, pattern, size and background) and moved by hand since;
    ``swaps`` are (square, sha256 of the kept stand-in, words for it): squares that another fabric
    stands in for; ``more`` is for small choices of single pages, text to text.
    """

    photos: tuple[ProjectPhoto, ...] = ()
    square_inches: float = 10.0
    pattern: str = ""
    size: str = ""
    background: str = ""
    tries: tuple[str, ...] = ()
    locks: tuple[tuple[str, str], ...] = ()
    places: tuple[tuple[str, str], ...] = ()
    dealt_for: str = ""
    more: tuple[tuple[str, str], ...] = field(default=())
    swaps: tuple[tuple[str, str, str], ...] = ()

    def with_photo(self, photo: ProjectPhoto) -> "Choices":
        """Return choices with a photo added, or replaced where its picture is there already."""
        known = [p.sha256 for p in self.photos]
        if photo.sha256 in known:
            at = known.index(photo.sha256)
            return replace(self, photos=(*self.photos[:at], photo, *self.photos[at + 1 :]))
        return replace(self, photos=(*self.photos, photo))

    def with_lock(self, square: str, stack: str | None) -> "Choices":
        """Return choices with a square locked to a stack ("out" for none), or unlocked (None)."""
        rest = tuple(pair for pair in self.locks if pair[0] != square)
        return replace(self, locks=rest if stack is None else (*rest, (square, stack)))

    def option(self, key: str, default: str = "") -> str:
        """Return a small choice of a page."""
        return dict(self.more).get(key, default)

    def with_option(self, key: str, value: str) -> "Choices":
        """Return choices with one small choice of a page changed."""
        return replace(self, more=tuple(sorted({**dict(self.more), key: value}.items())))

    def to_json(self) -> str:
        """Return the choices as JSON."""
        photos = [
            {
                "sha256": p.sha256, "name": p.name, "grid": p.grid, "corners": p.corners,
                "ignore": p.ignore, "add": p.add, "white": p.white, "background": p.background,
            }
            for p in self.photos
        ]  # fmt: skip
        content = {
            "photos": photos, "square_inches": self.square_inches, "pattern": self.pattern,
            "size": self.size, "background": self.background, "tries": self.tries,
            "locks": self.locks, "places": self.places, "dealt_for": self.dealt_for,
            "more": self.more, "swaps": self.swaps,
        }  # fmt: skip
        return json.dumps(content, ensure_ascii=False, allow_nan=False)


def choices_from_json(text: str) -> Choices:
    """Return the choices that ``Choices.to_json`` wrote.

    Raises
    ------
    ProjectError
        If the text does not hold choices.
    """
    try:
        content = json.loads(text)
        return Choices(
            photos=tuple(_photo(item) for item in content["photos"]),
            square_inches=_positive(content["square_inches"]),
            pattern=str(content["pattern"]),
            size=str(content["size"]),
            background=str(content["background"]),
            tries=tuple(str(item) for item in content["tries"]),
            locks=tuple((str(square), str(stack)) for square, stack in content["locks"]),
            places=tuple((str(square), str(stack)) for square, stack in content.get("places", ())),
            dealt_for=str(content.get("dealt_for", "")),
            more=tuple((str(key), str(value)) for key, value in content["more"]),
            swaps=tuple(
                (str(square), str(sha256), str(words))
                for square, sha256, words in content.get("swaps", ())
            ),
        )
    except (
        ValueError,
        TypeError,
        LookupError,
        AttributeError,
        RecursionError,
        OverflowError,
    ) as error:
        raise ProjectError(
            "the choices of this project are damaged; undo the last step, or bring back a backup."
        ) from error


def _photo(item: dict[str, Any]) -> ProjectPhoto:
    grid = item["grid"]
    white = item["white"]
    rows, columns = (0, 0) if grid is None else (int(value) for value in grid)
    if grid is not None and not (0 < rows < 1000 and 0 < columns < 1000):
        raise ValueError("rows and columns that cannot be")
    return ProjectPhoto(
        sha256=str(item["sha256"]),
        name=str(item["name"]),
        grid=None if grid is None else (rows, columns),
        corners=_quad(item["corners"]),
        ignore=_points(item["ignore"]),
        add=tuple(quad for quad in map(_quad, item["add"]) if quad),
        white=None if white is None else _points([white])[0],
        background=_quad(item["background"]),
    )


def _quad(items: Any) -> tuple[Point, ...]:
    points = _points(items)
    if len(points) not in (0, 4):
        raise ValueError("an outline without four corners")
    return points


def _points(items: Any) -> tuple[Point, ...]:
    points = tuple((float(x), float(y)) for x, y in items)
    if not all(math.isfinite(value) for point in points for value in point):
        raise ValueError("a place that is no number")
    return points


def _positive(value: Any) -> float:
    number = float(value)
    if not 0 < number < 1000:
        raise ValueError("a size that cannot be")
    return number


@dataclass(frozen=True)
class ProjectInfo:
    """A project in a list: its number, name, and when it was last changed (UTC, ISO 8601)."""

    id: int
    name: str
    changed: str
    photos: int
