"""Find the sheet of white paper and the grey card."""

from dataclasses import dataclass
from typing import Any, Final

import numpy as np
from numpy.typing import NDArray

from colorcore.color.spaces import LUMINANCE
from colorcore.errors import ColorError
from colorcore.finding.model import Finding
from colorcore.geometry import areas
from colorcore.light.places import outlines_of
from colorcore.light.sampling import (
    SmallPicture,
    polygon_mask,
    read_cells,
    squares_mask,
    window_round,
)

Array = NDArray[np.float64]

# Measured on rendered scenes with noise and JPEG (40 sheets, 30 cards, 2,700 squares of cloth).
_PLAIN_SD: Final = 0.035
"""Roughness (log light within a cell) of what counts as plain: sheets reach 0.011, cards 0.021;
phones' noise in a dim room is up to twice that."""
_MOST_NOISE: Final = 1.5
"""Photons' noise is the root of their number: a grey card, five times as dark as paper, shows
twice the paper's. Half of that is allowed for, lest a dark cloth's weave pass."""
_NO_WEAVE: Final = 0.015
"""Roughness that cloth hardly ever falls below (2 squares in 100) and paper never rises above."""
_GREY_STEP: Final = (0.55, 2.3)
"""A grey card lies ln(0.88 / 0.18) = 1.6 below the paper; light that falls off by half over the
table moves that by 0.7 either way, and so does a phone's curve downward (0.60 to 2.06 seen)."""
_SAME_TINT: Final = 0.28
"""Log tint between card and paper: 0.26 was the most, under window and lamp."""
_CARD_TINT: Final = 0.12
"""The same for a card that finding passed over, where cloth is about as likely: 9 of 10 pass."""
_SAME_CARD: Final = 0.4
"""Log light by which two cards of one kind may differ, by where they lie."""
_LEAST_FILLED: Final = 0.5
"""Share of what passed for a square that a sheet fills: less is a part of its print."""
SHEET_ASPECT: Final = (1.2, 1.75)
"""Longer to shorter side: letter paper has 1.29, A sizes 1.41 (ISO 216), legal paper 1.65; tilt
moves that by a tenth."""
_TELLING: Final = 0.02
"""Share of a sheet's pixels that may be full in a channel before its mean is too dark there."""
_LEAST_REGION: Final = 0.0007
"""Share of the picture that a region must cover to be looked at: 18 small pixels a side, of which
the 5-pixel filters leave 10."""
_LEAST_OF_SQUARE: Final = 0.05
"""Share of a square's area that paper must cover to be taken for a reference unasked: a visiting
card is 7 square inches, 0.07 of a 10-inch square. What is smaller is a stain, label or shine."""
_LEAST_CARD: Final = 0.08
"""Least size of a grey card as a share of the paper's: a playing card (8.75 square inches) to a
letter sheet (93.5) is 0.09."""
_MOST_CARD: Final = 2.5
"""Most of it: a letter-sized card beside half a sheet is 2."""
_LOST: Final = 0.95
"""Share of a sheet that is full where nothing tells any more how light it is."""
_ALSO_PAPER: Final = 0.15
"""Log light under the limit within which a sheet beside one that is lost is paper as well: a grey
card comes nearer only where paper is four times over the limit."""
_WITHIN: Final = 0.85
_AROUND: Final = (1.12, 1.35)
"""What a sheet shows and what lies around it, in its own size: clear of its edge and shadow."""
_FEWEST_AROUND: Final = 20
_STANDS_OUT: Final = 0.1
"""Log light, in the channel that tells most, between a card and what lies around it: 0.31 and more
of 17 cards on thirteen tables, 0.01 where a dark corner of the table was taken for one."""
_CARD_STEP: Final = 0.85
"""Log light by which squares outshine what can only be a grey card. Light prints lie 1.4 above it;
a patch of sun lifts squares over paper by less than 0.85 as a rule."""


@dataclass(frozen=True, eq=False)
class Sheet:
    """A plain region: ``outline`` (K, 2) in picture pixels, ``level`` log luminance, ``tint`` (2,)
    log R/G and B/G, ``roughness`` median within-cell sd, ``share`` of the picture, ``full`` (3,)
    share of its pixels that are at the upper end of the camera's scale, by channel."""

    outline: Array
    level: float
    tint: Array
    roughness: float
    share: float
    full: Array


