"""What README and ``--help`` promise: every verb is told of, and every example runs."""

import argparse
import re
import shlex
import shutil
from collections.abc import Callable
from pathlib import Path

import pillow_heif
import pytest
from PIL import Image

from app.cli import main, make_parser, verbs
from colorcore.stash.store import Stash, default_path
from tests.app.conftest import Outcome, TablePhoto
from tests.app.test_cli import subparsers_of

Run = Callable[..., Outcome]
pytestmark = pytest.mark.usefixtures("measured_once", "small_quilts")
README = (Path(__file__).parents[2] / "README.md").read_text("utf-8")
# ``app`` serves until it is stopped, ``stash`` needs photos of its own: they are tested elsewhere.
RUN_HERE = (
    "background", "compare", "cut", "demo", "measure", "patterns", "shopping", "stack", "swap",
)  # fmt: skip


def examples(verb: str) -> list[str]:
    """Return the example commands of a verb's help, continued lines joined."""
    epilog = subparsers_of(make_parser((verb,)))[verb].epilog or ""
    joined = re.sub(r"\\\n\s*", "", epilog)
    return [line.strip() for line in joined.splitlines() if line.strip().startswith("bundlestacks")]


@pytest.mark.parametrize("verb", verbs())
def test_readme_tells_of_every_verb(verb: str) -> None:
    assert re.search(rf"`bundlestacks {verb}\b", README), f"README.md does not tell of {verb}"


@pytest.mark.parametrize("verb", verbs())
def test_examples_can_be_understood(verb: str) -> None:
    found = examples(verb)
    assert found
    for line in found:
        words = shlex.split(line.split(" > ")[0])
        args = make_parser(verbs()).parse_args(words[1:])
        assert isinstance(args, argparse.Namespace)
        assert args.verb == verb


@pytest.fixture(scope="module")
def table_top(
    table_photos: tuple[TablePhoto, TablePhoto], tmp_path_factory: pytest.TempPathFactory
) -> tuple[Path, dict[str, str]]:
    """A folder with the files that the examples name, and what must be replaced in them."""
    left, right = table_photos
    folder = tmp_path_factory.mktemp("kitchen")
    for name, photo in (("table.jpg", left), ("left.jpg", left), ("right.jpg", right)):
        shutil.copy(photo.path, folder / name)
    with Image.open(right.path) as picture:
        pillow_heif.from_pillow(picture).save(
            folder / "right.heic", quality=90, enc_params={"preset": "ultrafast"}
        )
    bundle = str(folder / "bundle.json")
    assert main(["measure", str(folder / "left.jpg"), "--out", bundle, "--quiet"]) == 0
    other = str(folder / "other-bundle.json")
    assert main(["measure", str(right.path), "--out", other, "--quiet"]) == 0
    stack = ["stack", bundle, "--pattern", "gatepost-stars", "--background", "#f4efe6", "--quiet"]
    assert main([*stack, "--out", str(folder / "stacks-out")]) == 0
    (folder / "my-pattern.toml").write_text(_small_pattern(), encoding="utf-8")
    lightest = max(right.truth.squares, key=lambda square: square.lab[0]).address
    return folder, {
        "2:212,340": f"2:{right.paper[0]:.0f},{right.paper[1]:.0f}",
        "1480,300": f"{left.paper[0]:.0f},{left.paper[1]:.0f}",
        "2-A1": f"2-{lightest}",
    }


@pytest.fixture
def kitchen(
    table_top: tuple[Path, dict[str, str]], tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> dict[str, str]:
    """Stand in a copy of that folder; return what must be replaced."""
    shutil.copytree(table_top[0], tmp_path / "kitchen")
    monkeypatch.chdir(tmp_path / "kitchen")
    monkeypatch.setenv("XDG_DATA_HOME", str(tmp_path / "data"))
    with Stash(default_path()):
        pass  # an empty stash of one's own
    monkeypatch.setattr("webbrowser.open", lambda address: True)
    return table_top[1]


def _small_pattern() -> str:
    from colorcore.pattern import read_pattern

    # Stars need all of theirs; of the chains some squares are there for variety alone.
    text = read_pattern("gatepost-stars").text
    return re.sub(r'chain" = 14\b', 'chain" = 13', text)


@pytest.mark.parametrize(
    "line", [line for verb in RUN_HERE for line in examples(verb)], ids=lambda line: line[13:60]
)
def test_examples_of_help_run(line: str, kitchen: dict[str, str], run: Run) -> None:
    for given, here in kitchen.items():
        line = line.replace(given, here)
    words = shlex.split(line.split(" > ")[0])[1:]
    outcome = run(*words)
    assert outcome.code == 0, outcome.err
    assert outcome.out
    if "--out" in words:
        assert Path(words[words.index("--out") + 1]).exists()


def commands_of_readme() -> list[str]:
    """Return the commands in the README's section on commands that begin with our name."""
    section = README.split("## The commands")[1].split("\n## ")[0]
    blocks = re.findall(r"```sh\n(.*?)```", section, re.DOTALL)
    joined = re.sub(r"\\\n\s*", "", "".join(blocks))
    return [line for line in joined.splitlines() if line.startswith("bundlestacks ")]


def test_readme_commands_run(tmp_path: Path, monkeypatch: pytest.MonkeyPatch, run: Run) -> None:
    import sample_images

    (tmp_path / "sample_images").mkdir()
    for path in sample_images.sample_paths():
        shutil.copy(path, tmp_path / "sample_images" / path.name)
    monkeypatch.chdir(tmp_path)
    lines = commands_of_readme()
    assert len(lines) >= 4
    for line in lines:
        outcome = run(*shlex.split(line.split(" > ")[0].split(" #")[0])[1:])
        assert outcome.code == 0, f"{line}: {outcome.err}"
