"""What there is to choose from; amounts are honoured."""

from dataclasses import replace
from fractions import Fraction

import numpy as np
import pytest

from colorcore.stash import Kind, Stash
from colorcore.substitutes.candidates import (
    bundle_squares,
    spare_squares,
    stash_fabrics,
    without_those_here,
)
from colorcore.substitutes.model import Origin
from tests.stash.making import make_entry, make_swatch
from tests.substitutes.making import CREAM, bundle, plan, striped

ORIGINAL = striped((35.0, 10.0, -20.0))


@pytest.fixture
def stash(tmp_path):
    with Stash(tmp_path / "s.sqlite") as opened:
        yield opened


@pytest.mark.parametrize(
    ("amount", "unit", "side", "squares"),
    [
        # Squares per yard at 42 in usable width, and per fat quarter of 18 by 22 in.
        (Fraction(1), "yards", 10.0, 12), (Fraction(1, 2), "yards", 10.0, 4),
        (Fraction(1), "fat quarters", 10.0, 2), (Fraction(5, 2), "fat quarters", 10.0, 4),
        (Fraction(1), "fat quarters", 5.0, 12), (Fraction(3), "squares", 10.0, 3),
        (Fraction(3), "squares", 5.0, 12), (Fraction(1, 4), "yards", 10.0, 0),
        (Fraction(0), "yards", 10.0, 0), (Fraction(2), "squares", 12.0, 0),
    ],
)  # fmt: skip
def test_an_amount_gives_so_many_squares(stash, amount, unit, side, squares):
    stash.add(make_entry("Harbour", amount=amount, unit=unit, swatch=make_swatch(ORIGINAL.lab)))
    original = striped(ORIGINAL.lab, side_inches=side)
    enough, short = stash_fabrics(stash, original, CREAM)
    if squares:
        assert [(c.name, c.squares, c.origin) for c in enough] == [
            ("Harbour", squares, Origin.STASH)
        ]
        assert short == []
    else:
        assert enough == []
        assert [entry.name for entry in short] == ["Harbour"]


def test_thread_and_what_was_removed_are_no_candidates(stash):
    stash.add(make_entry("Thread", kind=Kind.THREAD, unit="spools"))
    stash.add(make_entry("Gone"))
    stash.remove("Gone")
    assert stash_fabrics(stash, ORIGINAL, CREAM) == ([], [])


def test_the_background_s_own_fabric_is_no_candidate(stash):
    stash.add(make_entry("Köping sprig", swatch=make_swatch(ORIGINAL.lab)))
    stash.add(make_entry("Harbour", swatch=make_swatch(ORIGINAL.lab)))
    own = replace(CREAM, label="köping Sprig")
    assert [c.name for c in stash_fabrics(stash, ORIGINAL, own)[0]] == ["Harbour"]
    assert len(stash_fabrics(stash, ORIGINAL, CREAM)[0]) == 2


def test_the_nearest_by_colour_and_by_value_are_taken_up(stash):
    rng = np.random.default_rng(4)
    for n in range(60):
        lab = (float(rng.uniform(15, 85)), float(rng.normal(0, 25)), float(rng.normal(0, 25)))
        stash.add(make_entry(f"cloth {n}", swatch=make_swatch(lab)))
    stash.add(make_entry("twin", swatch=make_swatch((35.3, 10.0, -20.0))))
    stash.add(make_entry("same value, other hue", swatch=make_swatch((35.0, -30.0, 30.0))))
    enough, _ = stash_fabrics(stash, ORIGINAL, CREAM, most=4)
    names = [c.name for c in enough]
    assert names[0] == "twin"
    assert "same value, other hue" in names
    assert 4 <= len(names) <= 8


def test_spares_and_other_bundles():
    spares = spare_squares(plan(), bundle())
    assert {c.name for c in spares} == {p.square for p in plan().left_over}
    assert {c.origin for c in spares} == {Origin.SPARE}
    others = bundle_squares(bundle(2), "Second")
    assert len(others) == len(bundle(2).squares)
    assert {(c.origin, c.place, c.squares) for c in others} == {(Origin.BUNDLE, "Second", 1)}
    # Each bundle has an A1 of its own.
    assert others[0].full_name == f"{others[0].name} of Second"
    assert replace(others[0], place="").full_name == others[0].name
    assert spares[0].full_name == spares[0].name


def test_what_is_a_square_of_this_bundle_already_is_no_candidate_of_another():
    """A substitute that was taken keeps its measurements, and so does a photo measured again."""
    here, other = bundle(), bundle(2)
    taken = replace(other.squares[4], id=here.squares[0].id)
    with_it = replace(here, squares=(taken, *here.squares[1:]))
    offered = bundle_squares(other, "May")
    kept, said = without_those_here([*offered, *spare_squares(plan(), here)], with_it)
    assert [c.name for c in offered if c not in kept] == [other.squares[4].id]
    assert said == ["1 square of May is in this plan already and left out."]
    # Spare squares are this bundle's own.
    assert sum(c.origin is Origin.SPARE for c in kept) == len(plan().left_over)
    again, said = without_those_here(bundle_squares(here), here)
    assert again == []
    assert said == [
        f"{len(here.squares)} squares of Bundle 1 are in this plan already and left out."
    ]
    # Kept in files again and again.
    noisy = taken.picture + (np.indices(taken.picture.shape).sum(axis=0) % 5).astype(np.uint8) // 2
    worn = replace(with_it, squares=(replace(taken, picture=noisy), *here.squares[1:]))
    assert len(without_those_here(offered, worn)[0]) == len(offered) - 1
    # Another piece of a like cloth is another piece.
    like = replace(taken, picture=255 - taken.picture)
    kept, said = without_those_here(bundle_squares(replace(other, squares=(like,))), with_it)
    assert (len(kept), said) == (1, [])
