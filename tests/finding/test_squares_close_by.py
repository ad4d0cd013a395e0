"""Squares that overlap or touch, and rows that do not lie one below the other."""

from types import SimpleNamespace
from typing import cast

import cv2
import numpy as np
import pytest

from colorcore.finding import find_squares
from colorcore.finding.bands import split_loosely
from colorcore.finding.layout import lay_out
from colorcore.finding.plane import Plane
from colorcore.finding.rigid import uncover
from colorcore.finding.scene import Scene as See
from colorcore.finding.within import repeats_itself
from colorcore.photo import photo_from_array
from tests.bench.finding import match, overlap
from tests.scenes import Scene, make_scene

SAME = Plane(np.eye(3), np.eye(3))
UNIT = np.array([[0.0, 0], [1, 0], [1, 1], [0, 1]])


def all_found(scene: Scene) -> bool:
    """Whether every square of a scene is found, and nothing else."""
    finding = find_squares(photo_from_array(scene.pixels))
    truth = np.array([s.corners for s in scene.truth.squares])
    found = np.array([s.corners for s in finding.squares]).reshape(-1, 4, 2)
    return len(match(truth, found)) == len(found) == len(truth)


@pytest.mark.parametrize(
    ("seed", "on_top"),
    [(602, True), (612, False), (618, True)],
    ids=["both ways", "down", "across"],
)
def test_squares_laid_like_shingles_are_found_whole(seed: int, on_top: bool) -> None:
    scene = make_scene("shingled", seed, megapixels=1.5)
    finding = find_squares(photo_from_array(scene.pixels))
    truth = np.array([s.corners for s in scene.truth.squares])
    found = np.array([s.corners for s in finding.squares]).reshape(-1, 4, 2)
    pairs = match(truth, found)
    assert len(pairs) == len(found) == len(truth)
    assert np.mean([share for _, _, share in pairs]) > 0.93
    for i, j, _ in pairs:
        square, true = finding.squares[j], scene.truth.squares[i]
        assert (square.row, square.column) == (true.row, true.column)
        assert (square.visible is not None) == (true.visible_share < 0.95)
    whole = [s.address for s in scene.truth.squares if s.visible_share > 0.95]
    assert ("A1" in whole) == on_top


def test_the_frame_of_a_picture_hides_no_block_of_touching_squares() -> None:
    scene = make_scene("touching", 701, megapixels=1.2)
    assert len(scene.truth.squares) == 42
    assert all_found(scene)


@pytest.mark.parametrize(
    ("kind", "seed"),
    [
        ("touching", 1039),
        ("touching", 1315),
        ("many", 1302),
        ("one_large", 1312),
        ("one_large", 1507),
        ("one_large", 1533),
        ("touching_similar", 1034),
        ("touching_similar", 1115),
        ("shingled", 905),
        ("shingled", 1031),
        ("shingled", 614),
        ("shingled", 635),
        ("shingled", 1033),
        ("shingled", 1044),
        ("shingled", 1046),
        ("shingled", 1055),
        ("shingled", 1057),
        ("shingled", 904),
        ("shingled", 1207),
        ("shingled", 1115),
        ("shingled", 1117),
        ("shingled", 1219),
        ("shingled", 1240),
        ("mat_on_table", 1209),
        ("mat_on_table", 1105),
        ("mat_on_table", 1106),
        ("shingled", 1502),
        ("shingled", 1525),
    ],
    ids=[
        "rows that drift",
        "an outline a little wrong",
        "a few blocks of many",
        "the checks of a dark plaid",
        "the blocks of a bold print",
        "the places of a plaid of a few colours",
        "white on white, held by those around",
        "whites whose seams hardly show",
        "a row of another shape",
        "columns nearly touching",
        "overlapping both ways, no two rows alike",
        "rows that look like squares",
        "overlapping both ways",
        "short bands, mostly seams",
        "rows with gaps, whose upper squares show whole",
        "a row that starts as pale as the table",
        "little overlap both ways, not lining up",
        "much overlap both ways, not lining up",
        "faint lines halfway between the seams",
        "a row that starts as pale as the table between others",
        "rows that start as pale as the table, and look like squares",
        "paper where a row would run out of the picture",
        "the mat's lines and paper where a row would run out of the picture",
        "a mat, most cloths on it twice",
        "a mat, one square of which stands alone",
        "a mat, five squares of which stand alone and mislead",
        "no seam that many rows do not show",
        "a square block of all colours",
    ],
)
def test_what_shows_within_tells_how_squares_lie(kind: str, seed: int) -> None:
    """Touching squares differ from one another; what has a seam at one place in half of them is
    several; beside rows that are alike there may be one whose shape did not tell."""
    assert all_found(make_scene(kind, seed, megapixels=1.5))


def test_a_mat_is_no_block_of_squares_without_gaps() -> None:
    """As many, as large, laid over the mat from side to side, seemed sure, and hung over it."""
    assert all_found(make_scene("mat_on_table", 9003, megapixels=3.0))


