"""What README.md and DEVELOPERS.md name is there: pictures, files, modules, dependencies."""

import re
import tomllib
from importlib.util import find_spec
from pathlib import Path

import pytest

from colorcore.cutting.kits import cut_stacks
from colorcore.pattern import parse_pattern
from colorcore.pattern.layout import spread
from colorcore.pattern.patches import Shape, facets
from colorcore.pattern.units import PATCH_KEYS, read_units
from colorcore.sheets.shape_drawings import draw_shapes, example_patch

ROOT = Path(__file__).resolve().parent.parent
README = (ROOT / "README.md").read_text(encoding="utf-8")
DEVELOPERS = (ROOT / "DEVELOPERS.md").read_text(encoding="utf-8")
FILES = [
    path.relative_to(ROOT).as_posix()
    for folder in ("app", "colorcore", "tests", "sample_images")
    for path in (ROOT / folder).rglob("*.*")
]


@pytest.mark.parametrize("name", sorted(set(re.findall(r"!\[[^\]]+\]\(([^)]+)\)", README))))
def test_pictures_are_there(name: str) -> None:
    assert (ROOT / name).is_file()


def test_every_picture_of_screens_is_shown() -> None:
    for path in (ROOT / "sample_images" / "screens").iterdir():
        assert f"](sample_images/screens/{path.name})" in README


@pytest.mark.parametrize(
    "name",
    sorted(set(re.findall(r"`((?!\S*NAME)[\w/.]+\.(?:py|js|css|typ|toml|j2))`", DEVELOPERS))),
)
def test_files_are_there(name: str) -> None:
    assert any(f"/{path}".endswith(f"/{name}") for path in FILES) or (ROOT / name).is_file()


@pytest.mark.parametrize(
    ("name", "file"), sorted(set(re.findall(r"`(\w+)` in `([\w/]+\.py)`", DEVELOPERS)))
)
def test_functions_are_where_they_are_said_to_be(name: str, file: str) -> None:
    text = (ROOT / "colorcore" / file).read_text(encoding="utf-8")
    assert re.search(rf"^def {name}\(", text, re.MULTILINE)


@pytest.mark.parametrize(
    ("name", "options"),
    sorted(set(re.findall(r"python -m ((?:tests|app)[\w.]*)([^`]*)`", README + DEVELOPERS))),
)
def test_modules_can_be_run(name: str, options: str) -> None:
    spec = find_spec(name)
    assert spec is not None
    assert spec.origin is not None
    text = Path(spec.origin).read_text(encoding="utf-8")
    assert 'if __name__ == "__main__":' in text
    for option in re.findall(r"--[\w-]+", options):
        assert f'"{option}"' in text
    assert "--" in options or not options.strip() or "sys.argv" in text


def test_the_example_in_python_runs(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.chdir(ROOT)
    (example,) = re.findall(r"```python\n(.*?)```", DEVELOPERS, re.DOTALL)
    exec(compile(example, "DEVELOPERS.md", "exec"), {})
    told = capsys.readouterr().out.splitlines()
    assert [line.split()[0] for line in told[:3]] == ["Stars", "First", "Second"]
    assert "[" in told[3]


def test_the_pattern_of_the_readme_can_be_cut_and_sewn() -> None:
    (example,) = re.findall(r"<!-- pattern example -->\n```toml\n(.*?)```", README, re.DOTALL)
    pattern = parse_pattern(example)
    (size,) = pattern.sizes
    layout = spread(read_units(pattern), size.name)
    assert (layout.width, layout.height) == (16, 16)
    (cutting,) = cut_stacks(layout, {"Blades": ["A1", "A2", "A3", "A4"]})
    assert cutting.ok
    assert sum(sum(cut.kits) for cut in cutting.cuts) == 4
    # A pinwheel: the four blades of one turn about its middle, each a quarter on from the last.
    blades = [f.polygon.mean(axis=0) - 4 for f in layout.facets if f.slot == 0]
    middles = sorted((round(x, 2), round(y, 2)) for x, y in blades)
    assert middles == [(-2.67, 1.33), (-1.33, -2.67), (1.33, 2.67), (2.67, -1.33)]


def test_every_shape_of_a_patch_is_told_and_drawn_as_it_is() -> None:
    rows = re.findall(r"^\| `([a-z -]+)` \| (`[^|]+`) \| [^|]+ \|$", README, re.MULTILINE)
    told = {shape: tuple(re.findall(r"`(\w+)`", keys)) for shape, keys in rows}
    assert told == {shape.value: keys for shape, keys in PATCH_KEYS.items()}
    assert set(PATCH_KEYS) == set(Shape)
    drawn = (ROOT / "sample_images/screens/patch-shapes.svg").read_text(encoding="utf-8")
    assert drawn == draw_shapes()
    for shape, keys in PATCH_KEYS.items():
        assert f">{shape.value}</text>" in drawn
        patch = example_patch(shape)
        words = " ".join(facet.fabric for facet in facets(patch))
        assert all(key in words or f">{key}" in drawn for key in keys)


def test_dependencies_have_a_reason_and_a_licence() -> None:
    project = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))["project"]
    extras = project["optional-dependencies"]
    wanted = {
        re.split(r"[<>=!\[]", line)[0]
        for line in [
            *project["dependencies"],
            *(each for lines in extras.values() for each in lines),
        ]
    }
    section = DEVELOPERS.split("## Why each dependency")[1].split("\n## ")[0]
    rows = re.findall(r"^\| ([^|]+) \| ([^|]+) \| ([^|]+) \|$", section, re.MULTILINE)[1:]
    told = {
        name.strip()
        for names, licence, reason in rows
        if licence.strip() and reason.strip()
        for name in re.sub(r"\(.*\)", "", names).split(",")
    }
    assert told - {"---"} == wanted
