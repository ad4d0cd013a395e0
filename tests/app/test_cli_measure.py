"""``measure``: its file, its hints, what it says."""

import json
import re
import subprocess
import sys
from collections.abc import Callable
from dataclasses import replace
from importlib.resources import files
from pathlib import Path

import jsonschema
import numpy as np
import pytest
from numpy.typing import NDArray
from PIL import Image

from app.commands._photos import grid, photo_point, picture_paths, side
from app.commands._summary import value_map
from app.commands._workers import PHOTOS_FOR_PROCESSES
from app.terminal import NO_BREAK, wrap
from colorcore.bundle import read_bundle
from colorcore.errors import PhotoError
from colorcore.finding import Finding
from colorcore.measuring import measure_photos
from colorcore.photo import Photo
from colorcore.sheets.second_look import gaps
from tests.app.conftest import Outcome, TablePhoto
from tests.scenes import make_scene, save_scene
from tests.sheets.making import make_bundle, seen_again

Run = Callable[..., Outcome]
Photos = tuple[TablePhoto, TablePhoto]
pytestmark = pytest.mark.usefixtures("measured_once")


def test_the_file_and_what_is_said(table_photos: Photos, tmp_path: Path, run: Run) -> None:
    place = tmp_path / "bundle.json"
    outcome = run("measure", table_photos[0].path, "--out", place)
    assert outcome.code == 0, outcome.err
    assert outcome.err == ""
    document = json.loads(place.read_text("utf-8"))
    schema = json.loads(files("colorcore").joinpath("schema/bundle.schema.json").read_text("utf-8"))
    jsonschema.validate(document, schema)
    truth = {s.address: s.lab[0] for s in table_photos[0].truth.squares}
    assert {s["id"] for s in document["squares"]} == set(truth)
    assert "42 squares measured in 1 photo" in outcome.out
    assert "trust grade" in outcome.out
    row_b = re.search(r"^  B +(.*)$", outcome.out, re.MULTILINE)
    assert row_b is not None
    said = [int(n) for n in row_b[1].split()]
    true = [truth[f"B{n}"] for n in range(1, 8)]
    assert np.abs(np.array(said) - true).max() < 6


def test_a_square_that_was_missed_or_a_wrong_grid_is_told(
    table_photos: Photos, tmp_path: Path, run: Run
) -> None:
    table = table_photos[0]
    b4 = next(s for s in table.truth.squares if s.address == "B4")
    x, y = np.asarray(b4.corners).mean(axis=0)
    words = ("measure", table.path, "--grid", "6x7", "--out", tmp_path / "bundle.json")
    assert "You asked for" not in run(*words).out
    outcome = run(*words, "--ignore", f"{x:.0f},{y:.0f}")
    said = " ".join(outcome.out.split())
    assert "You asked for 6 rows of 7 squares: 42 places, and there are 41 squares in" in said
    assert "1 place is empty or was missed" in said
    assert "- B4: no square was found there" in said


def test_places_of_the_grid_that_lie_empty_are_told_everywhere(
    table_photos: Photos, tmp_path: Path, run: Run
) -> None:
    place, photo = tmp_path / "bundle.json", table_photos[0].path
    told = (
        "You asked for 6 rows of 8 squares: 48 places, and there are 42 squares in 6 rows and 7 "
        "columns, so 6 places are empty or were missed; correct the rows and columns, or add a "
        "missed square by its four corners."
    )
    outcome = run("measure", photo, "--grid", "6x8", "--out", place)
    assert outcome.code == 0
    assert told in " ".join(outcome.out.split())
    assert told in read_bundle(place).photos[0].warnings
    f1 = next(s for s in table_photos[0].truth.squares if s.address == "F1")
    corners = [f"{x:.0f},{y:.0f}" for x, y in f1.corners]
    outcome = run("measure", photo, "--grid", "5x7", "--add", *corners, "--out", place)
    assert "35 places, and there are 36 squares in 6 rows" in " ".join(outcome.out.split())
    words = ("stack", photo, "--grid", "6x8", "--pattern", "gatepost-stars")
    outcome = run(*words, "--background", "white", "--out", tmp_path / "stacks")
    assert outcome.code == 0, outcome.err
    assert told in " ".join(outcome.out.split())
    assert told in (tmp_path / "stacks" / "plan.html").read_text("utf-8")


def test_gaps_are_told_within_a_block_only() -> None:
    block = [
        (f"{'ABC'[r]}{c + 1}", r, c)
        for r in range(3)
        for c in range(4)
        if (r, c) not in {(0, 1), (1, 2), (2, 3)}
    ]
    assert gaps(block) == ("B3",)
    assert gaps(block[:2]) == gaps(()) == ()


def test_two_photos_make_one_bundle(table_photos: Photos, tmp_path: Path, run: Run) -> None:
    place = tmp_path / "bundle.json"
    outcome = run("measure", *(p.path for p in table_photos), "--out", place)
    assert outcome.code == 0, outcome.err
    document = json.loads(place.read_text("utf-8"))
    assert len(document["photos"]) == 2
    assert len({s["id"] for s in document["squares"]}) == 84


