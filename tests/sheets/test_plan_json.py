import json
from dataclasses import replace
from importlib.resources import files
from pathlib import Path
from typing import Any

import jsonschema
import numpy as np
import pytest

from colorcore.contrast import Background, Thresholds
from colorcore.errors import BundleFileError, PatternError
from colorcore.pattern import read_pattern
from colorcore.sheets.outputs import plan_files
from colorcore.sheets.plan_json import read_plan
from tests.sheets.making import make_bundle, make_picture, make_plan

SCHEMA = json.loads(files("colorcore").joinpath("schema/plan.schema.json").read_text("utf-8"))
PRINT = Background(
    "square A1", (90.0, 1.0, 4.0), (0.5, 0.4, 0.4), make_picture((90, 1, 4), 1), 9.6, 0.3, 0
)


def save(folder: Path, *, background: Background = PRINT) -> Path:
    bundle = make_bundle(2, 4)
    plan = make_plan(bundle, background=background, spare=2)
    bundle_files = plan_files(
        plan,
        bundle,
        read_pattern("gatepost-stars"),
        photos=[None],
        thresholds=Thresholds(holds=25, melts=12),
    )
    for name, content in bundle_files.items():
        (folder / name).write_bytes(content)
    return folder / "plan.json"


def change(path: Path, keys: tuple[str | int, ...], value: Any) -> None:
    document = json.loads(path.read_text("utf-8"))
    at = document
    for key in keys[:-1]:
        at = at[key]
    at[keys[-1]] = value
    path.write_text(json.dumps(document), encoding="utf-8")


def test_the_schema_is_one_and_plans_keep_it(tmp_path: Path) -> None:
    jsonschema.Draft202012Validator.check_schema(SCHEMA)
    for background in (PRINT, Background("#f4efe6", (94.6, 0.5, 5.0))):
        document = json.loads(save(tmp_path, background=background).read_text("utf-8"))
        jsonschema.validate(document, SCHEMA, cls=jsonschema.Draft202012Validator)


def test_the_schema_refuses_what_is_none(tmp_path: Path) -> None:
    document = json.loads(save(tmp_path).read_text("utf-8"))
    validator = jsonschema.Draft202012Validator(SCHEMA)
    for key in SCHEMA["required"]:
        broken = {k: v for k, v in document.items() if k != key}
        assert not validator.is_valid(broken), key
    document["stacks"][0]["squares"][0]["verdict"] = "fine"
    assert not validator.is_valid(document)


def test_reading_gives_back_what_was_written(tmp_path: Path) -> None:
    read = read_plan(save(tmp_path))
    bundle = make_bundle(2, 4)
    plan = make_plan(bundle, background=PRINT, spare=2)
    assert read.thresholds == Thresholds(holds=25, melts=12)
    assert read.pattern == read_pattern("gatepost-stars")
    assert [s.id for s in read.bundle.squares] == [s.id for s in bundle.squares]
    assert (read.plan.pattern, read.plan.size) == (plan.pattern, plan.size)
    assert (read.plan.margins, read.plan.second_look) == (plan.margins, plan.second_look)
    assert read.plan.evenness == plan.evenness
    for mine, theirs in zip(plan.stacks, read.plan.stacks, strict=True):
        assert (mine.name, mine.role, mine.value) == (theirs.name, theirs.role, theirs.value)
        for a, b in zip(mine.placements, theirs.placements, strict=True):
            assert replace(a, delta_l=0, delta_e=0, ratio=1) == replace(
                b, delta_l=0, delta_e=0, ratio=1
            )
            assert (a.delta_l, a.delta_e, a.ratio) == pytest.approx(
                (b.delta_l, b.delta_e, b.ratio), abs=0.001
            )
    ground = read.plan.background
    assert (ground.label, ground.lab, ground.pixels_per_inch) == ("square A1", PRINT.lab, 9.6)
    assert (ground.order_sd, ground.photo) == (0.3, 0)
    assert ground.picture is not None
    assert PRINT.picture is not None
    assert np.abs(ground.picture.astype(int) - PRINT.picture).mean() < 4


@pytest.mark.parametrize(
    ("keys", "value", "words"),
    [
        (("schema",), "bundlestacks-plan-0", "schema"),
        (("schema",), "bundlestacks-bundle-1", "a bundle, not a plan; deal it first"),
        (("stacks",), None, "stacks"),
        (("stacks", 0, "squares", 0, "delta_l"), "far", r"stacks\[0\]\.squares\[0\]\.delta_l"),
        (("stacks", 0, "squares", 0, "luminance_ratio"), 0.2, "luminance_ratio"),
        (("stacks", 0, "squares", 0, "square"), "Z9", "Z9"),
        (("stayed_out",), ["A1"], "A1 has more than one place"),
        (("thresholds", "melts"), 90, "thresholds.melts"),
        (("bundle", "file"), "../secret.json", "bundle.file"),
        (("bundle", "file"), "/etc/hostname", "bundle.file"),
        (("bundle", "file"), "gone.json", "gone.json"),
        (("bundle", "sha256"), "0" * 64, "not the bundle"),
        (("background", "picture"), "data:image/jpeg;base64,AAAA", "background.picture"),
        (("background", "lab"), [50, 0], "background.lab"),
    ],
)
def test_a_damaged_plan_is_named(
    tmp_path: Path, keys: tuple[str | int, ...], value: Any, words: str
) -> None:
    path = save(tmp_path)
    if keys == ("stayed_out",):
        document = json.loads(path.read_text("utf-8"))
        value = [document["left_over"][0]["square"]]
        words = f"{value[0]} has more than one place"
    change(path, keys, value)
    with pytest.raises(BundleFileError, match=words):
        read_plan(path)


def test_the_pattern_inside_is_checked(tmp_path: Path) -> None:
    path = save(tmp_path)
    change(path, ("pattern", "text"), "name = 3")
    with pytest.raises(PatternError, match=r"plan\.json: gatepost-stars\.toml"):
        read_plan(path)


@pytest.mark.parametrize("content", [b"", b"{", b"[1]", b"\xff\xfe\x00", b"nul", b"[" * 100_000])
def test_what_is_no_plan_is_refused(tmp_path: Path, content: bytes) -> None:
    path = tmp_path / "plan.json"
    path.write_bytes(content)
    with pytest.raises(BundleFileError, match=r"plan\.json"):
        read_plan(path)
    with pytest.raises(BundleFileError, match="gone"):
        read_plan(tmp_path / "gone.json")
