"""``bundlestacks background`` from the command line."""

from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from colorcore.bundle import Bundle, PhotoRecord, write_bundle
from colorcore.sheets.plan_json import read_plan
from tests.app.conftest import Outcome, TablePhoto
from tests.contrast.printing import places as pixel_places
from tests.contrast.printing import printed_square

Run = Callable[..., Outcome]
pytestmark = pytest.mark.usefixtures("measured_once")


@pytest.fixture
def bundle_file(tmp_path: Path) -> Path:
    x, _ = pixel_places()
    rng = np.random.default_rng(5)
    squares = [
        printed_square(f"{'ABCDEF'[n // 7]}{n % 7 + 1}", v, v, x < 0)
        for n, v in enumerate(rng.uniform(20, 90, 42))
    ]
    corners = ((0.0, 0.0), (9.0, 0.0), (9.0, 9.0), (0.0, 9.0))
    found = tuple(replace(s, fabric=n, corners=corners) for n, s in enumerate(squares))
    path = tmp_path / "bundle.json"
    photo = PhotoRecord("table.jpg", "0" * 64, 100, 100, "paper", "B", "Good enough.")
    write_bundle(Bundle(found, (photo,)), path)
    return path


def test_ranks_and_draws(bundle_file: Path, tmp_path: Path, run: Run) -> None:
    chart = tmp_path / "chart.svg"
    outcome = run(
        "background", str(bundle_file), "--try", "#fff", "--try", "lab(55 0 0)", "--try", "b3",
        "--out", str(chart),
    )  # fmt: skip
    assert outcome.code == 0
    assert "square B3" in outcome.out
    assert "would serve best" in outcome.out.replace("\n", " ")
    assert chart.read_text(encoding="utf-8").startswith("<svg")


def test_a_colour_that_no_cloth_comes_in_is_compared_as_the_nearest_one(
    bundle_file: Path, run: Run
) -> None:
    outcome = run("background", bundle_file, "--try", "white", "--try", "#f6f6f6", "--try", "navy")
    assert outcome.code == 0
    told = " ".join(outcome.out.split())
    assert told.startswith("No cloth is as light as white (L* 100): #f6f6f6 (white, L* 97)")
    assert "lab(" not in told
    ranked = [line for line in outcome.out.splitlines() if "of its edge melts" in line]
    assert sorted(line.split()[1] for line in ranked) == ["#f6f6f6", "navy"]
    assert run("background", bundle_file, "--try", "#f6f6f6", "--try", "navy").out in outcome.out


def test_with_a_pattern(bundle_file: Path, run: Run) -> None:
    outcome = run(
        "background", str(bundle_file), "--try", "white", "--pattern", "gatepost-stars",
        "--lock", "A1=Stars",
    )  # fmt: skip
    assert outcome.code == 0
    assert "Holds by stack: Stars" in outcome.out


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (("--try", "no colour"), "no colour"),
        (("--try", "white", "--size", "throw"), "--pattern"),
        (("--try", "white", "--pattern", "none.toml"), "none.toml"),
        (("--try", "white", "--out", "no/such/folder/chart.svg"), "no/such/folder"),
        (("--try", "white", "--holds", "5"), "--melts"),
        ((), "--try"),
    ],
)
def test_bad_input_is_one_sentence(
    bundle_file: Path, run: Run, words: tuple[str, ...], said: str
) -> None:
    outcome = run("background", str(bundle_file), *words)
    assert outcome.code == 2
    assert said in outcome.err
    assert "Traceback" not in outcome.err
    assert len(outcome.err.strip().splitlines()) == 1


def test_cloth_in_a_photo(
    table_photos: tuple[TablePhoto, TablePhoto], bundle_file: Path, run: Run
) -> None:
    photo, truth = table_photos[0].path, table_photos[0].truth
    square = min(truth.squares, key=lambda s: s.lab[0])
    x, y = np.asarray(square.corners).mean(axis=0)
    region = f"{photo}@{x - 20:.0f},{y - 20:.0f},{x + 20:.0f},{y + 20:.0f}"
    address = f"{'ABCDEFGH'[square.row]}{square.column + 1}"
    for text in (region, f"{photo}:{address}"):
        outcome = run("background", bundle_file, "--try", text)
        assert outcome.code == 0
        line = next(li for li in outcome.out.splitlines() if li.startswith("1  "))
        lightness = float(line.split(" %")[0].split()[-2])
        assert lightness == pytest.approx(square.lab[0], abs=8)
    for text, said in (
        (str(photo), "shows 42 pieces"),
        (f"{photo}:Z9", "Z9 is none of them"),
        (f"{photo}@0,0,1,1", "at least 4 pixels"),
        ("none.jpg", "no such file"),
    ):
        outcome = run("background", bundle_file, "--try", text)
        assert outcome.code == 2
        assert said in outcome.err


def test_what_is_known_of_a_photo_of_cloth_counts(
    table_photos: tuple[TablePhoto, TablePhoto], bundle_file: Path, run: Run
) -> None:
    """Beside a bundle file the photo of the cloth is the first, beside one photo the second."""
    photo, truth = table_photos[0].path, table_photos[0].truth
    square = min(truth.squares, key=lambda s: s.lab[0])
    cloth = f"{photo}:{'ABCDEFGH'[square.row]}{square.column + 1}"
    corners = [f"{x:.0f},{y:.0f}" for x, y in table_photos[0].paper_corners]

    def lightness(*words: object) -> float:
        outcome = run("background", *words)
        assert outcome.code == 0, outcome.err
        line = next(li for li in outcome.out.splitlines() if li.startswith("1  "))
        return float(line.split(" %")[0].split()[-2])

    plain = lightness(bundle_file, "--try", cloth)
    white = f"{table_photos[0].paper[0]:.0f},{table_photos[0].paper[1]:.0f}"
    pointed = lightness(bundle_file, "--try", cloth, "--white", white)
    assert pointed == pytest.approx(plain, abs=3)
    # The paper called an 18 % grey card: everything is darker by the same share.
    grey = lightness(bundle_file, "--try", cloth, "--reference", "grey", *corners)
    assert grey < plain - 8
    second = [f"2:{corner}" for corner in corners]
    beside = table_photos[1].path
    assert lightness(beside, "--try", cloth, "--reference", "grey", *second) == grey
    outcome = run("background", bundle_file, "--try", cloth, "--white", f"2:{white}")
    assert outcome.code == 2
    assert "there is 1 photo" in outcome.err


def test_a_second_deal_moves_as_few_as_it_can(bundle_file: Path, tmp_path: Path, run: Run) -> None:
    words = ("stack", bundle_file, "--pattern", "gatepost-stars", "--background", "white")
    assert run(*words, "--out", tmp_path / "one").code == 0
    earlier = tmp_path / "one" / "plan.json"
    before = places(earlier)
    moved = next(square for square, stack in before.items() if stack == "First chain")
    lock = f"{moved}=Second chain"
    assert run(*words, "--out", tmp_path / "two", "--lock", lock, "--after", earlier).code == 0
    after = places(tmp_path / "two" / "plan.json")
    assert after[moved] == "Second chain"
    assert sum(before[square] != after[square] for square in before) == 2
    wrong = run(*words, "--out", tmp_path / "three", "--after", bundle_file)
    assert wrong.code == 2
    assert not (tmp_path / "three").exists()


def places(plan: Path) -> dict[str, str]:
    read = read_plan(plan).plan
    return {place.square: stack.name for stack in read.stacks for place in stack.placements}
