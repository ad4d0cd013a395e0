"""Pages of squares as programs make them: upright prints on one colour, with words and shadows."""

import cv2
import numpy as np

from tests.finding.drawn import draw_print

_KINDS = ("solid", "dots", "stripes", "checks", "blotches")


def make_page(
    rows: int,
    columns: int,
    *,
    gap: int,
    margin: int,
    side: int = 110,
    color: tuple[int, int, int] = (255, 255, 255),
    words: int = 0,
    shadow: int = 0,
    seed: int = 2,
) -> tuple[np.ndarray, np.ndarray]:
    """Return a page (H, W, 3) uint8 and the outlines of its squares (N, 4, 2); ``words`` pixels
    below each for its name, ``shadow`` pixels wide the soft shadow below and beside it."""
    high = 2 * margin + rows * (side + words) + (rows - 1) * gap
    wide = 2 * margin + columns * side + (columns - 1) * gap
    corners = [
        (margin + column * (side + gap), margin + row * (side + words + gap))
        for row in range(rows)
        for column in range(columns)
    ]
    page = np.full((high, wide, 3), color, np.float32)
    if shadow:
        shade = np.zeros((high, wide), np.float32)
        for x, y in corners:
            shade[y + shadow // 2 : y + side + shadow // 2, x : x + side] = 1
        page *= 1 - 0.35 * cv2.GaussianBlur(shade, (0, 0), shadow)[..., None]
    sheet = page.astype(np.uint8)
    rng = np.random.default_rng(seed)
    for k, (x, y) in enumerate(corners):
        cloth = draw_print(rng, _KINDS[k % len(_KINDS)], side)
        sheet[y : y + side, x : x + side] = np.minimum(cloth, 235)
        if words:
            place = x, y + side + 2 * words // 3
            font = cv2.FONT_HERSHEY_SIMPLEX
            cv2.putText(sheet, f"No {k + 101}", place, font, words / 45, (40, 40, 40), 1)
    quads = [[[x, y], [x + side, y], [x + side, y + side], [x, y + side]] for x, y in corners]
    return sheet, np.array(quads, float)
