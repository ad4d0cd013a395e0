"""Rendered pictures: the same each time, of every kind, with files that say what they are."""

import json
from dataclasses import replace
from pathlib import Path
from typing import Any

import cv2
import numpy as np
import pytest
from numpy.typing import NDArray
from PIL import Image

import sample_images
from colorcore.geometry import center
from tests.scenes import LIGHTS, SCENE_KINDS, Scene, make_scene, read_truth, save_scene, spectra


def mean_inside(picture: NDArray[np.float32], quad: NDArray[np.float64]) -> NDArray[np.float64]:
    middle = quad.mean(axis=0)
    inner = middle + (quad - middle) * 0.95
    mask = np.zeros(picture.shape[:2], np.uint8)
    cv2.fillPoly(mask, [np.round((inner - 0.5) * 16).astype(np.int32)], 1, shift=4)
    return np.asarray(picture[mask > 0].mean(axis=0), dtype=np.float64)


def measured_lab(scene: Scene) -> NDArray[np.float64]:
    """Return CIELAB (n, 3) of the squares from linear light, by the paper alone."""
    linear = scene.linear_camera().astype(np.float32) / 65535
    paper = next(r for r in scene.truth.references if r.kind == "paper")
    gain = 0.88 / mean_inside(linear, paper.corners)
    rgb = np.stack([mean_inside(linear, s.corners) * gain for s in scene.truth.squares])
    return spectra.lab_of_xyz(rgb @ np.linalg.inv(spectra.SRGB_FROM_XYZ).T)


def test_same_arguments_same_picture_and_truth() -> None:
    first = make_scene("gaps_wood", 5, megapixels=0.3, light="mixed+glare", reference="chart")
    second = make_scene("gaps_wood", 5, megapixels=0.3, light="mixed+glare", reference="chart")
    other = make_scene("gaps_wood", 6, megapixels=0.3, light="mixed+glare", reference="chart")
    assert first.jpeg == second.jpeg
    assert first.truth.to_json() == second.truth.to_json()
    assert first.jpeg != other.jpeg


def test_truth_of_colors_does_not_hang_on_the_picture() -> None:
    small = make_scene("gaps_board", 2, megapixels=0.3)
    large = make_scene("gaps_board", 2, megapixels=1.2, light="warm", tone="phone")
    assert [s.lab for s in small.truth.squares] == [s.lab for s in large.truth.squares]
    scale = np.sqrt(4.0)
    for a, b in zip(small.truth.squares, large.truth.squares, strict=True):
        assert b.corners == pytest.approx(a.corners * scale, abs=1.5)


@pytest.mark.parametrize("kind", SCENE_KINDS)
def test_every_kind_renders_with_its_truth(kind: str, tmp_path: Path) -> None:
    # A few squares show what a bundle would, unless their number is what the kind is about.
    own = ("few", "one_large", "one_small", "strips", "many", "chart_squares")
    few: dict[str, Any] = {} if kind in own else {"rows": 3, "columns": 3}
    scene = make_scene(kind, 1, megapixels=0.12, **few)
    truth = scene.truth
    assert scene.pixels.shape == (truth.height, truth.width, 3)
    assert scene.pixels.dtype == np.uint8
    assert 0.11e6 < truth.width * truth.height < 0.13e6
    assert truth.squares
    assert len({s.address for s in truth.squares}) == len(truth.squares)
    for square in truth.squares:
        assert 0 < square.lab[0] < 100
        assert sum(share for _, share in square.palette) == pytest.approx(1)
    save_scene(scene, tmp_path / "one.jpg")
    again = read_truth(tmp_path / "one.json")
    assert again.to_json() == truth.to_json()


@pytest.mark.parametrize("light", LIGHTS)
def test_every_light_renders(light: str) -> None:
    scene = make_scene("few", 1, megapixels=0.1, light=light)
    assert scene.truth.light == light
    assert scene.pixels.std() > 1


def test_colors_in_the_picture_are_those_of_the_truth() -> None:
    # Even light still varies by a tenth over the table and with the lens: some 2 units of L*.
    scene = make_scene("gaps_board", 1, megapixels=1.5)
    error = measured_lab(scene) - np.array([s.lab for s in scene.truth.squares])
    assert np.median(np.abs(error[:, 0])) < 1.0
    assert np.abs(error[:, 0]).max() < 2.5


def test_published_patches_laid_as_squares_keep_their_published_order() -> None:
    scene = make_scene("chart_squares", 3, megapixels=1.0)
    published = np.array([s.lab[0] for s in scene.truth.squares])
    patches = list(spectra.chart_reflectances().values())
    assert sorted(published) == pytest.approx(sorted(spectra.lab_of(np.stack(patches))[:, 0]))
    seen = measured_lab(scene)[:, 0]
    assert np.corrcoef(seen, published)[0, 1] > 0.998


