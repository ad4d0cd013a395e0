"""A fabric from elsewhere at a square's own address."""

from dataclasses import replace

from colorcore.bundle import Bundle
from colorcore.swatch import Swatch


def with_stand_in(bundle: Bundle, square: str, swatch: Swatch) -> Bundle:
    """Return the bundle with ``swatch`` in the place of the square of that address.

    It is a fabric of its own there, or the one that is there already as measured the same: what is
    cut twice from one cloth of the stash is one fabric, as much as copies in a bundle are.
    """
    own = next(s for s in bundle.squares if s.id == square)
    others = [s for s in bundle.squares if s is not own]
    fabric = next(
        (s.fabric for s in others if s.fabric >= 0 and _measured(s) == _measured(swatch)),
        max((s.fabric for s in bundle.squares), default=-1) + 1,
    )
    # How far it can be told from the others is known of squares of one photo alone.
    new = replace(
        swatch, id=own.id, photo=own.photo, row=own.row, column=own.column, fabric=fabric,
        order_sd=None,
    )  # fmt: skip
    return replace(bundle, squares=tuple(new if s is own else s for s in bundle.squares))


def _measured(swatch: Swatch) -> tuple[object, ...]:
    """The numbers that no other cut of cloth shares; its picture may have been coded again."""
    return (
        swatch.corners,
        swatch.lab,
        swatch.lab_sd,
        swatch.value_spread,
        swatch.palette,
        swatch.busyness,
    )
