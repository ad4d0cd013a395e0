"""Addresses of squares as a maker writes them."""

from collections.abc import Iterable

from colorcore.wording import listing


def which_photo(address: str, squares: Iterable[str]) -> str:
    """Return what to say where an address lacks its photo's number: which ``squares`` of several
    photos it may mean; "" if it means none."""
    ending = f"-{address.strip().casefold()}"
    meant = [square for square in squares if square.casefold().endswith(ending)]
    return f"put its photo's number before it: {listing(meant, 'or')}" if meant else ""
