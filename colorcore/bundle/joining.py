"""Squares of several photos as one bundle: on one scale, each counted once, with clear addresses.

A square that appears in two photos is recognised by its print lying in the same place from edge
to edge in both, which a copy cut elsewhere in the repeat does not. Where the photos show the same
part of the table, plain squares between such prints are recognised by their place.
"""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Final

import numpy as np
from numpy.typing import NDArray

from colorcore.bundle.model import PhotoRecord
from colorcore.bundle.pinning import PinnedPair, may_be_one, pinned_pairs
from colorcore.color.spaces import lab_from_linear, linear_from_lab
from colorcore.swatch.model import Swatch
from colorcore.swatch.rescaling import rescale

_SAME_COLOR: Final = 5.0
"""CIELAB units within which a place in two photos shows one square."""


def join_photos(
    squares: Sequence[Sequence[Swatch]], photos: Sequence[PhotoRecord]
) -> tuple[tuple[Swatch, ...], tuple[PhotoRecord, ...]]:
    """Return all squares, photo by photo, and the photos with notes on what was joined.

    With several photos the addresses become ``1-B3``. A photo without a reference takes the scale
    of one that has one through the squares that appear in both. Of a square photographed twice the
    one measured with less doubt stays.
    """
    if len(photos) == 1:
        return tuple(squares[0]), tuple(photos)
    named = [
        [replace(s, id=f"{i + 1}-{s.id}", photo=i) for s in group]
        for i, group in enumerate(squares)
    ]
    notes: list[list[str]] = [list(p.notes) for p in photos]
    shared = [
        _Shared(i, j, _same_squares(named[i], named[j]))
        for i in range(len(named))
        for j in range(i + 1, len(named))
    ]
    records = _one_scale(named, list(photos), [s for s in shared if s.pairs], notes)
    gone = _count_once(named, [s for s in shared if s.pairs], notes)
    kept = tuple(s for group in named for s in group if s.id not in gone)
    return kept, tuple(
        replace(record, notes=tuple(words)) for record, words in zip(records, notes, strict=True)
    )


@dataclass(frozen=True)
class _Shared:
    """Photos ``one`` and ``other`` and the indices of squares that appear in both."""

    one: int
    other: int
    pairs: tuple[tuple[int, int], ...]


def _same_squares(ones: Sequence[Swatch], others: Sequence[Swatch]) -> tuple[tuple[int, int], ...]:
    """Index pairs: the same piece of cloth in both photos, each used once."""
    pinned = pinned_pairs(ones, others)
    if not pinned:
        return ()
    gain = _log_gain(ones, others, [(p.one, p.other) for p in pinned])
    pinned = [p for p in pinned if _agree(ones[p.one], others[p.other], gain)]
    pairs: dict[int, int] = {}
    taken: set[int] = set()
    for pair in sorted(pinned, key=lambda p: -p.likeness):
        if pair.one not in pairs and pair.other not in taken:
            pairs[pair.one] = pair.other
            taken.add(pair.other)
    for i, j in _by_place(ones, others, pinned):
        if i not in pairs and j not in taken and _agree(ones[i], others[j], gain):
            pairs[i] = j
            taken.add(j)
    return tuple(sorted(pairs.items()))


def _by_place(
    ones: Sequence[Swatch], others: Sequence[Swatch], pinned: Sequence[PinnedPair]
) -> list[tuple[int, int]]:
    """Pairs at the same place of the table, if two or more prints agree how the photos lie."""
    votes: dict[tuple[int, int, int], int] = {}
    for p in pinned:
        row, column = _turned_place(others[p.other], p.quarter_turns)
        key = (p.quarter_turns, ones[p.one].row - row, ones[p.one].column - column)
        votes[key] = votes.get(key, 0) + 1
    if not votes:
        return []
    (turns, down, across), count = max(votes.items(), key=lambda item: (item[1], item[0]))
    if count < 2 or count < 0.6 * len(pinned):
        return []
    places = {(s.row, s.column): i for i, s in enumerate(ones)}
    found = []
    for j, square in enumerate(others):
        row, column = _turned_place(square, turns)
        i = places.get((row + down, column + across))
        if i is not None and may_be_one(ones[i], square, turns):
            found.append((i, j))
    return found


def _turned_place(square: Swatch, quarter_turns: int) -> tuple[int, int]:
    """Row and column (offsets may be negative) after counter-clockwise quarter turns."""
    row, column = square.row, square.column
    for _ in range(quarter_turns % 4):
        row, column = -column, row
    return row, column


def _log_gain(
    ones: Sequence[Swatch], others: Sequence[Swatch], pairs: Sequence[tuple[int, int]]
) -> NDArray[np.float64]:
    """Median log ratio (3,) of linear light that takes ``others`` to ``ones``."""
    ratios = [_log(ones[i]) - _log(others[j]) for i, j in pairs]
    return np.asarray(np.median(ratios, axis=0))


def _log(square: Swatch) -> NDArray[np.float64]:
    return np.asarray(np.log(np.maximum(linear_from_lab(np.array(square.lab)), 1e-3)))


def _agree(one: Swatch, other: Swatch, gain: NDArray[np.float64]) -> bool:
    moved = lab_from_linear(linear_from_lab(np.array(other.lab)) * np.exp(gain))
    return bool(np.linalg.norm(moved - np.array(one.lab)) < _SAME_COLOR)


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
        gain = _log_gain(named[base], named[moved], pairs)
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
    named: list[list[Swatch]], shared: Sequence[_Shared], notes: list[list[str]]
) -> set[str]:
    """Ids of squares that are another photo's; says so in that photo's notes."""
    gone: set[str] = set()
    for link in shared:
        twice = []
        for i, j in link.pairs:
            one, other = named[link.one][i], named[link.other][j]
            if one.id in gone or other.id in gone:
                continue
            loser = one if other.lab_sd[0] < 0.8 * one.lab_sd[0] else other
            gone.add(loser.id)
            twice.append(f"{one.id} = {other.id}")
        if twice:
            notes[link.other].append(
                f"{_squares(len(twice)).capitalize()} also seen in photo {link.one + 1}, "
                f"counted once: {', '.join(twice)}."
            )
    return gone


def _squares(count: int) -> str:
    return "one square" if count == 1 else f"{count} squares"
