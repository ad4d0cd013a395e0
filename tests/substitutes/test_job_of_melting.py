"""A square that melts does not do its job: what holds comes before what melts as well."""

from colorcore.bundle import Bundle
from colorcore.pattern import read_pattern
from colorcore.stacking import deal
from colorcore.substitutes.candidates import bundle_squares
from colorcore.substitutes.finding import find_substitutes
from tests.stacking.making import WHITE, make_bundle, make_swatch


def test_what_holds_comes_first():
    squares = list(make_bundle(41, seed=5).squares)
    squares.append(make_swatch("Z1", (92.0, 0.0, 2.0), fabric=900))
    bundle = Bundle(tuple(squares), ())
    pattern = read_pattern("gatepost-stars")
    plan = deal(bundle, pattern, WHITE)
    alike = make_swatch("alike", (91.0, 0.5, 2.0), fabric=901)
    holds = make_swatch("holds", (70.0, 2.0, 8.0), fabric=902)
    candidates = bundle_squares(Bundle((alike, holds), ()), "other")
    found = find_substitutes(plan, bundle, pattern, "Z1", candidates)
    assert found.verdict == "melts"
    assert [s.candidate.swatch.id for s in found.job] == ["holds", "alike"]
    assert found.looks[0].candidate.swatch.id == "alike"
