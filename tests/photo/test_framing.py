"""A plain frame around the photo is left out, and only that."""

import io
from collections.abc import Callable
from pathlib import Path

import cv2
import numpy as np
import pytest
from PIL import Image

from colorcore.finding import find_squares
from colorcore.photo import open_photo, photo_from_array
from colorcore.photo.framing import photo_within
from tests.bench.finding import match
from tests.finding.drawn import SURFACES, make_drawing
from tests.finding.pages import make_page

Picture = np.ndarray
TOP, LEFT = 61, 47


def framed(
    photo: Picture, color: tuple[int, int, int], top: int, bottom: int, left: int, right: int
) -> Picture:
    return cv2.copyMakeBorder(photo, top, bottom, left, right, cv2.BORDER_CONSTANT, value=color)


def rim(photo: Picture) -> Picture:
    return framed(photo, (255, 255, 255), TOP, 203, LEFT, 66)


def bands(photo: Picture) -> Picture:
    return framed(photo, (0, 0, 0), TOP, 60, 0, 0)


def bars_with_words(photo: Picture) -> Picture:
    screen = framed(photo, (24, 24, 24), TOP + 40, 120, 0, 0)
    white = (250, 250, 250)
    cv2.putText(screen, "12:34", (20, 50), cv2.FONT_HERSHEY_SIMPLEX, 1.2, white, 3)
    for x in (90, 300, 510, 720):
        cv2.circle(screen, (x, len(screen) - 50), 24, white, -1)
    return screen


def as_jpeg(pixels: Picture, path: Path) -> Path:
    kept = io.BytesIO()
    Image.fromarray(pixels).save(kept, "JPEG", quality=88)
    path.write_bytes(kept.getvalue())
    return path


@pytest.mark.parametrize("surface", [s for s in SURFACES if s != "plain"])
@pytest.mark.parametrize(
    ("around", "corner"),
    [(rim, (LEFT, TOP)), (bands, (0, TOP)), (bars_with_words, (0, TOP + 40))],
)
def test_squares_in_a_framed_photo_are_found(
    tmp_path: Path, surface: str, around: Callable[[Picture], Picture], corner: tuple[int, int]
) -> None:
    drawing = make_drawing(11, surface=surface, rows=3, columns=4, width=900, height=675)
    photo = open_photo(as_jpeg(around(drawing.pixels), tmp_path / "framed.jpg"))
    assert abs(photo.width - 900) <= 4
    assert abs(photo.height - 675) <= 4
    (note,) = photo.notes
    assert "frame" in note
    x, y = (int(word) for word in note.split(" at ")[1].split(" of ")[0].split(","))
    assert np.abs(np.array([x, y]) - corner).max() <= 2
    found = np.array([s.corners for s in find_squares(photo).squares])
    assert len(match(drawing.quads + corner, found + np.array([x, y]))) == len(found) == 12


def test_a_large_photo_is_cut_in_its_preview_and_as_a_whole_alike(tmp_path: Path) -> None:
    drawing = make_drawing(11, surface="wood", rows=3, columns=4, width=900, height=675)
    large = cv2.resize(drawing.pixels, (3600, 2700), interpolation=cv2.INTER_CUBIC)
    photo = open_photo(
        as_jpeg(framed(large, (255, 255, 255), 301, 500, 203, 100), tmp_path / "a.jpg")
    )
    assert photo.preview is not None
    assert photo.preview.shape[1] == pytest.approx(photo.width / 4, abs=1)
    assert 3600 - 24 <= photo.width <= 3600
    assert 2700 - 24 <= photo.height <= 2700
    assert "frame" in photo.notes[0]
    again = photo.small(800)[0]
    whole = cv2.resize(photo.pixels, again.shape[1::-1], interpolation=cv2.INTER_AREA)
    assert np.abs(again.astype(int) - whole).mean() < 2


@pytest.mark.parametrize("suffix", [".png", ".webp"])
def test_other_kinds_of_file_are_cut_as_well(tmp_path: Path, suffix: str) -> None:
    drawing = make_drawing(11, surface="wood", rows=3, columns=4, width=900, height=675)
    path = tmp_path / f"framed{suffix}"
    Image.fromarray(rim(drawing.pixels)).save(path, lossless=True)
    photo = open_photo(path)
    assert np.array_equal(photo.pixels, drawing.pixels)


@pytest.mark.parametrize("surface", SURFACES)
@pytest.mark.parametrize("seed", [3, 4, 5])
def test_a_photo_without_a_frame_is_left_whole(surface: str, seed: int) -> None:
    drawing = make_drawing(seed, surface=surface, rows=4, columns=5, width=900, height=675)
    assert photo_within(drawing.pixels) is None


@pytest.mark.parametrize(("gap", "margin"), [(2, 40), (8, 30), (40, 40)])
@pytest.mark.parametrize("color", [255, 238])
def test_a_page_of_squares_is_no_frame_and_its_squares_are_found(
    gap: int, margin: int, color: int
) -> None:
    sheet, quads = make_page(5, 6, gap=gap, margin=margin, color=(color, color, color))
    assert photo_within(sheet) is None
    found = [s.corners for s in find_squares(photo_from_array(sheet)).squares]
    assert len(match(quads, np.array(found))) == len(quads)


def test_a_frame_whose_photo_is_a_page_itself_is_left() -> None:
    sheet, _ = make_page(5, 6, gap=0, margin=30)
    assert photo_within(sheet) is None


def test_one_plain_color_is_no_frame() -> None:
    assert photo_within(np.full((200, 300, 3), 200, np.uint8)) is None


@pytest.mark.parametrize("seed", [1, 2, 5])
@pytest.mark.parametrize(("columns", "gap"), [(1, 0), (3, 30)])
def test_few_squares_on_a_page_are_no_photo_in_a_frame(
    tmp_path: Path, columns: int, gap: int, seed: int
) -> None:
    sheet, _ = make_page(1, columns, gap=gap, margin=60, seed=seed)
    photo = open_photo(as_jpeg(sheet, tmp_path / "page.jpg"))
    assert (photo.height, photo.width) == sheet.shape[:2]


def test_a_photo_as_long_as_wide_is_cut_out_of_its_frame() -> None:
    drawing = make_drawing(11, surface="wood", rows=3, columns=3, width=700, height=700)
    assert photo_within(framed(drawing.pixels, (255, 255, 255), 40, 40, 40, 40)) == (
        40, 40, 740, 740,
    )  # fmt: skip


def test_what_would_be_left_too_small_is_left_whole(tmp_path: Path) -> None:
    drawing = make_drawing(11, surface="wood", rows=1, columns=2, width=900, height=675)
    small = cv2.resize(drawing.pixels, (80, 60), interpolation=cv2.INTER_AREA)
    Image.fromarray(framed(small, (255, 255, 255), 12, 12, 12, 12)).save(tmp_path / "a.png")
    assert open_photo(tmp_path / "a.png").width == 104
