"""Bundle files: what goes in comes out; what is wrong is named; nothing is half written."""

import json
import os
from dataclasses import fields, replace
from pathlib import Path
from typing import Any

import jsonschema
import numpy as np
import pytest

import colorcore
from colorcore.bundle import (
    Bundle,
    PhotoRecord,
    SeenAgain,
    bundle_from_json,
    bundle_to_json,
    group_fabrics,
    read_bundle,
    write_bundle,
)
from colorcore.errors import BundleFileError, OutputError
from colorcore.flags import FLAGS
from tests.swatch.making import grain, measured, paint, scattered, stripes

SCHEMA = Path(colorcore.__file__).parent / "schema" / "bundle.schema.json"
LIGHT, DARK, RED = (88.0, 0.0, 5.0), (25.0, 10.0, -20.0), (45.0, 50.0, 25.0)


@pytest.fixture(scope="module")
def bundle() -> Bundle:
    left = np.array([[12.0, 12.0], [150.0, 12.0], [150.0, 312.0], [12.0, 312.0]])
    squares = (
        measured(grain(paint(scattered(1, 1.5), LIGHT, DARK, RED), 1), place=(0, 0)),
        measured(grain(paint(stripes(1.1, 25.0), RED, DARK), 2), place=(0, 1)),
        measured(grain(paint(scattered(1, 1.5), LIGHT, DARK, RED), 3), place=(1, 0), visible=left),
        measured(paint(np.zeros((60, 60), np.int64), DARK), place=(1, 1)),
    )
    photo = PhotoRecord(
        path="folder/Küchentisch 1.jpg", sha256="ab" * 32, width=4000, height=3000,
        reference="paper", trust="B", trust_words="Good to 1 L* unit.", notes=("A note.",),
    )  # fmt: skip
    made = (("bundlestacks", "0.1.0"), ("square_inches", "10"))
    return Bundle(group_fabrics(squares), (photo,), made, name="Autumn")


def test_what_goes_in_comes_out(bundle: Bundle, tmp_path: Path) -> None:
    path = tmp_path / "bundle.json"
    write_bundle(bundle, path)
    back = read_bundle(path)
    assert back.photos == bundle.photos
    assert back.provenance == bundle.provenance
    assert back.name == bundle.name
    for before, after in zip(bundle.squares, back.squares, strict=True):
        for field in fields(before):
            if field.name == "picture":
                apart = before.picture.astype(int) - after.picture.astype(int)
                assert np.sqrt(np.mean(apart**2)) < 6
            elif field.name == "valid":
                assert (before.valid is None) == (after.valid is None)
                assert before.valid is None or np.array_equal(before.valid, after.valid)
            else:
                assert getattr(before, field.name) == getattr(after, field.name), field.name


@pytest.fixture(scope="module")
def twice(bundle: Bundle) -> Bundle:
    """The bundle with a second photo that shows one of its squares again."""
    again = SeenAgain("A1", "2-C1", 1, 2, 0, ((1.0, 2.0), (9.0, 2.5), (9.0, 9.0), (1.5, 9.0)))
    return replace(bundle, photos=bundle.photos * 2, seen_again=(again,))


def test_where_a_square_shows_again_is_kept(twice: Bundle, tmp_path: Path) -> None:
    write_bundle(twice, tmp_path / "bundle.json")
    assert read_bundle(tmp_path / "bundle.json").seen_again == twice.seen_again
    data = bundle_to_json(twice)
    schema = json.loads(SCHEMA.read_text(encoding="utf-8"))
    jsonschema.validate(data, schema)
    del data["seen_again"]
    jsonschema.validate(data, schema)
    assert bundle_from_json(data).seen_again == (), "a file from before it was kept"


@pytest.mark.parametrize(
    ("key", "value", "words"),
    [
        ("square", "Z9", r"seen_again\[0\]\.square"),
        ("address", "A2", r"seen_again\[0\]\.address"),
        ("photo", 2, r"seen_again\[0\]\.photo"),
        ("corners", [[0, 0]], r"seen_again\[0\]\.corners"),
    ],
)
def test_what_is_wrong_of_a_square_seen_again_is_named(
    twice: Bundle, key: str, value: object, words: str
) -> None:
    data = bundle_to_json(twice)
    data["seen_again"][0][key] = value
    with pytest.raises(BundleFileError, match=words):
        bundle_from_json(data)


