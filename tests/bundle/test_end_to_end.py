"""From photos to a bundle, on pictures rendered from spectra, with the outlines found."""

from collections.abc import Sequence
from concurrent.futures import ThreadPoolExecutor
from itertools import combinations
from pathlib import Path

import numpy as np
import pytest

from colorcore.bundle import Bundle, bundle_to_json, read_bundle, write_bundle
from colorcore.errors import FindingError, PhotoError
from colorcore.finding import Hints
from colorcore.measuring import measure_photos
from colorcore.pattern import Pattern, PatternSize, Role, StackRule, ValueRule
from colorcore.photo import photo_from_array
from colorcore.stacking import Background, deal
from colorcore.swatch import Swatch
from tests.scenes import Truth, make_scene, save_scene
from tests.scenes.truth import SquareTruth

Pairs = list[tuple[SquareTruth, Swatch]]
DARKS = 7


def saved(folder: Path, name: str, kind: str, seed: int, **options: object) -> tuple[Path, Truth]:
    scene = make_scene(kind, seed, megapixels=2.0, **options)
    path = folder / name
    save_scene(scene, path)
    return path, scene.truth


def matched(bundle: Bundle, truth: Truth, photo: int = 0) -> Pairs:
    """Squares with what is true of them, by where they lie."""
    squares = [s for s in bundle.squares if s.photo == photo]
    middles = np.array([np.mean(s.corners, axis=0) for s in squares])
    pairs = []
    for true in truth.squares:
        far = np.linalg.norm(middles - true.corners.mean(axis=0), axis=1)
        if far.min() < 0.25 * np.linalg.norm(true.corners[0] - true.corners[1]):
            pairs.append((true, squares[int(far.argmin())]))
    return pairs


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return tmp_path_factory.mktemp("photos")


@pytest.mark.parametrize("light", ["even", "warm"], ids=["D65", "A"])
def test_the_published_chart_as_squares_is_dealt_by_its_published_lightness(
    folder: Path, light: str
) -> None:
    """The 24-patch chart by its published reflectances (BabelColor average, as colour-science
    carries them), through a published camera (Nikon 5100, NPL), under CIE D65 and A."""
    path, truth = saved(folder, f"chart-{light}.jpg", "chart_squares", 5, light=light)
    bundle = measure_photos([path])
    pairs = matched(bundle, truth)
    assert len(pairs) == len(bundle.squares) == 24
    published = sorted(pairs, key=lambda p: p[0].lab[0])
    # The seventh and the eighth patch lie 2.3 L* apart in the published data.
    darkest = {swatch.id for _, swatch in published[:DARKS]}
    stacks = (
        StackRule("Stars", Role.FOCAL, ValueRule.DARK, DARKS),
        StackRule("Fill", Role.FILL, ValueRule.MIXED, 24 - DARKS),
    )
    pattern = Pattern("Chart", "", 10.0, (PatternSize("one", 1, None, stacks),))
    plan = deal(bundle, pattern, Background("white", (96.0, 0.0, 2.0)))
    assert {p.square for p in plan.stacks[0].placements} == darkest
    errors = [abs(swatch.lab[0] - true.lab[0]) for true, swatch in pairs]
    assert np.median(errors) < 1.0


@pytest.fixture(scope="module")
def copies(folder: Path) -> tuple[Bundle, Truth]:
    path, truth = saved(folder, "copies.jpg", "gaps_board", 12, copies=0.4)
    return measure_photos([path], name="Copies"), truth


def test_squares_are_measured_truly(copies: tuple[Bundle, Truth]) -> None:
    pairs = matched(*copies)
    assert len(pairs) >= 0.85 * len(copies[1].squares)
    errors = np.array([abs(swatch.lab[0] - true.lab[0]) for true, swatch in pairs])
    assert np.median(errors) < 1.0
    assert np.percentile(errors, 95) < 3.0
    assert copies[0].photos[0].reference == "paper"


def test_copies_are_recognised_and_nothing_else_is(copies: tuple[Bundle, Truth]) -> None:
    right = wrong = missed = 0
    for (one, first), (other, second) in combinations(matched(*copies), 2):
        same, said = one.fabric == other.fabric, first.fabric == second.fabric
        right += same and said
        wrong += said and not same
        missed += same and not said
    assert right + missed > 10
    assert right / (right + wrong) >= 0.95
    assert right / (right + missed) >= 0.75


