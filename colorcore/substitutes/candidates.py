"""What there is to choose from: the stash, squares that the plan leaves over, other bundles."""

from collections import Counter
from collections.abc import Iterable, Sequence
from typing import Final

import numpy as np
from numpy.typing import NDArray

from colorcore.bundle import Bundle
from colorcore.color.families import hue_family
from colorcore.contrast import Background
from colorcore.lengths import exact_inches
from colorcore.stacking import Plan
from colorcore.stash import Stash, StashEntry
from colorcore.stash.amounts import say_amount, squares_given
from colorcore.substitutes.model import Candidate, Origin
from colorcore.substitutes.nearest import nearest
from colorcore.substitutes.shopping import Wish
from colorcore.swatch import Swatch
from colorcore.wording import count

MOST_FROM_STASH: Final = 60
"""So many by colour and as many by value are taken up for a closer look."""
_CODED_ANEW: Final = 6.0
"""Mean difference of coded values, 0 to 255, below which two pictures are one, coded twice."""


def spare_squares(plan: Plan, bundle: Bundle) -> list[Candidate]:
    """Return the squares of a bundle that the plan leaves over."""
    swatches = {swatch.id: swatch for swatch in bundle.squares}
    return [
        _from_bundle(swatches[place.square], bundle, Origin.SPARE, bundle.name)
        for place in plan.left_over
    ]


def bundle_squares(bundle: Bundle, name: str = "") -> list[Candidate]:
    """Return all squares of another bundle; ``name`` says which."""
    return [_from_bundle(s, bundle, Origin.BUNDLE, name or bundle.name) for s in bundle.squares]


def without_those_here(
    candidates: Sequence[Candidate], bundle: Bundle
) -> tuple[list[Candidate], list[str]]:
    """Return the candidates less those of other bundles that are squares of this one already, as
    a substitute that was taken or the same photo measured twice, and what to say of them: a piece
    of cloth is there once."""
    here: dict[tuple[tuple[float, ...], float], list[Swatch]] = {}
    for square in bundle.squares:
        here.setdefault((square.lab, square.value_spread), []).append(square)

    def is_here(one: Candidate) -> bool:
        same = here.get((one.swatch.lab, one.swatch.value_spread), ())
        return one.origin is Origin.BUNDLE and any(
            _same_picture(one.swatch, square) for square in same
        )

    kept, gone = [], Counter[str]()
    for one in candidates:
        if is_here(one):
            gone[one.place] += 1
        else:
            kept.append(one)
    return kept, [
        f"{count(n, 'square')} of {place or 'the other bundle'} "
        f"{'is' if n == 1 else 'are'} in this plan already and left out."
        for place, n in gone.items()
    ]


def _same_picture(one: Swatch, other: Swatch) -> bool:
    """Whether two squares have one picture; each time that a bundle is kept it is coded anew."""
    if one.picture.shape != other.picture.shape:
        return False
    apart = np.abs(one.picture.astype(np.int16) - other.picture.astype(np.int16))
    return bool(apart.mean() < _CODED_ANEW)


def stash_fabrics(
    stash: Stash,
    original: Swatch,
    background: Background,
    *,
    most: int = MOST_FROM_STASH,
) -> tuple[list[Candidate], list[StashEntry]]:
    """Return fabrics of the stash that could stand in for a square, and those near it in colour of
    which there is too little for one square of its size. The fabric that the background is cut from
    (known by its name) is none of them: on itself it would melt.

    Taken up are the ``most`` nearest by CIEDE2000 (exactly, of however many) and the ``most``
    nearest in value on the same side of the background.
    """
    numbers, labs = stash.colors()
    side = exact_inches(original.side_inches)
    enough, too_little = [], []
    for number in _worth_a_look(numbers, labs, original, background, most):
        entry = stash.entry(number)
        if entry.name.casefold() == background.label.strip().casefold():
            continue
        swatch = stash.swatch(number)
        own = exact_inches(swatch.side_inches)
        squares = squares_given(entry.amount, entry.unit, side, own_side=own)
        if squares:
            enough.append(_from_entry(entry, swatch, squares))
        else:
            too_little.append(entry)
    return enough, too_little


def stash_for_wish(
    stash: Stash, wish: Wish, square_inches: float, *, most: int = 4
) -> list[Candidate]:
    """Return fabrics of the stash that a shopping note's wish would be met by, those nearest to
    the middle of its range of L* first; each gives at least one square of ``square_inches``."""
    numbers, labs = stash.colors()
    within = (labs[:, 0] >= wish.darkest) & (labs[:, 0] <= wish.lightest)
    away = np.abs(labs[:, 0] - (wish.darkest + wish.lightest) / 2)
    side = exact_inches(square_inches)
    found: list[Candidate] = []
    for n in np.lexsort((numbers, away)):
        if len(found) == most:
            break
        if not within[n] or hue_family(labs[n]) in wish.without:
            continue
        entry = stash.entry(int(numbers[n]))
        swatch = stash.swatch(entry.id)
        own = exact_inches(swatch.side_inches)
        squares = squares_given(entry.amount, entry.unit, side, own_side=own)
        if squares:
            found.append(_from_entry(entry, swatch, squares))
    return found


def _from_entry(entry: StashEntry, swatch: Swatch, squares: int) -> Candidate:
    """Return a stash entry as a candidate that gives so many squares."""
    return Candidate(
        name=entry.name,
        origin=Origin.STASH,
        swatch=swatch,
        squares=squares,
        amount=say_amount(entry.amount, entry.unit),
        place=entry.place,
        trust=entry.trust,
        reference=entry.reference,
        entry=entry.id,
    )


def _worth_a_look(
    numbers: NDArray[np.int64],
    labs: NDArray[np.float64],
    original: Swatch,
    background: Background,
    most: int,
) -> Iterable[int]:
    if not len(numbers):
        return ()
    by_color, _ = nearest(labs, original.lab, most)
    value = labs[:, 0]
    side = np.sign(original.lab[0] - background.lab[0])
    far = np.where(np.sign(value - background.lab[0]) == side, 0.0, 1000.0)
    away = np.abs(value - original.lab[0]) + far
    by_value = np.lexsort((numbers, away))[:most]
    chosen = dict.fromkeys([*by_color.tolist(), *by_value.tolist()])
    return [int(numbers[i]) for i in chosen]


def _from_bundle(swatch: Swatch, bundle: Bundle, origin: Origin, name: str) -> Candidate:
    photo = bundle.photos[swatch.photo] if swatch.photo < len(bundle.photos) else None
    return Candidate(
        name=swatch.id,
        origin=origin,
        swatch=swatch,
        squares=1,
        amount="1 square",
        place=name,
        trust=photo.trust if photo else "",
        reference=photo.reference if photo else "",
    )
