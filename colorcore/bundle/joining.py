"""Squares of several photos as one bundle: on one scale, each counted once, clearly addressed."""

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from colorcore.bundle.model import PhotoRecord, SeenAgain
from colorcore.bundle.recognising import log_gain, same_squares
from colorcore.bundle.same_picture import Glance, copied_pictures
from colorcore.swatch.model import Swatch
from colorcore.swatch.rescaling import rescale
from colorcore.wording import file_name


def join_photos(
    squares: Sequence[Sequence[Swatch]],
    photos: Sequence[PhotoRecord],
    glances: Sequence[Glance | None] | None = None,
) -> tuple[tuple[Swatch, ...], tuple[PhotoRecord, ...], tuple[SeenAgain, ...]]:
    """Return all squares, photo by photo, the photos with notes on what was joined, and where
    squares show that are counted in another photo.

    With several photos the addresses become ``1-B3``. A photo without a reference takes the scale
    of one that has one through the squares that appear in both. Of a square photographed twice the
    one stays whose photo is trusted more. With ``glances``, one per photo, a smaller copy of a
    photo is recognised and left out with all that was found in it; its record stays and says so.
    """
    if len(photos) == 1:
        return tuple(squares[0]), tuple(photos), ()
    named = [
        [replace(s, id=f"{i + 1}-{s.id}", photo=i) for s in group]
        for i, group in enumerate(squares)
    ]
    notes: list[list[str]] = [list(p.notes) for p in photos]
    copies = copied_pictures(named, photos, glances or [None] * len(photos))
    shared = [
        _Shared(i, j, same_squares(named[i], named[j]))
        for i in range(len(named))
        for j in range(i + 1, len(named))
        if not copies.keys() & {i, j}
    ]
    # What lies in the copy alone is no square, but a reference pointed at there is one.
    same = [_Shared(original, copy, pairs) for copy, (original, pairs) in copies.items()]
    records = _one_scale(named, list(photos), [s for s in (*shared, *same) if s.pairs], notes)
    copied = [
        (named[copy][j], named[original][i])
        for copy, (original, pairs) in copies.items()
        for i, j in pairs
    ]
    for copy, (original, _) in copies.items():
        named[copy] = []
        notes[copy] = [_copy_words(photos[copy], photos[original])]
    gone = _count_once(named, records, [s for s in shared if s.pairs], notes)
    again = {lost.id: _again(lost, address) for lost, address in gone}
    # A copy's original may itself be counted in a third photo.
    for twin, source in copied:
        there = again.get(source.id)
        again[twin.id] = _again(twin, there.square if there else source.id)
    kept = tuple(s for group in named for s in group if s.id not in again)
    noted = [
        replace(record, notes=tuple(words)) for record, words in zip(records, notes, strict=True)
    ]
    return kept, tuple(noted), tuple(again.values())


def _again(lost: Swatch, kept: str) -> SeenAgain:
    return SeenAgain(kept, lost.id, lost.photo, lost.row, lost.column, lost.corners)


@dataclass(frozen=True)
class _Shared:
    """Photos ``one`` and ``other`` and the indices of squares that appear in both."""

    one: int
    other: int
    pairs: tuple[tuple[int, int], ...]


def _one_scale(
    named: list[list[Swatch]],
    photos: list[PhotoRecord],
    shared: Sequence[_Shared],
    notes: list[list[str]],
) -> list[PhotoRecord]:
    """Bring photos without a reference to the scale of those with one, the best tied first;
    changes ``named`` and ``notes`` in place and returns the photos' records."""
    tied = [photo.reference != "none" for photo in photos]
    if not any(tied):
        tied[0] = True
    while True:
        open_links = [s for s in shared if tied[s.one] != tied[s.other]]
        if not open_links:
            return photos
        link = max(open_links, key=lambda s: (len(s.pairs), -s.one, -s.other))
        base, moved = (link.one, link.other) if tied[link.one] else (link.other, link.one)
        pairs = link.pairs if base == link.one else tuple((j, i) for i, j in link.pairs)
        gain = log_gain(named[base], named[moved], pairs)
        doubt = np.max([named[base][i].lab_sd for i, _ in pairs], axis=0)
        named[moved] = [rescale(s, np.exp(gain), tuple(doubt)) for s in named[moved]]
        tied[moved] = True
        photos[moved] = replace(
            photos[moved],
            reference=f"photo {base + 1}",
            trust=max(photos[base].trust, "B"),
            trust_words=(
                f"Brought to the scale of photo {base + 1} through {_squares(len(pairs))} seen in "
                "both; contrast and order hold about as well as there."
            ),
        )
        notes[moved].append(
            f"There was no reference in this photo; {_squares(len(pairs))} also seen in photo "
            f"{base + 1} gave its scale."
        )


def _count_once(
    named: list[list[Swatch]],
    photos: Sequence[PhotoRecord],
    shared: Sequence[_Shared],
    notes: list[list[str]],
) -> list[tuple[Swatch, str]]:
    """Squares that are another photo's, with the ids that they have there. The one in the photo
    that is trusted most is kept, so that addresses stay together; the notes of the other photo say
    which is which."""
    # Of photos as good as each other, to half a unit, the first keeps its squares.
    doubts = [np.median([square.lab_sd[0] for square in squares] or [0.0]) for squares in named]
    order = sorted(range(len(photos)), key=lambda i: (photos[i].trust, round(2 * doubts[i]), i))
    twice: dict[tuple[int, int], list[str]] = {}
    gone: list[tuple[Swatch, str]] = []
    for one in _pieces(named, shared):
        keeper, *losers = sorted(one, key=order.index)
        kept = named[keeper][one[keeper]]
        for loser in losers:
            lost = named[loser][one[loser]]
            gone.append((lost, kept.id))
            twice.setdefault((loser, keeper), []).append(f"{lost.id} is {kept.id}")
    for (loser, keeper), words in sorted(twice.items()):
        notes[loser].append(
            f"{_squares(len(words))} also seen in photo {keeper + 1}, counted once: "
            f"{', '.join(words)}"
        )
    return gone


def _pieces(named: Sequence[Sequence[Swatch]], shared: Sequence[_Shared]) -> list[dict[int, int]]:
    """Pieces of cloth seen in more than one photo: photo to index. What is one with a third is one
    with each other, unless that would make two squares of one photo one."""
    owner: dict[tuple[int, int], dict[int, int]] = {}
    for link in shared:
        for i, j in link.pairs:
            first = owner.setdefault((link.one, i), {link.one: i})
            second = owner.setdefault((link.other, j), {link.other: j})
            if first is second or first.keys() & second.keys():
                continue
            first.update(second)
            for place in second.items():
                owner[place] = first
    return [
        owner[photo, i]
        for photo, group in enumerate(named)
        for i in range(len(group))
        if len(owner.get((photo, i), {})) > 1 and min(owner[photo, i]) == photo
    ]


def _copy_words(copy: PhotoRecord, original: PhotoRecord) -> str:
    smaller = copy.width * copy.height < original.width * original.height
    return (
        f"The photo {file_name(copy.path)} is the same picture as {file_name(original.path)}"
        f"{' in a smaller size' if smaller else ''}, so it was left out and its squares are "
        "counted once."
    )


def _squares(count: int) -> str:
    return "one square" if count == 1 else f"{count} squares"
