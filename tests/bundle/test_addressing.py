"""Addresses that lack their photo's number, wherever a maker writes one."""

from collections.abc import Callable

import pytest

from colorcore.bundle import Bundle
from colorcore.bundle.addressing import which_photo
from colorcore.contrast import find_background
from colorcore.errors import BundleError
from colorcore.stacking import deal
from colorcore.substitutes.finding import known_square
from tests.stacking.making import WHITE, make_pattern, make_rule, make_swatch

SQUARES = ("1-A1", "1-A2", "2-A1", "2-AA1")
BUNDLE = Bundle(tuple(make_swatch(name, (40.0, 5.0, 5.0)) for name in SQUARES), ())
PATTERN = make_pattern(make_rule("Stars", 4))


@pytest.mark.parametrize(
    ("address", "meant"), [("A1", "1-A1 or 2-A1"), (" a2", "1-A2"), ("1-A1", ""), ("B1", "")]
)
def test_the_squares_of_several_photos_that_may_be_meant(address: str, meant: str) -> None:
    assert which_photo(address, SQUARES) == (
        f"put its photo's number before it: {meant}" if meant else ""
    )


@pytest.mark.parametrize(
    "name_it",
    [
        lambda: find_background("A1", BUNDLE),
        lambda: deal(BUNDLE, PATTERN, WHITE, locks=["A1=Stars"]),
        lambda: known_square(deal(BUNDLE, PATTERN, WHITE), "A1", BUNDLE),
    ],
)
def test_a_background_a_lock_and_a_square_to_replace_are_asked_for_the_photo(
    name_it: Callable[[], object],
) -> None:
    with pytest.raises(BundleError, match="put its photo's number before it: 1-A1 or 2-A1"):
        name_it()
