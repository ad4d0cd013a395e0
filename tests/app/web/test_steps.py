"""What follows a plan: substitutes taken and put back, another bundle, a marked region."""

import json
import re
from dataclasses import replace
from fractions import Fraction

import numpy as np
import pytest

from app.cli import main
from app.web import steps
from app.web.boarding import OTHER_GROUND, OUT, after_report, places_of, with_deal
from app.web.workshop import (
    DEFAULT_BACKGROUND,
    MOST_RESULT_BYTES,
    MOST_RESULTS,
    Workshop,
    chosen_pattern,
)
from colorcore.errors import ColorError, DealError
from colorcore.pattern import read_pattern, shipped_patterns
from colorcore.preview.picture import View
from colorcore.project import Choices
from colorcore.sheets.plan_json import read_plan
from colorcore.stacking.checking import check_pieces
from colorcore.substitutes.model import Substitute
from sample_images import sample_paths
from tests.stash.making import make_entry, make_swatch


@pytest.fixture(scope="module")
def choices(workshop):
    project = workshop.projects.create("throw")
    path = sample_paths()[0]
    workshop.bring_photo(project, path.name, path.read_bytes())
    dealt, _ = workshop.deal(workshop.projects.load(project))
    workshop.projects.save(project, dealt, "dealt")
    return dealt


@pytest.fixture(scope="module")
def found(workshop, choices):
    square = next(square for square, stack in choices.places if stack == "Stars")
    own = next(s for s in workshop.bundle(choices).squares if s.id == square)
    with workshop.stash() as stash:
        stash.add(make_entry("Quarry blue", swatch=make_swatch(own.lab)))
    return steps.substitutes(workshop, choices, square, ())


def test_all_that_eight_makers_ask_for_is_kept_at_once(tmp_path):
    """Else each takes from the others what she has to wait for again."""
    workshop = Workshop(tmp_path / "projects.sqlite", tmp_path / "stash.sqlite")
    project = workshop.projects.create("throw")
    path = sample_paths()[0]
    workshop.bring_photo(project, path.name, path.read_bytes())
    choices, _ = workshop.deal(workshop.projects.load(project))
    steps.checked_plan(workshop, choices)
    for candidate in steps.ranking(workshop, choices, steps.FIRST_TRIES).candidates:
        steps.on_units(workshop, choices, candidate)
    for stack in workshop.plan(choices).stacks:
        steps.stack_strip(workshop, choices, stack.name)
    steps.sheet(workshop, choices)
    steps.files(workshop, choices)
    kept, room = len(workshop._results), workshop._results.kept_bytes
    workshop.projects.close()
    # As much again for what the maker tries and takes back.
    assert 10 < kept <= MOST_RESULTS / 16
    assert 10e6 < room <= MOST_RESULT_BYTES / 16


def test_a_substitute_is_really_in_the_bundle(workshop, choices, found):
    square = found.original.id
    substitute = next(s for s in (*found.job, *found.looks) if s.candidate.name == "Quarry blue")
    taken = steps.take(workshop, choices, found, substitute)
    assert workshop.is_dealt(taken)
    bundle = workshop.bundle(taken)
    now = next(s for s in bundle.squares if s.id == square)
    assert now.lab == pytest.approx(substitute.candidate.swatch.lab)
    assert len(bundle.squares) == 42
    assert sum(s.fabric == now.fabric for s in bundle.squares) == 1, "a fabric of its own"
    plan = workshop.plan(taken)
    assert dict(taken.places)[square] == found.stack
    assert any("Quarry blue" in words for words in plan.second_look)
    files = steps.files(workshop, taken)
    assert b"Quarry blue" in files["plan.html"]
    taken_along = json.loads(files["plan.json"])["second_look"]
    assert taken_along == list(steps.checked_plan(workshop, taken).second_look)
    assert any("along their seams" in words for words in taken_along)
    # Kept with the project: the stash may change as it likes.
    again = Workshop(workshop.projects.path, workshop.stash_path)
    assert next(s for s in again.bundle(taken).squares if s.id == square).lab == now.lab
    again.projects.close()

    back = steps.put_back(taken, square)
    assert workshop.is_dealt(back)
    assert workshop.bundle(back) is workshop.bundle(choices)
    assert dict(back.places) == dict(taken.places)


