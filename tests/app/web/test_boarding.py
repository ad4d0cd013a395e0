"""The board shows the plan, and its reports become choices."""

import json
from dataclasses import replace

import numpy as np
import pytest

from app.web.boarding import (
    NOT_KEPT,
    OPENED,
    OTHER_GROUND,
    after_report,
    board_data,
    deal_proof,
    dealt_mark,
    places_of,
    with_deal,
)
from colorcore.contrast import Background, Thresholds
from colorcore.errors import ProjectError
from colorcore.pattern import read_pattern
from colorcore.project import Choices
from colorcore.project.model import choices_from_json
from colorcore.sheets.view import view_plan
from colorcore.stacking import deal
from colorcore.wording import number_beside
from tests.stacking.making import WHITE, make_bundle


@pytest.fixture(scope="module")
def dealt():
    bundle = make_bundle(44)
    return bundle, deal(bundle, read_pattern("gatepost-stars"), WHITE, locks=["A1=out"])


@pytest.fixture
def choices(dealt):
    return with_deal(Choices(pattern="gatepost-stars"), dealt[1])


def test_places_cover_every_square(dealt):
    bundle, plan = dealt
    places = places_of(plan)
    assert set(places) == {s.id for s in bundle.squares}
    assert places["A1"] == "out"
    assert sum(stack == "" for stack in places.values()) == 1


def test_a_deal_is_known_as_old_when_what_it_rests_on_changes(choices):
    assert choices.dealt_for == dealt_mark(choices)
    for changed in ({"background": "navy"}, {"size": "queen"}, {"square_inches": 5.0}):
        assert dealt_mark(replace(choices, **changed)) != choices.dealt_for
    assert dealt_mark(replace(choices, tries=("white",))) == choices.dealt_for


def test_a_moved_square_is_locked_there(choices):
    moved, words = after_report(choices, {"what": "move", "id": "B2", "to": "Stars"})
    assert dict(moved.places)["B2"] == "Stars"
    assert dict(moved.locks) == {"B2": "Stars"}
    assert words == "moved B2"
    back, _ = after_report(moved, {"what": "move", "id": "B2", "to": ""})
    assert dict(back.places)["B2"] == ""
    assert dict(back.locks) == {}


def test_a_deal_that_nobody_touched_keeps_its_proof(dealt, choices):
    proof = dealt[1].proof
    assert proof.startswith("Optimal")
    assert deal_proof(choices, WHITE.lab) == proof
    assert deal_proof(choices_from_json(choices.to_json()), WHITE.lab) == proof
    assert deal_proof(choices.with_option("seed", "3"), WHITE.lab) == proof
    locked, _ = after_report(choices, {"what": "lock", "id": "B2", "locked": True})
    assert deal_proof(locked, WHITE.lab) == proof, "it lies where the deal put it"
    unlocked, _ = after_report(locked, {"what": "lock", "id": "B2", "locked": False})
    assert deal_proof(unlocked, WHITE.lab) == proof


def test_a_square_moved_or_exchanged_by_hand_ends_the_proof(dealt, choices):
    was = dict(choices.places)["B2"]
    to = "Stars" if was != "Stars" else ""
    moved, _ = after_report(choices, {"what": "move", "id": "B2", "to": to})
    assert deal_proof(moved, WHITE.lab) == ""
    back, _ = after_report(moved, {"what": "move", "id": "B2", "to": was})
    assert deal_proof(back, WHITE.lab) == dealt[1].proof, "all lie as dealt again"
    other = replace(choices, swaps=(("B2", "0" * 64, "a fabric"),))
    assert deal_proof(replace(other, dealt_for=dealt_mark(other)), WHITE.lab) == ""


def test_a_deal_from_before_proofs_were_kept_is_not_called_laid_by_hand(choices):
    old = replace(choices, more=tuple(pair for pair in choices.more if pair[0] != "deal"))
    assert deal_proof(old, WHITE.lab) == NOT_KEPT
    locked, _ = after_report(old, {"what": "lock", "id": "B2", "locked": True})
    assert deal_proof(locked, WHITE.lab) == NOT_KEPT
    to = "Stars" if dict(old.places)["B2"] != "Stars" else ""
    moved, _ = after_report(old, {"what": "move", "id": "B2", "to": to})
    assert deal_proof(choices_from_json(moved.to_json()), WHITE.lab) == "", "now it is laid by hand"


