"""Several photos of one bundle: addresses, one scale, squares photographed twice."""

from collections.abc import Sequence
from dataclasses import replace

import numpy as np
import pytest

from colorcore.bundle import Bundle, PhotoRecord, SeenAgain
from colorcore.bundle.joining import join_photos
from colorcore.color.spaces import coded8_from_linear, lab_from_linear, linear_from_coded
from colorcore.swatch import Swatch
from tests.swatch.making import Lab, dots, grain, measured, paint, scattered

CREAM, NAVY = (88.0, 0.0, 8.0), (25.0, 8.0, -25.0)
RED, GREEN = (45.0, 50.0, 25.0), (60.0, -30.0, 20.0)
PLAIN = np.zeros((300, 300), np.int64)


def record(name: str, reference: str = "paper", trust: str = "B") -> PhotoRecord:
    return PhotoRecord(name, "", 4000, 3000, reference, trust, "")


def cloths() -> list[np.ndarray]:
    """Three unlike prints, two solids, a fine print that repeats."""
    return [
        paint(scattered(1, 1.5), CREAM, NAVY, RED), paint(PLAIN, GREEN),
        paint(scattered(2, 2.5, 30), RED, CREAM, NAVY), paint(PLAIN, NAVY),
        paint(scattered(3, 1.0, 150), GREEN, RED, CREAM), paint(dots(0.6, 0.2), CREAM, RED),
    ]  # fmt: skip