def test_prints_and_solids_are_told_apart(copies: tuple[Bundle, Truth]) -> None:
    bold = {"dots", "stripes", "plaid", "checks", "floral", "large_motif", "frames", "chevrons"}
    for true, swatch in matched(*copies):
        if true.family == "solid":
            assert swatch.reads_as_solid, swatch.id
        elif true.family in bold and true.ink_lightness_spread > 12:
            assert not swatch.reads_as_solid, swatch.id
            assert swatch.print_scale_inches is not None
        if true.family == "stripes" and true.ink_lightness_spread > 10:
            assert swatch.stripe_degrees is not None
            assert true.stripe_degrees is not None
            off = abs((swatch.stripe_degrees - true.stripe_degrees + 90) % 180 - 90)
            assert off < 5, swatch.id


def test_the_same_photo_gives_the_same_bundle(folder: Path, copies: tuple[Bundle, Truth]) -> None:
    with ThreadPoolExecutor(1) as executor:
        again = measure_photos([folder / "copies.jpg"], name="Copies", executor=executor)
    assert bundle_to_json(again) == bundle_to_json(copies[0])


def test_a_bundle_survives_its_file(folder: Path, copies: tuple[Bundle, Truth]) -> None:
    write_bundle(copies[0], folder / "copies.json")
    back = read_bundle(folder / "copies.json")
    assert back.photos == copies[0].photos
    assert [s.lab for s in back.squares] == [s.lab for s in copies[0].squares]
    assert back.photos[0].path.endswith("copies.jpg")
    assert len(back.photos[0].sha256) == 64
    assert dict(back.provenance)["square_inches"] == "10"


def test_two_photos_of_one_bundle_make_one(folder: Path) -> None:
    shared = {"bundle": 7, "rows": 3, "columns": 4, "missing": 0.0, "bundle_size": 20}
    first, one = saved(folder, "first.jpg", "gaps_board", 21, first=0, **shared)
    second, two = saved(folder, "second.jpg", "gaps_mat", 22, first=8, **shared)
    said: list[tuple[int, int, str]] = []
    bundle = measure_photos([first, second], progress=lambda *step: said.append(step))
    assert len({s.piece for s in one.squares} | {s.piece for s in two.squares}) == 20
    assert len(bundle.squares) == 20
    assert sorted({s.id[:2] for s in bundle.squares}) == ["1-", "2-"]
    assert any("counted once" in note for photo in bundle.photos for note in photo.notes)
    assert said[-1][1] == 2
    pieces = [p.piece for p, _ in matched(bundle, one, 0) + matched(bundle, two, 1)]
    assert len(pieces) == len(set(pieces)) == 20
    # Where a square shows that is counted in the other photo, the same piece of cloth lies.
    counted = {s.id: piece(s.corners, (one, two)[s.photo]) for s in bundle.squares}
    assert len(bundle.seen_again) == 4
    for again in bundle.seen_again:
        assert piece(again.corners, (one, two)[again.photo]) == counted[again.square]


def piece(corners: Sequence[tuple[float, float]], truth: Truth) -> object:
    """Which piece of cloth lies at these corners."""
    middle = np.mean(corners, axis=0)
    return min(
        truth.squares, key=lambda s: np.linalg.norm(np.mean(s.corners, axis=0) - middle)
    ).piece


def table(folder: Path, name: str, seed: int = 0) -> Path:
    import cv2

    grain = np.random.default_rng(seed).normal(0, 2, (600, 800, 3))
    pixels = np.clip(150 + grain, 0, 255).astype(np.uint8)
    cv2.imwrite(str(folder / name), photo_from_array(pixels).pixels)
    return folder / name


def test_a_photo_without_squares_is_told_so(folder: Path) -> None:
    empty = table(folder, "empty.png")
    with pytest.raises(FindingError, match=r"^empty\.png: .*rows and columns") as caught:
        measure_photos([empty])
    assert "\n" not in str(caught.value)


def test_one_bad_photo_of_several_is_named(folder: Path, copies: tuple[Bundle, Truth]) -> None:
    broken = folder / "broken.jpg"
    broken.write_bytes(b"\xff\xd8\xff\xe0 nothing more")
    with ThreadPoolExecutor(2) as executor, pytest.raises(PhotoError, match=r"broken\.jpg"):
        measure_photos([folder / "copies.jpg", broken], executor=executor)


@pytest.mark.parametrize(
    ("paths", "options", "words"),
    [
        ([], {}, "No photo was given"),
        (["a.jpg"], {"square_inches": 0.0}, "must lie between"),
        (["a.jpg"], {"square_inches": float("nan")}, "must lie between"),
        (["a.jpg"], {"white": [(1, 1), (2, 2)]}, "1 photos but 2 white points"),
        (["a.jpg", "b.jpg"], {"hints": [Hints()]}, "2 photos but 1 sets of hints"),
    ],
)
def test_what_cannot_be_asked_for_is_said(
    paths: Sequence[str], options: dict[str, object], words: str
) -> None:
    with pytest.raises(FindingError, match=words):
        measure_photos(paths, **options)  # type: ignore[arg-type]
