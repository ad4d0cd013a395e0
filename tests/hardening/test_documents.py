"""Broken bundles, plans, patterns, stash files and projects: what they hold, or one sentence."""

import json
import random
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from colorcore.bundle import bundle_to_json, read_bundle
from colorcore.errors import BundleError
from colorcore.pattern import parse_pattern, read_pattern, shipped_patterns
from colorcore.pattern.reading import decode_pattern
from colorcore.pattern.units import read_units
from colorcore.project import Choices, ProjectPhoto
from colorcore.project.model import choices_from_json
from colorcore.sheets.plan_json import plan_bytes, plan_document, read_plan
from colorcore.sheets.view import view_plan
from colorcore.stacking import deal
from colorcore.stash import Stash
from colorcore.stash.csv_files import export_csv
from colorcore.stash.exchange import import_csv, import_json
from colorcore.stash.json_files import export_json
from tests.hardening import amount
from tests.hardening.documents import altered, broken_bytes, broken_json, broken_lines, toml
from tests.hardening.jobs import patterns
from tests.stacking.making import WHITE, make_bundle
from tests.stash.making import make_entry, make_swatch

CASES = 500 * amount.TIMES


def sentence_of(read: Callable[[], object]) -> str | None:
    """None if it could be read, else the sentence; anything else is raised and fails the test."""
    try:
        read()
    except BundleError as error:
        return str(error)
    return None


def _run(make: Callable[[random.Random], Any], read: Callable[[Any], object], seed: int) -> None:
    rng, good = random.Random(seed + amount.FIRST), 0
    for number in range(CASES):
        case = make(rng)
        sentence = sentence_of(lambda case=case: read(case))
        what = f"case {number} of seed {seed + amount.FIRST}: {sentence!r:.300}"
        assert sentence is None or sentence.strip(), what
        assert sentence is None or len(sentence) < 2000, what
        good += sentence is None
    assert good < CASES


@pytest.fixture(scope="module")
def bundle():
    return make_bundle(42)


def test_bundles(tmp_path, bundle):
    document = json.loads(json.dumps(bundle_to_json(bundle)))
    document["squares"] = document["squares"][:3]
    path = tmp_path / "bundle.json"

    def read(data: bytes) -> object:
        path.write_bytes(data)
        return read_bundle(path)

    _run(lambda rng: broken_json(document, rng), read, 1)


def test_plans(tmp_path, bundle):
    pattern = read_pattern("gatepost-stars")
    view = view_plan(deal(bundle, pattern, WHITE), bundle)
    document = json.loads(plan_bytes(plan_document(view, pattern.text)))
    (tmp_path / "bundle.json").write_text(json.dumps(bundle_to_json(bundle)))
    path = tmp_path / "plan.json"

    def read(data: bytes) -> object:
        path.write_bytes(data)
        return read_plan(path)

    _run(lambda rng: broken_json(document, rng), read, 2)
    assert set(tmp_path.iterdir()) == {path, tmp_path / "bundle.json"}


@pytest.mark.parametrize("name", sorted(shipped_patterns()))
def test_patterns(name):
    import colorcore.pattern

    folder = Path(colorcore.pattern.__file__).parent / "shipped"
    text = (folder / f"{name}.toml").read_text(encoding="utf-8")

    def make(rng: random.Random) -> bytes:
        encoding = rng.choice(["utf-8", "utf-8", "utf-8-sig", "utf-16", "cp1252"])
        data = broken_lines(text, rng).encode(encoding, "replace")
        return broken_bytes(data, rng) if rng.random() < 0.1 else data

    _run(make, _pattern, 3)


def _pattern(data: bytes) -> object:
    text = decode_pattern(data, source="mine.toml")
    return read_units(parse_pattern(text, source="mine.toml"))


def test_altered_patterns():
    known = patterns()
    _run(lambda rng: toml(altered(rng.choice(known), rng)).encode(), _pattern, 7)


def test_projects():
    photo = ProjectPhoto("0" * 64, "a.jpg", grid=(6, 7), ignore=((0.5, 0.5),), white=(0.1, 0.1))
    document = json.loads(Choices(photos=(photo,), locks=(("B3", "fill"),)).to_json())
    _run(lambda rng: broken_json(document, rng), lambda data: _choices(data), 4)


def _choices(data: bytes) -> Choices:
    choices = choices_from_json(data.decode("utf-8", "replace"))
    for photo in choices.photos:
        photo.hints(4000, 3000)
    return choices


@pytest.fixture
def stash(tmp_path):
    with Stash(tmp_path / "stash.sqlite") as opened:
        opened.add(make_entry("Fir", swatch=make_swatch((30.0, -12.0, 8.0)), source="a#0"))
        opened.add(make_entry("Rust", note="=cmd()", place="+shelf"))
        yield opened


def test_stash_json(tmp_path, stash):
    document = json.loads(b"".join(export_json(stash)))
    path = tmp_path / "in.json"

    def read(data: bytes) -> object:
        path.write_bytes(data)
        return import_json(stash, path)

    _run(lambda rng: broken_json(document, rng), read, 5)
    assert all(entry.name.strip() for entry in stash.entries())


def test_stash_csv(tmp_path, stash):
    whole = export_csv(stash)
    path = tmp_path / "in.csv"

    def read(data: bytes) -> object:
        path.write_bytes(data)
        return import_csv(stash, path)

    _run(lambda rng: broken_bytes(whole, rng), read, 6)
    for line in export_csv(stash).decode("utf-8-sig").splitlines()[1:]:
        assert not any(cell[:1] in ("=", "+", "@") for cell in line.split(","))
