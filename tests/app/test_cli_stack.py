"""From photos to a folder with the plan, and everything that can be wrong on the way."""

import csv
import json
from collections.abc import Callable
from importlib.resources import files
from pathlib import Path
from typing import Any

import jsonschema
import numpy as np
import pytest
from PIL import Image

from colorcore.sheets.plan_json import read_plan
from tests.app.conftest import Outcome, TablePhoto

Run = Callable[..., Outcome]
Photos = tuple[TablePhoto, TablePhoto]
USUAL = ("--pattern", "gatepost-stars", "--background", "#f4efe6")


@pytest.fixture(scope="module")
def measured(table_photos: Photos, tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A bundle file of the first photo."""
    from app.cli import main

    place = tmp_path_factory.mktemp("bundle") / "bundle.json"
    assert main(["measure", str(table_photos[0].path), "--out", str(place), "--quiet"]) == 0
    return place


def schema(name: str) -> Any:
    return json.loads(files("colorcore").joinpath(f"schema/{name}").read_text("utf-8"))


def test_photos_to_stacks(table_photos: Photos, tmp_path: Path, run: Run) -> None:
    place = tmp_path / "stacks"
    outcome = run("stack", table_photos[0].path, *USUAL, "--out", place)
    assert outcome.code == 0, outcome.err
    assert outcome.err == ""
    names = ["bundle.json", "plan.csv", "plan.html", "plan.json"]
    assert sorted(p.name for p in place.iterdir()) == names
    document = json.loads((place / "plan.json").read_text("utf-8"))
    jsonschema.validate(document, schema("plan.schema.json"))
    counts = {stack["name"]: len(stack["squares"]) for stack in document["stacks"]}
    assert counts == {"Stars": 14, "First chain": 14, "Second chain": 14}

    true_lightness = {s.address: s.lab[0] for s in table_photos[0].truth.squares}
    placed = [p for stack in document["stacks"] for p in stack["squares"]]
    assert {p["square"] for p in placed} <= set(true_lightness)
    errors = [abs(p["lab"][0] - true_lightness[p["square"]]) for p in placed]
    assert float(np.median(errors)) < 1.5
    stars = [true_lightness[p["square"]] for p in document["stacks"][0]["squares"]]
    others = [true_lightness[p["square"]] for s in document["stacks"][1:] for p in s["squares"]]
    assert max(stars) < min(others) + 4

    with open(place / "plan.csv", encoding="utf-8", newline="") as stream:
        rows = list(csv.DictReader(stream))
    assert {row["square"] for row in rows} == {s.address for s in table_photos[0].truth.squares}
    for stack in document["stacks"]:
        listed = [row["square"] for row in rows if row["stack"] == stack["name"]]
        assert listed == [p["square"] for p in stack["squares"]]
        assert listed[0] in outcome.out
        assert stack["name"] in outcome.out
    assert str(place / "plan.html") in outcome.out
    assert "\x1b" not in outcome.out


def test_a_bundle_file_gives_the_same_stacks(
    table_photos: Photos, measured: Path, tmp_path: Path, run: Run
) -> None:
    for name, source in (("direct", table_photos[0].path), ("later", measured)):
        outcome = run("stack", source, *USUAL, "--out", tmp_path / name, "--quiet")
        assert (outcome.code, outcome.out, outcome.err) == (0, "", "")
    direct, later = (
        json.loads((tmp_path / name / "plan.json").read_text("utf-8"))["stacks"]
        for name in ("direct", "later")
    )
    assert direct == later
    assert 'class="drawing"' in (tmp_path / "later" / "plan.html").read_text("utf-8")


def test_running_again_gives_the_same_files(measured: Path, tmp_path: Path, run: Run) -> None:
    place = tmp_path / "out"
    contents = []
    for _ in range(2):
        assert run("stack", measured, *USUAL, "--out", place).code == 0
        contents.append({p.name: p.read_bytes() for p in place.iterdir()})
    assert contents[0] == contents[1]


def test_a_square_as_background_is_not_dealt(measured: Path, tmp_path: Path, run: Run) -> None:
    lightest = max(json.loads(measured.read_text("utf-8"))["squares"], key=lambda s: s["lab"][0])
    pattern = tmp_path / "small.toml"
    pattern.write_text(
        'name = "Small"\ndescription = "A few"\nsquare_inches = "10"\n'
        '[[stack]]\nname = "Darks"\nrole = "focal"\nvalue = "dark"\n'
        '[[size]]\nname = "cushion"\nbundles = 1\nsquares = { "Darks" = 5 }\n'
    )
    outcome = run(
        "stack", measured, "--pattern", pattern, "--background", lightest["id"].lower(),
        "--lock", "A1=out", "--out", tmp_path / "out",
    )  # fmt: skip
    assert outcome.code == 0, outcome.err
    read = read_plan(tmp_path / "out" / "plan.json")
    assert read.plan.background.label == f"square {lightest['id']}"
    assert read.plan.background.lab == pytest.approx(lightest["lab"], abs=0.001)
    assert set(read.plan.stayed_out) == {"A1", lightest["id"]}
    assert "this is the background" in (tmp_path / "out" / "plan.html").read_text("utf-8")
    # It does not say how it is sewn, so there is nothing to be cut.
    assert "bundlestacks cut" not in outcome.out


def test_the_cutting_table_is_named_only_where_the_squares_can_go_there(
    measured: Path, tmp_path: Path, run: Run
) -> None:
    document = json.loads(measured.read_text("utf-8"))
    for square in document["squares"]:
        square["side_inches"] = 5.0
    small = tmp_path / "fives.json"
    small.write_text(json.dumps(document), encoding="utf-8")
    for bundle, able in ((measured, True), (small, False)):
        outcome = run("stack", bundle, *USUAL, "--out", tmp_path / bundle.stem)
        assert outcome.code == 0, outcome.err
        assert ("bundlestacks cut" in outcome.out) is able
        assert "your eye has the last word" in " ".join(outcome.out.split())
        cut = run("cut", tmp_path / bundle.stem / "plan.json", "--out", tmp_path / "table")
        assert (cut.code == 0) is able


def test_a_pattern_without_background_needs_none(measured: Path, tmp_path: Path, run: Run) -> None:
    rails = run("stack", measured, "--pattern", "lamplight-rails", "--out", tmp_path / "rails")
    assert rails.code == 0, rails.err
    assert "sewn to no background" in rails.out
    assert "elts" not in rails.out.split("Look again")[0].replace("Melt\n", "")
    stars = run("stack", measured, "--pattern", "gatepost-stars", "--out", tmp_path / "stars")
    assert stars.code == 2
    assert "name it with --background" in stars.err
    assert not (tmp_path / "stars").exists()


def test_thresholds_decide_the_verdicts(measured: Path, tmp_path: Path, run: Run) -> None:
    for holds, melts in ((20, 10), (60, 40)):
        options = ("--holds", str(holds), "--melts", str(melts))
        assert run("stack", measured, *USUAL, *options, "--out", tmp_path).code == 0
        document = json.loads((tmp_path / "plan.json").read_text("utf-8"))
        for placement in (p for s in document["stacks"] for p in s["squares"]):
            step = abs(placement["delta_l"])
            if min(abs(step - holds), abs(step - melts)) > 0.01:
                word = "holds" if step > holds else "melts" if step < melts else "soft"
                assert placement["verdict"] == word


def broken_files(folder: Path, photo: Path) -> dict[str, tuple[Path, str]]:
    data = photo.read_bytes()
    made = {
        "gone": (folder / "gone.jpg", "no such file"),
        "text": (folder / "text.jpg", "picture"),
        "empty": (folder / "empty.jpg", "empty"),
        "cut": (folder / "cut.jpg", ""),
        "plain": (folder / "plain.png", "No squares"),
        "no-folder": (folder / "no-pictures", "no pictures"),
        "no-bundle": (folder / "no.json", "no.json"),
    }
    made["text"][0].write_text("Dear diary")
    made["empty"][0].write_bytes(b"")
    made["cut"][0].write_bytes(data[: len(data) // 3])
    Image.new("RGB", (800, 600), (180, 170, 150)).save(made["plain"][0])
    made["no-folder"][0].mkdir()
    made["no-bundle"][0].write_text("{}")
    return made


KINDS = ("gone", "text", "empty", "cut", "plain", "no-folder", "no-bundle")


@pytest.mark.parametrize("kind", KINDS)
def test_a_bad_photo_gets_one_sentence(
    kind: str, table_photos: Photos, tmp_path: Path, run: Run
) -> None:
    path, words = broken_files(tmp_path, table_photos[0].path)[kind]
    before = sorted(tmp_path.rglob("*"))
    outcome = run("stack", path, *USUAL, "--out", tmp_path / "out")
    assert outcome.code == 2
    assert outcome.out == ""
    assert outcome.err.count("\n") == 1, outcome.err
    assert path.name in outcome.err
    assert words in outcome.err
    assert sorted(tmp_path.rglob("*")) == before


@pytest.mark.parametrize("kind", [k for k in KINDS if k != "no-bundle"])
def test_measure_of_a_bad_photo_keeps_the_old_bundle(
    kind: str, table_photos: Photos, tmp_path: Path, run: Run
) -> None:
    path, words = broken_files(tmp_path, table_photos[0].path)[kind]
    place = tmp_path / "bundle.json"
    place.write_text("older")
    outcome = run("measure", path, "--out", place)
    assert outcome.code == 2
    assert outcome.err.count("\n") == 1, outcome.err
    assert words in outcome.err
    assert place.read_text() == "older"


@pytest.mark.parametrize(
    ("options", "words"),
    [
        (("--background", "nearly white"), "nearly white"),
        (("--background", "Z99"), "Z99"),
        (("--background", ""), "colour"),
        (("--pattern", "no-such-pattern"), "no-such-pattern"),
        (("--size", "queen"), "wants 81 squares; there are 42"),
        (("--size", "giant"), "giant"),
        (("--lock", "Z9=fill"), "Z9"),
        (("--lock", "A1=nowhere"), "A1=nowhere"),
        (("--holds", "5", "--melts", "30"), "--melts"),
        (("--holds", "nan"), "--holds"),
        (("--square-inches", "5"), "was measured before, so --square-inches would change nothing"),
        (("--grid", "6x7", "--white", "9,9"), "so --white and --grid would change nothing"),
    ],
)
def test_a_bad_wish_gets_one_sentence(
    options: tuple[str, ...], words: str, measured: Path, tmp_path: Path, run: Run
) -> None:
    outcome = run("stack", measured, *USUAL, *options, "--out", tmp_path / "out")
    assert outcome.code == 2
    assert outcome.out == ""
    assert outcome.err.count("\n") == 1, outcome.err
    assert words in outcome.err
    assert not (tmp_path / "out").exists()


def test_a_bad_wish_is_said_before_the_photos_are_opened(tmp_path: Path, run: Run) -> None:
    for options, words in (
        (("--background", "nearly white"), "nearly white"),
        (("--pattern", "no-such-pattern"), "no-such-pattern"),
        (("--holds", "5", "--melts", "30"), "--melts"),
    ):
        outcome = run("stack", tmp_path / "gone.jpg", *USUAL, *options, "--out", tmp_path / "out")
        assert outcome.code == 2
        assert words in outcome.err
        assert "gone.jpg" not in outcome.err
        assert not (tmp_path / "out").exists()


def test_too_few_squares_says_how_many_and_where(measured: Path, tmp_path: Path, run: Run) -> None:
    outcome = run("stack", measured, *USUAL, "--lock", "A1=out", "--out", tmp_path / "out")
    assert outcome.code == 2
    assert "1 is missing" in outcome.err
    assert "chain" in outcome.err


def test_an_unwritable_place_is_said_before_the_work(
    table_photos: Photos, measured: Path, tmp_path: Path, run: Run
) -> None:
    taken = tmp_path / "taken"
    taken.write_text("mine")
    for place in (taken, taken / "deeper", Path("/proc/nothing/here")):
        outcome = run("stack", measured, *USUAL, "--out", place)
        assert outcome.code == 2
        assert outcome.err.count("\n") == 1, outcome.err
        assert str(place) in outcome.err
    for place in (tmp_path / "missing" / "bundle.json", tmp_path):
        outcome = run("measure", table_photos[0].path, "--out", place)
        assert outcome.code == 2
        assert str(place) in outcome.err
    assert taken.read_text() == "mine"


def test_a_closed_folder_is_said(
    measured: Path, tmp_path: Path, run: Run, monkeypatch: pytest.MonkeyPatch
) -> None:
    # Root may write everywhere, so the refusal is made here.
    def refuse(*args: object, **options: object) -> str:
        raise PermissionError(13, "Permission denied")

    monkeypatch.setattr("tempfile.mkdtemp", refuse)
    outcome = run("stack", measured, *USUAL, "--out", tmp_path / "closed")
    assert outcome.code == 2
    assert "Permission denied" in outcome.err
    assert "may write" in outcome.err
    assert not (tmp_path / "closed").exists()


def test_a_photo_is_never_overwritten(table_photos: Photos, tmp_path: Path, run: Run) -> None:
    photo = tmp_path / "table.jpg"
    photo.write_bytes(table_photos[0].path.read_bytes())
    for words in (("--out", photo), ("--out", tmp_path / "b.json", "--overlay", photo)):
        outcome = run("measure", photo, *words)
        assert outcome.code == 2
        assert "overwrite" in outcome.err
    assert photo.read_bytes() == table_photos[0].path.read_bytes()


def test_photos_and_a_bundle_do_not_mix(
    table_photos: Photos, measured: Path, tmp_path: Path, run: Run
) -> None:
    outcome = run("stack", table_photos[0].path, measured, *USUAL, "--out", tmp_path / "out")
    assert outcome.code == 2
    assert "not both" in outcome.err
    assert not (tmp_path / "out").exists()


def test_names_cannot_move_the_cursor(tmp_path: Path, run: Run) -> None:
    outcome = run("measure", tmp_path / "a\x1b[2Jb\n.jpg", "--out", tmp_path / "b.json")
    assert outcome.code == 2
    assert "\x1b" not in outcome.err
    assert outcome.err.count("\n") == 1
