"""From a photo and its squares to true colour, on painted tables and rendered photographs."""

from dataclasses import replace

import numpy as np
import pytest

from colorcore.color.difference import ciede2000
from colorcore.color.spaces import lab_from_linear, linear_from_lab
from colorcore.errors import ColorError
from colorcore.finding.model import Finding
from colorcore.light import Reference, undo_light
from colorcore.photo import Photo, photo_from_array
from colorcore.photo.encoding import linear_encoding
from tests.bench.color_accuracy import finding_of, score, straighten
from tests.light.pictures import Table, fill, make_table, quad, ramp
from tests.light.published_curves import response
from tests.scenes import make_scene

SHAPE = (900, 1200)


def measure(photo: Photo, finding: Finding, **options) -> tuple[np.ndarray, object]:
    calibration = undo_light(photo, finding, **options)
    labs = []
    for square in finding.squares:
        patch, inner = straighten(photo, square.corners, side=24, inset=0.1)
        even = calibration.apply(patch, inner)
        labs.append(lab_from_linear(even.reshape(-1, 3).mean(axis=0, dtype=np.float64)))
    return np.array(labs), calibration


@pytest.fixture(scope="module")
def table() -> Table:
    return make_table()


def test_uneven_coloured_light_is_undone(table):
    photo = table.photo(0.95 * ramp(SHAPE, 0.7, 0.4, 0.12))
    labs, calibration = measure(photo, table.finding())
    assert calibration.reference == "paper"
    off = ciede2000(labs, table.labs)
    assert np.median(np.abs(labs[:, 0] - table.labs[:, 0])) < 0.3
    assert np.percentile(np.abs(labs[:, 0] - table.labs[:, 0]), 95) < 1.0
    assert np.median(off) < 0.8


def test_paper_is_found_without_help_and_by_a_point(table):
    photo = table.photo(0.95 * ramp(SHAPE, 0.4, 0.2))
    with_things, _ = measure(photo, table.finding())
    alone, found = measure(photo, table.finding(things=False))
    pointed, told = measure(photo, table.finding(things=False), white=(1080.0, 300.0))
    assert found.reference == told.reference == "paper"
    assert found.references[0].found
    assert not told.references[0].found
    assert np.abs(alone - with_things).max() < 0.5
    assert np.abs(pointed - with_things).max() < 0.5


def test_exposure_and_an_even_tint_change_nothing(table):
    finding = table.finding()
    bright, _ = measure(table.photo(0.95), finding)
    dim, _ = measure(table.photo(0.95 * 0.55 * np.array([1.0, 0.9, 0.75])), finding)
    assert np.abs(bright - dim)[:, 0].max() < 0.6
    assert np.median(ciede2000(bright, dim)) < 1.0


def test_a_turned_photo_gives_the_same_colours(table):
    photo = table.photo(0.95 * ramp(SHAPE, 0.5, 0.3))
    labs, _ = measure(photo, table.finding())
    turned = photo_from_array(np.ascontiguousarray(np.rot90(photo.pixels, -1)))

    def moved(outline: np.ndarray) -> np.ndarray:
        return np.stack([SHAPE[0] - outline[:, 1], outline[:, 0]], axis=-1)

    finding = table.finding()
    there = Finding(
        tuple(replace(s, corners=moved(s.corners)) for s in finding.squares), (),
        tuple(replace(t, outline=moved(t.outline)) for t in finding.things),
        np.ascontiguousarray(np.rot90(finding.surface, -1)), finding.surface_scale,
    )  # fmt: skip
    again, _ = measure(turned, there)
    assert np.abs(again - labs).max() < 0.6


def test_no_reference_says_so_and_is_not_trusted():
    table = make_table(paper=None)
    _, calibration = measure(table.photo(0.95), table.finding())
    assert calibration.reference == "none"
    assert calibration.trust == "D"
    assert any("white paper" in note for note in calibration.notes)
    square = calibration.lab_sd(table.squares[0].corners, table.labs[0])
    assert square[0] > 4


def test_a_measured_fabric_serves_as_reference():
    table = make_table(paper=None)
    photo = table.photo(0.9 * ramp(SHAPE, 0.3, 0.2, 0.05))
    own = Reference(kind="fabric", outline=table.squares[7].corners, lab=tuple(table.labs[7]))
    labs, calibration = measure(photo, table.finding(), references=[own])
    assert calibration.reference == "fabric"
    assert np.median(np.abs(labs - table.labs)[:, 0]) < 0.6


