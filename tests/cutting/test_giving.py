"""How many kits a square gives, and how much is tried for that at most."""

import random
from fractions import Fraction as F
from itertools import count
from pathlib import Path

import pytest

from colorcore.cutting import guillotine
from colorcore.cutting.giving import SquareGiving
from colorcore.cutting.guillotine import Effort
from colorcore.errors import CuttingError, PatternError
from colorcore.pattern import parse_pattern, shipped_patterns
from colorcore.pattern.kits import KitPiece
from colorcore.pattern.patches import Then

SHIPPED = Path(__file__).parents[2] / "colorcore/pattern/shipped"


@pytest.mark.parametrize("seed", range(12))
def test_the_most_kits_are_what_trying_one_more_and_one_more_finds(seed: int) -> None:
    rng = random.Random(seed)
    sizes = rng.sample([F(1), F(3, 2), F(2), F(5, 2), F(7, 2)], rng.choice([1, 2]))
    kit = tuple(KitPiece(side, side + F(rng.randrange(3), 2), rng.randrange(1, 4), Then.WHOLE)
                for side in sizes)  # fmt: skip
    giving = SquareGiving("Prints", (kit,), F(5), F(5))
    able = next(n for n in count() if not giving.feasible((n + 1,)))
    if able:
        assert giving.most(0) == able
    else:
        with pytest.raises(CuttingError, match="does not give them by straight cuts"):
            giving.most(0)


def test_searches_that_share_an_effort_end_when_it_is_spent() -> None:
    kinds = tuple((KitPiece(F(n, 2), F(n, 2), 1, Then.WHOLE),) for n in (5, 6, 7))
    wanted = (9, 9, 9)
    assert SquareGiving("Prints", kinds, F(10), F(10)).vectors(wanted)
    with pytest.raises(CuttingError, match="too small or too many"):
        SquareGiving("Prints", kinds, F(10), F(10), Effort(400)).vectors(wanted)


@pytest.mark.parametrize(
    ("name", "side"),
    [*((name, "10") for name in shipped_patterns()), ("gatepost-stars", "30"),
     ("lamplight-rails", "10000")],
)  # fmt: skip
def test_reading_tries_little_whatever_the_squares_side(
    name: str, side: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Of squares of 30 in 5 million joins were tried, of 60 in for minutes: of each kind one more
    and one more."""
    tried = 0
    spend = guillotine.Effort.spend

    def counted(self: Effort, joins: int) -> None:
        nonlocal tried
        tried += joins
        spend(self, joins)

    monkeypatch.setattr(guillotine.Effort, "spend", counted)
    text = (SHIPPED / f"{name}.toml").read_text("utf-8")
    assert 'square_inches = "10"' in text
    try:
        parse_pattern(text.replace('square_inches = "10"', f'square_inches = "{side}"'))
    except PatternError:
        assert side != "10"
    assert tried < (5_000 if side == "10" else 300_000)