def test_writing_again_gives_the_same_bytes(bundle: Bundle, tmp_path: Path) -> None:
    write_bundle(bundle, tmp_path / "one.json")
    write_bundle(bundle, tmp_path / "two.json")
    assert (tmp_path / "one.json").read_bytes() == (tmp_path / "two.json").read_bytes()


def test_a_written_bundle_follows_the_schema(bundle: Bundle) -> None:
    schema = json.loads(SCHEMA.read_text(encoding="utf-8"))
    validator = jsonschema.Draft202012Validator(schema)
    jsonschema.Draft202012Validator.check_schema(schema)
    validator.validate(json.loads(json.dumps(bundle_to_json(bundle))))


def test_the_schema_allows_every_flag() -> None:
    schema = json.loads(SCHEMA.read_text(encoding="utf-8"))
    flags = schema["$defs"]["square"]["properties"]["flags"]
    jsonschema.Draft202012Validator(flags).validate(list(FLAGS))


WRONG: list[tuple[str, Any, str]] = [
    ("schema", "something-else-3", "schema"),
    ("photos", {}, "photos"),
    ("photos.0.width", 0, "photos[0].width"),
    ("photos.0.width", True, "photos[0].width"),
    ("photos.0.trust", "E", "photos[0].trust"),
    ("squares.1.lab", [50, 0], "squares[1].lab"),
    ("squares.1.lab.0", "dark", "squares[1].lab[0]"),
    ("squares.1.lab.0", 1e400, "squares[1].lab[0]"),
    ("squares.1.lab.0", 10**400, "squares[1].lab[0]"),
    ("squares.1.lab", [500, 0, 0], "squares[1].lab"),
    ("squares.1.lab_sd.2", -1, "squares[1].lab_sd[2]"),
    ("squares.1.photo", 1, "squares[1].photo"),
    ("squares.1.photo", 0.5, "squares[1].photo"),
    ("squares.1.id", " ", "squares[1].id"),
    ("squares.1.corners.3", [1], "squares[1].corners[3]"),
    ("squares.1.corners", [[0, 0]], "squares[1].corners"),
    ("squares.1.flags", ["shiny"], "squares[1].flags[0]"),
    ("squares.1.palette.0.share", 1.5, "squares[1].palette[0].share"),
    ("squares.1.reads_as_solid", 1, "squares[1].reads_as_solid"),
    ("squares.1.stripe_degrees", 200, "squares[1].stripe_degrees"),
    ("squares.1.side_inches", 0, "squares[1].side_inches"),
    ("squares.1.picture", "data:image/jpeg;base64,AAAA", "squares[1].picture"),
    ("squares.1.picture", "data:image/jpeg;base64,***", "squares[1].picture"),
    ("squares.1.picture", "http://example.org/x.jpg", "squares[1].picture"),
    ("squares.2.valid", "data:image/png;base64,AAAA", "squares[2].valid"),
]


def _put(data: Any, key: str, value: Any) -> None:
    *way, last = (int(k) if k.isdigit() else k for k in key.split("."))
    for step in way:
        data = data[step]
    data[last] = value


@pytest.mark.parametrize(("key", "value", "named"), WRONG, ids=range(len(WRONG)))
def test_what_is_wrong_is_named(
    bundle: Bundle, tmp_path: Path, key: str, value: Any, named: str
) -> None:
    data = json.loads(json.dumps(bundle_to_json(bundle)))
    _put(data, key, value)
    path = tmp_path / "mine.json"
    path.write_text(json.dumps(data), encoding="utf-8")
    with pytest.raises(BundleFileError) as caught:
        read_bundle(path)
    sentence = str(caught.value)
    assert sentence.startswith(f"mine.json: {named}: expected ")
    assert "\n" not in sentence
    assert len(sentence) < 400


# No schema can know how many photos there are, which flags there will be, or decode a picture.
BEYOND_A_SCHEMA = ("squares.1.photo", "squares.1.flags", "squares.1.picture", "squares.2.valid")