def test_grey_card_alone_and_beside_paper():
    grey = np.full(3, 0.18)
    base = make_table(surface=(45, 0, 3))
    picture = base.picture.copy()
    card = quad(1080, 620, 140, 170, -3)
    fill(picture, card, grey)
    table = replace(base, picture=picture)
    by_hand = Reference(kind="grey card", outline=card)
    alone, calibration = measure(table.photo(0.95), table.finding(), references=[by_hand])
    assert calibration.reference == "grey card"
    assert np.median(np.abs(alone - table.labs)[:, 0]) < 0.8
    lab = (49.5, 0.0, 0.0)
    paper_only = undo_light(table.photo(0.95), base.finding())
    both = undo_light(
        table.photo(0.95), base.finding(),
        references=[by_hand, Reference(kind="paper", outline=table.things[0].outline)],
    )  # fmt: skip
    corners = table.squares[3].corners
    assert both.lab_sd(corners, lab)[0] < 0.6 * paper_only.lab_sd(corners, lab)[0]


def test_repeats_of_a_fabric_show_the_light_where_no_table_does():
    base = make_table(rows=4, columns=5, surface=(60, 2, 6))
    picture = base.picture.copy()
    labs = base.labs.copy()
    for index, square in enumerate(base.squares):
        labs[index] = labs[index % 4]
        fill(picture, square.corners, linear_from_lab(labs[index]))
    table = replace(base, picture=picture, labs=labs)
    photo = table.photo(0.95 * ramp(SHAPE, 0.8, 0.3))
    # What is covered in part tells no slope of its own.
    squares = tuple(replace(square, visible=square.corners) for square in table.squares)
    bare = replace(table.finding(), squares=squares, surface=np.zeros((225, 300), bool))
    groups = [tuple(range(k, len(labs), 4)) for k in range(4)]
    blind, _ = measure(photo, bare)
    seeing, _ = measure(photo, bare, same=groups)
    before = np.median(np.abs(blind - table.labs)[:, 0])
    after = np.median(np.abs(seeing - table.labs)[:, 0])
    assert after < 0.8
    assert after < 0.4 * before


def test_a_shadow_is_flagged_and_mostly_undone(table):
    light = 0.95 * ramp(SHAPE, 0.2, 0.1)
    light[:430, :420] *= 0.55
    labs, calibration = measure(table.photo(light), table.finding())
    corners = [s.corners for s in table.squares]
    inside = np.array([c[:, 0].max() < 410 and c[:, 1].max() < 420 for c in corners])
    outside = np.array([c[:, 0].min() > 500 or c[:, 1].min() > 500 for c in corners])
    shaded = np.array(["shadow" in calibration.flags(c) for c in corners])
    assert inside.sum() >= 4
    assert shaded[inside].mean() > 0.7
    assert not shaded[outside].any()
    off = np.abs(labs - table.labs)[:, 0]
    assert np.median(off[inside]) < 0.5
    assert np.median(off[outside]) < 0.3


def test_photos_too_bright_or_too_dark_are_told_what_to_do(table):
    _, over = measure(table.photo(2.4), table.finding())
    assert any("overexposed" in n and "tap to darken" in n for n in over.notes)
    _, under = measure(table.photo(0.03), table.finding())
    assert any("underexposed" in n for n in under.notes)
    _, right = measure(table.photo(0.9), table.finding())
    assert not any("exposed" in n for n in right.notes)


def test_apply_keeps_shape_dtype_and_nan(table):
    calibration = undo_light(table.photo(0.95), table.finding())
    patch = np.full((7, 11, 3), 0.3, np.float32)
    patch[2, 3] = np.nan
    even = calibration.apply(patch, table.squares[0].corners)
    assert even.shape == patch.shape
    assert even.dtype == np.float32
    assert np.isnan(even[2, 3]).all()
    assert np.isfinite(even[0]).all()


@pytest.mark.parametrize(
    ("white", "words"),
    [((5000.0, 10.0), "outside"), ((-1.0, 10.0), "outside"), ((140.0, 59.0), "plain")],
)
def test_a_point_on_no_paper_is_told(table, white, words):
    rough = table.picture.copy()
    rough[40:80] *= np.random.default_rng(0).uniform(0.4, 1.0, (40, SHAPE[1], 1))
    photo = replace(table, picture=rough).photo(0.95)
    with pytest.raises(ColorError, match=words):
        undo_light(photo, table.finding(), white=white)


@pytest.mark.parametrize(
    ("options", "words"),
    [
        ({"kind": "mirror", "outline": np.eye(3, 2)}, "a reference is one of"),
        ({"kind": "paper", "outline": np.zeros((2, 2))}, "at least three points"),
        ({"kind": "paper", "outline": np.full((4, 2), np.nan)}, "not finite"),
        ({"kind": "fabric", "outline": np.eye(3, 2)}, "needs its measured"),
        ({"kind": "fabric", "outline": np.eye(3, 2), "lab": (140.0, 0.0, 0.0)}, "between 1 and"),
    ],
)
def test_a_reference_that_cannot_be_is_refused(options, words):
    with pytest.raises(ColorError, match=words):
        Reference(**options)