def photographed(
    pictures: Sequence[np.ndarray],
    columns: int,
    seed: int,
    gain: Sequence[float] = (1, 1, 1),
    turns: int = 0,
) -> list[Swatch]:
    """Squares laid in rows of ``columns``, each a little misplaced; the whole photo turned."""
    rng = np.random.default_rng(seed)
    squares = []
    rows = -(-len(pictures) // columns)
    for i, picture in enumerate(pictures):
        shift = rng.integers(-3, 4, 2)
        moved = np.roll(np.rot90(picture, turns), shift, axis=(0, 1))
        dim = coded8_from_linear(linear_from_coded(moved) * np.array(gain, dtype=np.float32))
        row, column = divmod(i, columns)
        height, width = rows, columns
        for _ in range(turns):
            row, column = width - 1 - column, row
            height, width = width, height
        squares.append(measured(grain(dim, seed + i), place=(row, column)))
    return squares


def test_one_photo_stays_as_it_is() -> None:
    squares = photographed(cloths()[:2], 2, 0)
    kept, photos, _ = join_photos([squares], [record("a.jpg")])
    assert [s.id for s in kept] == ["A1", "A2"]
    assert photos == (record("a.jpg"),)


def test_photos_of_different_squares_get_addresses_of_their_own() -> None:
    first, second = photographed(cloths()[:2], 2, 0), photographed(cloths()[2:4], 2, 9)
    kept, photos, _ = join_photos([first, second], [record("a.jpg"), record("b.jpg")])
    assert [s.id for s in kept] == ["1-A1", "1-A2", "2-A1", "2-A2"]
    assert [s.photo for s in kept] == [0, 0, 1, 1]
    assert not any(p.notes for p in photos)


@pytest.mark.parametrize("turns", [0, 1, 2, 3])
def test_squares_photographed_twice_are_counted_once(turns: int) -> None:
    # Six squares in two rows; the second photo shows them all again, and one more.
    more = paint(scattered(9, 1.3), NAVY, GREEN, CREAM)
    first = photographed(cloths(), 3, 0)
    second = photographed(
        [*cloths(), more, paint(PLAIN, RED), paint(PLAIN, CREAM)], 3, 50, turns=turns
    )
    kept, photos, _ = join_photos([first, second], [record("a.jpg"), record("b.jpg")])
    assert len(kept) == 9
    assert [s.id for s in kept[:6]] == [f"1-{s.id}" for s in first]
    assert any("counted once" in note for note in photos[1].notes)
    # Nothing is wrong with it.
    assert photos[1].warnings == ()
    assert all(s.photo == 1 for s in kept[6:])


def test_what_is_one_with_a_third_is_one_with_each_other() -> None:
    pictures = cloths()[:1]
    photos = [photographed(pictures, 1, seed) for seed in (0, 5, 9)]
    records = [record("a.jpg"), record("b.jpg"), record("c.jpg", "chart", "A")]
    kept, noted, again = join_photos(photos, records)
    assert [s.id for s in kept] == ["3-A1"]
    assert "1-A1 is 3-A1" in noted[0].notes[0]
    assert "2-A1 is 3-A1" in noted[1].notes[0]
    assert noted[2].notes == ()
    corners = [photo[0].corners for photo in photos]
    assert again == (
        SeenAgain("3-A1", "1-A1", 0, 0, 0, corners[0]),
        SeenAgain("3-A1", "2-A1", 1, 0, 0, corners[1]),
    )
    bundle = Bundle(kept, noted, seen_again=again)
    assert bundle.counted == {"1-A1": "3-A1", "2-A1": "3-A1"}
    assert bundle.same_squares == (("3-A1", "1-A1", "2-A1"),)


def test_a_copy_cut_elsewhere_is_a_square_of_its_own() -> None:
    whole = np.tile(paint(scattered(5, 1.2, 120), CREAM, RED, GREEN), (2, 2, 1))
    first = photographed([whole[:300, :300]], 1, 0)
    second = photographed([whole[60:360, 90:390]], 1, 1)
    kept, _, _ = join_photos([first, second], [record("a.jpg"), record("b.jpg")])
    assert len(kept) == 2


def test_solids_and_fine_prints_alone_prove_nothing() -> None:
    pictures = [paint(PLAIN, GREEN), paint(dots(0.6, 0.2), CREAM, RED)]
    kept, _, _ = join_photos(
        [photographed(pictures, 2, 0), photographed(pictures, 2, 1)],
        [record("a.jpg"), record("b.jpg")],
    )
    assert len(kept) == 4


def test_a_photo_without_reference_takes_the_scale_of_one_that_has_one() -> None:
    gain = (0.7, 0.6, 0.45)
    first = photographed(cloths(), 2, 0)
    extra = paint(scattered(9, 1.3), NAVY, GREEN, CREAM)
    second = photographed([*cloths()[2:], extra], 2, 50, gain)
    second = [replace(s, flags=(*s.flags, "no-reference")) for s in second]
    kept, photos, _ = join_photos([first, second], [record("a.jpg"), record("b.jpg", "none", "D")])
    new = [s for s in kept if s.photo == 1]
    assert len(new) == 1
    truth = measured(extra)
    assert np.linalg.norm(np.subtract(new[0].lab, truth.lab)) < 1.5
    shown = lab_from_linear(linear_from_coded(new[0].picture)[8:-8, 8:-8].mean(axis=(0, 1)))
    assert np.linalg.norm(np.asarray(shown) - truth.lab) < 2.5
    assert "no-reference" not in new[0].flags
    assert photos[1].reference == "photo 1"
    assert photos[1].trust == "B"
    assert photos[1].trust_words


def test_of_two_the_one_with_less_doubt_stays() -> None:
    first, second = photographed(cloths()[:1], 1, 0), photographed(cloths()[:1], 1, 1)
    first = [replace(s, lab_sd=(2.0, 1.0, 1.0)) for s in first]
    kept, _, _ = join_photos([first, second], [record("a.jpg"), record("b.jpg")])
    assert [s.id for s in kept] == ["2-A1"]


def test_photos_that_share_nothing_and_have_no_reference_stay_untied() -> None:
    lab: Lab = (60.0, -30.0, 20.0)
    kept, photos, _ = join_photos(
        [[measured(paint(PLAIN, lab))], [measured(paint(PLAIN, NAVY))]],
        [record("a.jpg", "none", "D"), record("b.jpg", "none", "D")],
    )
    assert len(kept) == 2
    assert [p.reference for p in photos] == ["none", "none"]
