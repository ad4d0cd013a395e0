"""Squares found in quick drawings, in photographs that are not of squares, and with hints."""

import numpy as np
import pytest

from colorcore.errors import FindingError
from colorcore.finding import Finding, Hints, find_squares
from colorcore.photo import photo_from_array
from tests.bench.finding import match
from tests.finding.drawn import SURFACES, Drawing, draw_surface, make_drawing


def outlines(finding: Finding) -> np.ndarray:
    return np.array([s.corners for s in finding.squares]).reshape(-1, 4, 2)


def find(drawing: Drawing, **hints: object) -> Finding:
    return find_squares(photo_from_array(drawing.pixels), hints=Hints(**hints))  # type: ignore[arg-type]


def check_all_found(drawing: Drawing, finding: Finding, least: float = 0.95) -> None:
    pairs = match(drawing.quads, outlines(finding))
    assert len(pairs) == len(drawing.quads)
    assert len(finding.squares) == len(drawing.quads)
    assert np.mean([share for _, _, share in pairs]) > least


@pytest.mark.parametrize("surface", SURFACES)
def test_squares_with_gaps_are_found_on_every_surface(surface: str) -> None:
    drawing = make_drawing(11, surface=surface, rows=3, columns=4, width=900, height=675)
    finding = find(drawing)
    check_all_found(drawing, finding)
    assert [s.address for s in finding.squares] == [f"{r}{c}" for r in "ABC" for c in "1234"]


@pytest.mark.parametrize("seed", [7, 8])
def test_squares_with_hardly_a_gap_are_found_on_a_mat(seed: int) -> None:
    drawing = make_drawing(
        seed, surface="mat", rows=6, columns=7, gap=0.045, jitter=0.012, lean=0.8,
        width=1100, height=825,
    )  # fmt: skip
    check_all_found(drawing, find(drawing), 0.9)


@pytest.mark.parametrize(
    "choices",
    [
        {"gap": 0.0, "jitter": 0.003, "lean": 0.4},
        {"tone": (226, 240), "seed": 6},
        {"tone": (14, 30)},
        {"lean": 9.0, "gap": 0.3, "turn": 30.0},
        {"tilt": 28.0, "missing": 3},
        {"light": 0.9, "surface": "carpet"},
    ],
    ids=["touching", "white on white", "black on black", "hand-laid", "tilted", "side light"],
)
def test_squares_are_found_however_they_lie(choices: dict[str, object]) -> None:
    drawing = make_drawing(
        **{"seed": 5, "rows": 4, "columns": 4, "width": 900, "height": 675, **choices}  # type: ignore[arg-type]
    )
    check_all_found(drawing, find(drawing), 0.93)


def test_one_large_square_with_a_bold_print_is_one() -> None:
    drawing = make_drawing(
        2, rows=1, columns=1, fill=0.85, prints=("checks",), width=800, height=600
    )
    check_all_found(drawing, find(drawing))


@pytest.mark.parametrize("surface", SURFACES)
def test_a_bare_table_has_no_squares_and_says_so(surface: str) -> None:
    bare = draw_surface(np.random.default_rng(4), surface, 600, 800)
    finding = find_squares(photo_from_array(np.clip(bare, 0, 255).astype(np.uint8)))
    assert finding.squares == ()
    assert finding.reason
    assert finding.surface.dtype == bool


@pytest.mark.parametrize("name", ["astronaut", "camera", "chelsea", "coffee", "rocket"])
def test_photographs_of_other_things_have_no_squares(name: str) -> None:
    """Photographs that scikit-image carries (skimage.data): none shows squares of cloth."""
    from skimage import data

    picture = np.asarray(getattr(data, name)())
    if picture.ndim == 2:
        picture = np.dstack([picture] * 3)
    finding = find_squares(photo_from_array(np.ascontiguousarray(picture[..., :3])))
    assert finding.squares == ()


def test_real_textures_as_prints_on_a_real_texture() -> None:
    """Pictures that scikit-image carries cut to squares, on its photograph of gravel."""
    from skimage import data

    ground = np.dstack([data.gravel()] * 3)[:400, :500]
    table = np.clip(0.35 * ground.repeat(2, 0).repeat(2, 1) + 95, 0, 255).astype(np.uint8)
    sources = [data.coffee(), data.chelsea(), data.astronaut(), np.dstack([data.brick()] * 3)]
    truth = []
    for row in range(3):
        for column in range(4):
            x, y = 110 + 200 * column + 7 * row, 110 + 200 * row + 5 * column
            cloth = sources[(row + column) % 4][20 + 15 * row :, 40 + 25 * column :][:150, :150, :3]
            table[y : y + 150, x : x + 150] = cloth
            truth.append([[x, y], [x + 150, y], [x + 150, y + 150], [x, y + 150]])
    found = outlines(find_squares(photo_from_array(table)))
    assert len(match(np.array(truth, dtype=float), found)) == len(found) == 12


