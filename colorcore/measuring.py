"""The whole way from photo files to a bundle: open, find, undo the light, measure, join, group."""

import os
from collections.abc import Callable, Sequence
from concurrent.futures import Executor, ThreadPoolExecutor
from dataclasses import dataclass
from pathlib import Path
from typing import Final, TypeVar

import cv2
import numpy as np
from numpy.typing import NDArray

from colorcore import __version__, wording
from colorcore.bundle.fabrics import group_fabrics
from colorcore.bundle.joining import join_photos
from colorcore.bundle.model import Bundle, PhotoRecord
from colorcore.bundle.same_picture import Glance, glance
from colorcore.errors import BundleError, ColorError, FindingError, Lack, NothingFoundError
from colorcore.finding import Finding, Hints, find_squares
from colorcore.finding.outlines import aspects
from colorcore.finding.view import get_ready
from colorcore.geometry import areas, center
from colorcore.light import Calibration, Reference, undo_light
from colorcore.light.sampling import reduce_photo
from colorcore.light.scale import other_precut, side_beside_paper
from colorcore.photo import Photo, PhotoAhead, begin_opening, open_photo
from colorcore.plain import writable
from colorcore.swatch import Swatch, measure_squares, read_ahead

Progress = Callable[[int, int, str], None]
Point = tuple[float, float]
T = TypeVar("T")

_THREADS: Final = min(4, os.cpu_count() or 1)
_MOST_DOUBTS: Final = 6
_SEVERAL: Final = 3
_AS_WIDE: Final = 1.2
_ALIKE: Final = 0.25
"""How many things, how much longer than wide at most, with areas how much alike (as a logarithm),
look like squares of another size."""
#: Finding the squares and undoing the light come before the first square is measured.
_STEPS_BEFORE: Final = 2
_SMALLEST_SQUARE: Final = 0.25
_LARGEST_SQUARE: Final = 120.0


@dataclass(frozen=True, eq=False)
class PhotoSquares:
    """One photo's share of a bundle, and the whole photo at a glance, by which copies of it are
    told; None where it is the only one."""

    record: PhotoRecord
    squares: tuple[Swatch, ...]
    glance: Glance | None


@dataclass(frozen=True, eq=False)
class MeasuredPhoto(PhotoSquares):
    """The same with what lies between, for overlays."""

    finding: Finding
    calibration: Calibration


def measure_photos(
    paths: Sequence[str | os.PathLike[str]],
    *,
    square_inches: float = 10.0,
    hints: Sequence[Hints | None] | None = None,
    white: Sequence[Point | None] | None = None,
    references: Sequence[Sequence[Reference]] | None = None,
    name: str = "",
    progress: Progress | None = None,
    executor: Executor | None = None,
) -> Bundle:
    """Measure every square in one or several photos of a bundle.

    Parameters
    ----------
    paths : sequence of paths
        Photos of one bundle; a square that appears in two of them is counted once, and a smaller
        copy of one of them is left out.
    square_inches : float
        Nominal side of the squares.
    hints, white, references
        One entry per photo each, None or empty where there is nothing to say. ``white`` holds
        points (x, y) on the white paper in pixels of the upright photo.
    progress : function of (done, total, words), optional
        Called in this thread before every photo, or after it where an ``executor`` measures them.
    executor : concurrent.futures.Executor, optional
        Where the photos are measured, each on its own; without one they are measured in turn.

    Raises
    ------
    PhotoError, FindingError, ColorError
        With the photo's name in front.
    """
    if not paths:
        raise FindingError("No photo was given: name at least one photo of the bundle.")
    if not _SMALLEST_SQUARE <= square_inches <= _LARGEST_SQUARE:
        raise FindingError(
            f"The squares' side must lie between {_SMALLEST_SQUARE:g} and {_LARGEST_SQUARE:g} "
            f"inches, not at {square_inches:g}."
        )
    count = len(paths)
    each = zip(
        paths,
        _each(hints, count, "sets of hints"),
        _each(white, count, "white points"),
        _each(references, count, "lists of references"),
        strict=True,
    )
    jobs = [
        _Job(str(path), index, square_inches, hint, point, tuple(refs or ()), count == 1)
        for index, (path, hint, point, refs) in enumerate(each)
    ]
    measured = _run(jobs, progress, executor)
    return join_measured(measured, square_inches=square_inches, name=name)


def join_measured(
    measured: Sequence[PhotoSquares], *, square_inches: float, name: str = ""
) -> Bundle:
    """Return the bundle that measured photos make together: one scale, squares that appear twice
    counted once, smaller copies of a photo left out, same-fabric groups. Give every photo the
    index that it was measured with."""
    squares, photos, again = join_photos(
        [m.squares for m in measured], [m.record for m in measured], [m.glance for m in measured]
    )
    return Bundle(
        squares=group_fabrics(squares),
        photos=photos,
        provenance=provenance(square_inches),
        name=name,
        seen_again=again,
    )


