"""What was said of a square when photos come and go."""

from dataclasses import replace

import numpy as np
import pytest

from colorcore.project import Choices, ProjectPhoto
from colorcore.project.addresses import (
    region_place,
    says_of_squares,
    with_corrected,
    with_counted,
    with_photos,
    with_renamed,
)

QUAD = ((0.1, 0.1), (0.3, 0.1), (0.3, 0.3), (0.1, 0.3))
FIRST, SECOND, THIRD = (ProjectPhoto(letter * 64, f"{letter}.jpg") for letter in "abc")
ONE = Choices(
    photos=(FIRST,),
    background="b3",
    tries=("white", "C4", "stash:B3"),
    locks=(("A1", "Stars"), ("F7", "out")),
    places=(("A1", "Stars"), ("A2", "")),
    swaps=(("A1", "0" * 64, "Plum"),),
)


def test_squares_get_the_number_of_their_photo_when_another_comes() -> None:
    more = with_photos(ONE, (FIRST, SECOND))
    assert more.photos == (FIRST, SECOND)
    assert more.background == "1-b3"
    assert more.tries == ("white", "1-C4", "stash:B3")
    assert more.locks == (("1-A1", "Stars"), ("1-F7", "out"))
    assert more.places == (("1-A1", "Stars"), ("1-A2", ""))
    assert more.swaps == (("1-A1", "0" * 64, "Plum"),)
    assert with_photos(more, (FIRST,)) == ONE


def test_what_was_said_of_a_photo_goes_with_it_and_the_others_keep_theirs() -> None:
    three = Choices(
        photos=(FIRST, SECOND, THIRD),
        background="region 3",
        tries=("region 1", "region 3", "2-B1", "linen"),
        locks=(("1-A1", "Stars"), ("3-A1", "out")),
        swaps=(("2-A1", "0" * 64, "Plum"), ("3-A1", "1" * 64, "Fir")),
    )
    two = with_photos(three, (SECOND, THIRD))
    assert two.background == "fabric on photo 2"
    assert two.tries == ("fabric on photo 2", "1-B1", "linen")
    assert two.locks == (("2-A1", "out"),)
    assert two.swaps == (("1-A1", "0" * 64, "Plum"), ("2-A1", "1" * 64, "Fir"))
    last = with_photos(two, (SECOND,))
    assert (last.background, last.tries, last.locks) == ("", ("B1", "linen"), ())
    assert last.swaps == (("A1", "0" * 64, "Plum"),)
    assert with_photos(last, ()).swaps == ()


SAME = (("2-A1", "1-B3"), ("1-C4", "2-A2", "3-D1"))


def test_what_was_said_of_a_square_stays_while_one_of_its_photos_does() -> None:
    two = Choices(
        photos=(FIRST, SECOND),
        background="2-a1",
        tries=("1-C4", "2-B1"),
        locks=(("2-A1", "Stars"), ("2-F7", "out")),
        swaps=(("2-A1", "0" * 64, "Plum"),),
    )
    one = with_photos(two, (FIRST,), SAME)
    assert (one.background, one.tries, one.locks) == ("B3", ("C4",), (("B3", "Stars"),))
    assert one.swaps == (("B3", "0" * 64, "Plum"),)
    other = with_photos(two, (SECOND,), SAME)
    assert (other.tries, other.locks) == (("A2", "B1"), (("A1", "Stars"), ("F7", "out")))


def test_what_was_said_of_a_square_that_is_taken_out_holds_where_it_shows_again() -> None:
    said = Choices(photos=(FIRST, SECOND), locks=(("2-A1", "Stars"), ("2-A3", "out")))
    new = with_renamed(said, 2, _outlines("A1", "A2", "A3"), _outlines("A1", first=5.0), SAME)
    assert new.locks == (("1-B3", "Stars"),)


def test_what_was_said_is_said_of_the_address_that_a_square_has() -> None:
    counted = {"1-B3": "2-A1", "2-A2": "1-C4"}
    said = Choices(
        photos=(FIRST, SECOND),
        background="1-b3",
        tries=("2-A2", "white"),
        locks=(("1-B3", "Stars"), ("1-A1", "out")),
        places=(("2-A2", "Fill"),),
        swaps=(("1-B3", "0" * 64, "Plum"),),
    )
    new = with_counted(said, counted)
    assert (new.background, new.tries) == ("2-A1", ("1-C4", "white"))
    assert new.locks == (("2-A1", "Stars"), ("1-A1", "out"))
    assert (new.places, new.swaps) == ((("1-C4", "Fill"),), (("2-A1", "0" * 64, "Plum"),))
    assert with_counted(new, counted) == new
    # Of two words on one square, that on its own address holds.
    for locks in ((("1-B3", "Stars"), ("2-A1", "Fill")), (("2-A1", "Fill"), ("1-B3", "Stars"))):
        assert with_counted(replace(said, locks=locks), counted).locks == (("2-A1", "Fill"),)


