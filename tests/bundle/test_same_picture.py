"""One picture in two files is one photo; other squares, or another place, make two."""

from concurrent.futures import ThreadPoolExecutor
from dataclasses import replace
from pathlib import Path

import cv2
import numpy as np
import pytest

from colorcore.bundle import Bundle, PhotoRecord
from colorcore.bundle.same_picture import copied_pictures, glance
from colorcore.measuring import join_measured, measure_photo, measure_photos
from colorcore.photo import open_photo, photo_from_array
from colorcore.swatch import Swatch
from tests.scenes import Truth, make_scene
from tests.swatch.making import measured, paint

Picture = np.ndarray
pytestmark = pytest.mark.usefixtures("measured_once")


@pytest.fixture(scope="module")
def scene() -> tuple[Picture, Truth]:
    """Forty squares on a board, RGB, and what is true of them."""
    made = make_scene("gaps_board", 31, megapixels=3.0)
    return made.pixels, made.truth


def stored(picture: Picture, path: Path, share: float = 1.0, quality: int = 92) -> Path:
    height, width = picture.shape[:2]
    size = (round(width * share), round(height * share))
    small = cv2.resize(picture, size, interpolation=cv2.INTER_CUBIC if share < 1 else 0)
    cv2.imwrite(
        str(path), cv2.cvtColor(small, cv2.COLOR_RGB2BGR), [cv2.IMWRITE_JPEG_QUALITY, quality]
    )
    return path


def told(bundle: Bundle) -> list[str]:
    return [n for photo in bundle.photos for n in photo.notes if "same picture" in n]


@pytest.mark.parametrize("share", [0.5, 0.3])
def test_a_reduced_copy_is_left_out(
    scene: tuple[Picture, Truth], tmp_path: Path, share: float
) -> None:
    original = stored(scene[0], tmp_path / "IMG_1.jpg")
    copy = stored(scene[0], tmp_path / "IMG_1 mailed.jpg", share, 70)
    alone = measure_photos([original])
    for first, second in ((original, copy), (copy, original)):
        both = measure_photos([first, second])
        place = [first, second].index(original)
        assert {s.photo for s in both.squares} == {place}
        assert [s.id for s in both.squares] == [f"{place + 1}-{s.id}" for s in alone.squares]
        assert [s.lab for s in both.squares] == [s.lab for s in alone.squares]
        assert both.photos[1 - place].notes == (
            "The photo IMG_1 mailed.jpg is the same picture as IMG_1.jpg in a smaller size, so it "
            "was left out and its squares are counted once.",
        )
        assert both.photos_with_squares == (both.photos[place],)
        assert both.counted == {
            f"{2 - place}-{square.id}": f"{place + 1}-{square.id}" for square in alone.squares
        }


def test_workers_and_the_pages_say_the_same(scene: tuple[Picture, Truth], tmp_path: Path) -> None:
    paths = [stored(scene[0], tmp_path / f"{share}.jpg", share) for share in (0.4, 1.0)]
    with ThreadPoolExecutor(1) as executor:
        worked = measure_photos(paths, executor=executor)
    each = [
        measure_photo(open_photo(path), path=str(path), index=index)
        for index, path in enumerate(paths)
    ]
    joined = join_measured(each, square_inches=10.0)
    assert len(told(worked)) == len(told(joined)) == 1
    assert [s.id for s in worked.squares] == [s.id for s in joined.squares]
    assert worked.photos == joined.photos


def test_one_other_square_in_the_same_grid_makes_another_photo(
    scene: tuple[Picture, Truth], tmp_path: Path
) -> None:
    picture, truth = scene
    other = picture.copy()
    mask = np.zeros(picture.shape[:2], np.uint8)
    square = max(truth.squares, key=lambda s: s.lab[0])
    cv2.fillPoly(mask, [np.rint(square.corners).astype(np.int32)], 1)
    # A white square gives way to a cream one.
    other[mask == 1] = np.rint(other[mask == 1] * (0.97, 0.94, 0.85)).astype(np.uint8)
    bundle = measure_photos(
        [stored(picture, tmp_path / "one.jpg"), stored(other, tmp_path / "other.jpg", 0.6)]
    )
    assert told(bundle) == []


