"""Substitutes of two kinds, each dealt again in the square's place."""

from dataclasses import replace

import numpy as np
import pytest

from colorcore.bundle import SeenAgain
from colorcore.color.spaces import coded8_from_linear, lab_from_linear, linear_from_lab
from colorcore.comparing import plan_figures
from colorcore.contrast import VERDICTS, Background, Thresholds
from colorcore.errors import DealError
from colorcore.pattern import read_pattern
from colorcore.stacking import deal
from colorcore.substitutes.candidates import bundle_squares, spare_squares
from colorcore.substitutes.finding import find_substitutes, known_square
from colorcore.substitutes.model import Candidate, Origin
from colorcore.substitutes.trial import Trial, exchanged
from tests.substitutes.making import CREAM, bundle, pattern, plan, striped


def candidate(swatch, name="cloth", squares=1):
    return Candidate(name, Origin.STASH, swatch, squares, "1 yard", "shelf", "B", "paper", 1)


def swatch_of(square):
    return next(s for s in bundle().squares if s.id == square)


def find(square, candidates, **settings):
    return find_substitutes(plan(), bundle(), pattern(), square, candidates, **settings)


FOCAL = plan().stacks[0].placements[4].square
FILL = plan().stacks[1].placements[3].square


@pytest.mark.parametrize("square", [FOCAL, FILL])
def test_the_same_cloth_is_the_best_of_both_kinds_and_changes_nothing(square):
    twin = candidate(replace(swatch_of(square), id="Z1", fabric=-1), "twin")
    found = find(square, [*bundle_squares(bundle(2), "Second"), twin])
    assert found.looks[0].candidate.name == "twin"
    assert found.job[0].candidate.name == "twin"
    best = found.job[0]
    assert best.score == pytest.approx(0.0, abs=0.1)
    assert best.outcome.moved == ()
    assert "No other square moves." in best.changes
    assert best.outcome.figures.verdicts == found.before.verdicts
    assert found.original.id == square


def test_the_kinds_are_kept_apart():
    original = swatch_of(FOCAL)
    value_twin = candidate(striped((original.lab[0], -original.lab[1], -original.lab[2])), "job")
    found = find(FOCAL, [value_twin])
    assert found.looks == ()
    assert [s.candidate.name for s in found.job] == ["job"]
    assert any("looks like it" in note for note in found.notes)


@pytest.mark.parametrize(
    ("name", "stack", "kept"),
    [
        # A stack of a value takes more of it, and what passes for it; not its neighbours' values.
        ("lamplight-rails", "Dark rails", {10, 20, 30, 40}),
        ("lamplight-rails", "Medium rails", {40, 50, 60}),
        ("lamplight-rails", "Light rails", {70, 80, 90}),
        # A mixed one that happens to have no darks gets none.
        ("gatepost-stars", "Second chain", {50, 60, 70, 80, 90}),
        ("hedgerow-geese", "Hedges", {20, 30, 40, 50, 60, 70, 80, 90}),
    ],
)
def test_what_does_the_job_is_of_a_value_that_the_stack_takes(name, stack, kept):
    made, sewn = bundle(1, 42), read_pattern(name)
    dealt = deal(made, sewn, CREAM)
    (planned,) = (s for s in dealt.stacks if s.name == stack)
    values = {s.id: s.lab[0] for s in made.squares}
    # The lightest one: beside the background, what holds as little as it does is not refused.
    square = max(planned.placements, key=lambda p: values[p.square]).square
    offered = [candidate(striped((float(n), 5.0, 5.0)), str(n)) for n in range(10, 100, 10)]
    found = find_substitutes(dealt, made, sewn, square, offered, most=9)
    assert {int(s.candidate.name) for s in found.job} == kept
    low, high = (end(values[p.square] for p in planned.placements) for end in (min, max))
    assert all(low - 8 <= n <= high + 8 for n in kept if planned.value in ("medium", "mixed"))


def test_nothing_but_darks_does_not_do_a_pale_square_s_job():
    made, sewn = bundle(1, 42), read_pattern("lamplight-rails")
    dealt = deal(made, sewn, CREAM)
    pale = dealt.stacks[2].placements[5].square
    darks = [candidate(striped((n, 5.0, 5.0)), f"dark {n}") for n in (20.0, 30.0, 40.0)]
    found = find_substitutes(dealt, made, sewn, pale, darks)
    assert found.job == ()
    assert "Nothing here would do its job without harm to the plan." in found.notes