def test_chart_patches_lie_where_the_truth_says() -> None:
    scene = make_scene("few", 4, megapixels=1.0, reference="chart")
    (chart,) = scene.truth.references
    linear = scene.linear_camera().astype(np.float32)
    greens = {
        patch.name: linear[int(y), int(x), 1]
        for patch in chart.patches
        for x, y in [center(patch.corners)]
    }
    ramp = [greens[p.name] for p in chart.patches[18:]]
    assert ramp == sorted(ramp, reverse=True)
    assert len(chart.patches) == 24


def test_a_covered_chart_says_which_patches_show() -> None:
    scene = make_scene("few", 4, megapixels=0.5, reference="chart", chart_covered=True)
    (chart,) = scene.truth.references
    shares = [patch.visible_share for patch in chart.patches]
    assert min(shares) < 0.05
    assert max(shares) == 1
    assert [thing.kind for thing in scene.truth.things] == ["card"]


def test_squares_of_one_bundle_are_the_same_in_another_picture() -> None:
    first = make_scene("gaps_board", 1, megapixels=0.3, rows=2, columns=3, bundle=9)
    second = make_scene(
        "gaps_wood", 2, megapixels=0.3, rows=2, columns=3, bundle=9, first=3, light="warm"
    )
    of_first = {s.piece: s for s in first.truth.squares}
    shared = [s for s in second.truth.squares if s.piece in of_first]
    assert [s.piece for s in shared] == [3, 4, 5]
    for square in shared:
        assert square.lab == of_first[square.piece].lab
        assert square.fabric == of_first[square.piece].fabric


def test_copies_are_of_one_fabric() -> None:
    squares = make_scene("gaps_board", 1, megapixels=0.2, copies=0.3).truth.squares
    fabrics = [s.fabric for s in squares]
    assert len(set(fabrics)) == round(len(fabrics) * 0.7)


def test_stripes_tell_their_direction() -> None:
    scene = make_scene(
        "one_large",
        3,
        megapixels=1.0,
        families=("stripes",),
        theme="scraps",
        tilt=0.0,
        turn=0.0,
        hand=0.0,
        reference="none",
    )
    (square,) = scene.truth.squares
    grey = scene.pixels.mean(axis=-1).astype(np.float32)
    x0, y0 = (square.corners.min(axis=0) + 60).astype(int)
    x1, y1 = (square.corners.max(axis=0) - 60).astype(int)
    soft = cv2.GaussianBlur(grey[y0:y1, x0:x1], (0, 0), 3)
    dx, dy = cv2.Sobel(soft, cv2.CV_32F, 1, 0), cv2.Sobel(soft, cv2.CV_32F, 0, 1)
    # Structure tensor: the gradient stands across the stripes; y runs down.
    across = 0.5 * np.arctan2(2 * (dx * dy).mean(), (dx**2 - dy**2).mean())
    along = (90 - np.degrees(across)) % 180
    assert square.stripe_degrees is not None
    away = abs(along - square.stripe_degrees) % 180
    assert min(away, 180 - away) < 2


def test_the_raw_like_picture_is_linear_and_untoned() -> None:
    plain = make_scene("gaps_board", 2, megapixels=0.2)
    toned = make_scene("gaps_board", 2, megapixels=0.2, tone="phone")
    assert plain.linear_camera().dtype == np.uint16
    assert np.array_equal(plain.linear_camera(), toned.linear_camera())
    assert toned.pixels.mean() > plain.pixels.mean()


@pytest.mark.parametrize(
    ("options", "words"),
    [
        ({"light": "moon"}, "light must be of"),
        ({"tone": "wild"}, "tone must be of"),
        ({"reference": "mirror"}, "reference must be of"),
        ({"surface": "water"}, "surface must be of"),
        ({"gaps": 3}, "options are"),
        ({"things": ("cat",)}, "things are"),
    ],
)
def test_unknown_names_are_refused(options: dict[str, object], words: str) -> None:
    with pytest.raises(ValueError, match=words):
        make_scene("few", 1, megapixels=0.1, **options)  # type: ignore[arg-type]
    with pytest.raises(ValueError, match="kind must be of"):
        make_scene("nothing", 1)


@pytest.mark.parametrize("suffix", ["jpg", "png", "tif", "heic"])
@pytest.mark.parametrize("profile", ["srgb", "display-p3"])
def test_files_carry_their_profile_and_decode_to_the_picture(
    suffix: str, profile: str, tmp_path: Path
) -> None:
    import pillow_heif

    pillow_heif.register_heif_opener()
    scene = make_scene("few", 1, megapixels=0.1, profile=profile)
    path = tmp_path / f"one.{suffix}"
    save_scene(scene, path)
    with Image.open(path) as picture:
        assert len(picture.info["icc_profile"]) > 400
        difference = np.abs(np.asarray(picture.convert("RGB")).astype(int) - scene.pixels)
    assert difference.mean() < (2.5 if suffix == "heic" else 1.0)
    whole = path.read_bytes()
    assert b"no photograph" in whole or suffix == "heic"
    assert "no photograph" in json.loads(path.with_suffix(".json").read_text())["rendered"]


