"""Squares on a page, as programs make it, are found: few or many, with names and shadows."""

import io

import numpy as np
import pytest
from PIL import Image

from colorcore.finding import find_squares
from colorcore.finding.scene import look
from colorcore.finding.woven import are_woven
from colorcore.measuring import measure_photo
from colorcore.photo import Photo, photo_from_array
from colorcore.photo.opening import photo_from_bytes
from tests.bench.finding import match
from tests.finding.pages import make_page


def as_jpeg(sheet: np.ndarray) -> Photo:
    kept = io.BytesIO()
    Image.fromarray(sheet).save(kept, "JPEG", quality=85)
    return photo_from_bytes(kept.getvalue(), "page.jpg")


def check_found(photo: Photo, quads: np.ndarray) -> None:
    found = np.array([s.corners for s in find_squares(photo).squares]).reshape(-1, 4, 2)
    assert len(match(quads, found)) == len(found) == len(quads)


@pytest.mark.parametrize("seed", [0, 1, 5])
@pytest.mark.parametrize(("columns", "gap", "margin"), [(1, 0, 60), (2, 14, 28), (3, 30, 60)])
def test_few_squares_on_a_page_are_found(columns: int, gap: int, margin: int, seed: int) -> None:
    sheet, quads = make_page(1, columns, gap=gap, margin=margin, seed=seed)
    check_found(as_jpeg(sheet), quads)


@pytest.mark.parametrize("seed", [0, 2])
def test_names_and_shadows_below_squares_make_no_rows_of_them(seed: int) -> None:
    beige = (238, 226, 205)
    sheet, quads = make_page(
        6, 7, gap=40, margin=60, side=240, color=beige, words=48, shadow=10, seed=seed
    )
    check_found(as_jpeg(sheet), quads)


def test_squares_of_two_colors_near_the_edge_of_a_page_are_no_checks_of_it() -> None:
    sheet, quads = make_page(3, 4, gap=30, margin=40, side=160)
    for k, (x, y) in enumerate(quads[:, 0].astype(int)):
        sheet[y : y + 160, x : x + 160] = ((60, 90, 140), (140, 60, 70))[(k + k // 4) % 2]
    photo = photo_from_array(sheet)
    scene = look(photo)
    assert not are_woven(scene, quads * scene.view.scale).any()
    check_found(photo, quads)


def test_squares_of_another_size_are_told() -> None:
    sheet, quads = make_page(4, 5, gap=30, margin=60)
    for x, y in quads[4::5, 0].astype(int):
        sheet[y : y + 110, x : x + 110] = 255
        small, _ = make_page(1, 1, gap=0, margin=0, side=66, seed=int(y))
        sheet[y : y + 66, x : x + 66] = small
    measured = measure_photo(photo_from_array(sheet), alone=True)
    assert len(measured.squares) == 16
    (note,) = (n for n in measured.record.notes if "another size" in n)
    assert note.startswith("4 more outlines")
    whole = measure_photo(photo_from_array(make_page(4, 5, gap=30, margin=60)[0]), alone=True)
    assert not any("another size" in n for n in whole.record.notes)