def test_a_proof_holds_for_the_locks_that_it_was_found_with(dealt, choices):
    around = with_deal(choices.with_lock("B2", dict(choices.places)["B2"]), dealt[1])
    assert deal_proof(around, WHITE.lab) == dealt[1].proof
    opened, _ = after_report(around, {"what": "lock", "id": "B2", "locked": False})
    assert deal_proof(opened, WHITE.lab) == OPENED


def test_a_proof_holds_for_the_colour_of_the_background_that_it_was_found_with(dealt, choices):
    darker = (WHITE.lab[0] - 5.0, *WHITE.lab[1:])
    assert deal_proof(choices, darker) == OTHER_GROUND
    kept = json.loads(choices.option("deal"))
    del kept["ground"]
    old = choices.with_option("deal", json.dumps(kept))
    assert deal_proof(old, darker) == dealt[1].proof, "from before it was kept"


def test_locking_and_unlocking(choices):
    square = next(s for s, stack in choices.places if stack == "Stars")
    locked, _ = after_report(choices, {"what": "lock", "id": square, "locked": True})
    assert dict(locked.locks) == {square: "Stars"}
    unlocked, _ = after_report(locked, {"what": "lock", "id": square, "locked": False})
    assert unlocked == choices
    spare = next(s for s, stack in choices.places if stack == "")
    kept_out, _ = after_report(choices, {"what": "lock", "id": spare, "locked": True})
    assert dict(kept_out.locks) == {spare: "out"}


@pytest.mark.parametrize(
    "report",
    [{}, None, {"what": "move", "id": "Z99", "to": "Stars"}, {"what": "fly", "id": "B2"},
     {"what": "move", "id": "B2"}],
)  # fmt: skip
def test_reports_that_cannot_be(choices, report):
    with pytest.raises(ProjectError, match="could not be understood"):
        after_report(choices, report)


def test_what_the_board_shows(dealt, choices):
    bundle, plan = dealt
    view = view_plan(plan, bundle)
    before = {**places_of(plan), "B2": "Stars" if places_of(plan)["B2"] != "Stars" else ""}

    data = board_data(
        view, {"Stars": 14}, {"A1": "out"}, before, lambda card, value: f"/{card.address}/{value}"
    )
    json.dumps(data)
    assert [s["key"] for s in data["stacks"]][-2:] == ["", "out"]
    shown = [square for stack in data["stacks"] for square in stack["squares"]]
    assert sorted(shown) == sorted(s.id for s in bundle.squares)
    assert set(data["cards"]) == set(shown)
    assert data["cards"]["A1"]["locked"]
    assert data["cards"]["B2"]["was"].startswith("was ")
    assert data["cards"]["B2"]["url"] == "/B2/False"
    assert all(card["words"] for card in data["cards"].values())


def test_beside_a_print_a_card_says_why_it_is_soft_though_its_average_lies_far_off():
    """White with black stripes: what lies far from its average may lie near the white."""
    picture = np.full((240, 240, 3), 243, np.uint8)
    picture[:, ::3] = 24
    reads_as = Background("stripes", (76.0, 0.0, 0.0), picture=picture, pixels_per_inch=8.0)
    bundle = make_bundle(42)
    plan = deal(bundle, read_pattern("gatepost-stars"), reads_as)
    view = view_plan(plan, bundle, read_pattern("gatepost-stars"))
    cards = board_data(view, {}, {}, {}, lambda *_: "", mark="")["cards"]
    limits = Thresholds()
    told = {card.address: (card.verdict, card.delta_l) for g in view.groups for card in g.cards}
    other = {n for n, (verdict, step) in told.items() if verdict != limits.verdict(step)}
    assert other
    for name, (verdict, step) in told.items():
        said = cards[name]["verdict"]
        apart = number_beside(abs(step), limits.holds, limits.melts)
        if name in other:
            assert said == f"{verdict} beside parts of the print, {apart} from its average"
        else:
            assert said == f"{verdict}, {apart} apart"


def test_a_quilt_without_background_holds_no_card_against_one():
    bundle, pattern = make_bundle(42), read_pattern("lamplight-rails")
    view = view_plan(deal(bundle, pattern, WHITE), bundle, pattern)
    assert not view.on_background
    cards = board_data(view, {}, {}, {}, lambda *_: "", mark="")["cards"]
    assert {(card["verdict"], card["kind"]) for card in cards.values()} == {("", "plain")}