def test_a_wide_gamut_picture_and_its_twin_show_the_same_colors() -> None:
    narrow = make_scene("gaps_board", 2, megapixels=0.2, noise=0.0)
    wide = make_scene("gaps_board", 2, megapixels=0.2, noise=0.0, profile="display-p3")
    assert [s.lab for s in narrow.truth.squares] == [s.lab for s in wide.truth.squares]
    # Saturated colours have smaller numbers in the wider space.
    assert np.abs(wide.pixels.astype(int) - narrow.pixels).max() > 5


def test_a_truth_of_another_schema_is_refused(tmp_path: Path) -> None:
    truth = replace(make_scene("few", 1, megapixels=0.1).truth, options={})
    path = tmp_path / "odd.json"
    path.write_text(truth.to_json().replace("rendered-scene-truth/1", "else/1"))
    with pytest.raises(ValueError, match="is not of schema"):
        read_truth(path)


def test_sample_pictures_ship_with_their_truth_and_say_what_they_are() -> None:
    import pillow_heif

    pillow_heif.register_heif_opener()
    paths = sample_images.sample_paths()
    assert len(paths) >= 4
    assert sum(p.stat().st_size for p in paths[0].parent.iterdir() if p.is_file()) < 12e6
    kinds = {p.suffix for p in paths}
    assert kinds == {".jpg", ".heic"}
    for path in paths:
        truth = read_truth(sample_images.truth_path(path))
        with Image.open(path) as picture:
            assert picture.size == (truth.width, truth.height)
            assert picture.info["icc_profile"]
        assert path.name in (path.parent / "README.md").read_text()
    first = read_truth(sample_images.truth_path(paths[0]))
    assert len(first.squares) == 42
    assert len({s.fabric for s in first.squares}) < 42
    assert [r.kind for r in first.references] == ["paper"]
    heic = next(p for p in paths if p.suffix == ".heic")
    assert read_truth(sample_images.truth_path(heic)).profile == "display-p3"


def test_a_raw_file_develops_to_the_same_linear_light(tmp_path: Path) -> None:
    rawpy = pytest.importorskip("rawpy", reason="camera raw needs the extra 'raw'")
    scene = make_scene("gaps_board", 1, megapixels=1.0)
    path = tmp_path / "one.dng"
    save_scene(scene, path)
    with rawpy.imread(str(path)) as raw:
        developed = raw.postprocess(
            use_camera_wb=True,
            no_auto_bright=True,
            gamma=(1, 1),
            output_bps=16,
            output_color=rawpy.ColorSpace.sRGB,
        ).astype(np.float32)
    wanted = scene.linear_camera().astype(np.float32)
    means = [
        (mean_inside(developed, s.corners), mean_inside(wanted, s.corners))
        for s in scene.truth.squares
    ]
    there, here = (np.array(side) for side in zip(*means, strict=True))
    # Raw developers may scale all channels alike.
    scale = np.median(there / here)
    assert scale == pytest.approx(1.0, abs=0.1)
    bright = here > 2000
    assert (there / here / scale)[bright] == pytest.approx(1.0, abs=0.03)


def test_truth_tells_which_squares_lie_in_a_shadow() -> None:
    scene = make_scene("hand_shadow", 2, megapixels=0.5, reference="none")
    even = make_scene("gaps_board", 2, megapixels=0.5, reference="none")
    assert min(s.light[0] for s in even.truth.squares) > 0.8
    split = [s for s in scene.truth.squares if s.light[0] < 0.7 * s.light[2]]
    assert split
    assert len(split) < len(scene.truth.squares)


def test_the_true_print_has_the_true_color_and_looks_like_the_picture() -> None:
    scene = make_scene(
        "one_large",
        3,
        megapixels=0.5,
        families=("large_motif",),
        tilt=0.0,
        turn=0.0,
        hand=0.0,
        crumpled=0.0,
        lens=0.0,
        reference="none",
    )
    (square,) = scene.truth.squares
    true = scene.true_print(square.address, 40.0)
    lab = spectra.lab_of_xyz(true.mean(axis=(0, 1)) @ np.linalg.inv(spectra.SRGB_FROM_XYZ).T)
    assert lab == pytest.approx(square.lab, abs=0.15)
    ends = np.array([[0, 0], [1, 0], [1, 1], [0, 1]], np.float32) * np.float32(true.shape[0]) - 0.5
    shape = cv2.getPerspectiveTransform(ends, (square.corners - 0.5).astype(np.float32))
    linear = scene.linear_camera().astype(np.float32)
    seen = cv2.warpPerspective(
        linear, shape, true.shape[1::-1], flags=cv2.INTER_AREA | cv2.WARP_INVERSE_MAP
    )
    edge = 20
    there = cv2.GaussianBlur(true, (0, 0), 2)[edge:-edge, edge:-edge, 1]
    here = seen[edge:-edge, edge:-edge, 1]
    assert np.corrcoef(there.ravel(), here.ravel())[0, 1] > 0.98
    with pytest.raises(KeyError):
        scene.true_print("Z9")