def test_the_first_photo_changes_nothing_that_was_said_before() -> None:
    begun = Choices(background="white", tries=("linen",))
    assert with_photos(begun, (FIRST,)) == replace(begun, photos=(FIRST,))


@pytest.mark.parametrize(
    ("text", "place"),
    [("region 2", 2), (" Fabric on photo 12 ", 12), ("fabric", None), ("B2", None)],
)
def test_which_region_a_background_means(text: str, place: int | None) -> None:
    assert region_place(text) == place


def test_fabric_that_is_marked_is_the_background_unless_another_was_chosen() -> None:
    two = Choices(photos=(FIRST, SECOND))
    marked = replace(SECOND, background=QUAD)
    new = with_corrected(two, marked)
    assert (new.photos, new.background) == ((FIRST, marked), "fabric on photo 2")
    moved = replace(marked, background=tuple((x + 0.1, y) for x, y in QUAD))
    assert with_corrected(replace(new, background="white"), moved).background == "white"
    assert with_corrected(replace(two, background="1-B3"), marked).background == "1-B3"
    # The white paper that is pointed at is another matter.
    assert with_corrected(two, replace(SECOND, white=(0.5, 0.5))).background == ""
    assert with_corrected(new, SECOND).background == ""
    assert with_corrected(replace(new, background="region 1"), SECOND).background == "region 1"


def _outlines(*names: str, first: float = 0.0) -> dict[str, np.ndarray]:
    """Unit squares in a row from ``first`` on, by name."""
    square = np.array([(0.0, 0.0), (0.9, 0.0), (0.9, 0.9), (0.0, 0.9)])
    return {name: square + np.array([first + n, 0.0]) for n, name in enumerate(names)}


def test_what_was_said_follows_the_square_when_columns_are_counted_anew() -> None:
    said = Choices(
        photos=(FIRST,),
        background="b2",
        tries=("B3", "white"),
        locks=(("B1", "Stars"), ("B3", "out")),
        swaps=(("B2", "0" * 64, "Plum"),),
    )
    before = _outlines("B1", "B2", "B3")
    # A square was missed at the left, and the last one was none.
    after = _outlines("B1", "B2", "B3", first=-1.0)
    new = with_renamed(said, 1, before, after)
    assert new.locks == (("B2", "Stars"),)
    assert new.swaps == (("B3", "0" * 64, "Plum"),)
    assert (new.background, new.tries) == ("B3", ("white",))
    assert with_renamed(said, 1, before, before) == replace(said, background="B2")


def test_squares_of_other_photos_keep_their_names() -> None:
    said = Choices(photos=(FIRST, SECOND), locks=(("1-B1", "Stars"), ("2-B1", "Fill")))
    new = with_renamed(said, 2, _outlines("B1", "B2"), _outlines("A1", "B1", first=-1.0))
    assert new.locks == (("1-B1", "Stars"), ("2-B1", "Fill"))
    new = with_renamed(said, 2, _outlines("B1", "B2"), _outlines("A1", "B1", "B2", first=-1.0))
    assert new.locks == (("1-B1", "Stars"), ("2-B1", "Fill"))
    new = with_renamed(said, 2, _outlines("B1", "B2"), _outlines("C1", "C2"))
    assert new.locks == (("1-B1", "Stars"), ("2-C1", "Fill"))


def test_what_is_said_of_squares_is_known() -> None:
    assert not says_of_squares(Choices(background="white", tries=("linen", "region 1")))
    for said in (
        Choices(locks=(("A1", "out"),)),
        Choices(swaps=(("A1", "0" * 64, "Plum"),)),
        Choices(background="c4"),
        Choices(tries=("1-C4",)),
    ):
        assert says_of_squares(said)


def _shingled(*lefts: float) -> dict[str, np.ndarray]:
    """Outlines 100 wide that begin at these places of one row."""
    return {
        f"A{k}": np.array([[x, 0], [x + 100, 0], [x + 100, 100], [x, 100]], np.float64)
        for k, x in enumerate(lefts, start=1)
    }


def test_squares_that_overlap_keep_what_was_said_of_each() -> None:
    said = Choices(photos=(FIRST,), locks=(("A1", "x"), ("A2", "y"), ("A3", "z")))
    rows = _shingled(0, 40, 80, 120)
    assert with_renamed(said, 1, rows, rows) == said
    # One more at the front moves all by one; one that is gone gives its name to no other.
    more = with_renamed(said, 1, _shingled(0, 40, 80), _shingled(-40, 0, 40, 80))
    assert more.locks == (("A2", "x"), ("A3", "y"), ("A4", "z"))
    fewer = with_renamed(said, 1, _shingled(0, 40, 80), _shingled(0, 80))
    assert fewer.locks == (("A1", "x"), ("A2", "z"))
