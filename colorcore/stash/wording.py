"""Stash entries in words."""

from fractions import Fraction

from colorcore.color.naming import describe_print
from colorcore.database import bare
from colorcore.stash.amounts import squares_given
from colorcore.stash.model import Kind, StashEntry
from colorcore.wording import count


def describe_entry(entry: StashEntry) -> str:
    """Return colour and print in words: ``dark greyish blue, small print``."""
    return describe_print(
        entry.lab,
        reads_as_solid=entry.reads_as_solid,
        print_scale_inches=entry.print_scale_inches,
        value_spread=entry.value_spread,
        palette=[(color.lab, color.share) for color in entry.palette],
    )


def mentions(entry: StashEntry, text: str) -> bool:
    """Whether a text stands in an entry's name, place, note or colour words, in any case and with
    or without accents."""
    words = f"{entry.name}\n{entry.place}\n{entry.note}\n{describe_entry(entry)}"
    return bare(text.strip()) in bare(words)


def say_squares(entry: StashEntry, side: Fraction, own_side: Fraction) -> str:
    """Return what an amount gives: ``gives 12 squares of 10 in``; "" for thread.

    Raises
    ------
    CuttingError
        If ``side`` is not above 0.
    """
    from colorcore.lengths import say_inches

    if entry.kind is Kind.THREAD:
        return ""
    number = squares_given(entry.amount, entry.unit, side, own_side=own_side)
    said = count(number, "square") if number else "no square"
    return f"gives {said} of {say_inches(side, unit=True)}"