def test_turning_the_photo_turns_the_outlines() -> None:
    drawing = make_drawing(8, rows=3, columns=3, width=700, height=600)
    turned = np.ascontiguousarray(np.rot90(drawing.pixels, -1))
    before, after = outlines(find(drawing)), outlines(find_squares(photo_from_array(turned)))
    moved = np.stack([600 - before[..., 1], before[..., 0]], axis=-1)
    pairs = match(np.roll(moved, 1, axis=1), after)
    assert len(pairs) == len(before) == 9
    assert min(share for _, _, share in pairs) > 0.97


def test_the_same_photo_gives_the_same_finding() -> None:
    drawing = make_drawing(8, rows=3, columns=3, width=700, height=600)
    one, two = find(drawing), find(drawing)
    assert np.array_equal(outlines(one), outlines(two))
    assert [s.confidence for s in one.squares] == [s.confidence for s in two.squares]


def test_sixteen_bits_find_what_eight_do() -> None:
    drawing = make_drawing(8, rows=2, columns=3, width=700, height=600)
    deep = drawing.pixels.astype(np.uint16) * 257
    found = outlines(find_squares(photo_from_array(deep)))
    assert min(s for _, _, s in match(outlines(find(drawing)), found)) > 0.99


@pytest.fixture(scope="module")
def table() -> Drawing:
    return make_drawing(21, rows=3, columns=4, width=800, height=600)


def test_what_the_maker_ignores_is_no_square(table: Drawing) -> None:
    x, y = table.quads[5].mean(axis=0)
    finding = find(table, ignore=((float(x), float(y)),))
    assert len(finding.squares) == 11
    assert "B2" not in [s.address for s in finding.squares]
    assert any(t.kind == "other" for t in finding.things)


def test_what_the_maker_adds_is_taken_as_it_is(table: Drawing) -> None:
    extra = table.quads[0] * 0.3 + [5, 5]
    finding = find(table, add=(extra,))
    assert any(np.array_equal(s.corners, extra) and s.confidence == 1 for s in finding.squares)
    assert len(finding.squares) == 13


def test_an_added_square_takes_the_place_of_the_found_one(table: Drawing) -> None:
    finding = find(table, add=(table.quads[5] + 1.5,))
    assert len(finding.squares) == 12
    assert [s.confidence for s in finding.squares if s.address == "B2"] == [1.0]


def test_a_grid_smaller_than_the_layout_leaves_the_rest_in_doubt(table: Drawing) -> None:
    finding = find(table, grid=(3, 3))
    assert len(finding.squares) == 9
    assert len(finding.doubtful) >= 3


def test_outer_corners_and_a_grid_divide_what_touches() -> None:
    drawing = make_drawing(
        6, rows=3, columns=4, gap=0.0, jitter=0.002, lean=0.2, width=800, height=600
    )
    quads = drawing.quads.reshape(3, 4, 4, 2)
    corners = np.array([quads[0, 0, 0], quads[0, 3, 1], quads[2, 3, 2], quads[2, 0, 3]])
    check_all_found(drawing, find(drawing, corners=corners, grid=(3, 4)), 0.93)


@pytest.mark.parametrize(
    ("hints", "word"),
    [
        ({"grid": (0, 4)}, "0x4"),
        ({"ignore": ((9999.0, 5.0),)}, "9999"),
        ({"corners": np.array([[0, 0], [9, 9], [9, 0], [0, 9.0]])}, "four-sided"),
        ({"add": (np.full((4, 2), np.nan),)}, "four points"),
        ({"add": (np.array([[-90, -90], [-9, -90], [-9, -9], [-90, -9.0]]),)}, "outside"),
        ({"add": (np.array([[30, 30], [1e9, 5], [366, 226], [30, 226.0]]),)}, "further beyond"),
        ({"corners": np.array([[-1e9, 0], [99, 0], [99, 99], [0, 99.0]])}, "further beyond"),
    ],
)
def test_hints_that_cannot_be_meant_are_refused(
    table: Drawing, hints: dict[str, object], word: str
) -> None:
    with pytest.raises(FindingError, match=word):
        find(table, **hints)


@pytest.mark.parametrize("shape", [(1, 1), (3, 700), (40, 40), (2000, 3)])
def test_pictures_too_small_for_squares_are_no_error(shape: tuple[int, int]) -> None:
    noise = np.random.default_rng(1).integers(0, 255, (*shape, 3)).astype(np.uint8)
    assert find_squares(photo_from_array(noise)).squares == ()