def measure_photo(
    opened: Photo | PhotoAhead,
    *,
    path: str = "",
    index: int = 0,
    square_inches: float = 10.0,
    hints: Hints | None = None,
    white: Point | None = None,
    references: Sequence[Reference] = (),
    alone: bool = False,
    progress: Progress | None = None,
    threads: int = _THREADS,
) -> MeasuredPhoto:
    """Measure the squares of one photo that is opened, or still being decoded; ``path`` as the
    maker gave it, on so many ``threads``. One that is ``alone`` in its bundle is not compared with
    others.

    ``progress`` is called in this thread before every step and after every square, with (done,
    total, words); what it raises ends the measuring there.

    Raises
    ------
    NothingFoundError
        If no squares are found.
    FindingError
        If hints contradict the photo or themselves.
    ColorError
        If ``white`` or a reference does not lie on anything that can be measured.
    PhotoError
        If decoding shows that the photo is damaged.
    """
    say = progress or (lambda done, total, words: None)
    say(0, _STEPS_BEFORE, "Finding the squares")

    def tell(done: int, total: int) -> None:
        say(_STEPS_BEFORE + done, _STEPS_BEFORE + total, "Measuring the squares")

    with ThreadPoolExecutor(1) as aside:
        # What needs the photo alone is done beside what is done in turn.
        reduced = aside.submit(lambda: reduce_photo(opened.whole())) if threads > 1 else None
        finding = find_squares(opened, hints=hints, square_inches=square_inches)
        photo = opened.whole()
        if not finding.squares:
            raise _nothing_found(finding, hints)
        count = len(finding.squares)
        say(1, _STEPS_BEFORE + count, "Undoing the light")
        ahead = read_ahead(photo, finding.squares, aside) if threads > 1 else None
        small = reduced.result() if reduced else None
        calibration = undo_light(photo, finding, white=white, references=references, small=small)
        tell(0, count)
        squares = measure_squares(
            photo,
            calibration,
            finding.squares,
            side_inches=square_inches,
            index=index,
            threads=threads,
            each=None if progress is None else lambda done: tell(done, count),
            ahead=ahead,
        )
    record = PhotoRecord(
        path=writable(path or photo.name),
        sha256=photo.sha256,
        width=photo.width,
        height=photo.height,
        reference=calibration.reference,
        trust=calibration.trust,
        trust_words=calibration.trust_words,
        notes=(
            *photo.notes,
            *calibration.notes,
            *_doubts(finding),
            *_of_another_size(finding),
            *_off_grid(finding, None if hints is None else hints.grid),
            *_other_side(finding, calibration, square_inches),
        ),
    )
    seen = None if alone else glance(photo)
    return MeasuredPhoto(record, squares, seen, finding, calibration)


def _nothing_found(finding: Finding, hints: Hints | None) -> NothingFoundError:
    reason = finding.reason.rstrip(".") or "nothing square stands out from the table"
    return NothingFoundError(
        f"No squares were found: {reason}. Lay the squares with a finger's width between them "
        "on a plain surface, or say how many rows and columns there are.",
        lack=None if hints is not None and hints.grid else Lack.GRID,
    )


def _doubts(finding: Finding) -> tuple[str, ...]:
    """Name outlines too doubtful to measure, so that none is dropped in silence."""
    if not finding.doubtful:
        return ()
    places, more = _places([square.corners for square in finding.doubtful])
    number = len(finding.doubtful)
    return (
        f"{number} more {'outline' if number == 1 else 'outlines'} could be a square but "
        f"{'was' if number == 1 else 'were'} not measured, around {places}{more}; where it is one, "
        "add it by its four corners",
    )


def _of_another_size(finding: Finding) -> tuple[str, ...]:
    """Say so where what is no square is several things that are alike and as long as wide: two
    photos side by side, or squares of two cuts in one."""
    outlines = [t.outline for t in finding.things if t.kind == "other" and len(t.outline) == 4]
    quads = np.array(outlines, dtype=np.float64).reshape(-1, 4, 2)
    quads = quads[aspects(quads) < _AS_WIDE]
    sizes = np.log(areas(quads))
    alike = np.abs(sizes[:, None] - sizes) < _ALIKE
    if not len(quads) or alike.sum(axis=1).max() < _SEVERAL:
        return ()
    chosen = quads[alike[alike.sum(axis=1).argmax()]]
    places, more = _places(list(chosen))
    return (
        f"{len(chosen)} more outlines look like squares of another size and were not measured, "
        f"around {places}{more}; all squares of a photo must be of one size and one scale, so give "
        "squares of two sizes, or two pictures that were joined, as photos of their own",
    )


def _places(quads: Sequence[NDArray[np.float64]]) -> tuple[str, str]:
    """Say where the first of some outlines (4, 2) lie, and whether there are others."""
    centers = [center(quad) for quad in quads[:_MOST_DOUBTS]]
    others = "" if len(quads) <= _MOST_DOUBTS else " and others"
    return "; ".join(f"{x:.0f},{y:.0f}" for x, y in centers), others