def test_a_pattern_of_ones_own_is_taken_along_with_the_plan(workshop, choices, tmp_path):
    """It was brought in the browser, so its text is in no file that could be read again."""
    text = read_pattern("gatepost-stars").text.replace("Gatepost Stars", "Ida's Lanterns")
    own, _ = workshop.deal(replace(choices, pattern=text))
    files = steps.files(workshop, own)
    assert json.loads(files["plan.json"])["pattern"]["text"] == text
    for name in ("plan.json", "bundle.json"):
        (tmp_path / name).write_bytes(files[name])
    read = read_plan(tmp_path / "plan.json")
    assert (read.pattern.name, read.pattern.text) == ("Ida's Lanterns", text)


def test_what_stands_in_for_two_squares_is_one_fabric(workshop, choices):
    one, other, third = [square for square, stack in choices.places if stack == "Stars"][:3]
    cloths = {n: replace(make_swatch((30.0, n, -20.0)), order_sd=0.1) for n in (5.0, 9.0)}
    kept = {n: workshop.stand_in(cloth) for n, cloth in cloths.items()}
    swaps = ((one, kept[5.0], "blue"), (other, kept[5.0], "blue"), (third, kept[9.0], "violet"))
    now = {s.id: s for s in workshop.bundle(replace(choices, swaps=swaps)).squares}
    assert now[one].fabric == now[other].fabric != now[third].fabric
    assert now[one].order_sd is None, "it was not seen among these squares"
    of_photo = {s.fabric for s in workshop.bundle(choices).squares}
    assert not of_photo & {now[square].fabric for square in (one, third)}


def test_what_another_bundle_has_to_offer_follows_its_photos_and_its_name(workshop, choices):
    square = next(square for square, stack in choices.places if stack == "Stars")
    other = workshop.projects.create("empty as yet")

    def offered() -> set[str]:
        found = steps.substitutes(workshop, choices, square, (other,))
        return {s.candidate.place for s in (*found.looks, *found.job)}

    assert "empty as yet" not in " ".join(offered())
    path = sample_paths()[3]
    workshop.bring_photo(other, path.name, path.read_bytes())
    assert "empty as yet" in " ".join(offered())
    workshop.projects.rename(other, "the second one")
    assert "the second one" in " ".join(offered())


def test_a_square_of_another_bundle_stands_in_once(workshop, choices):
    """For the square itself it is there still: looking again changes nothing."""
    one, two = [square for square, stack in choices.places if stack == "Stars"][:2]
    other = workshop.projects.create("the other one")
    path = sample_paths()[3]
    workshop.bring_photo(other, path.name, path.read_bytes())

    def offered(choices: Choices, square: str) -> list[Substitute]:
        found = steps.substitutes(workshop, choices, square, (other,))
        return [s for s in found.job if s.candidate.place == "the other one"]

    first = offered(choices, one)[0]
    name = first.candidate.name
    assert name in [s.candidate.name for s in offered(choices, two)]
    taken = steps.take(
        workshop, choices, steps.substitutes(workshop, choices, one, (other,)), first
    )
    assert name not in [s.candidate.name for s in offered(taken, two)]
    back = steps.put_back(taken, one)
    assert name in [s.candidate.name for s in offered(back, two)]


def test_a_length_of_cloth_stands_in_as_often_as_it_gives_squares(workshop, choices):
    one, two = [square for square, stack in choices.places if stack == "Stars"][:2]
    own = next(s for s in workshop.bundle(choices).squares if s.id == one)
    with workshop.stash() as stash:
        entry = make_entry("Two squares of it", swatch=make_swatch(own.lab), unit="squares")
        mark = workshop.stand_in(stash.swatch(stash.add(replace(entry, amount=Fraction(2))).id))

    def offered(squares: list[str]) -> bool:
        some = replace(choices, swaps=tuple((square, mark, "it") for square in squares))
        found = steps.substitutes(workshop, with_deal(some, workshop.plan(some)), one, ())
        return any(s.candidate.name == "Two squares of it" for s in (*found.looks, *found.job))

    others = [square for square, _ in choices.places if square not in (one, two)][:2]
    assert offered([])
    assert offered(others[:1])
    assert not offered(others)
    assert offered([one, *others[:1]]), "what stands in for the square itself can be taken anew"


