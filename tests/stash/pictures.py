"""Photos for the stash, drawn in linear light with known colours: cloth, paper and thread on a
table under a light that falls off to one side."""

from dataclasses import dataclass, field

import cv2
import numpy as np
from numpy.typing import NDArray

from colorcore.color.spaces import coded8_from_linear, linear_from_lab

Lab = tuple[float, float, float]
WHITE_PAPER: Lab = (95.15, 0.0, 0.0)
"""Reflectance 0.88."""


@dataclass
class Table:
    """A picture in the making: ``light`` across it from left to right, ``tint`` of the lamp."""

    width: int = 900
    height: int = 675
    color: Lab = (48.0, 12.0, 24.0)
    fall: tuple[float, float] = (1.0, 0.8)
    tint: Lab = (1.0, 1.0, 1.0)
    exposure: float = 0.85
    seed: int = 3
    linear: NDArray[np.float64] = field(init=False, repr=False)

    def __post_init__(self) -> None:
        rng = np.random.default_rng(self.seed)
        grain = cv2.GaussianBlur(rng.normal(0, 1, (self.height, self.width)), (0, 0), 6, sigmaY=1)
        lab = np.full((self.height, self.width, 3), self.color, dtype=np.float64)
        lab[..., 0] += 14 * grain
        self.linear = np.asarray(linear_from_lab(lab))

    def lay(
        self, box: tuple[int, int, int, int], color: Lab, *, dots: Lab | None = None,
        step: int = 24, turn: float = 0.0,
    ) -> "Table":  # fmt: skip
        """Lay a piece of cloth into a box (x0, y0, x1, y1), with dots of a second colour."""
        x0, y0, x1, y1 = box
        height, width = y1 - y0, x1 - x0
        cloth = np.broadcast_to(linear_from_lab(np.array(color)), (height, width, 3)).copy()
        if dots is not None:
            y, x = np.mgrid[0:height, 0:width]
            inside = ((x % step) - step / 2) ** 2 + ((y % step) - step / 2) ** 2 < (step / 4) ** 2
            cloth[inside] = linear_from_lab(np.array(dots))
        rng = np.random.default_rng(self.seed + x0)
        cloth *= 1 + rng.normal(0, 0.02, (height, width, 1))
        outline = np.array([[x0, y0], [x1, y0], [x1, y1], [x0, y1]], dtype=np.float32)
        middle = outline.mean(axis=0)
        spin = cv2.getRotationMatrix2D((float(middle[0]), float(middle[1])), turn, 1.0)
        moved = cv2.transform(outline[None], spin)[0].astype(np.float32)
        source = np.array([[0, 0], [width, 0], [width, height], [0, height]], dtype=np.float32)
        matrix = cv2.getPerspectiveTransform(source, moved)
        size = (self.width, self.height)
        laid = cv2.warpPerspective(cloth, matrix, size)
        mask = cv2.warpPerspective(np.ones((height, width)), matrix, size)[..., None]
        self.linear = laid + self.linear * (1 - mask)
        return self

    def stack(
        self, box: tuple[int, int, int, int], colors: list[Lab], *, upright: bool = False
    ) -> "Table":
        """Lay a stack of folded cloth, seen from its folds: each rounded, with a dark gap."""
        x0, y0, x1, y1 = box
        ends = np.linspace(x0 if upright else y0, x1 if upright else y1, len(colors) + 1)
        for color, start, stop in zip(
            colors, ends[:-1].astype(int), ends[1:].astype(int), strict=True
        ):
            place = (start, y0, stop, y1) if upright else (x0, start, x1, stop)
            self.lay(place, color)
            around = np.clip(1 - np.linspace(-1, 1, stop - start) ** 6, 0.15, 1)
            rows, columns = slice(place[1], place[3]), slice(place[0], place[2])
            shade = around[None, :, None] if upright else around[:, None, None]
            self.linear[rows, columns] *= shade
        return self

    def wind(self, box: tuple[int, int, int, int], color: Lab) -> "Table":
        """Lay a spool of thread: wound thread shaded like a cylinder, wooden ends."""
        x0, y0, x1, y1 = box
        end = (y1 - y0) // 6
        self.lay((x0 - end, y0, x1 + end, y0 + end), (75.0, 8.0, 26.0))
        self.lay((x0 - end, y1 - end, x1 + end, y1), (75.0, 8.0, 26.0))
        self.lay((x0, y0 + end, x1, y1 - end), color)
        across = np.linspace(-0.97, 0.97, x1 - x0)
        self.linear[y0 + end : y1 - end, x0:x1] *= np.sqrt(1 - across**2)[None, :, None]
        return self

    def paper(self, x: int, y: int, per_inch: float = 30.0) -> "Table":
        """Lay a sheet of white letter paper with its top left at (x, y)."""
        return self.lay((x, y, x + round(8.5 * per_inch), y + round(11 * per_inch)), WHITE_PAPER)

    def photograph(self) -> NDArray[np.uint8]:
        """Return the picture (h, w, 3), sRGB-coded."""
        light = np.linspace(*self.fall, self.width)[None, :, None] * np.array(self.tint)
        rng = np.random.default_rng(self.seed + 1)
        seen = cv2.GaussianBlur(self.linear * light * self.exposure, (0, 0), 0.8)
        return coded8_from_linear(np.clip(seen + rng.normal(0, 0.002, seen.shape), 0, 1))