def look_at(small: SmallPicture, outline: NDArray[np.floating[Any]]) -> Sheet | None:
    """Measure a region; None if it is too small to be used."""
    whole = small.linear[..., 0].size
    small, corner = window_round(small, outline)
    mask = polygon_mask(small, outline - corner, inset=2.0)
    count = int(np.count_nonzero(mask))
    if count < 30:
        return None
    full = np.asarray(small.full[mask].mean(axis=0), dtype=np.float64)
    side = max(4, round(np.sqrt(count) / 5))
    cells = read_cells(small, mask, cell=side, least=8, clipped=True)
    share = count / whole
    if not len(cells):
        values = small.linear[mask]
        mean = np.maximum(values.mean(axis=0), 1e-4).astype(np.float64)
        roughness = 0.0
    else:
        mean = np.maximum(np.median(cells.linear, axis=0), 1e-4)
        roughness = float(np.median(cells.sd))
    log = np.log(mean)
    tint = np.array([log[0] - log[1], log[2] - log[1]])
    level = float(np.log(mean @ LUMINANCE))
    return Sheet(np.asarray(outline, np.float64), level, tint, roughness, share, full)


def sheets_of(
    small: SmallPicture, finding: Finding, *, search: bool, least: float | None = None
) -> list[Sheet]:
    """Measure what finding took for paper or card; ``search`` anew if it took nothing, among the
    brightest of the picture or from a ``least`` log luminance on."""
    outlines = [t.outline for t in finding.things if t.kind == "sheet"]
    seen = [s for s in (look_at(small, o) for o in outlines) if s]
    lightest = max((s.level for s in seen), default=0.0)
    sheets = [s for s in seen if is_plain(s, dimmer=lightest - s.level)]
    if search and not sheets:
        levels = None if least is None else (least, np.inf)
        found = (look_at(small, o) for o in plain_regions(small, finding, levels=levels))
        smallest = _LEAST_OF_SQUARE * _square_share(small, finding)
        sheets = [s for s in found if s and is_plain(s) and s.share > smallest]
    return sheets


def _square_share(small: SmallPicture, finding: Finding) -> float:
    """Share of the picture that the usual square covers; 0 without squares."""
    outlines = outlines_of(finding)
    if not len(outlines):
        return 0.0
    return float(np.median(areas(outlines)) / (small.size[0] * small.size[1]))


def is_plain(sheet: Sheet, *, dimmer: float = 0.0) -> bool:
    """Whether a region is flat, and neutral under some plausible light and white balance; as flat
    as noise allows where it sends less light to the camera by a factor of exp(``dimmer``).

    Lamps and daylight run from orange to blue: red and blue part in opposite directions, and a
    camera set for daylight shows paper by candle light a fifteenth as blue as red. Paper that
    differs from green in both the same way is pink or green paper.
    """
    red, blue = sheet.tint
    along, across = (red - blue) / 2, (red + blue) / 2
    # Towards candle light the locus of lamps bends: blue goes, red stays.
    lowest = -0.35 - 0.75 * max(along, 0.0)
    noise = min(float(np.exp(dimmer / 2)), _MOST_NOISE)
    return sheet.roughness < _PLAIN_SD * noise and abs(along) < 1.6 and lowest < across < 0.45


def is_woven_square(sheet: Sheet) -> bool:
    """Whether a plain region is a square of cloth rather than paper or card: with a weave, for
    which noise in a dim room may pass, and as long as wide, which no sheet of paper and hardly a
    card is."""
    import cv2

    _, sides, _ = cv2.minAreaRect(sheet.outline.astype(np.float32))
    is_square = max(sides) < SHEET_ASPECT[0] * min(sides)
    return is_square and sheet.roughness >= _NO_WEAVE


def is_lost(sheet: Sheet) -> bool:
    """Whether a sheet is so far at the camera's limit that nothing tells how much light it had."""
    return bool(sheet.full[1] > _LOST)