def test_what_holds_less_does_not_do_the_job():
    light = candidate(striped((90.0, 0.0, 4.0)), "light")
    found = find(FOCAL, [light])
    assert found.verdict == "holds"
    assert found.job == ()


@pytest.mark.parametrize("square", [FOCAL, FILL])
def test_every_proposal_is_a_whole_plan_with_it_in_its_place(square):
    found = find(square, [*spare_squares(plan(), bundle()), *bundle_squares(bundle(3), "Third")])
    assert found.job
    for substitute in found.job:
        outcome = substitute.outcome
        stand_in = (
            substitute.candidate.name if substitute.candidate.origin is Origin.SPARE else square
        )
        stack = next(s for s in outcome.plan.stacks if s.name == found.stack)
        assert stand_in in [p.square for p in stack.placements]
        assert [len(s.placements) for s in outcome.plan.stacks] == [
            len(s.placements) for s in plan().stacks
        ]
        everywhere = [p.square for s in outcome.plan.stacks for p in s.placements]
        assert (square in everywhere) == (stand_in == square)
        before = {p.square: s.name for s in plan().stacks for p in s.placements}
        after = {p.square: s.name for s in outcome.plan.stacks for p in s.placements}
        moved = {
            q for q in before
            if q not in (square, stand_in) and after.get(q, "left over") != before[q]
        }  # fmt: skip
        spares_used = {
            p.square for p in plan().left_over if p.square in after and p.square != stand_in
        }
        assert {q for q, _, _ in outcome.moved} == moved | spares_used
        assert VERDICTS.index(outcome.verdict) <= VERDICTS.index(found.verdict)
    scores = [s.score for s in found.job]
    assert scores == sorted(scores)


def test_a_square_may_be_named_as_another_photo_of_it_would():
    again = SeenAgain(FILL, "2-C4", 1, 2, 3, ((0, 0), (1, 0), (1, 1), (0, 1)))
    twice = replace(bundle(), seen_again=(again,))
    assert (
        known_square(plan(), " 2-c4 ", twice) == known_square(plan(), FILL.lower(), twice) == FILL
    )
    with pytest.raises(DealError, match="no square 2-C5"):
        known_square(plan(), "2-C5", twice)


def test_locks_and_squares_that_stay_out_are_kept():
    free = plan().left_over[0].square
    locked = plan(locks=(f"{FILL}=Second chain", f"{free}=out"))
    square = next(p.square for p in locked.stacks[0].placements)
    found = find_substitutes(
        locked, bundle(), pattern(), square, bundle_squares(bundle(2), "Second"), most=2
    )
    assert found.job
    for substitute in found.job:
        outcome = substitute.outcome.plan
        second = next(s for s in outcome.stacks if s.name == "Second chain")
        assert FILL in [p.square for p in second.placements]
        assert outcome.stayed_out == (free,)


def test_nothing_left_of_it_is_no_candidate():
    none = candidate(replace(swatch_of(FOCAL), id="Z1"), "used up", squares=0)
    found = find(FOCAL, [none])
    assert (found.looks, found.job) == ((), ())


def test_squares_too_small_for_the_pattern_are_left_out_and_it_is_said():
    twin = replace(swatch_of(FOCAL), id="Z1", fabric=90)
    small = replace(bundle(2), squares=(replace(twin, side_inches=5.0),))
    found = find(FOCAL, bundle_squares(small, "Fives of May"))
    assert (found.looks, found.job) == ((), ())
    assert found.notes == (
        "The squares of Fives of May are left out: they are 5 in, and Gatepost Stars cuts squares "
        "of 10 in.",
    )
    large = replace(small, squares=(twin,))
    found = find(FOCAL, bundle_squares(large, "Fives of May"))
    assert [s.candidate.name for s in found.job] == ["Z1"]
    assert found.notes == ()