def test_that_another_project_has_dealt_its_squares_is_told(workshop, choices):
    square = next(square for square, stack in choices.places if stack == "Stars")
    other = workshop.projects.create("dealt by itself")
    path = sample_paths()[3]
    workshop.bring_photo(other, path.name, path.read_bytes())
    words = "dealt by itself has dealt its squares into stacks of its own"
    assert words not in " ".join(steps.substitutes(workshop, choices, square, (other,)).notes)
    dealt, _ = workshop.deal(workshop.projects.load(other))
    workshop.projects.save(other, dealt, "dealt")
    assert words in " ".join(steps.substitutes(workshop, choices, square, (other,)).notes)


@pytest.fixture(scope="module")
def bordered(workshop, choices):
    """The project in a pattern with a border of a fabric of its own."""
    text = read_pattern("lamplight-rails").text
    border = 'border = [{ name = "border", width = "4", fabric = "border" }]'
    own = text.replace("down = 8\n", f"down = 8\n{border}\n", 1)
    width, height = re.findall(r'finished = \["(\d+)", "(\d+)"\]', text)[0]
    own = own.replace(f'["{width}", "{height}"]', f'["{int(width) + 8}", "{int(height) + 8}"]', 1)
    bare = replace(choices, pattern=own, size="", places=(), dealt_for="", more=())
    return workshop.deal(bare)[0]


def _drawn_grey(workshop, choices):
    told = [check.text for check in steps.sheet(workshop, choices).checks]
    return [words for words in told if "drawn grey" in words]


def test_a_border_has_the_colour_that_is_said_of_it(workshop, bordered):
    assert steps.other_cloths(workshop, bordered) == ("border",)
    assert _drawn_grey(workshop, bordered)
    navy, words = steps.with_cloth(workshop, "border", " navy ", bordered)
    assert words == "chose the colour of the border"
    assert _drawn_grey(workshop, navy) == []
    first, other = (steps.quilt_picture(workshop, said, View.COLOR) for said in (bordered, navy))
    assert first != other
    assert steps.making(workshop, navy).choices.yardage["border"][0] == pytest.approx(13, abs=1)
    assert steps.with_cloth(workshop, "border", "navy", navy)[0] == navy
    none, _ = steps.with_cloth(workshop, "border", "", navy)
    assert _drawn_grey(workshop, none)
    with pytest.raises(ColorError, match="no fabric of that name, and the colour 'no such cloth'"):
        steps.with_cloth(workshop, "border", "no such cloth", bordered)


def test_a_border_may_be_of_a_fabric_of_the_stash_as_it_is_now(workshop, bordered):
    with workshop.stash() as stash:
        stash.add(make_entry("Fell", swatch=make_swatch((31.0, 4.0, 2.0))))
    fell, _ = steps.with_cloth(workshop, "border", "fell", bordered)
    assert steps.making(workshop, fell).choices.yardage["border"] == (31.0, 4.0, 2.0)
    with workshop.stash() as stash:
        stash.remove("Fell")
    # Gone since: it is not known, and all else is shown.
    assert _drawn_grey(workshop, fell)


def test_no_colour_is_asked_for_where_all_is_cut_from_the_background(workshop, choices):
    assert steps.other_cloths(workshop, choices) == ()


