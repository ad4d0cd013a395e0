"""``bundlestacks stash`` as a person types it."""

import csv
import shlex

import cv2
import pytest

from app.cli import main
from colorcore.stash import Stash
from tests.stash.making import make_entry
from tests.stash.pictures import Table


@pytest.fixture
def run(tmp_path, monkeypatch, capsys):
    """Run ``bundlestacks stash`` in a folder of its own; returns exit code, output and errors."""
    monkeypatch.chdir(tmp_path)
    monkeypatch.setenv("COLUMNS", "100")

    def call(line):
        words = shlex.split(line)
        code = main(["stash", *words, "--stash", "my.sqlite"])
        said = capsys.readouterr()
        return code, said.out, said.err

    return call


@pytest.fixture
def filled(run, tmp_path):
    with Stash(tmp_path / "my.sqlite") as stash:
        stash.add_all([make_entry("Fir"), make_entry("Moss", unit="squares", place="blue box")])
    return run


def test_adding_photos(run, tmp_path):
    table = Table(width=420, height=320).lay((60, 60, 240, 240), (28.0, 8.0, -30.0))
    cv2.imwrite(str(tmp_path / "fir.png"), table.paper(285, 90, 11).photograph()[..., ::-1])
    (tmp_path / "bad.jpg").write_bytes(b"nothing")
    code, out, err = run("add fir.png bad.jpg --as piece --amount 'half a yard' --place 'shelf 2'")
    assert (code, err) == (0, "")
    assert "1 entry added" in out
    assert "½ yard" in out
    assert "shelf 2" in out
    assert "1 photo skipped" in out
    assert "bad.jpg" in out
    code, out, _ = run("add fir.png")
    assert code == 0
    assert "1 photo is in the stash already" in out
    assert run("add bad.jpg")[0] == 2


def test_listing_and_showing(filled, tmp_path):
    code, out, _ = filled("list")
    assert code == 0
    assert "1½ yards" in out
    assert "2 entries." in out
    assert "Fir" not in filled("list box")[1]
    assert "Nothing like that" in filled("list quagga")[1]
    code, out, _ = filled("show fir --picture fir.png")
    assert code == 0
    assert "gives 20 squares of 10 in" in out
    assert "trust         B: " in out
    assert cv2.imread(str(tmp_path / "fir.png")).shape == (40, 40, 3)


def test_changing_and_taking_back(filled):
    assert "1 yard left" in filled("use Fir '1/2 yard'")[1]
    code, _, err = filled("use Fir '9 yards'")
    assert code == 2
    assert "only 1 yard left" in err
    code, _, err = filled("use Fir '2 squares'")
    assert code == 2
    assert "kept in yards" in err
    assert "Deep fir now" in filled("rename Fir 'Deep fir'")[1]
    assert "2 yards" in filled("correct 'deep fir' --amount 2 --note washed")[1]
    assert "say what to correct" in filled("correct 'deep fir'")[2].lower()
    assert "Removed Deep fir and Moss" in filled("remove 'deep fir' moss")[1]
    assert "empty" in filled("list")[1]
    assert "Deep fir" in filled("list --removed")[1]
    for _ in range(4):
        assert "Taken back" in filled("undo")[1]
    assert "1½ yards" in filled("list fir")[1]


def test_exchanging_and_backing_up(filled, tmp_path):
    assert filled("export all.csv")[0] == 0
    with open(tmp_path / "all.csv", encoding="utf-8-sig", newline="") as stream:
        assert [row["name"] for row in csv.DictReader(stream)] == ["Fir", "Moss"]
    assert filled("export all.json")[0] == 0
    assert "0 entries added, 0 corrected, 2 as they were" in filled("import all.json")[1]
    assert "0 entries added, 0 corrected, 2 as they were" in filled("import all.csv")[1]
    assert filled("backup copy.sqlite")[0] == 0
    with Stash(tmp_path / "copy.sqlite") as copy:
        assert len(copy.entries()) == 2
    assert filled("export all.txt")[0] == 2
    assert "name a file that ends in .json or .csv" in filled("import all.txt")[2]


@pytest.mark.parametrize(
    ("line", "said"),
    [
        ("show fir", "no such stash"),
        ("add none.jpg --amount 'much'", "no amount"),
        ("add a.jpg b.jpg --name Fir", "for one photo"),
        ("add a.jpg --processes 0", "--processes"),
        ("add a.jpg --region 1,2", "expected 2 arguments"),
        ("burn", "invalid choice"),
    ],
)
def test_what_cannot_be_understood(run, line, said):
    code, out, err = run(line)
    assert (code, out) == (2, "")
    assert said in err
    assert err.count("\n") == 1


def test_nobody_has_a_stash_at_first(tmp_path, monkeypatch, capsys):
    monkeypatch.setattr("colorcore.stash.default_path", lambda: tmp_path / "none.sqlite")
    assert main(["stash", "list"]) == 2
    assert "begin one" in capsys.readouterr().err
    assert not (tmp_path / "none.sqlite").exists()