def test_another_place_makes_another_photo(scene: tuple[Picture, Truth], tmp_path: Path) -> None:
    picture, truth = scene
    height, width = picture.shape[:2]
    step = 0.2 * float(np.linalg.norm(truth.squares[0].corners[0] - truth.squares[0].corners[1]))
    moved = cv2.warpAffine(
        picture, np.array([[1, 0, step], [0, 1, 0.0]]), (width, height),
        borderMode=cv2.BORDER_REPLICATE,
    )  # fmt: skip
    bundle = measure_photos(
        [stored(picture, tmp_path / "one.jpg"), stored(moved, tmp_path / "moved.jpg", 0.8)]
    )
    assert told(bundle) == []
    assert any("counted once" in note for note in bundle.photos[1].notes)


def record(name: str, width: int) -> PhotoRecord:
    return PhotoRecord(name, "", width, width * 3 // 4, "paper", "B", "")


def laid(lightness: list[float], width: int, off: float = 0.0) -> list[Swatch]:
    """Solids in rows of five, outlines in pixels of a photo so wide, each laid ``off`` sides
    away from where it belongs."""
    rng = np.random.default_rng(4)
    side = width / 8
    squares = []
    for n, value in enumerate(lightness):
        row, column = divmod(n, 5)
        away = rng.normal(0, off or 1e-9, 2)
        start = (np.array([column, row]) * 1.2 + 0.5 + away) * side
        corners = start + np.array([(0, 0), (1, 0), (1, 1), (0, 1)]) * side
        square = measured(paint(np.zeros((40, 40), np.int64), (value, 0.0, 0.0)))
        points = tuple((float(x), float(y)) for x, y in corners)
        squares.append(replace(square, row=row, column=column, corners=points))
    return squares


def found_copies(
    ones: list[Swatch], others: list[Swatch], widths: tuple[int, int] = (4000, 1200)
) -> list[int]:
    # The glances cannot tell them apart.
    same = glance(photo_from_array(np.full((90, 120, 3), 128, np.uint8)))
    records = [record("one.jpg", widths[0]), record("other.jpg", widths[1])]
    return list(copied_pictures([ones, others], records, [same, same]))


DIFFERENT = [float(v) for v in np.linspace(15, 92, 20)]


def test_squares_laid_anew_are_other_squares_even_in_like_colours() -> None:
    assert found_copies(laid(DIFFERENT, 4000), laid(DIFFERENT, 1200)) == [1]
    assert found_copies(laid(DIFFERENT, 4000), laid(DIFFERENT, 1200, off=0.02)) == []
    assert found_copies(laid(DIFFERENT, 4000), laid(DIFFERENT, 4000, off=0.006), (4000,) * 2) == []


def test_phantoms_in_a_copy_are_no_proof_against_it() -> None:
    phantom = laid(DIFFERENT, 1200)
    away = replace(phantom[0], corners=tuple((x + 40, y + 500) for x, y in phantom[0].corners))
    assert found_copies(laid(DIFFERENT, 4000), [*phantom[3:], away]) == [1]


def test_squares_of_one_colour_prove_nothing() -> None:
    white = [90.0] * 20
    assert found_copies(laid(white, 4000), laid(white, 1200)) == []


def test_a_photo_of_another_shape_is_no_copy() -> None:
    ones, others = laid(DIFFERENT, 4000), laid(DIFFERENT, 1200)
    same = glance(photo_from_array(np.full((90, 120, 3), 128, np.uint8)))
    square = replace(record("other.jpg", 1200), height=1200)
    assert copied_pictures([ones, others], [record("one.jpg", 4000), square], [same, same]) == {}
    assert copied_pictures([ones, others], [record("one.jpg", 4000)] * 2, [same, None]) == {}


def test_of_three_sizes_one_stays() -> None:
    sizes = [1200, 4000, 2000]
    same = glance(photo_from_array(np.full((90, 120, 3), 128, np.uint8)))
    copies = copied_pictures(
        [laid(DIFFERENT, width) for width in sizes],
        [record(f"{width}.jpg", width) for width in sizes],
        [same] * 3,
    )
    assert {copy: original for copy, (original, _) in copies.items()} == {0: 1, 2: 1}
