"""The squares' side beside a sheet of white paper."""

from pathlib import Path

import cv2
import numpy as np
import pytest
from numpy.typing import NDArray

from colorcore.light import Reference
from colorcore.light.scale import other_precut, side_beside_paper
from colorcore.measuring import measure_photo
from colorcore.photo import open_photo
from tests.scenes import make_scene, save_scene

SIZE = (1200, 900)
# A table seen aslant, 30 pixels to the inch in its middle.
ASLANT = np.array([[30.0, 3.0, 60.0], [-2.0, 31.0, 80.0], [4e-4, 1e-3, 1.0]])


def seen(x: float, y: float, width: float, height: float, turn: float = 0.0) -> NDArray[np.float64]:
    """A rectangle on the table, in inches, as it lies in the picture."""
    corners = np.array([[0, 0], [width, 0], [width, height], [0, height]])
    c, s = np.cos(np.radians(turn)), np.sin(np.radians(turn))
    flat = corners @ np.array([[c, s], [-s, c]]) + (x, y)
    return cv2.perspectiveTransform(flat[None].astype(np.float64), ASLANT)[0]


def side(sheet: NDArray[np.float64], inches: float, kind: str = "paper") -> float | None:
    step = inches * 1.1
    squares = [seen(c * step, r * step, inches, inches, 1.0) for r in range(2) for c in range(3)]
    return side_beside_paper([Reference(kind=kind, outline=sheet)], squares, SIZE)


@pytest.mark.parametrize("inches", [2.5, 5.0, 8.0])
@pytest.mark.parametrize("sheet", [(8.5, 11.0), (11.69, 8.27)])
def test_a_sheet_tells_the_side_from_any_angle(inches: float, sheet: tuple[float, float]) -> None:
    assert side(seen(26, 2, *sheet, 7.0), inches) == pytest.approx(inches, rel=0.03)


@pytest.mark.parametrize("sheet", [(8.5, 5.5), (8.5, 8.5), (4.0, 10.0)])
def test_other_papers_tell_nothing(sheet: tuple[float, float]) -> None:
    assert side(seen(26, 2, *sheet), 5.0) is None


def test_nor_does_a_sheet_that_the_picture_cuts_off_or_a_card() -> None:
    sheet = seen(26, 2, 8.5, 11.0)
    assert side(sheet - (0, sheet[:, 1].min()), 5.0) is None
    assert side(sheet, 5.0, "grey card") is None
    assert side_beside_paper([Reference(kind="paper", outline=sheet)], [], SIZE) is None


@pytest.mark.parametrize(
    ("found", "nominal", "other"),
    [
        (4.7, 10.0, 5.0),
        (2.4, 10.0, 2.5),
        (10.5, 5.0, 10.0),
        (9.2, 10.0, None),
        (4.7, 5.0, None),
        # Half a sheet, or one of twice the size, makes tens of 14 or 7 in.
        (14.1, 10.0, None),
        (7.1, 10.0, None),
        (5.2, 6.0, None),
    ],
)
def test_only_another_precut_is_named(found: float, nominal: float, other: float | None) -> None:
    assert other_precut(found, nominal) == other


def test_fives_that_are_taken_for_tens_are_told(tmp_path: Path) -> None:
    save_scene(make_scene("precuts_5", 4200, tone="phone", megapixels=2.0), tmp_path / "fives.jpg")
    photo = open_photo(tmp_path / "fives.jpg")
    (told,) = [w for w in measure_photo(photo, alone=True).record.warnings if "paper, taken" in w]
    assert "the squares look 5 in wide, not 10 in; if they are, measure again" in told
    right = measure_photo(photo, square_inches=5.0, alone=True).record
    assert not any("paper, taken" in words for words in right.warnings)
