"""``bundlestacks swap``, ``compare`` and ``shopping`` as a person types them."""

import shlex
from dataclasses import replace

import cv2
import pytest

from app.cli import main
from app.commands._choosing import name_of
from colorcore.bundle import write_bundle
from colorcore.sheets.folder import output_folder
from colorcore.sheets.outputs import plan_files
from colorcore.sheets.plan_json import read_plan
from colorcore.stacking import deal
from colorcore.stash import Stash
from tests.stash.making import make_entry
from tests.substitutes.making import CREAM, bundle, pattern, plan, write_plan

SQUARE = plan().stacks[0].placements[4].square


@pytest.fixture(scope="module")
def folder(tmp_path_factory):
    """A plan, another bundle, one that is too small, and a stash."""
    place = tmp_path_factory.mktemp("work")
    write_plan(place / "first")
    write_plan(place / "second", seed=2)
    write_bundle(bundle(3), place / "other.json")
    small = bundle(3)
    write_bundle(replace(small, squares=small.squares[:30]), place / "small.json")
    original = next(s for s in bundle().squares if s.id == SQUARE)
    with Stash(place / "my.sqlite") as stash:
        stash.add(make_entry("Twin cloth", swatch=original, place="shelf 2"))
        stash.add(make_entry("Scrap", amount=0, swatch=replace(original, side_inches=4.0)))
    return place


@pytest.fixture
def run(folder, monkeypatch, capsys):
    monkeypatch.chdir(folder)

    def call(line):
        code = main(shlex.split(line))
        said = capsys.readouterr()
        return code, " ".join(said.out.split()), said.err

    return call


def test_swapping_from_the_stash(run, folder):
    code, out, err = run(f"swap first/plan.json {SQUARE.lower()} --stash my.sqlite --out swaps")
    assert (code, err) == (0, "")
    looks, job = out.split("Does its job")
    assert "1. Twin cloth (stash, shelf 2; 1½ yards)" in looks
    assert "Twin cloth" in job
    assert "grey scale" not in out
    assert len(out) < 1800, "brief unless asked"
    _, out, _ = run(f"swap first/plan.json {SQUARE} --stash my.sqlite --out more --details")
    assert "grey scale grade 5" in out
    looks = out.split("Does its job")[0]
    assert "No other square moves." in looks
    assert "Too little is left of Scrap" in out
    page = (folder / "swaps" / f"swap-{SQUARE}.html").read_text("utf-8")
    assert "Twin cloth" in page
    picture = cv2.imread(str(folder / "swaps" / f"swap-{SQUARE}-looks-1.png"))
    assert picture.shape[1] > picture.shape[0]


def test_taking_a_substitute_writes_the_plan_that_was_shown(run, folder):
    line = f"swap first/plan.json {SQUARE} --stash my.sqlite --take job-1 --out taken"
    code, out, _ = run(line)
    assert code == 0
    assert "taken/plan.html, the plan dealt with Twin cloth" in out
    taken = read_plan(folder / "taken" / "plan.json")
    stand_in = next(s for s in taken.bundle.squares if s.id == SQUARE)
    assert stand_in.picture.shape == bundle().squares[0].picture.shape
    assert SQUARE in [p.square for p in taken.plan.stacks[0].placements]
    assert taken.pattern == read_plan(folder / "first" / "plan.json").pattern
    # And the new plan is a plan as any other.
    again = f"swap taken/plan.json {SQUARE} --no-stash --from other.json --take job-1 --out again"
    assert run(again)[0] == 0


def test_an_address_never_leads_out_of_the_folder(run, folder):
    made = bundle()
    nasty = "../../out of here"
    squares = tuple(replace(s, id=nasty) if s.id == SQUARE else s for s in made.squares)
    renamed = replace(made, squares=squares)
    dealt = deal(renamed, pattern(), CREAM)
    with output_folder(folder / "deep" / "nasty") as out:
        out.publish(plan_files(dealt, renamed, pattern(), photos=[None] * len(made.photos)))
    code, _, err = run(f"swap deep/nasty/plan.json '{nasty}' --no-stash --out deep/nasty/swaps")
    assert (code, err) == (0, "")
    assert [p.name for p in (folder / "deep" / "nasty" / "swaps").iterdir()] == [
        "swap-______out_of_here.html"
    ]
    assert not (folder / "deep" / "out of here.html").exists()