def test_a_measurement_without_reference_is_said():
    twin = replace(
        candidate(replace(swatch_of(FOCAL), id="Z1", flags=("no-scale",))),
        trust="D", reference="none",
    )  # fmt: skip
    words = " ".join(find(FOCAL, [twin]).job[0].changes)
    assert "without a reference" in words
    assert "size of its print is not known" in words


def test_squares_that_need_no_substitute():
    with pytest.raises(DealError, match="no square ZZ9"):
        find("ZZ9", [])
    with pytest.raises(DealError, match="in no stack"):
        find(plan().left_over[0].square, [])
    assert find(FOCAL.lower(), []).original.id == FOCAL


def test_figures_of_the_plan_are_those_before():
    assert find(FOCAL, []).before == plan_figures(plan(), bundle())
    assert CREAM is plan().background


def test_a_verdict_within_the_doubt_of_the_measurement_is_said():
    """Holds from 20 L* on; 20.4 with a doubt of 0.6 could as well be soft."""
    near = replace(swatch_of(FILL), id="Z1", lab=(CREAM.lab[0] - 20.4, 0.0, 5.0))
    place = next(p for p in plan().stacks[1].placements if p.square == FILL)
    found = find(FILL, [candidate(near)])
    words = " ".join(found.job[0].changes)
    assert place.verdict == "holds"
    assert "could be wrong" in words
    sure = find(FILL, [candidate(replace(near, lab=(50.0, 0.0, 5.0)))])
    assert "could be wrong" not in " ".join(sure.job[0].changes)


def test_beside_a_print_all_its_values_count():
    """What reads as the print does on the whole may hold against its lights and its darks."""
    printed = np.repeat(np.repeat([[15.0, 85.0], [85.0, 15.0]], 40, axis=0), 40, axis=1)
    lab = np.stack([printed, np.zeros_like(printed), np.zeros_like(printed)], axis=-1)
    linear = linear_from_lab(lab)
    mean = float(lab_from_linear(linear.mean(axis=(0, 1)))[0])
    ground = Background("checks", (mean, 0.0, 0.0), (0.0,) * 3, coded8_from_linear(linear), 10.0)
    dealt = deal(bundle(), pattern(), ground)
    held = next(p.square for p in dealt.stacks[1].placements if p.verdict == "holds")
    as_the_whole = candidate(striped((mean, 2.0, 2.0)), "as the whole")
    found = find_substitutes(dealt, bundle(), pattern(), held, [as_the_whole])
    (job,) = found.job
    assert job.outcome.verdict == "holds"


def test_one_cloth_in_the_place_of_two_squares_is_one_fabric():
    cloth = candidate(striped((30.0, 5.0, -20.0)), "cloth")
    other = candidate(striped((31.0, 5.0, -20.0)), "other")
    first = Trial(plan(), bundle(), pattern(), Thresholds(), FOCAL)
    once, _ = exchanged(first, cloth)
    kept = once.squares[[s.id for s in once.squares].index(FOCAL)]
    assert sum(s.fabric == kept.fabric for s in once.squares) == 1
    # Kept with a project, its picture was coded again.
    coded = replace(kept, picture=np.zeros_like(kept.picture))
    once = replace(once, squares=tuple(coded if s is kept else s for s in once.squares))
    second = Trial(plan(), once, pattern(), Thresholds(), FILL)
    for taken, of_one in ((cloth, True), (other, False)):
        twice = {s.id: s for s in exchanged(second, taken)[0].squares}
        assert (twice[FOCAL].fabric == twice[FILL].fabric) == of_one


def test_where_no_background_is_sewn_to_a_square_none_decides_what_does_its_job():
    """A pale rail beside a pale background is no worse than a dark one: none is there."""
    rails = read_pattern("lamplight-rails")
    laid = deal(bundle(), rails, CREAM)
    light = laid.stacks[2].placements[5]
    original = swatch_of(light.square)
    assert light.verdict != "holds"
    paler = candidate(replace(original, id="Z1", fabric=-1, lab=(94.0, 0.5, 4.0)), "paler")
    found = find_substitutes(laid, bundle(), rails, light.square, [paler])
    assert found.verdict == ""
    assert [one.candidate.name for one in found.job] == ["paler"]
    changes = " ".join(found.job[0].changes)
    assert "background" not in changes
    assert changes.startswith(f"{94 - original.lab[0]:.1f} L* lighter")