def test_backgrounds_from_the_stash_are_compared_as_they_are_now(workshop, choices):
    with workshop.stash() as stash:
        stash.add(make_entry("Bluff", swatch=make_swatch((90.0, 0.0, 4.0))))

    def lightness() -> float:
        (candidate,) = steps.ranking(workshop, choices, ("Bluff",)).candidates
        return candidate.background.lab[0]

    assert lightness() == pytest.approx(90.0)
    with workshop.stash() as stash:
        stash.remove("Bluff")
        stash.add(make_entry("Bluff", swatch=make_swatch((70.0, 0.0, 4.0))))
    assert lightness() == pytest.approx(70.0)


def test_what_follows_a_background_from_the_stash_follows_it_as_it_is_now(workshop, choices):
    def put(lab: tuple[float, float, float]) -> None:
        with workshop.stash() as stash:
            if any(entry.name == "Scree" for entry in stash.entries()):
                stash.remove("Scree")
            stash.add(make_entry("Scree", swatch=make_swatch(lab)))

    def light_enough() -> list[float]:
        note = steps.shopping(workshop, fewer)
        return [wish.lightest for wish in note.wishes]

    put((90.0, 0.0, 4.0))
    on_it, _ = workshop.deal(replace(choices, background="Scree"))
    fewer = replace(on_it, size=chosen_pattern(on_it).sizes[-1].name)
    first, wished = workshop.plan(on_it), light_enough()
    assert first.background.lab[0] == pytest.approx(90.0)
    assert first.proof.startswith("Optimal")
    looks = steps.checked_plan(workshop, on_it).second_look

    put((45.0, 0.0, 4.0))
    now = workshop.plan(on_it)
    assert now.background.lab[0] == pytest.approx(45.0)
    assert now.proof == OTHER_GROUND
    assert steps.checked_plan(workshop, on_it).second_look != looks
    assert light_enough() != wished
    again, plan = workshop.deal(on_it)
    assert workshop.plan(again).proof == plan.proof != OTHER_GROUND

    with workshop.stash() as stash:
        stash.rename("Scree", "Moss")
        stash.add(make_entry("Scree", swatch=make_swatch((90.0, 0.0, 4.0))))
    assert workshop.plan(on_it).background.lab[0] == pytest.approx(90.0)


FEWER = """
name = "Fewer"
square_inches = "10"

[[stack]]
name = "Stars"
role = "focal"
value = "dark"

[[stack]]
name = "Fill"
role = "fill"
value = "mixed"

[[size]]
name = "small"
squares = { Stars = 12, Fill = 20 }
"""


def test_a_spare_square_changes_places(workshop, choices):
    some, plan = workshop.deal(replace(choices, pattern=FEWER, size="", locks=()))
    spare = {place.square for place in plan.left_over}
    assert len(spare) == 10
    # What is left over are pale squares; only a pale one is like them.
    square = plan.stacks[1].placements[-1].square
    found = steps.substitutes(workshop, some, square, ())
    options = [s for s in (*found.job, *found.looks) if s.candidate.swatch.id in spare]
    assert any(option.outcome is not None for option in options)
    for option in options:
        if option.outcome is None:
            with pytest.raises(DealError, match="cannot take the place"):
                steps.take(workshop, some, found, option)
            continue
        taken = steps.take(workshop, some, found, option)
        assert dict(taken.places)[option.candidate.swatch.id] == found.stack
        assert dict(taken.places)[square] == "out"
        assert taken.swaps == ()
        assert places_of(workshop.plan(taken)) == dict(taken.places)


def test_two_plans_side_by_side(workshop, choices):
    other = workshop.projects.create("another throw")
    path = sample_paths()[3]
    workshop.bring_photo(other, path.name, path.read_bytes())
    compared = steps.comparison(workshop, choices, other)
    lying = steps.other_deal(workshop, choices, other)
    assert len(compared.rows) == len(workshop.plan(choices).stacks)
    for row in compared.rows:
        picture, squares = steps.stack_strip(workshop, lying, row.second.name)
        assert picture[:2] == b"\xff\xd8"
        assert len(squares.split(", ")) == len(row.second.squares)


