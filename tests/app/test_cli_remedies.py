"""The library says in plain words what is missing; the command line adds which option says it."""

import ast
import pickle
import re
from collections.abc import Callable, Iterator
from pathlib import Path

import numpy as np
import pytest
from PIL import Image

from app.cli import make_parser, verbs
from app.commands._backgrounds import _no_lighter_than_white, read_background
from app.commands._remedies import OPTIONS, with_option
from colorcore.bundle import Bundle
from colorcore.contrast import Background
from colorcore.errors import FindingError, Lack
from colorcore.measuring import measure_photos
from tests.app.conftest import Outcome

LIBRARY = Path(__file__).resolve().parents[2] / "colorcore"
OPTION = re.compile(r"(?<![\w-])--[a-z]")

Run = Callable[..., Outcome]


def named_options(source: str) -> Iterator[str]:
    """Texts of a module that name an option; docstrings are for developers."""
    tree = ast.parse(source)
    said = {
        id(node.value)
        for node in ast.walk(tree)
        if isinstance(node, ast.Expr) and isinstance(node.value, ast.Constant)
    }
    for node in ast.walk(tree):
        is_text = isinstance(node, ast.Constant) and isinstance(node.value, str)
        if is_text and id(node) not in said and OPTION.search(node.value):
            yield node.value


def test_no_sentence_of_the_library_names_an_option() -> None:
    assert list(named_options('def f():\n    "Do --it."\n    return f"say --grid {f}"')) == [
        "say --grid "
    ]
    named = {
        str(path.relative_to(LIBRARY)): texts
        for path in LIBRARY.rglob("*.py")
        if (texts := list(named_options(path.read_text("utf-8"))))
    }
    assert named == {}


def test_every_option_is_one_that_a_command_takes() -> None:
    assert set(OPTIONS) == set(Lack)
    helps = []
    for words in ([verb] for verb in verbs() if verb != "stash"):
        helps.append(_help(words))
    helps.append(_help(["stash", "add"]))
    for option in OPTIONS.values():
        name = re.search(r"--[a-z-]+", option)
        assert name is not None
        assert any(name[0] in text for text in helps), option


def _help(words: list[str]) -> str:
    import contextlib
    import io

    told = io.StringIO()
    with contextlib.redirect_stdout(told), pytest.raises(SystemExit):
        make_parser(words[:1]).parse_args([*words, "--help"])
    return told.getvalue()


@pytest.fixture
def plain(tmp_path: Path) -> Path:
    path = tmp_path / "plain.png"
    Image.fromarray(np.full((300, 400, 3), 130, np.uint8)).save(path)
    return path


def test_a_photo_without_squares_names_the_grid_in_the_terminal_alone(
    plain: Path, tmp_path: Path, run: Run
) -> None:
    with pytest.raises(FindingError) as told:
        measure_photos([plain])
    assert "--" not in str(told.value)
    assert told.value.lack == Lack.GRID
    outcome = run("measure", plain, "--out", tmp_path / "b.json")
    assert outcome.code == 2
    assert outcome.err.strip().endswith("rows and columns there are (--grid ROWSxCOLUMNS).")
    # Rows and columns that were said already do not help, nor do the bundle's for a cloth.
    outcome = run("measure", plain, "--out", tmp_path / "b.json", "--grid", "2x3")
    assert "--grid ROWS" not in outcome.err
    assert outcome.code == 2
    for cloth in (str(plain), f"{plain}@10,10,200,200"):
        with pytest.raises(FindingError) as told:
            read_background(cloth, Bundle((), ()))
        assert told.value.lack is None
        assert "ends within the photo" in str(told.value)
        assert "rows and columns" not in str(told.value)
    # Nothing is lighter than white, whatever a photo's own scale says.
    for lightness in (109.0, 96.0):
        found = _no_lighter_than_white(Background("cloth.jpg", (lightness, 1.0, -2.0)))
        assert found.lab == (min(lightness, 100.0), 1.0, -2.0)
    # What it says instead helps: the stash takes cloth that fills the picture.
    stash = str(tmp_path / "stash.sqlite")
    named = ("--as", "piece", "--name", "Plain", "--stash", stash)
    assert run("stash", "add", plain, *named).code == 0
    assert read_background("Plain", Bundle((), ()), stash)[0].label == "Plain"


def test_what_is_lacking_comes_back_from_another_process() -> None:
    error = pickle.loads(pickle.dumps(FindingError("Nothing found.", lack=Lack.GRID)))
    assert (str(error), error.lack) == ("Nothing found.", Lack.GRID)


def test_a_sentence_without_a_lack_stays_as_it_is() -> None:
    assert with_option("All is well.", None) == "All is well."
    assert with_option("Say how many.", Lack.GRID) == "Say how many (--grid ROWSxCOLUMNS)."


def test_a_stash_elsewhere_is_named_by_its_option(tmp_path: Path, run: Run) -> None:
    (tmp_path / "notes.txt").write_text("no stash at all " * 99)
    outcome = run("stash", "list", "--stash", tmp_path / "notes.txt")
    assert outcome.code == 2
    assert outcome.err.strip().endswith("choose another (--stash FILE).")