@pytest.mark.parametrize("kind", ["paper", "grey card", "chart"])
@pytest.mark.parametrize(
    "outline", [quad(5000, 5000, 100, 100), quad(20, 20, 1e9, 100), quad(-1e9, 20, 1e9, 100)]
)
def test_a_reference_outside_the_picture_is_told(table, kind, outline):
    """Of corners far away the drawing overflowed, which was told as well."""
    far = Reference(kind=kind, outline=outline)
    with pytest.raises(ColorError, match="outline it again"):
        undo_light(table.photo(0.95), table.finding(), references=[far])


def test_same_photo_same_answer(table):
    photo = table.photo(0.95 * ramp(SHAPE, 0.5, 0.3))
    one, two = (measure(photo, table.finding())[0] for _ in range(2))
    assert np.array_equal(one, two)


@pytest.mark.parametrize(
    ("kind", "light", "tone", "reference", "median", "most"),
    [
        ("gaps_white_table", "mixed", "srgb", "paper", 0.6, 2.5),
        ("gaps_wood", "side", "srgb", "paper", 0.8, 3.0),
        ("gaps_board", "mixed", "phone", "chart", 0.9, 3.0),
    ],
)
def test_rendered_photographs_measure_true(kind, light, tone, reference, median, most):
    """Scenes from published spectra, cameras and illuminants (colour-science)."""
    scene = make_scene(
        kind, 21, megapixels=1.0, light=light, tone=tone, reference=reference, rows=4, columns=5
    )
    photo, finding = photo_from_array(scene.pixels), finding_of(scene.truth)
    calibration = undo_light(photo, finding)
    result = score(photo, scene.truth, calibration, finding)
    off = np.abs(result.measured - result.true)[:, 0]
    assert calibration.reference == reference
    assert np.median(off) < median
    assert np.percentile(off, 95) < most
    assert np.mean(off < 2 * result.doubt[:, 0]) >= 0.85
    if reference == "chart":
        assert calibration.chart_residual < 3.0
        assert calibration.trust in "AB"


def test_a_raw_photo_needs_only_paper():
    scene = make_scene("gaps_white_table", 22, megapixels=1.0, light="side", rows=4, columns=5)
    photo = Photo("raw", "raw", scene.linear_camera(), linear_encoding(16), scene_linear=True)
    finding = finding_of(scene.truth)
    calibration = undo_light(photo, finding)
    result = score(photo, scene.truth, calibration, finding)
    assert calibration.trust == "A"
    assert np.median(np.abs(result.measured - result.true)[:, 0]) < 0.6


def test_an_edge_of_sun_across_the_paper_is_told_and_counted(table):
    light = 0.5 * ramp(SHAPE, 0.1, 0.1)
    plain = undo_light(table.photo(light), table.finding())
    light[:300, 500:] *= 1.7
    crossed = undo_light(table.photo(light), table.finding())
    corners, lab = table.squares[0].corners, (50.0, 0.0, 0.0)
    assert any("edge" in note for note in crossed.notes)
    assert not any("edge" in note for note in plain.notes)
    assert crossed.order_sd(corners, lab) > 2 * plain.order_sd(corners, lab)


def test_a_file_that_names_its_camera_is_not_taken_for_plain():
    """A curve as published, measured from the camera's own pictures (``published_curves``)."""
    table = make_table(seed=11)
    light = np.clip(table.picture, 0, None) * 0.5
    claimed = response("Canon EOS 6D", light)
    bent = replace(table, picture=claimed.astype(np.float32)).photo(1.0)
    named = replace(bent, camera="Canon EOS 6D")
    errors = {}
    for photo in (bent, named):
        labs, calibration = measure(photo, table.finding())
        off = labs[:, 0] - table.labs[:, 0]
        errors[photo.camera] = np.sqrt(np.mean(off**2))
        corners = np.stack([s.corners for s in table.squares])
        sd = calibration.lab_sd(corners, labs)[:, 0]
        assert np.mean(np.abs(off) < 2 * sd) > 0.85
        assert any("names its camera" in note for note in calibration.notes) == bool(photo.camera)
    assert errors["Canon EOS 6D"] < 0.8 * errors[""]


def test_a_dark_plank_is_no_shadow():
    base = make_table(rows=4, columns=4)
    picture = base.picture.copy()
    rng = np.random.default_rng(2)
    planks = rng.normal(0, 0.04, 24)
    planks[7] = -0.6
    grain = np.repeat(planks, 50) + np.repeat(rng.normal(0, 0.05, 300), 4)
    picture *= np.exp(grain)[None, :, None].astype(np.float32)
    for square, lab in zip(base.squares, base.labs, strict=True):
        fill(picture, square.corners, linear_from_lab(lab))
    fill(picture, base.things[0].outline, linear_from_lab(np.array([95.15, 0, 0])))
    labs, calibration = measure(
        replace(base, picture=picture).photo(0.95 * ramp(SHAPE, 0.4, 0.2)), base.finding()
    )
    assert not any(calibration.flags(square.corners) for square in base.squares)
    assert np.abs(labs - base.labs)[:, 0].max() < 1.0
