"""A sheet of paper that lies half in a patch of sun, or half in a shadow: two plain parts of one
sheet, as much apart as the table is beside them. The part in the light of most squares serves."""

from dataclasses import replace
from typing import Any, Final

import numpy as np
from numpy.typing import NDArray

from colorcore.color.spaces import LUMINANCE
from colorcore.finding.model import Finding
from colorcore.light.local import LocalLight
from colorcore.light.paper import SHEET_ASPECT, Sheet, is_plain, look_at, stands_out
from colorcore.light.sampling import SmallPicture, polygon_mask, squares_mask
from colorcore.light.sharpened import LIGHTNESS

Array = NDArray[np.float64]
FloatArray = NDArray[np.floating[Any]]

_BELOW: Final = 0.5
"""Log light below the lightest squares at which paper in their light may lie."""
_LEAST_AREA: Final = 300
"""Small pixels that a sheet covers."""
_RIM: Final = 2.0
_FILLED: Final = 0.88
"""Share of its rectangle that a sheet fills."""
_LEAST_PART: Final = 0.12
"""Share of the sheet that each part covers."""
_SAME_STEP: Final = 0.3
"""Log light by which the step across the sheet may differ from that across the table, which is of
another tint and may be rough."""
_SAME_TINT: Final = 0.35
"""Log tint between the parts: the sun is not as blue as what the sky lights."""
_EDGE: Final = 5
"""Small pixels about the edge of the light that belong to neither part."""


def half_lit_sheets(
    small: SmallPicture, finding: Finding, local: LocalLight, brightest: float
) -> list[Sheet]:
    """Return, of sheets that an edge of light parts, the parts in the light of most squares, of
    which the lightest have a log luminance ``brightest``."""
    import cv2

    if not local.stepped.any():
        return []
    step = float(np.median(local.unexplained[local.stepped] @ LIGHTNESS))
    seen = np.asarray(cv2.transform(small.linear, LUMINANCE[None].astype(np.float32)))
    log = np.log(np.maximum(seen, 1e-4))
    only_squares = Finding(finding.squares, (), (), finding.surface, finding.surface_scale)
    light = log > brightest - _BELOW + min(step, 0.0)
    light &= ~squares_mask(small, only_squares, margin=_RIM)
    mask = cv2.morphologyEx(light.view(np.uint8), cv2.MORPH_OPEN, np.ones((5, 5), np.uint8))
    contours, _ = cv2.findContours(mask, cv2.RETR_EXTERNAL, cv2.CHAIN_APPROX_SIMPLE)
    found = []
    for contour in contours:
        if cv2.contourArea(contour) < _LEAST_AREA:
            continue
        middle, sides, turn = cv2.minAreaRect(contour)
        aspect = max(sides) / max(min(sides), 1.0)
        filled = cv2.contourArea(contour) > _FILLED * sides[0] * sides[1]
        if not (filled and SHEET_ASPECT[0] < aspect < SHEET_ASPECT[1]):
            continue
        box = (np.asarray(cv2.boxPoints((middle, sides, turn)), np.float64) + 0.5) / small.scale
        parts = _parts(small, log, box)
        if len(parts) == 2 and _same_sheet(parts[0], parts[1], step):
            part = min(parts, key=lambda p: p.level * np.sign(step))
            if stands_out(small, finding, replace(part, outline=box)):
                found.append(part)
    return found


def _parts(small: SmallPicture, log: FloatArray, outline: Array) -> list[Sheet]:
    """The darker and the lighter part of what an outline (K, 2) holds, if each is plain."""
    import cv2

    whole = polygon_mask(small, outline, inset=2.0)
    values = log[whole]
    level = _between(values)
    kernel = np.ones((_EDGE, _EDGE), np.uint8)
    parts = []
    for part in (whole & (log < level), whole & (log >= level)):
        inner = cv2.erode(part.view(np.uint8), kernel)
        contours, _ = cv2.findContours(inner, cv2.RETR_EXTERNAL, cv2.CHAIN_APPROX_SIMPLE)
        if not contours:
            continue
        largest = max(contours, key=cv2.contourArea)
        if len(largest) < 3 or cv2.contourArea(largest) < _LEAST_PART * np.count_nonzero(whole):
            continue
        sheet = look_at(small, (np.asarray(largest[:, 0], np.float64) + 0.5) / small.scale)
        if sheet and is_plain(sheet):
            parts.append(sheet)
    return parts


def _between(values: FloatArray) -> float:
    """The value that parts values (N,) best into two groups.

    Source: Otsu (1979), A threshold selection method from gray-level histograms, IEEE Transactions
    on Systems, Man, and Cybernetics 9, 62-66, equation 18 (greatest variance between the groups).
    """
    count, edges = np.histogram(values, 64)
    middles = (edges[:-1] + edges[1:]) / 2
    share = np.cumsum(count) / max(count.sum(), 1)
    mean = np.cumsum(count * middles) / max(count.sum(), 1)
    apart = (mean[-1] * share - mean) ** 2 / np.maximum(share * (1 - share), 1e-9)
    return float(edges[1 + int(np.argmax(apart))])


def _same_sheet(one: Sheet, other: Sheet, step: float) -> bool:
    tint = float(np.abs(one.tint - other.tint).max())
    return tint < _SAME_TINT and abs(abs(other.level - one.level) - abs(step)) < _SAME_STEP