def test_swapping_from_other_bundles_and_plans(run, folder):
    code, out, _ = run(
        f"swap first/plan.json {SQUARE} --no-stash --from other.json --from second/plan.json "
        "--most 2 --quiet --out more"
    )
    assert (code, out) == (0, "")
    assert (folder / "more" / f"swap-{SQUARE}-job-2.png").exists()
    assert not (folder / "more" / f"swap-{SQUARE}-job-3.png").exists()


def test_comparing_with_a_bundle_and_with_a_plan(run, folder):
    code, out, err = run("compare first/plan.json other.json --out beside")
    assert (code, err) == (0, "")
    assert "Stack by stack" in out
    assert "What breaks: Bundle 3" in out
    assert "To add to Bundle 3: " in " ".join(out.split())
    assert "Bundle 1" in (folder / "beside" / "compare.html").read_text("utf-8")
    code, out, _ = run("compare first/plan.json second/plan.json --names Spring Autumn")
    assert code == 0
    assert "What breaks: Autumn" in out
    assert (folder / "first" / "compare.html").exists()


def test_a_bundle_that_is_too_small_says_what_to_add(run, folder):
    code, _, err = run("compare first/plan.json small.json --out nothing")
    assert code == 2
    assert "12 are missing" in err
    assert "Add " in err
    assert not (folder / "nothing").exists()


def test_a_shopping_note_for_a_bundle(run, folder):
    code, out, err = run(
        "shopping small.json --pattern gatepost-stars --background '#f4efe6' --stash my.sqlite"
    )
    assert (code, err) == (0, "")
    assert "squares of L* " in out
    assert "Such as" in out
    assert "a fat quarter gives 2 squares" in out
    page = (folder / "shopping-note.html").read_text("utf-8")
    assert "Shopping note" in page
    code, out, _ = run("shopping first/plan.json --no-stash --size queen --out queen.html")
    assert code == 0
    assert "queen" in (folder / "queen.html").read_text("utf-8")


@pytest.mark.parametrize(
    ("line", "said"),
    [
        ("swap first/plan.json Z99", "no square Z99"),
        ("swap none.json A1", "none.json"),
        ("swap other.json A1", "a bundle, not a plan"),
        (f"swap first/plan.json {SQUARE} --most 0", "--most"),
        (f"swap first/plan.json {SQUARE} --take job-1", "--out"),
        (f"swap first/plan.json {SQUARE} --take job-1 --out first", "--out"),
        (f"swap first/plan.json {SQUARE} --no-stash --take job-77 --out x", "no such substitute"),
        (f"swap first/plan.json {SQUARE} --stash none.sqlite", "no such stash"),
        (f"swap first/plan.json {SQUARE} --from none.json", "none.json"),
        ("compare first/plan.json second/plan.json --background red", "its own background"),
        ("compare first/plan.json second/plan.json other.json", "by itself"),
        ("compare first/plan.json other.json small.json", "one bundle file"),
        ("compare first/plan.json none.json", "none.json"),
        ("compare first/plan.json none.jpg", "none.jpg"),
        ("shopping other.json", "--pattern"),
        ("shopping other.json --pattern gatepost-stars --background blurple", "blurple"),
        ("shopping first/plan.json --size tent", "no size"),
        ("shopping first/plan.json --out nowhere/note.html", "no folder"),
    ],
)
def test_what_cannot_be(run, line, said):
    code, out, err = run(line)
    assert (code, out) == (2, "")
    assert said in err
    assert err.startswith("bundlestacks: ")
    assert err.count("\n") == 1


def test_a_bundle_by_the_usual_file_name_is_called_after_its_photo():
    usual = replace(bundle(), name="")
    photo = usual.photos[0]
    named = replace(usual, photos=(replace(photo, path="table/Küchentisch 1.jpg"),))
    assert name_of(named, "work/bundle.json") == "Küchentisch 1"
    assert name_of(named, "work/autumn.json") == "autumn"
    assert name_of(replace(named, name="Spring"), "work/bundle.json") == "Spring"
    assert name_of(replace(named, photos=(photo, photo)), "work/plan.json") == "work"


def test_a_plan_where_a_bundle_is_asked_for_is_told(run):
    code, _, err = run("background first/plan.json --try white")
    assert code == 2
    assert "a plan, not a bundle" in err