def test_a_marked_region_is_a_background(workshop, choices):
    photo = choices.photos[0]
    with pytest.raises(ColorError, match="fabric on photo 1: no background fabric is marked there"):
        workshop.background(choices, "region 1")
    swatch = workshop.bundle(choices).squares[5]
    _, width, height = workshop.preview(photo.sha256)
    inner = np.array(swatch.corners).mean(axis=0) + 0.6 * (
        np.array(swatch.corners) - np.array(swatch.corners).mean(axis=0)
    )
    region = tuple((float(x / width), float(y / height)) for x, y in inner)
    marked = replace(choices, photos=(replace(photo, background=region),))
    background, used = workshop.background(marked, "region 1")
    # The square on whose cloth it lies is background, and not dealt.
    assert used == (swatch.id,)
    assert background.label == "fabric on photo 1"
    fewer = replace(marked, background="region 1", pattern=FEWER, size="", places=())
    dealt, plan = workshop.deal(fewer)
    assert plan.stayed_out == (swatch.id,)
    assert dict(dealt.places)[swatch.id] == OUT
    # On another background it is cloth for a background still, and none of the bundle.
    assert workshop.background(fewer, "white")[1] == (swatch.id,)
    assert workshop.deal(replace(fewer, background="white"))[1].stayed_out == (swatch.id,)
    assert not steps.ranking(workshop, fewer, ("white",)).candidates[0].trouble
    assert np.linalg.norm(np.subtract(background.lab, swatch.lab)) < 6
    # It lies among the squares: what moves the whole photo moves it with them.
    assert background.photo == swatch.photo
    assert background.order_sd is not None
    assert 0 < background.order_sd <= background.lab_sd[0]


def test_the_pages_give_the_second_looks_of_the_terminal(workshop, choices, tmp_path):
    photo = str(sample_paths()[0])
    wish = ["--background", DEFAULT_BACKGROUND, "--out", str(tmp_path / "out"), "--quiet"]
    assert main(["stack", photo, "--pattern", next(iter(shipped_patterns())), *wish]) == 0
    terminal = json.loads((tmp_path / "out" / "plan.json").read_bytes())
    assert any("along their seams" in words for words in terminal["second_look"])
    assert list(steps.checked_plan(workshop, choices).second_look) == terminal["second_look"]


def test_second_looks_follow_a_move(workshop, choices):
    star = next(p.square for p in workshop.plan(choices).stacks[0].placements)
    other = next(stack for _, stack in choices.places if stack not in ("", OUT, "Stars"))
    moved, _ = after_report(choices, {"what": "move", "id": star, "to": other})
    looks = [steps.checked_plan(workshop, c).second_look for c in (choices, moved)]
    assert looks[0] != looks[1]
    bundle, pattern = workshop.bundle(moved), chosen_pattern(moved)
    assert looks[1] == check_pieces(workshop.plan(moved), bundle, pattern).second_look


def test_a_colour_that_no_cloth_comes_in_is_compared_as_the_nearest_one(workshop, choices):
    assert steps.as_cloth(workshop, choices, "#f4efe6") == ("#f4efe6", "")
    assert steps.as_cloth(workshop, choices, "A1") == ("A1", "")
    white, told = steps.as_cloth(workshop, choices, "white")
    assert told.startswith("No cloth is as light as white (L* 100)")
    assert "white, L* 97" in told
    assert steps.as_cloth(workshop, choices, white) == (white, ""), "and is then as it is"
    black, told = steps.as_cloth(workshop, choices, "black")
    assert "as dark as black (L* 0)" in told
    ranking = steps.ranking(workshop, choices, (white, black))
    assert "No cloth" not in ranking.sentence


def test_what_is_offered_first_is_what_is_advised(workshop, choices):
    """Of plain backgrounds none is offered that serves better than the best that is advised."""
    for tries in (steps.FIRST_TRIES, ("white", "black")):
        compared = tuple(steps.as_cloth(workshop, choices, text)[0] for text in tries)
        ranking = steps.ranking(workshop, choices, compared)
        first = ranking.candidates[0]
        best = int(ranking.best_lightness - ranking.lightness[0])
        assert first.serves <= ranking.curve_serves[best] + 0.01