def test_on_a_mat_with_empty_places_squares_lie_apart() -> None:
    """Laid out as if they touched, from side to side of the mat, they would be doubtful."""
    assert all_found(make_scene("mat_on_table", 1511, megapixels=1.5, missing=0.15))


@pytest.mark.parametrize("seed", [1, 5], ids=["none found", "all were one"])
def test_squares_that_hang_over_the_edge_of_a_mat_are_found(seed: int) -> None:
    hanging = {"rows": 3, "columns": 4, "side_inches": 5.0, "gap": 0.06, "margin": 0.1}
    assert all_found(make_scene("mat_on_table", seed, megapixels=1.0, mat=(24.0, 13.0), **hanging))


@pytest.mark.parametrize(
    ("seed", "theme"),
    [(1110, "white"), (1113, "white"), (1111, "mixed")],
    ids=["in groups of one colour", "the mat is one square", "the mat is one square, any prints"],
)
def test_squares_on_a_square_mat_are_no_parts_of_it(seed: int, theme: str) -> None:
    """White ones fall into groups of one colour, as the parts of a plaid do, but nothing is left
    over; and where squares leave little of a square mat free, all of it looks like one."""
    how = {"mat": (24.0, 24.0), "rows": 4, "columns": 4, "theme": theme}
    assert all_found(make_scene("mat_on_table", seed, megapixels=1.5, **how))


@pytest.mark.parametrize(("seed", "family"), [(1106, "checks"), (1103, "patchwork")])
def test_the_parts_of_a_print_are_no_touching_squares(seed: int, family: str) -> None:
    """Checks are of two colours; patches come again, but not at the sides of touching squares."""
    assert all_found(make_scene("one_large", seed, megapixels=1.0, families=(family,)))


@pytest.mark.parametrize(
    ("seed", "family", "megapixels"),
    [(1216, "plaid", 1.0), (1213, "frames", 1.5), (1213, "plaid", 1.5)],
    ids=["looked at as a mat", "taken for strips", "the windows of one of them"],
)
def test_the_parts_of_the_prints_of_a_few_squares_are_none(
    seed: int, family: str, megapixels: float
) -> None:
    """What shows within squares that are certain explains no more than they do."""
    assert all_found(make_scene("few", seed, megapixels=megapixels, families=(family,)))


def test_the_checks_of_one_square_are_no_squares_on_a_mat() -> None:
    assert all_found(make_scene("one_large", 1216, megapixels=3.0, families=("checks",)))


@pytest.mark.parametrize(
    ("laid", "print_"),
    [("all different", False), ("copies below in the same order", False), ("one print", True)],
)
def test_a_print_comes_again_at_several_shifts_and_a_bundle_at_one_at_most(
    laid: str, print_: bool
) -> None:
    rng = np.random.default_rng(7)
    cloths = cv2.GaussianBlur(rng.normal(0, 60, (36, 40, 40, 3)).reshape(36, 40, -1), (5, 5), 0)
    cloths = cloths.reshape(36, 40, 40, 3) + rng.normal(0, 12, (36, 1, 1, 3))
    if laid == "copies below in the same order":
        cloths[18:] = cloths[:18]
    whole = cloths.reshape(6, 6, 40, 40, 3).transpose(0, 2, 1, 3, 4).reshape(240, 240, 3)
    if print_:
        # Patches of another size than that of the squares they are taken for.
        whole = np.tile(whole[:90, :90], (3, 3, 1))[:240, :240]
    whole = whole + rng.normal(0, 2, whole.shape)
    places = [[x, y] for y in range(0, 240, 40) for x in range(0, 240, 40)]
    parts = np.array(places)[:, None] + 40.0 * UNIT
    flat = whole.astype(np.float32)
    scene = cast("See", SimpleNamespace(surface=SimpleNamespace(flat=flat)))
    assert repeats_itself(scene, parts) is print_


def test_one_square_alone_is_never_one_that_touches_others() -> None:
    """An outline four times as large lay over it and the paper beside it."""
    scene = make_scene("one_small", 1532, megapixels=1.5)
    found = [s.corners for s in find_squares(photo_from_array(scene.pixels)).squares]
    truth = np.asarray(scene.truth.squares[0].corners)
    assert len(found) == 1
    assert overlap(found[0], truth) > 0.9


@pytest.mark.parametrize("seed", [1027, 1028, 1030, 1033, 1055, 1057, 1242])
def test_the_blocks_within_one_large_print_are_no_squares(seed: int) -> None:
    scene = make_scene("one_large", seed, megapixels=1.0)
    finding = find_squares(photo_from_array(scene.pixels))
    assert len(finding.squares) == 1
    truth = np.asarray(scene.truth.squares[0].corners)
    assert overlap(finding.squares[0].corners, truth) > 0.95


