"""What the sheets find of the photos that were measured."""

from pathlib import Path

import numpy as np
import pytest
from PIL import Image

from colorcore.bundle import Bundle, PhotoRecord
from colorcore.photo import open_photo
from colorcore.sheets.outputs import find_photos


def test_a_photo_is_found_from_the_folder_of_the_plan(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Measured from one folder, written into another, gone on with from within that one."""
    photo = tmp_path / "photos" / "table.png"
    plans = tmp_path / "out"
    for folder in (photo.parent, plans):
        folder.mkdir()
    Image.fromarray(np.full((80, 120, 3), 120, np.uint8)).save(photo)
    opened = open_photo(photo)
    record = PhotoRecord("photos/table.png", opened.sha256, 120, 80, "none", "D", "")
    bundle = Bundle((), (record,))
    monkeypatch.chdir(plans)
    assert find_photos(bundle) == (None,)
    for place in (".", plans, tmp_path, photo.parent):
        (picture,) = find_photos(bundle, [place])
        assert picture is not None
        assert picture.shape[:2] == (80, 120)
    # Another picture of that name is not the one that was measured.
    Image.fromarray(np.full((80, 120, 3), 90, np.uint8)).save(photo)
    assert find_photos(bundle, [plans]) == (None,)
