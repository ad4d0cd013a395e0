import pytest

from colorcore.wording import (
    MINUS,
    as_typed,
    count,
    listing,
    number,
    number_beside,
    percent,
    sentence,
    unbroken,
)


@pytest.mark.parametrize(
    ("value", "digits", "text"),
    [
        (3.14159, 1, "3.1"),
        (-2.5, 1, "\u22122.5"),
        (-0.04, 1, "0.0"),
        (-0.6, 0, "\u22121"),
        (7, 0, "7"),
    ],
)
def test_number(value: float, digits: int, text: str) -> None:
    assert number(value, digits) == text


@pytest.mark.parametrize(
    ("value", "text"),
    [
        (19.6, "19.6"), (-19.6, f"{MINUS}19.6"), (19.98, "19.98"), (20.0, "20"), (20.4, "20"),
        (9.7, "9.7"), (10.2, "10"), (14.6, "15"), (0.4, "0"), (-33.5, f"{MINUS}34"),
    ],
)  # fmt: skip
def test_a_number_never_seems_to_reach_a_limit_that_it_does_not(value: float, text: str) -> None:
    assert number_beside(value, 20, 10) == text


def test_words() -> None:
    assert count(1, "square") == "1 square"
    assert count(0, "square") == "0 squares"
    assert count(2, "thing needs", "things need") == "2 things need"
    assert listing([]) == ""
    assert listing(["A1"]) == "A1"
    assert listing(["A1", "B2", "C3"]) == "A1, B2 and C3"
    assert sentence("look again") == "Look again."
    assert sentence("Done!") == "Done!"
    assert sentence("") == ""


@pytest.mark.parametrize(
    ("share", "text"),
    [(0, "0 %"), (0.004, "under 1 %"), (0.5, "50 %"), (0.997, "over 99 %"), (1, "100 %")],
)
def test_percent_never_claims_certainty(share: float, text: str) -> None:
    # Number and sign are not parted at the end of a line.
    assert percent(share) == text.replace(" %", "\u00a0%")


def test_no_line_ends_within_an_address() -> None:
    said = unbroken("2-B3 with 1-A12, 12-AB7; B3, IMG_2-3, 10-patch, 2-b3")
    assert said == "2-\u2060B3 with 1-\u2060A12, 12-\u2060AB7; B3, IMG_2-3, 10-patch, 2-b3"
    # What was copied from a page means what it means there.
    assert as_typed(f" {unbroken('2-B3')} ") == "2-B3"