def _off_grid(finding: Finding, grid: tuple[int, int] | None) -> tuple[str, ...]:
    """Say how far the squares that were found are from the rows and columns that were asked for."""
    count, squares = wording.count, finding.squares
    if grid is None or len(squares) == grid[0] * grid[1]:
        return ()
    places = grid[0] * grid[1]
    asked = f"{count(grid[0], 'row')} of {count(grid[1], 'square')}: {count(places, 'place')}"
    rows = count(len({square.row for square in squares}), "row")
    columns = count(len({square.column for square in squares}), "column")
    shown = f"{count(len(squares), 'square')} in {rows} and {columns}"
    if len(squares) > places:
        return (
            f"You asked for {asked}, and there are {shown}; correct the rows and columns, or take "
            "out what is no square.",
        )
    empty = count(places - len(squares), "place is empty or was", "places are empty or were")
    return (
        f"You asked for {asked}, and there are {shown}, so {empty} missed; correct the rows and "
        "columns, or add a missed square by its four corners.",
    )


def _other_side(
    finding: Finding, calibration: Calibration, square_inches: float
) -> tuple[str, ...]:
    """Warn where the paper shows another precut than was said: fives that are taken for tens."""
    outlines = [square.corners for square in finding.squares]
    side = side_beside_paper(calibration.references, outlines, calibration.size)
    other = None if side is None else other_precut(side, square_inches)
    if other is None:
        return ()
    return (
        f"Beside the white paper, taken for a sheet of letter or A4, the squares look {other:g} in "
        f"wide, not {square_inches:g} in; if they are, measure again and say how long a side of "
        "the squares is.",
    )


def provenance(square_inches: float) -> tuple[tuple[str, str], ...]:
    """Return what a bundle says of its making: versions and settings."""
    return (
        ("bundlestacks", __version__),
        ("numpy", np.__version__),
        ("opencv", cv2.__version__),
        ("square_inches", f"{square_inches:g}"),
    )


@dataclass(frozen=True, eq=False)
class _Job:
    """Everything that a worker, perhaps in another process, needs for one photo."""

    path: str
    index: int
    square_inches: float
    hints: Hints | None
    white: Point | None
    references: tuple[Reference, ...]
    alone: bool


def _measure_job(job: _Job, photo: Photo | PhotoAhead, threads: int) -> PhotoSquares:
    try:
        measured = measure_photo(
            photo,
            path=job.path,
            index=job.index,
            square_inches=job.square_inches,
            hints=job.hints,
            white=job.white,
            references=job.references,
            alone=job.alone,
            threads=threads,
        )
    except (FindingError, ColorError) as error:
        name = Path(job.path).name
        sentence = str(error)
        words = sentence if name in sentence else f"{name}: {sentence}"
        raise type(error)(words, lack=error.lack) from error
    return PhotoSquares(measured.record, measured.squares, measured.glance)


def _measure_alone(job: _Job) -> PhotoSquares:
    """For workers beside each other, of whom each has one core."""
    return _measure_job(job, open_photo(job.path), threads=1)


def _in_turn(jobs: Sequence[_Job], say: Progress) -> list[PhotoSquares]:
    """Measure photo by photo, each decoded while the one before it is measured; the first while
    its squares are looked for."""
    results = []
    with ThreadPoolExecutor(3) as ahead:
        coming = ahead.submit(begin_opening, jobs[0].path, ahead)
        ready = ahead.submit(get_ready)
        for number, job in enumerate(jobs, 1):
            say(job.index, len(jobs), f"Measuring {Path(job.path).name}")
            photo = coming.result()
            ready.result()
            if number < len(jobs):
                coming = ahead.submit(begin_opening, jobs[number].path, ahead)
            results.append(_measure_job(job, photo, _THREADS))
    return results


def _run(
    jobs: Sequence[_Job], progress: Progress | None, executor: Executor | None
) -> list[PhotoSquares]:
    say = progress or (lambda done, total, words: None)
    total = len(jobs)
    if executor is None:
        return _in_turn(jobs, say)
    # In order, so that of several bad photos it is always the first that is named.
    coming = [executor.submit(_measure_alone, job) for job in jobs]
    done: list[PhotoSquares] = []
    try:
        for job, future in zip(jobs, coming, strict=True):
            done.append(future.result())
            say(len(done), total, f"Measured {Path(job.path).name}")
    except BundleError:
        for future in coming:
            future.cancel()
        raise
    return done


def _each(given: Sequence[T] | None, count: int, what: str) -> list[T | None]:
    """One entry per photo; None where nothing was given at all.

    Raises
    ------
    FindingError
        If the numbers do not match.
    """
    if given is None:
        return [None] * count
    if len(given) != count:
        raise FindingError(
            f"There are {count} photos but {len(given)} {what}: give one for each photo, in order."
        )
    return list(given)