def pick_paper(sheets: list[Sheet], brightest: float) -> tuple[list[Sheet], list[Sheet]]:
    """Part sheets into papers and grey cards.

    ``brightest`` is the log luminance of the lightest squares. The lightest sheet is paper, unless
    squares are so much lighter that it can only be the grey card.
    """
    if not sheets:
        return [], []
    top = max(s.level for s in sheets)
    if brightest - top > _CARD_STEP:
        return [], [s for s in sheets if abs(s.level - top) < _SAME_CARD]
    papers = [s for s in sheets if top - s.level < 0.45]
    if any(is_lost(s) for s in papers):
        # Farther under the limit it may as well be a grey card.
        papers = [s for s in papers if is_lost(s) or top - s.level < _ALSO_PAPER]
    least = _LEAST_CARD * max(s.share for s in papers)
    lightest = max(papers, key=lambda s: s.level)
    grey = [
        s
        for s in sheets
        if _GREY_STEP[0] < top - s.level < _GREY_STEP[1]
        and s.share > least
        and _tint_apart(s, lightest) < _SAME_TINT
    ]
    if grey and (lightest.full < _TELLING).all():
        # Of several, the one of the paper's own tint is the card.
        card = min(grey, key=lambda s: _tint_apart(s, lightest))
        grey = [s for s in grey if abs(s.level - card.level) < _SAME_CARD]
    return papers, grey


def _tint_apart(card: Sheet, paper: Sheet) -> float:
    """How far two tints differ, as far as channels tell that are not full."""
    told = np.maximum(paper.full[[0, 2]], paper.full[1]) < _TELLING
    return float(np.abs((card.tint - paper.tint)[told]).max(initial=0.0))


def sheets_among_squares(small: SmallPicture, finding: Finding) -> list[Sheet]:
    """Sheets that finding took for squares: plain, without a weave, and longer than wide."""
    bare = Finding((), (), (), finding.surface, finding.surface_scale)
    sheets = []
    for outline in plain_regions(small, bare, fill=0.85):
        sides = np.linalg.norm(outline[1:3] - outline[0:2], axis=1)
        aspect = float(sides.max() / max(sides.min(), 1e-6))
        sheet = look_at(small, outline)
        if sheet and is_plain(sheet) and sheet.roughness < _NO_WEAVE:
            middle, area = outline.mean(axis=0), float(areas(outline[None])[0])
            is_one = any(
                _within(middle, square.corners)
                and area > _LEAST_FILLED * float(areas(square.corners[None])[0])
                for square in finding.squares
            )
            if is_one and SHEET_ASPECT[0] < aspect < SHEET_ASPECT[1]:
                sheets.append(sheet)
    return sheets


def _within(point: Array, corners: NDArray[np.floating[Any]]) -> bool:
    import cv2

    contour = np.asarray(corners, dtype=np.float32).reshape(-1, 1, 2)
    return cv2.pointPolygonTest(contour, (float(point[0]), float(point[1])), False) > 0


def grey_cards(small: SmallPicture, finding: Finding, paper: Sheet) -> list[Sheet]:
    """Grey cards that finding passed over: plain four-sided regions of the paper's own tint, a
    grey card's step below it, that are neither square nor the table under the squares, and stand
    out from what lies around them."""
    levels = (paper.level - _GREY_STEP[1], paper.level - _GREY_STEP[0])
    regions = plain_regions(small, finding, levels=levels, fill=0.85)
    table = np.asarray(finding.surface, dtype=np.bool_)
    cards = []
    for sheet in (look_at(small, outline) for outline in regions):
        if sheet is None or not is_plain(sheet):
            continue
        if not _LEAST_CARD * paper.share < sheet.share < _MOST_CARD * paper.share:
            continue
        if _tint_apart(sheet, paper) > _CARD_TINT:
            continue
        x, y = np.floor(sheet.outline.mean(axis=0) * finding.surface_scale).astype(int)
        inside = 0 <= y < table.shape[0] and 0 <= x < table.shape[1]
        if not (inside and table[y, x]):
            cards.append(sheet)
    return cards


def stands_out(
    small: SmallPicture, finding: Finding, sheet: Sheet, least: float = _STANDS_OUT
) -> bool:
    """Return whether a sheet has another colour than what lies around it. Where it has not, it may
    be a part of the table that a light falling off, or wear, has parted from the rest."""
    middle = sheet.outline.mean(axis=0)

    def drawn(size: float) -> NDArray[np.bool_]:
        return polygon_mask(small, middle + size * (sheet.outline - middle))

    around = drawn(_AROUND[1]) & ~drawn(_AROUND[0])
    if finding.squares:
        around &= ~squares_mask(small, finding, margin=0.0)
    within = drawn(_WITHIN)
    if min(np.count_nonzero(around), np.count_nonzero(within)) < _FEWEST_AROUND:
        return True
    inner, outer = (
        np.median(np.log(np.maximum(small.linear[part], 1e-4)), axis=0) for part in (within, around)
    )
    return float(np.abs(inner - outer).max()) > least


