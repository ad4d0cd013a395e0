"""Where a background comes from."""

import numpy as np
import pytest

from colorcore.bundle import Bundle, SeenAgain
from colorcore.color.spaces import linear_from_lab
from colorcore.contrast import Background, find_background
from colorcore.contrast.sources import background_from_region, background_from_swatch
from colorcore.errors import ColorError
from tests.contrast.printing import places, printed_square
from tests.stacking.making import make_swatch


def test_a_square_that_hardly_shows_is_a_background_as_a_whole() -> None:
    x, y = places()
    for shown, whole in ((np.hypot(x - 5, y - 5) < 0.1, True), (x > 4.0, False)):
        square = printed_square("A1", 40.0, 60.0, np.floor(x) % 2 == 0, valid=shown)
        found = background_from_swatch(square).picture
        assert found is not None
        assert (found.shape == square.picture.shape) == whole


def test_an_address_comes_first_then_the_stash_then_a_colour() -> None:
    bundle = Bundle((make_swatch("A1", (40.0, 10.0, 5.0), sd=0.7, order_sd=0.2),), ())
    kept = Background("tan", (70.0, 5.0, 20.0))

    def stash(name: str) -> Background | None:
        return kept if name in ("tan", "A1") else None

    found, used = find_background(" a1 ", bundle, stash=stash)
    assert (found.lab, found.lab_sd[0], used) == ((40.0, 10.0, 5.0), 0.7, ("A1",))
    assert (found.order_sd, found.photo) == (0.2, 0)
    assert find_background("tan", bundle, stash=stash) == (kept, ())
    assert find_background("stash:A1", bundle, stash=stash) == (kept, ())
    plain, used = find_background("tan", bundle)
    assert plain.lab != kept.lab
    assert used == ()


def test_a_square_may_be_named_as_another_photo_of_it_would_have_it() -> None:
    again = SeenAgain("1-A1", "2-C4", 1, 2, 3, ((0, 0), (1, 0), (1, 1), (0, 1)))
    bundle = Bundle((make_swatch("1-A1", (40.0, 10.0, 5.0)),), (), seen_again=(again,))
    assert find_background("1-\u2060A1", bundle)[1] == ("1-A1",), "as copied from a page"
    found, used = find_background("2-c4", bundle)
    assert (found.label, used) == ("square 1-A1", ("1-A1",))


@pytest.mark.parametrize("text", ["", "Z9", "stash:none", "stash:", "#12", "no colour"])
def test_nothing_of_that_name(text: str) -> None:
    bundle = Bundle((make_swatch("A1", (40.0, 10.0, 5.0)),), ())
    with pytest.raises(ColorError):
        find_background(text, bundle, stash=lambda name: None)


def test_a_print_keeps_its_picture_and_a_solid_does_not() -> None:
    x, _ = places()
    printed = printed_square("A1", 25.0, 90.0, x % 2 < 1)
    found = background_from_swatch(printed)
    assert found.picture is not None
    assert found.pixels_per_inch == 20
    assert background_from_swatch(make_swatch("A1", (40.0, 0.0, 0.0))).picture is None


def test_only_what_shows_of_a_square_becomes_the_background() -> None:
    x, y = places()
    printed = printed_square("A1", 25.0, 90.0, x % 2 < 1, valid=(x < 6) & (y > 1))
    found = background_from_swatch(printed)
    assert found.picture is not None
    assert found.picture.shape[0] == pytest.approx(180, abs=1)
    assert found.picture.shape[1] == pytest.approx(120, abs=1)


def test_a_region_is_a_print_only_if_it_is_one() -> None:
    light = linear_from_lab((80.0, 2.0, 8.0))
    plain = background_from_region(np.tile(light, (60, 80, 1)), label="region", pixels_per_inch=20)
    assert plain.lab == pytest.approx((80, 2, 8), abs=0.01)
    assert plain.picture is None
    half = np.tile(light, (60, 80, 1))
    half[:, :40] = linear_from_lab((30.0, 0.0, 0.0))
    printed = background_from_region(half, label="region", pixels_per_inch=20)
    assert printed.picture is not None
    assert printed.picture.shape == (60, 80, 3)
    with pytest.raises(ColorError, match="larger"):
        background_from_region(np.zeros((0, 5, 3)), label="region", pixels_per_inch=20)
