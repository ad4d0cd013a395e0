"""What the maker does on the photo, as hints: pure, without Streamlit."""

from collections.abc import Mapping
from dataclasses import dataclass, replace
from typing import Any, Final

import numpy as np

from colorcore.errors import ProjectError
from colorcore.finding import Finding, FoundSquare, overlapping_squares
from colorcore.project import ProjectPhoto
from colorcore.wording import listing

Point = tuple[float, float]
_SAME: Final = 1e-6
_STEPS: Final = {
    "moved": "moved a square's corners", "removed": "took a square out", "added": "added a square",
    "ignore": "marked what is no square", "white": "marked the paper",
    "moved outer": "set the outer corners", "removed outer": "forgot the outer corners",
    "moved background": "marked background fabric",
    "removed background": "forgot the background fabric",
}  # fmt: skip


@dataclass(frozen=True)
class Outline:
    """A square as the photo shows it: corners in fractions of the picture."""

    id: str
    address: str
    corners: tuple[Point, ...]
    words: str
    doubtful: bool


def addressed(finding: Finding, place: int | None, counted: Mapping[str, str]) -> dict[str, str]:
    """Return by the addresses that squares have on their photo alone those that they have in the
    project: with the photo's ``place``, None where it is the only one, or as ``counted`` gives them
    of squares that are counted in another photo."""
    several = "" if place is None else f"{place}-"
    own = (square.address for square in finding.squares)
    return {name: counted.get(name, f"{several}{name}") for name in own}


def outlines(
    finding: Finding,
    width: int,
    height: int,
    place: int | None = None,
    counted: Mapping[str, str] | None = None,
) -> tuple[Outline, ...]:
    """Return what was found as outlines in fractions of a picture of that size; ``place`` and
    ``counted`` as in ``addressed``."""
    elsewhere = counted or {}
    names = addressed(finding, place, elsewhere)
    size = np.array([width, height], dtype=np.float64)
    shared: dict[str, list[str]] = {}
    for one, other in overlapping_squares(finding):
        shared.setdefault(one, []).append(other)
        shared.setdefault(other, []).append(one)

    def outline(square: FoundSquare, number: int, doubtful: bool) -> Outline:
        corners = tuple((float(x), float(y)) for x, y in square.corners / size)
        sure = "second look" if doubtful else f"{square.confidence:.0%} sure"
        name = f"?{number + 1}" if doubtful else square.address
        if not doubtful and name in shared:
            others = [names[other] for other in shared[name]]
            sure += f", covers the same cloth as {listing(others)}"
        if doubtful:
            return Outline(name, "", corners, f"{name}, {sure}", doubtful)
        shown = names[name]
        again = ", counted in another photo" if name in elsewhere else ""
        return Outline(name, shown, corners, f"{shown}{again}, {sure}", doubtful)

    return (
        *(outline(s, i, False) for i, s in enumerate(finding.squares)),
        *(outline(s, i, True) for i, s in enumerate(finding.doubtful)),
    )


def after_report(photo: ProjectPhoto, shown: tuple[Outline, ...], report: Any) -> ProjectPhoto:
    """Return a photo's hints after one step that the photo's component reports.

    Raises
    ------
    ProjectError
        If the report is not one of the component's.
    """
    try:
        what = str(report["what"])
        if what in ("white", "ignore"):
            point = _point(report["point"])
            return (
                replace(photo, white=point)
                if what == "white"
                else replace(photo, ignore=(*photo.ignore, point))
            )
        corners = tuple(_point(corner) for corner in report["corners"])
        if len(corners) != 4:
            raise ValueError("a square has four corners")
        if what == "added":
            return replace(photo, add=(*photo.add, corners))
        name = str(report["id"])
        if what not in ("moved", "removed"):
            raise ValueError(what)
        if name in ("outer", "background"):
            region = corners if what == "moved" else ()
            if name == "outer":
                return replace(photo, corners=region)
            return replace(photo, background=region)
        return _square(photo, shown, name, corners if what == "moved" else None)
    except (KeyError, TypeError, ValueError, OverflowError, StopIteration) as error:
        raise ProjectError(
            "That step on the photo could not be understood; try it again."
        ) from error


def say_step(report: Any) -> str:
    """Return in words what the maker did, for undo."""
    what = str(report["what"])
    return _STEPS.get(f"{what} {report.get('id', '')}", _STEPS[what])


def _square(
    photo: ProjectPhoto, shown: tuple[Outline, ...], name: str, corners: tuple[Point, ...] | None
) -> ProjectPhoto:
    before = next(outline for outline in shown if outline.id == name).corners
    kept = tuple(quad for quad in photo.add if not _same(quad, before))
    added = len(kept) < len(photo.add)
    center = (sum(x for x, _ in before) / 4, sum(y for _, y in before) / 4)
    left = corners is None or not _inside(center, corners)
    # What was found by itself would be found again where nothing of the maker's covers it.
    ignore = (*photo.ignore, center) if left and not added else photo.ignore
    add = kept if corners is None else (*kept, corners)
    return replace(photo, add=add, ignore=ignore)


def _inside(point: Point, corners: tuple[Point, ...]) -> bool:
    x, y = point
    turns = [
        (bx - ax) * (y - ay) - (by - ay) * (x - ax)
        for (ax, ay), (bx, by) in zip(corners, (*corners[1:], corners[0]), strict=True)
    ]
    return all(turn >= 0 for turn in turns) or all(turn <= 0 for turn in turns)


def _same(one: tuple[Point, ...], other: tuple[Point, ...]) -> bool:
    return np.allclose(one, other, atol=_SAME)


def _point(value: Any) -> Point:
    x, y = (float(v) for v in value)
    if not (0 <= x <= 1 and 0 <= y <= 1):
        raise ValueError("outside the picture")
    return x, y
