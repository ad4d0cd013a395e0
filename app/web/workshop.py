"""What the pages ask for, by project: photos, bundles, plans. Knows nothing of Streamlit.

Everything is made by ``colorcore``; here it is only kept, so that it is made once. Keys are a
file's sha256 with the settings, never an array.
"""

from __future__ import annotations

import hashlib
import json
import threading
from collections.abc import Callable
from dataclasses import replace
from functools import lru_cache
from pathlib import Path
from typing import TYPE_CHECKING, Final, TypeVar

from app.web.backgrounds import background_mark, marked_photo, marked_squares, region_background
from app.web.boarding import OUT, deal_proof, dealt_mark, with_deal
from app.web.following import as_counted
from app.web.memory import Memory
from app.web.sayings import about_photo, shown_name
from app.web.shelf import Shelf
from app.web.turns import Turns
from colorcore.errors import BundleError, ProjectError
from colorcore.project import Choices, ProjectPhoto, Projects
from colorcore.project.addresses import (
    region_place,
    with_photos,
)

# The first page is shown before any of the steps is needed: each is imported where it is taken.
if TYPE_CHECKING:
    from colorcore.bundle import Bundle
    from colorcore.contrast import Background
    from colorcore.finding import Finding
    from colorcore.measuring import MeasuredPhoto
    from colorcore.pattern import Pattern
    from colorcore.photo import Photo
    from colorcore.stacking import Plan
    from colorcore.stash import Stash
    from colorcore.swatch import Swatch

T = TypeVar("T")
#: What is made of a project's choices, and in words what that does.
Step = Callable[[Choices], tuple[Choices, str]]

#: Decoded photos are 36 MB for 12 megapixels: two serve the page that shows one.
MOST_PHOTOS: Final = 2
#: A project asks for some thirty results while its pages are gone through. Fewer than makers need
#: at once are made again and again.
MOST_RESULTS: Final = 400
#: Of a bundle of 42 squares they take some 16 MB: the files to take along 10, the squares' own
#: pictures 5, the making sheet 1. Whoever moves a square gets another sheet and other files:
#: without this limit they would be kept for every state that was ever looked at.
MOST_RESULT_BYTES: Final = 300_000_000
MOST_THUMBNAILS: Final = 2000
MOST_PATTERNS: Final = 32
#: So many photos are measured at once, and so many steps after dealing worked out: what is done
#: outside Python keeps a second core busy, more only takes memory.
AT_ONCE: Final = 2
DEFAULT_BACKGROUND: Final = "#f4efe6"
PREVIEW_SIDE: Final = 1600


def _bundle_key(choices: Choices) -> tuple[object, ...]:
    return ("bundle", choices.photos, choices.square_inches)


def _ground(choices: Choices, background: Background) -> tuple[object, ...]:
    return (dealt_mark(choices), *background_mark(background))


def stand_in_mark(swatch: Swatch) -> str:
    """Return the sha256 under which a fabric that stands in for a square is kept."""
    return hashlib.sha256(_alone(swatch)).hexdigest()


def _alone(swatch: Swatch) -> bytes:
    from colorcore.bundle import Bundle, PhotoRecord
    from colorcore.bundle.files import bundle_to_json

    record = PhotoRecord("stand-in", "", 1, 1, "fabric", "D", "")
    document = bundle_to_json(Bundle((replace(swatch, photo=0),), (record,)))
    return json.dumps(document, ensure_ascii=False).encode("utf-8")


def chosen_pattern(choices: Choices) -> Pattern:
    """Return the pattern of a project: its own text, a shipped one by name, or the first.

    Raises
    ------
    PatternError
        If the project's own pattern is not one.
    """
    return _pattern(choices.pattern)


@lru_cache(maxsize=MOST_PATTERNS)
def _pattern(text: str) -> Pattern:
    from colorcore.pattern import parse_pattern, read_pattern, shipped_patterns

    if "\n" in text:
        return parse_pattern(text, source="your pattern")
    return read_pattern(text or next(iter(shipped_patterns())))


