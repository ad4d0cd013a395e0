"""``bundlestacks cut`` from the command line."""

import json
from collections.abc import Callable
from fractions import Fraction as F
from pathlib import Path

import cv2
import pytest

from app.cli import main
from app.commands._making import read_yardage
from colorcore.bundle import Bundle, PhotoRecord, write_bundle
from colorcore.errors import CuttingError
from colorcore.sheets.earlier import replaced_patterns
from colorcore.stash import Kind, NewEntry, Stash
from tests.piecing.making import make_squares, make_swatch

Said = tuple[int, str, str]


@pytest.fixture(scope="module")
def plan_file(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("dealt")
    photo = PhotoRecord("table.jpg", "0" * 64, 100, 100, "paper", "B", "Good enough.")
    squares = make_squares(42, copies=3)
    write_bundle(Bundle(tuple(squares), (photo,)), folder / "bundle.json")
    code = main(
        ["stack", str(folder / "bundle.json"), "--pattern", "hedgerow-geese",
         "--background", "#fbf8f0", "--out", str(folder / "plan"), "--quiet"]
    )  # fmt: skip
    assert code == 0
    return folder / "plan" / "plan.json"


@pytest.fixture
def cut(plan_file: Path, capsys: pytest.CaptureFixture[str]) -> Callable[..., Said]:
    def run(*words: str) -> Said:
        code = main(["cut", str(plan_file), *words])
        captured = capsys.readouterr()
        return code, captured.out, captured.err

    return run


def test_writes_sheet_and_pictures_and_says_what_to_buy(
    cut: Callable[..., Said], tmp_path: Path, plan_file: Path
) -> None:
    with Stash(tmp_path / "stash.sqlite") as stash:
        stash.add(
            NewEntry("Plum sateen", Kind.FABRIC, F(3), "yards", make_swatch("A1", (30, 20, -10)))
        )
        stash.add(
            NewEntry("Fog thread", Kind.THREAD, F(1), "spools", make_swatch("A1", (75, 0, 0)))
        )
    code, out, err = cut(
        "--out", str(tmp_path / "table"), "--background-length", "2 yards", "--trim", "1/8",
        "--thread", "navy=#20304a", "--show", "most", "--stash", str(tmp_path / "stash.sqlite"),
        "--beside", str(plan_file), "--lock", "1.1.1=" + first_goose(plan_file), "--metric",
        "--units",
    )  # fmt: skip
    assert (code, err) == (0, "")
    assert "too short" in out
    assert "Fog thread" in out
    assert "Plum sateen" in out
    assert "137.2 × 137.2 cm" in out
    written = {path.name for path in (tmp_path / "table").iterdir()}
    units = {name for name in written if name.startswith("unit-")}
    assert {"unit-1-pair-of-geese.png", "unit-4-hedge.svg"} <= units
    assert len(units) == 8
    assert written - units == {
        "plan.pdf", "plan.html", "quilt.png", "quilt-value.png", "quilt-room.png", "quilt.svg",
        "side-by-side.png",
    }  # fmt: skip
    page = (tmp_path / "table" / "plan.html").read_text("utf-8")
    assert "Where every piece goes" in page
    assert "Where every square lies" in page
    picture = cv2.imread(str(tmp_path / "table" / "quilt.png"))
    assert picture is not None
    assert picture.shape[0] == picture.shape[1] == 1800


@pytest.mark.usefixtures("small_quilts")
def test_a_plan_of_another_pattern_in_the_folder_is_named_when_it_is_replaced(
    plan_file: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    def said(*words: str) -> str:
        assert main(list(words)) == 0
        return " ".join(capsys.readouterr().out.split())

    bundle, place = str(plan_file.parent / "bundle.json"), str(tmp_path / "place")
    geese = ("stack", bundle, "--pattern", "hedgerow-geese", "--background", "white")
    rails = ("stack", bundle, "--pattern", "lamplight-rails")
    of_geese = "This replaced the plan of Hedgerow Geese that was there."
    assert "This replaced" not in said(*geese, "--out", place)
    assert "This replaced" not in said(*geese, "--out", place), "the same pattern needs no word"
    assert of_geese in said(*rails, "--out", place)
    rails_plan = str(tmp_path / "place" / "plan.json")
    assert "This replaced" not in said("cut", rails_plan), "its own plan lies there"
    of_rails = "This replaced the plan of Lamplight Rails that was there."
    assert of_rails in said("cut", str(plan_file), "--out", place)
    # The sheet is of one pattern now, the plan of the other.
    told = said("stack", bundle, "--pattern", "gatepost-stars", *geese[4:], "--out", place)
    assert "the plan of Hedgerow Geese and Lamplight Rails that was there" in told


def test_what_is_no_plan_is_replaced_without_a_word(tmp_path: Path) -> None:
    for text in ("", "{}", "[1]", '{"pattern": {"name": ""}}', '{"pattern": 3}', "<html>"):
        (tmp_path / "plan.json").write_text(text)
        (tmp_path / "plan.html").write_text(text)
        assert replaced_patterns(tmp_path, ("plan.html", "plan.json"), "Mine") == ()
    (tmp_path / "plan.html").write_text('<meta name="pattern" content="Stars &amp; Bars">')
    assert replaced_patterns(tmp_path, ("plan.html",), "Mine") == ("Stars & Bars",)
    assert replaced_patterns(tmp_path, ("plan.json",), "Mine") == ()
    assert replaced_patterns(tmp_path, ("plan.html",), "Stars & Bars") == ()


def first_goose(plan_file: Path) -> str:
    plan = json.loads(plan_file.read_text("utf-8"))
    return str(next(s for s in plan["stacks"] if s["name"] == "Geese")["squares"][0]["square"])


@pytest.mark.parametrize(
    ("words", "says"),
    [
        (("--usable", "wide"), "--usable"),
        (("--shrinkage", "80"), "--shrinkage"),
        (("--seed", "-1"), "--seed: -1 is below 0"),
        (("--thread", "#fff"), "name and a colour"),
        (("--thread", "x=nocolour"), "nocolour"),
        (("--background-length", "-2"), "--background-length"),
        (("--lock", "B4"), "2.3.1=B4"),
        (("--lock", "1.1.99=A1"), "no print 99"),
        (("--lock", "99.1=A1"), "6 rows of 6"),
        (("--lock", "1.1=Z9"), "no piece left"),
        (("--trim", "2"), "48 short"),
        (("--trim", "3"), "straight cuts"),
        (("--trim", "6"), "leaves no square"),
        (("--beside", "nothing.json"), "nothing.json"),
        (("--stash", "nothing.sqlite"), "nothing.sqlite"),
    ],
)
def test_what_is_wrong_is_one_sentence(
    cut: Callable[..., Said], tmp_path: Path, words: tuple[str, ...], says: str
) -> None:
    code, out, err = cut("--out", str(tmp_path / "table"), *words)
    assert (code, out) == (2, "")
    assert says in err
    assert err.count("\n") == 1
    assert not (tmp_path / "table").exists()


def test_a_missing_plan_is_told(capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["cut", "no-plan.json"]) == 2
    assert "no-plan.json" in capsys.readouterr().err


def test_the_folder_of_a_plan_is_told_which_file_in_it_is_meant(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    (tmp_path / "plan.json").write_text("{}")
    assert main(["cut", str(tmp_path)]) == 2
    assert f"is a folder; name the plan in it: {tmp_path}/plan.json." in capsys.readouterr().err


@pytest.mark.parametrize(
    ("text", "inches"),
    [("3 yards", 108), ("2 3/4 yd", 99), ("36", 36), ("1 m", F(630, 16)), ("25.4 cm", 10),
     ("2½ yards", 90)],
)  # fmt: skip
def test_reads_yardage(text: str, inches: F) -> None:
    assert read_yardage(text) == inches


def test_refuses_what_is_no_yardage() -> None:
    with pytest.raises(CuttingError):
        read_yardage("some yards")
