"""Lengths as a quilter says them."""

from fractions import Fraction as F

import pytest
from hypothesis import given
from hypothesis import strategies as st

from colorcore.errors import CuttingError
from colorcore.lengths import (
    Measure,
    parse_length,
    round_up_yards,
    say_cm,
    say_inches,
    say_yardage,
)


@pytest.mark.parametrize(
    ("text", "inches"),
    [
        ("2 1/2", F(5, 2)), ("2½", F(5, 2)), ("½", F(1, 2)), ("2.5", F(5, 2)), (2.5, F(5, 2)),
        (3, F(3)), ("2-1/2 in", F(5, 2)), ('4 7/8"', F(39, 8)), ("17/8", F(17, 8)),
        ("2.54 cm", F(1)), ("10cm", F(63, 16)), (" 3 inches ", F(3)),
    ],
)  # fmt: skip
def test_reads(text: object, inches: F) -> None:
    assert parse_length(text) == inches


@pytest.mark.parametrize(
    "text",
    ["", "two", "-1", "1 2", "1/0", "nan", "1e9", "inf", None, True, [2], "1 2/3 4", "9" * 40,
     float("nan"), "99999"],
)  # fmt: skip
def test_refuses(text: object) -> None:
    with pytest.raises(CuttingError):
        parse_length(text, what="border")


@pytest.mark.parametrize(
    ("inches", "said"),
    [
        (F(5, 2), "2½"), (F(7, 8), "⅞"), (F(3), "3"), (F(0), "0"), (F(83, 16), "5 3/16"),
        (F(1, 16), "1/16"), (F(10, 3), "3⅓"), (F(1, 7), "about ⅛"),
    ],
)  # fmt: skip
def test_says(inches: F, said: str) -> None:
    assert say_inches(inches) == said


@given(st.integers(0, 16 * 200))
def test_what_is_said_is_read_back(sixteenths: int) -> None:
    length = F(sixteenths, 16)
    assert parse_length(say_inches(length)) == length


def test_centimetres_are_within_a_quarter_of_a_millimetre() -> None:
    assert (say_cm(F(5, 2)), say_cm(F(3)), say_cm(F(10))) == ("6.35", "7.6", "25.4")
    for sixteenths in range(1, 160):
        length = F(sixteenths, 16)
        assert abs(float(say_cm(length)) - float(length) * 2.54) <= 0.0251
    assert say_cm(F(60), unit=True) == "152.4 cm"


def test_yardage_is_rounded_up() -> None:
    assert round_up_yards(F(108)) == 3
    assert say_yardage(F(109)) == "3⅛ yards"
    assert say_yardage(F(10)) == "⅜ yard"
    assert say_yardage(F(108), metric=True) == "2.8 m"
    assert Measure(metric=True).yardage(F(40)) == "1.1 m"
    assert Measure().cut(F(2), F(4)) == "2½ × 4½ in"