class Workshop:
    """The projects of a maker with what is made from them.

    Parameters
    ----------
    projects, stash : Path or None
        Where they are kept; None for the user's data folder.

    Attributes
    ----------
    shelf : Shelf
        Photos that are being measured for the stash.
    """

    def __init__(self, projects: Path | None = None, stash: Path | None = None) -> None:
        self.projects = Projects(projects)
        self.stash_path = stash
        self._photos = Memory(MOST_PHOTOS)
        self._results = Memory(MOST_RESULTS, MOST_RESULT_BYTES)
        self._thumbnails = Memory(MOST_THUMBNAILS)
        self._turns: dict[int, threading.RLock] = {}
        self._measuring = Turns(AT_ONCE)
        self._working_out = Turns(AT_ONCE)
        self.shelf = Shelf(self.stash, self._measuring)

    def step(self, project: int, how: Step) -> Choices:
        """Keep as a step what ``how`` makes of a project's choices; return them as they were.

        Steps of one project take turns: a click that comes while another's step is still worked
        out waits for it and goes on from what it left.
        """
        with self._turn(project):
            before = self.projects.load(project)
            self.projects.save(project, *how(before))
        return before

    def undo(self, project: int) -> tuple[str | None, str]:
        """Take back the newest step, in its turn; return in words what it was, and the project's
        mark since."""
        with self._turn(project):
            return self.projects.undo(project), self.projects.mark(project)

    def redo(self, project: int) -> tuple[str | None, str]:
        """Take an undone step again, in its turn; return as ``undo`` does."""
        with self._turn(project):
            return self.projects.redo(project), self.projects.mark(project)

    def _turn(self, project: int) -> threading.RLock:
        return self._turns.setdefault(project, threading.RLock())

    def bring_photo(self, project: int, name: str, data: bytes) -> ProjectPhoto:
        """Check by its content that a file is a picture, and add it to a project; a picture that
        is there already stays as it is, whatever the file is called (``already_here`` tells).

        Raises
        ------
        PhotoError
            If it cannot be opened.
        """
        from colorcore.photo import photo_from_bytes

        shown = shown_name(name)
        photo = photo_from_bytes(data, shown)
        self._photos.get(photo.sha256, lambda: photo)
        self.projects.put_picture(photo.sha256, data)
        with self._turn(project):
            choices = self.projects.load(project)
            known = {p.sha256: p for p in choices.photos}
            if photo.sha256 in known:
                return known[photo.sha256]
            brought = ProjectPhoto(photo.sha256, shown)
            more = with_photos(choices, (*choices.photos, brought))
            self.projects.save(project, more, f"brought {shown}")
        return brought

    def photo(self, sha256: str, name: str = "photo") -> Photo:
        """Return an opened photo of any project."""
        from colorcore.photo import photo_from_bytes

        return self._photos.get(
            sha256, lambda: photo_from_bytes(self.projects.picture(sha256), name)
        )

    def preview(self, sha256: str, side: int = PREVIEW_SIDE) -> tuple[bytes, int, int]:
        """Return a photo reduced to ``side`` pixels as JPEG, and the full width and height."""

        def make() -> tuple[bytes, int, int]:
            import cv2

            photo = self.photo(sha256)
            small, _ = photo.small(side)
            quality = [cv2.IMWRITE_JPEG_QUALITY, 85]
            _, data = cv2.imencode(".jpg", cv2.cvtColor(small, cv2.COLOR_RGB2BGR), quality)
            return data.tobytes(), photo.width, photo.height

        return self._results.get(("preview", sha256, side), make)

    def finding(self, item: ProjectPhoto, square_inches: float) -> Finding:
        """Return the squares of one photo, found with the maker's hints."""
        from colorcore.finding import find_squares

        def make() -> Finding:
            with self._measuring.take():
                photo = self.photo(item.sha256, item.name)
                hints = item.hints(photo.width, photo.height)
                return find_squares(photo, hints=hints, square_inches=square_inches)

        key = (item.sha256, item.grid, item.corners, item.ignore, item.add, square_inches)
        return self._results.get(("finding", key), make)

    def measured(
        self,
        item: ProjectPhoto,
        square_inches: float,
        index: int,
        progress: Callable[[int, int, str], None] | None = None,
    ) -> MeasuredPhoto:
        """Return one photo's squares, measured with the maker's hints; what ``progress`` raises
        ends the measuring, and nothing is kept of it.

        Raises
        ------
        FindingError, ColorError
            With the photo named, and where to see to it.
        """
        from colorcore.measuring import measure_photo

        def make() -> MeasuredPhoto:
            with self._measuring.take():
                photo = self.photo(item.sha256, item.name)
                white = item.white and (item.white[0] * photo.width, item.white[1] * photo.height)
                return measure_photo(
                    photo,
                    path=item.name,
                    index=index,
                    square_inches=square_inches,
                    hints=item.hints(photo.width, photo.height),
                    white=white,
                    progress=progress,
                )

        try:
            return self._results.get(("measured", item, square_inches, index), make)
        except BundleError as error:
            raise type(error)(about_photo(item, index, error), lack=error.lack) from error

    def is_measured(self, choices: Choices) -> bool:
        """Whether the bundle of a project is at hand, or nothing is there to measure."""
        return not choices.photos or _bundle_key(choices) in self._results

    def bundle(self, choices: Choices) -> Bundle:
        """Return all squares of a project.

        Raises
        ------
        ProjectError
            If there is no photo yet.
        FindingError, ColorError
            As ``measured``.
        """
        from colorcore.measuring import join_measured

        if not choices.photos:
            raise ProjectError("There is no photo in this project yet; bring one first.")

        def make() -> Bundle:
            measured = [
                self.measured(item, choices.square_inches, index)
                for index, item in enumerate(choices.photos)
            ]
            return join_measured(measured, square_inches=choices.square_inches)

        key = _bundle_key(choices)
        whole = self._results.get(key, make)
        if not choices.swaps:
            return whole
        return self._results.get((*key, choices.swaps), lambda: self._exchanged(whole, choices))

    def _exchanged(self, bundle: Bundle, choices: Choices) -> Bundle:
        """The bundle with the fabrics that stand in, each at its square's own address."""
        from colorcore.bundle.files import bundle_from_json
        from colorcore.substitutes.standing_in import with_stand_in

        known = {square.id for square in bundle.squares}
        for square, sha256, _ in choices.swaps:
            if square in known:
                kept = bundle_from_json(json.loads(self.projects.picture(sha256)))
                bundle = with_stand_in(bundle, square, kept.squares[0])
        return bundle

    def stand_in(self, swatch: Swatch) -> str:
        """Keep a fabric that is to stand in for a square; return under which sha256."""
        data = _alone(swatch)
        sha256 = hashlib.sha256(data).hexdigest()
        self.projects.put_picture(sha256, data)
        return sha256

    def background(self, choices: Choices, text: str = "") -> tuple[Background, tuple[str, ...]]:
        """Return a background by what it is called, the project's own for "", and the squares
        that are used up by it.

        ``fabric on photo 2`` is what the maker marked there as background fabric. Whatever the
        background, what is marked as fabric for one is no square of the bundle.
        """
        from colorcore.contrast.sources import find_background
        from colorcore.stash.backgrounds import background_from_stash

        wanted = (text or choices.background or DEFAULT_BACKGROUND).strip()
        number = region_place(wanted)
        if number is not None:
            key = ("region", number, choices.photos[number - 1 : number], choices.square_inches)
            region = self._results.get(key, lambda: self._region(choices, number))
            return region, self._marked(choices)
        bundle, path = self.bundle(choices), self.stash_path
        # A stash that was never begun is no fault.
        if path is not None and not path.is_file():
            found, used = find_background(wanted, bundle)
        else:
            found, used = find_background(
                wanted, bundle, stash=lambda name: background_from_stash(name, path)
            )
        return found, tuple(dict.fromkeys((*used, *self._marked(choices))))

    def _region(self, choices: Choices, number: int) -> Background:
        item = marked_photo(choices, number)
        measured = self.measured(item, choices.square_inches, number - 1)
        return region_background(
            item, number, measured, self.photo(item.sha256, item.name), choices.square_inches
        )

    def _marked(self, choices: Choices) -> tuple[str, ...]:
        if not any(item.background for item in choices.photos):
            return ()
        return marked_squares(choices, self.bundle(choices))

    def remember(self, key: tuple[object, ...], make: Callable[[], T]) -> T:
        """Return what is kept under a key, worked out now, in its turn, if it is not there.

        What the workshop itself makes rests on nothing that is kept by this: whoever holds a turn
        never waits for one who waits for a turn.
        """
        return self._results.get(key, make, self._working_out)

    def stash(self) -> Stash:
        """Open the maker's stash; close it after use."""
        from colorcore.stash import Stash

        return Stash(self.stash_path)

    def deal(self, choices: Choices, *, afresh: bool = False) -> tuple[Choices, Plan]:
        """Return choices with a new deal around the maker's locks, and its plan. What lay there
        before moves as little as it can, unless ``afresh``. Locks on stacks that the pattern has
        not, since they were set for another one, are let go."""
        from colorcore.stacking import deal, find_size

        choices = as_counted(self, choices)
        bundle, pattern = self.bundle(choices), chosen_pattern(choices)
        there = {OUT, *(rule.name for rule in find_size(pattern, choices.size or None).stacks)}
        choices = replace(choices, locks=tuple(lock for lock in choices.locks if lock[1] in there))
        background, used = self.background(choices)
        locks = dict(choices.locks) | dict.fromkeys(used, OUT)
        known = {square.id for square in bundle.squares}
        locks = {square: stack for square, stack in locks.items() if square in known}
        before = None
        if choices.dealt_for == dealt_mark(choices) and not afresh:
            before = self.plan(choices)
        plan = deal(
            bundle, pattern, background, size=choices.size or None, locks=locks, previous=before
        )
        return with_deal(choices, plan), plan

    def plan(self, choices: Choices) -> Plan:
        """Return the plan as the squares lie now; ``deal`` must have been there before.

        Raises
        ------
        DealError
            If a stack lies empty.
        """
        from colorcore.stacking import lay_by_hand
        from colorcore.stacking.by_hand import BY_HAND

        def make() -> Plan:
            background, _ = self.background(choices)
            plan = lay_by_hand(
                self.bundle(choices),
                chosen_pattern(choices),
                background,
                dict(choices.places),
                size=choices.size or None,
                locked=[square for square, _ in choices.locks],
                proof=deal_proof(choices, background.lab) or BY_HAND,
            )
            # So that board, sheets and files say which squares are not those of the photo.
            swapped = [f"{square}: {words} stands in for it." for square, _, words in choices.swaps]
            return replace(plan, second_look=(*swapped, *plan.second_look))

        return self._results.get(("plan", *self.lying(choices)), make)

    def ground(self, choices: Choices) -> tuple[object, ...]:
        """Return the mark of all that a deal rests on, with its background as it is now."""
        return _ground(choices, self.background(choices)[0])

    def lying(self, choices: Choices) -> tuple[object, ...]:
        """Return the mark of all that a plan rests on."""
        background, _ = self.background(choices)
        proof = deal_proof(choices, background.lab)
        return (*_ground(choices, background), choices.places, choices.locks, proof)

    def is_dealt(self, choices: Choices) -> bool:
        """Whether the squares lie as dealt for the project's photos, pattern and background."""
        return bool(choices.places) and choices.dealt_for == dealt_mark(choices)

    def thumbnail(self, swatch: Swatch, side: int, *, value: bool = False) -> bytes:
        """Return a square's picture as JPEG, in colour or as greys of the same value."""
        from colorcore.sheets.pictures import encode_picture, shrink, value_only

        def make() -> bytes:
            small = shrink(swatch.picture, side)
            return encode_picture(value_only(small) if value else small, ".jpg", 84)

        # Swatches are kept as long as their bundle is, so their identity is a key.
        return self._thumbnails.get((id(swatch), side, value), lambda: (swatch, make()))[1]