def test_a_reduced_copy_is_left_out_and_told(
    table_photos: Photos, tmp_path: Path, run: Run
) -> None:
    copy = tmp_path / "mailed.jpg"
    with Image.open(table_photos[0].path) as picture:
        picture.reduce(2).save(copy, quality=75)
    outcome = run("measure", copy, table_photos[0].path, "--out", tmp_path / "bundle.json")
    assert outcome.code == 0, outcome.err
    said = " ".join(outcome.out.split())
    assert said.startswith("42 squares measured in 1 photo. mailed.jpg: no square is taken from")
    assert "The photo mailed.jpg is the same picture as left.jpg in a smaller size" in said
    assert "as the squares lie in mailed.jpg" not in said


def test_many_photos_measure_the_same_on_several_processes(
    tmp_path: Path, run: Run, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("os.cpu_count", lambda: 2)
    photos = [tmp_path / f"{n}.jpg" for n in range(PHOTOS_FOR_PROCESSES)]
    for seed, photo in enumerate(photos):
        scene = make_scene("few", 60 + seed, megapixels=0.7, rows=2, columns=3, missing=0.0)
        save_scene(scene, photo)
    place = tmp_path / "bundle.json"
    outcome = run("measure", *photos, "--out", place, "--progress", "--quiet")
    assert outcome.code == 0, outcome.err
    assert f"({len(photos)} of {len(photos)} done)" in outcome.err
    alone = measure_photos(photos)
    together = read_bundle(place)
    assert together.photos == alone.photos
    assert [s.id for s in together.squares] == [s.id for s in alone.squares]
    for one, other in zip(alone.squares, together.squares, strict=True):
        assert one.lab == pytest.approx(other.lab, abs=1e-6)
        assert one.fabric == other.fabric


def test_of_many_bad_photos_the_first_is_named_in_one_sentence(
    table_photos: Photos, tmp_path: Path
) -> None:
    start = table_photos[0].path.read_bytes()[:20_000]
    photos = [tmp_path / f"cut{n}.jpg" for n in range(3 * PHOTOS_FOR_PROCESSES)]
    for photo in photos:
        photo.write_bytes(start)
    words = [sys.executable, "-m", "app.cli", "measure", *photos, "--out", tmp_path / "b.json"]
    done = subprocess.run(words, capture_output=True, text=True, timeout=60)
    assert done.returncode == 2
    assert done.stderr.count("\n") == 1
    assert "cut0.jpg" in done.stderr
    assert not (tmp_path / "b.json").exists()


def test_progress_lines_on_request(table_photos: Photos, tmp_path: Path, run: Run) -> None:
    photos = [p.path for p in table_photos]
    outcome = run("measure", *photos, "--out", tmp_path / "b.json", "--progress", "--quiet")
    assert outcome.out == ""
    lines = outcome.err.splitlines()
    assert len(lines) >= 2
    assert "left.jpg" in lines[0]
    assert "of 2" in lines[0]


def test_white_point_reaches_the_right_photo(
    table_photos: Photos, tmp_path: Path, run: Run
) -> None:
    second = table_photos[1]
    x, y = second.paper
    photos = [p.path for p in table_photos]
    right = run("measure", *photos, "--white", f"2:{x:.0f},{y:.0f}", "--out", tmp_path / "b.json")
    assert right.code == 0, right.err
    wrong = run("measure", *photos, "--white", "3:5,5", "--out", tmp_path / "c.json")
    assert wrong.code == 2
    assert "photo 3" in wrong.err
    outside = run("measure", second.path, "--white", "99999,5", "--out", tmp_path / "c.json")
    assert outside.code == 2
    assert outside.err.count("\n") == 1
    assert not (tmp_path / "c.json").exists()


def test_references_reach_the_light(table_photos: Photos, tmp_path: Path, run: Run) -> None:
    photo, place = table_photos[0], tmp_path / "bundle.json"
    corners = [f"{x:.0f},{y:.0f}" for x, y in photo.paper_corners]
    outcome = run("measure", photo.path, "--reference", "paper", *corners, "--out", place)
    assert outcome.code == 0, outcome.err
    as_paper = json.loads(place.read_text("utf-8"))
    assert as_paper["photos"][0]["reference"] == "paper"
    fabric = ("--reference", "fabric=lab(60 0 0)", *corners)
    outcome = run("measure", photo.path, *fabric, "--out", place)
    assert outcome.code == 0, outcome.err
    as_fabric = json.loads(place.read_text("utf-8"))
    assert as_fabric["photos"][0]["reference"] == "fabric"
    values = [
        [square["lab"][0] for square in bundle["squares"]] for bundle in (as_paper, as_fabric)
    ]
    assert np.mean(values[1]) < np.mean(values[0]) - 10
    for wrong in (("felt", *corners), ("fabric=nothing", *corners), ("paper", "1", *corners[1:])):
        outcome = run("measure", photo.path, "--reference", *wrong, "--out", place)
        assert outcome.code == 2
        assert outcome.err.count("\n") == 1


def test_hints_reach_finding(table_photos: Photos, tmp_path: Path, run: Run) -> None:
    photo = table_photos[0]
    wrong = next(s for s in photo.truth.squares if s.address == "C4")
    x, y = np.asarray(wrong.corners).mean(axis=0)
    place = tmp_path / "bundle.json"
    outcome = run("measure", photo.path, "--ignore", f"{x:.0f},{y:.0f}", "--out", place)
    assert outcome.code == 0, outcome.err
    squares = json.loads(place.read_text("utf-8"))["squares"]
    centers = [np.mean(s["corners"], axis=0) for s in squares]
    assert min(np.hypot(*(c - (x, y))) for c in centers) > 50
    assert len(squares) == 41


def test_overlay_shows_the_outlines(table_photos: Photos, tmp_path: Path, run: Run) -> None:
    place = tmp_path / "outlined.png"
    photo = table_photos[0].path
    outcome = run("measure", photo, "--out", tmp_path / "b.json", "--overlay", place)
    assert outcome.code == 0, outcome.err
    assert str(place) in outcome.out
    outlined = Image.open(place).convert("RGB")
    original = Image.open(photo).convert("RGB").resize(outlined.size)
    differs = np.abs(np.asarray(outlined, dtype=int) - np.asarray(original)).max(axis=2) > 60
    assert 0.002 < differs.mean() < 0.3
    bad = run("measure", photo, "--out", tmp_path / "c.json", "--overlay", tmp_path / "o.gif")
    assert bad.code == 2
    assert not (tmp_path / "c.json").exists()


def test_overlays_of_several_photos_label_squares_as_the_bundle_does(
    table_photos: Photos, tmp_path: Path, run: Run, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The second photo is the first upside down: all its squares are counted in the first."""
    drawn: list[dict[str, str]] = []

    def draw(photo: Photo, finding: Finding, *, names: dict[str, str]) -> NDArray[np.uint8]:
        drawn.append(names)
        return np.zeros((4, 4, 3), np.uint8)

    monkeypatch.setattr("colorcore.finding.overlay.draw_outlines", draw)
    first, second = table_photos[0].path, tmp_path / "turned.jpg"
    Image.open(first).rotate(180).save(second, quality=92)
    place = tmp_path / "o.png"
    outcome = run("measure", first, second, "--out", tmp_path / "b.json", "--overlay", place)
    assert outcome.code == 0, outcome.err
    assert drawn[0] == {own: f"1-{own}" for own in drawn[0]}
    assert len(drawn[0]) == len(drawn[1]) == 42
    assert sum(name.startswith("1-") for name in drawn[1].values()) > 30
    assert set(drawn[1].values()) <= set(drawn[0].values()) | {f"2-{own}" for own in drawn[1]}


def test_values_as_they_lie_have_those_of_other_photos_in_brackets() -> None:
    bundle = make_bundle(2, 3)
    here = [s for s in bundle.squares if s.id != "B2"]
    kept = replace(bundle.squares[4], id="1-F7", lab=(41.6, 0.0, 0.0))
    lines = value_map(here, [seen_again(kept, 1, 1, 0)], [*here, kept])
    value = {s.id: f"{s.lab[0]:.0f}" for s in here}
    assert lines[2].split() == ["B", value["B1"], "(42)", value["B3"]]
    assert [len(line) for line in lines[1:]] == [len(lines[0])] * 2


def test_a_folder_stands_for_its_pictures(tmp_path: Path) -> None:
    for name in ("b.JPG", "a.heic", "notes.txt", ".hidden.jpg"):
        (tmp_path / name).write_bytes(b"x")
    assert [p.name for p in picture_paths([str(tmp_path)])] == ["a.heic", "b.JPG"]
    with pytest.raises(PhotoError, match="twice"):
        picture_paths([str(tmp_path), str(tmp_path / "b.JPG")])


def test_points_grids_and_sides() -> None:
    assert photo_point("812,340.5") == (0, (812.0, 340.5))
    assert photo_point("2:1,2") == (1, (1.0, 2.0))
    assert grid("6x7") == (6, 7)
    assert grid("10X3") == (10, 3)
    assert side("2 1/2") == 2.5
    assert side("10") == 10


def test_an_address_stays_with_its_value(capsys: pytest.CaptureFixture[str]) -> None:
    wrap("  ".join(f"1-A{n}{NO_BREAK}{n + 20}" for n in range(1, 30)), indent="  ")
    lines = capsys.readouterr().out.splitlines()
    assert len(lines) > 2
    for line in lines:
        assert re.fullmatch(r"  (1-A\d+ \d+  )*1-A\d+ \d+", line)