@pytest.mark.parametrize(
    ("key", "value"), [(key, value) for key, value, _ in WRONG if key not in BEYOND_A_SCHEMA]
)
def test_the_schema_refuses_what_the_reader_refuses(bundle: Bundle, key: str, value: Any) -> None:
    data = json.loads(json.dumps(bundle_to_json(bundle)))
    _put(data, key, value)
    schema = json.loads(SCHEMA.read_text(encoding="utf-8"))
    assert not jsonschema.Draft202012Validator(schema).is_valid(data)


def test_a_whole_number_may_be_written_with_a_point(bundle: Bundle, tmp_path: Path) -> None:
    data = json.loads(json.dumps(bundle_to_json(bundle)))
    _put(data, "squares.1.photo", 0.0)
    (tmp_path / "b.json").write_text(json.dumps(data), encoding="utf-8")
    assert read_bundle(tmp_path / "b.json").squares[1].photo == 0


@pytest.mark.parametrize("key", ["schema", "photos", "squares", "squares.0.lab", "photos.0.path"])
def test_what_is_missing_is_named(bundle: Bundle, tmp_path: Path, key: str) -> None:
    data = json.loads(json.dumps(bundle_to_json(bundle)))
    place: Any = data
    *way, last = key.split(".")
    for step in way:
        place = place[int(step)] if step.isdigit() else place[step]
    del place[last]
    path = tmp_path / "mine.json"
    path.write_text(json.dumps(data), encoding="utf-8")
    with pytest.raises(BundleFileError, match=rf"{last}: missing"):
        read_bundle(path)


def test_an_address_may_appear_once(bundle: Bundle, tmp_path: Path) -> None:
    twice = replace(bundle, squares=(bundle.squares[0], replace(bundle.squares[1], id="A1")))
    write_bundle(twice, tmp_path / "b.json")
    with pytest.raises(BundleFileError, match=r"squares\[1\]\.id"):
        read_bundle(tmp_path / "b.json")


@pytest.mark.parametrize(
    "content",
    [
        b"",
        b"{",
        b"[]",
        b"null",
        b"\xff\xd8\xff\xe0 a picture",
        b"[" * 100_000,
        b'{"schema": NaN}',
        b'{"schema": ' + b"1" * 5000 + b"}",
    ],
)
def test_no_bundle_at_all(tmp_path: Path, content: bytes) -> None:
    path = tmp_path / "no.json"
    path.write_bytes(content)
    with pytest.raises(BundleFileError, match=r"^no\.json: "):
        read_bundle(path)


def test_no_such_file(tmp_path: Path) -> None:
    with pytest.raises(BundleFileError, match="cannot be read"):
        read_bundle(tmp_path / "none.json")


def test_a_failed_write_leaves_the_old_file(
    bundle: Bundle, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    path = tmp_path / "bundle.json"
    path.write_text("old", encoding="utf-8")

    def fail(*_: object) -> None:
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(os, "replace", fail)
    with pytest.raises(OutputError, match="the disk is full"):
        write_bundle(bundle, path)
    assert path.read_text(encoding="utf-8") == "old"
    assert [p.name for p in tmp_path.iterdir()] == ["bundle.json"]


def test_a_place_that_cannot_be_written(bundle: Bundle, tmp_path: Path) -> None:
    with pytest.raises(OutputError, match="folder that exists"):
        write_bundle(bundle, tmp_path / "none" / "bundle.json")
    with pytest.raises(OutputError, match="this is a folder"):
        write_bundle(bundle, tmp_path)


def test_a_link_stays_a_link(bundle: Bundle, tmp_path: Path) -> None:
    real, link = tmp_path / "real.json", tmp_path / "link.json"
    real.write_text("old", encoding="utf-8")
    link.symlink_to(real)
    write_bundle(bundle, link)
    assert link.is_symlink()
    assert len(read_bundle(real).squares) == 4


def test_pictures_inside_carry_no_metadata(bundle: Bundle) -> None:
    import base64

    for square in bundle_to_json(bundle)["squares"]:
        data = base64.b64decode(square["picture"].partition(",")[2])
        assert b"Exif" not in data
        assert b"ICC_PROFILE" not in data


def test_newer_files_may_carry_more(bundle: Bundle, tmp_path: Path) -> None:
    data = bundle_to_json(bundle)
    data["extra"] = 1
    data["squares"][0]["extra"] = {"more": True}
    path = tmp_path / "b.json"
    path.write_text(json.dumps(data), encoding="utf-8")
    assert len(read_bundle(path).squares) == 4