def plain_regions(
    small: SmallPicture,
    finding: Finding,
    *,
    levels: tuple[float, float] | None = None,
    fill: float = 0.75,
) -> list[Array]:
    """Outlines (4, 2) of plain, compact, four-sided regions that are no squares: the brightest, or
    those whose log luminance lies between two ``levels``. ``fill`` is the least share of its
    upright rectangle that a region covers."""
    import cv2

    luminance = np.asarray(cv2.transform(small.linear, LUMINANCE[None].astype(np.float32)))
    free = np.ones(luminance.shape, bool)
    if finding.squares:
        only_squares = Finding(finding.squares, (), (), finding.surface, finding.surface_scale)
        free = ~squares_mask(small, only_squares, margin=0.0)
    if levels is None:
        values = luminance[::2, ::2][free[::2, ::2]]
        if not values.size:
            return []
        levels = (float(np.log(max(float(np.quantile(values, 0.98)), 1e-3))) - 0.5, np.inf)
    low, high = (float(min(np.exp(level), 1e6)) for level in levels)
    mean = np.asarray(cv2.blur(luminance, (5, 5)))
    square = np.asarray(cv2.sqrBoxFilter(luminance, cv2.CV_32F, (5, 5)))
    # Standard deviation relative to the mean: that of the logarithm, for little.
    flat = square < np.float32(1 + _PLAIN_SD**2) * (mean * mean)
    mask = cv2.inRange(luminance, low, high) & (flat & free).view(np.uint8)
    compact = cv2.morphologyEx(mask, cv2.MORPH_OPEN, np.ones((5, 5), np.uint8))
    # Two levels: a sheet that lies within a plain table's own region counts as well.
    contours, levels_of = cv2.findContours(compact, cv2.RETR_CCOMP, cv2.CHAIN_APPROX_SIMPLE)
    outlines = []
    for contour, (*_, parent) in zip(contours, levels_of[0] if contours else (), strict=True):
        if parent >= 0:
            continue
        area = float(cv2.contourArea(contour))
        if not _LEAST_REGION * mask.size < area < 0.35 * mask.size:
            continue
        box = cv2.boxPoints(cv2.minAreaRect(contour))
        if area > fill * float(cv2.contourArea(box)):
            outlines.append((np.asarray(box, np.float64) + 0.5) / small.scale)
    return outlines


def paper_at(small: SmallPicture, point: tuple[float, float]) -> Sheet:
    """The plain region around a point (x, y) in picture pixels that is said to be white paper.

    Raises
    ------
    ColorError
        If the point lies outside the picture or on nothing plain.
    """
    import cv2

    x, y = point
    width, height = small.size
    if not (0 <= x < width and 0 <= y < height):
        raise ColorError(
            f"the point {x:g},{y:g} for white paper lies outside the picture of {width} x {height} "
            "pixels: give x,y within it"
        )
    column = min(int(x * small.scale), small.linear.shape[1] - 1)
    row = min(int(y * small.scale), small.linear.shape[0] - 1)
    log = cv2.blur(np.log(np.maximum(small.linear, 1e-4)), (3, 3))
    mask = np.zeros((log.shape[0] + 2, log.shape[1] + 2), np.uint8)
    step = (0.03,) * 3
    flags = 8 | cv2.FLOODFILL_MASK_ONLY | (1 << 8)
    # A floating range follows uneven light across the sheet and stops at its edge.
    cv2.floodFill(log.copy(), mask, (column, row), 0, step, step, flags)
    region = mask[1:-1, 1:-1]
    contours, _ = cv2.findContours(region, cv2.RETR_EXTERNAL, cv2.CHAIN_APPROX_SIMPLE)
    contour = max(contours, key=cv2.contourArea) if contours else None
    if contour is None or cv2.contourArea(contour) < 30:
        raise ColorError(
            f"there is nothing plain at {x:g},{y:g}: point to the middle of the white paper"
        )
    sheet = look_at(small, (contour[:, 0, :].astype(np.float64) + 0.5) / small.scale)
    if sheet is None:
        raise ColorError(
            f"the plain spot at {x:g},{y:g} is too small: point to the middle of the white paper"
        )
    return sheet