@pytest.mark.parametrize(
    ("kind", "seed"),
    [("blurred", 1025), ("uneven_rows", 608)],
    ids=["blurred gaps", "rows that drift"],
)
def test_from_two_squares_that_stand_alone_all_others_are_found(kind: str, seed: int) -> None:
    """Nearly all shapes hold several squares here, since the gaps between them close."""
    assert all_found(make_scene(kind, seed, megapixels=1.5))


@pytest.mark.parametrize(
    ("kind", "seed"),
    [
        ("few", 1118),
        ("few", 1200),
        ("few", 1508),
        ("few", 1530),
        ("mat_on_table", 1115),
        ("gaps_board", 1241),
    ],
    ids=[
        "lines",
        "stripes",
        "strips",
        "pairs whose prints have seams",
        "rows of squares on a mat",
        "pairs that nearly touch",
    ],
)
def test_squares_that_show_by_themselves_do_not_overlap(kind: str, seed: int) -> None:
    assert all_found(make_scene(kind, seed, megapixels=1.5))


def test_squares_that_touch_do_not_lie_on_the_bare_table_beside_certain_ones() -> None:
    """Four squares and a sheet of paper: no seams between them tell of more."""
    assert all_found(make_scene("few", 1560, megapixels=3.0))


def test_a_light_print_alone_is_no_paper_though_it_runs_out_of_the_picture() -> None:
    assert all_found(make_scene("one_large", 1504, megapixels=1.0))


def test_a_covered_square_is_held_by_the_sides_that_show() -> None:
    """A strip of two fifths shows, found a little turned and moved; the square hangs on it."""
    c, s = np.cos(0.03), np.sin(0.03)
    turn = np.array([[c, s], [-s, c]])
    shift = np.array([0.04, -0.03])
    strip, down = UNIT * [1, 0.4], np.array([0, 0.4])
    rough = np.array([UNIT + down * k for k in range(5)])
    before = np.array([strip + down * k for k in range(5)])
    after = before @ turn + shift
    held = uncover(SAME, rough, before, after)
    assert min(overlap(h, t) for h, t in zip(held, rough @ turn + shift, strict=True)) > 0.99
    assert overlap(rough[2], rough[2] @ turn + shift) < 0.96


def addresses(starts: list[float], columns: int) -> list[list[int]]:
    middles = [
        (start + 1.1 * k, 1.1 * row) for row, start in enumerate(starts) for k in range(columns)
    ]
    quads = np.array([UNIT - 0.5 + m for m in middles])
    cells = lay_out(SAME, quads).cells
    assert [int(c[0]) for c in cells] == [row for row in range(len(starts)) for _ in range(columns)]
    return cells[:, 1].reshape(len(starts), columns).tolist()


def test_uneven_rows_are_counted_each_along_itself() -> None:
    """Common practice, no source: the third square of a row is the third, wherever the row
    starts."""
    ragged = [0.4, -0.4, 0.25, -0.35, 0.1, 0.42]
    assert addresses(ragged, 6) == [list(range(6))] * 6


def test_ragged_rows_that_happen_to_drift_are_counted_each_from_its_own_start() -> None:
    """Starts as in a rendered table: no slope that makes them agree a little better counts."""
    drifting = [-0.2, -0.2, 0.12, 0.04, 0.0, -0.69, -0.78]
    assert addresses(drifting, 6) == [list(range(6))] * 7


def test_a_row_that_starts_a_place_later_is_counted_from_there() -> None:
    assert addresses([0.0, 1.1, 0.02, 0.0], 5) == [
        [0, 1, 2, 3, 4], [1, 2, 3, 4, 5], [0, 1, 2, 3, 4], [0, 1, 2, 3, 4],
    ]  # fmt: skip
    ragged = addresses([0.3, -0.3, 1.4, -0.2, 0.25], 5)
    assert ragged[2] == [1, 2, 3, 4, 5]
    assert ragged[0] == ragged[1] == ragged[4] == [0, 1, 2, 3, 4]


def test_a_band_of_which_rows_are_all_but_covered_has_no_seams() -> None:
    """A picture of one such row, without a pixel, ended the search with an error."""
    rng = np.random.default_rng(36)
    high, wide = int(rng.integers(8, 40)), int(rng.integers(100, 500))
    cells = rng.normal(50, 20, (high // 3, wide // 8, 3))
    channels = np.kron(cells, np.ones((3, 8, 1))).astype(np.float32)
    high, wide = channels.shape[:2]
    quad = np.array([[0, 0], [wide, 0], [wide, high], [0, high]], np.float64)
    block = split_loosely(channels, quad, wide / high)
    assert block is None or len(block.quads) > 1


@pytest.mark.parametrize(("wide", "high"), [(376, 6), (6, 376), (100, 3)])
def test_a_band_too_narrow_for_seams_has_none(wide: int, high: int) -> None:
    channels = np.random.default_rng(0).normal(50, 10, (high, wide, 3)).astype(np.float32)
    quad = np.array([[0, 0], [wide, 0], [wide, high], [0, high]], np.float64)
    assert split_loosely(channels, quad, wide / high) is None
