"""What the browser's camera shows: a rendered table, as a film of one picture."""

from pathlib import Path

import cv2

from tests.scenes import make_scene

ROWS, COLUMNS = 4, 5


def write_film(path: Path) -> None:
    """Write a film (.mjpeg): JPEG frames after each other are Motion JPEG."""
    scene = make_scene(
        "gaps_board", 7, megapixels=2.0, rows=ROWS, columns=COLUMNS, missing=0.0, bundle=3
    )
    small = cv2.resize(scene.pixels, (1280, 960), interpolation=cv2.INTER_AREA)
    _, frame = cv2.imencode(".jpg", small[..., ::-1], [cv2.IMWRITE_JPEG_QUALITY, 95])
    path.write_bytes(frame.tobytes() * 5)
