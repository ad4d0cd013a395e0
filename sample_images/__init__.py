"""Pictures to try the tool with: two invented bundles, rendered from spectra, with their truth.

No photograph is among them. Beside each picture lies a JSON file with everything true of it.
"""

from pathlib import Path

NAMES: tuple[str, ...] = (
    "ferrymoor-on-wood.jpg",
    "ferrymoor-touching.jpg",
    "ferrymoor-on-mat.jpg",
    "kettlebarrow-on-board.heic",
)


def sample_paths() -> tuple[Path, ...]:
    """Return where the pictures lie; the first shows a full bundle with white paper."""
    folder = Path(__file__).parent
    return tuple(folder / name for name in NAMES)


def truth_path(picture: Path) -> Path:
    """Return where the truth of a picture lies."""
    return picture.with_suffix(".json")
