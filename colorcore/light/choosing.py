"""Which references a photo has: set by hand, pointed at, or found."""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from colorcore.color.charts import chart_linear
from colorcore.color.spaces import LUMINANCE
from colorcore.errors import ColorError
from colorcore.finding.model import Finding
from colorcore.geometry import reaches_far
from colorcore.light.cards import is_card
from colorcore.light.chart import ReadChart, find_chart, read_chart
from colorcore.light.gathering import square_means
from colorcore.light.local import LocalLight
from colorcore.light.model import Reference
from colorcore.light.overexposed import excess_sd
from colorcore.light.paper import (
    Sheet,
    grey_cards,
    is_lost,
    look_at,
    paper_at,
    pick_paper,
    sheets_among_squares,
    sheets_of,
    stands_out,
)
from colorcore.light.places import box_round, outlines_of
from colorcore.light.sampling import SmallPicture, polygon_mask
from colorcore.photo import Photo

Array = NDArray[np.float64]

_LEAST_LIGHT: Final = 1e-4
_AS_LIGHT: Final = 0.3
_NEARLY_AS_LIGHT: Final = 0.5
"""Log light below the lightest squares from which a sheet must stand out from what lies around it;
a patch of sun on squares makes up to 0.56 of it (three scenes)."""
_LONGEST: Final = 3.0
"""Length over width of a sheet, legal paper having 1.65: what covers it may take half."""
_AT_EDGE: Final = 0.004
"""Share of the picture's longer side within which a sheet runs out of it."""
_MOST_SHEETS: Final = 4
_MORE_TINTED: Final = 0.4
"""Log tint by which a plain region may exceed the lightest squares: light tints both, a plank of
wood beside white cloth is tinted by itself."""
_FULL_SHARE: Final = 0.02
_FULL_SD: Final = (0.015, 0.05)
_ALL_FULL_SD: Final = 0.12
_MOSTLY_FULL: Final = 0.5
_AND: Final = " and "


@dataclass(frozen=True, eq=False)
class Chosen:
    """References in use, and those that are full in a channel, which can no more than help to
    tell the tone curve; ``charts`` as read; ``clipping`` (3, 3) covariance of the log level that
    overexposed ones leave open; ``lost`` whether no reference tells how much light there was;
    ``notes`` say so."""

    references: tuple[Reference, ...]
    full: tuple[Reference, ...]
    charts: tuple[ReadChart, ...]
    clipping: Array
    lost: bool
    notes: tuple[str, ...]


def choose_references(
    photo: Photo,
    small: SmallPicture,
    finding: Finding,
    white: tuple[float, float] | None,
    by_hand: Sequence[Reference],
    *,
    local: LocalLight | None = None,
) -> Chosen:
    """Return the references of a photo: those set by hand, else those found; where light with edges
    is known, ``local``, only what lies outside of it is found, and told by squares that do.

    Raises
    ------
    ColorError
        If one set by hand is too small or outside the picture.
    """
    seen: list[tuple[Reference, Sheet]] = []
    charts: list[ReadChart] = []
    squares = outlines_of(finding)
    if local is not None:
        squares = squares[[not local.flags(corners) for corners in squares]]
    for reference in by_hand:
        far = reaches_far(reference.outline, photo.width, photo.height)
        if reference.kind == "chart" and not far:
            charts.append(_chart_by_hand(photo, reference))
            continue
        sheet = None if far else look_at(small, reference.outline)
        if sheet is None:
            raise ColorError(
                f"the {reference.kind} set by hand is too small or outside the picture: "
                "outline it again"
            )
        seen.append((reference, sheet))
    if white is not None:
        sheet = paper_at(small, white)
        seen.append((Reference(kind="paper", outline=sheet.outline), sheet))
    if not by_hand:
        charts = _charts_found(photo, small, finding)
        taken = np.zeros(small.linear.shape[:2], bool)
        for outline in [c.outline for c in charts] + [r.outline for r, _ in seen]:
            taken |= polygon_mask(small, outline)
        pointed = [sheet for _, sheet in seen]
        search = not (charts or pointed)
        brightest = brightest_square(small, squares)
        least = None if local is None else brightest - _NEARLY_AS_LIGHT
        sheets = sheets_of(small, finding, search=search, least=least)
        sheets = [s for s in sheets if not _lies_in(small, s, taken)]
        if local is not None:
            sheets = [s for s in sheets if not local.flags(box_round(s.outline))]
        sheets = [s for s in sheets if _could_be_sheet(small, finding, s, brightest)]
        papers, greys = pick_paper([*pointed, *sheets], brightest)
        greys = [s for s in greys if is_card(photo, small, finding, s)]
        if search and not any(thing.kind == "sheet" for thing in finding.things):
            # A plain region that nobody called a sheet is one only if it is as light as paper.
            usual = _tint_of_lightest(small, squares) + _MORE_TINTED
            papers = [
                s
                for s in papers
                if brightest - s.level < _AS_LIGHT and float(np.linalg.norm(s.tint)) < usual
            ]
            # So many alike are the tiles of a floor, or panes.
            papers = papers if len(papers) <= _MOST_SHEETS else []
            greys = greys if papers else []
            papers = papers or sheets_among_squares(small, finding)
            papers = [s for s in papers if stands_out(small, finding, s)]
        white_sheets = [*pointed, *papers]
        if white_sheets and not (greys or charts or photo.scene_linear):
            lightest = max(white_sheets, key=lambda s: s.level)
            cards = grey_cards(small, finding, lightest)
            cards = [s for s in cards if not _lies_in(small, s, taken)]
            greys = [s for s in cards if is_card(photo, small, finding, s)]
        if pointed:
            papers = []
        for kind, group in (("paper", papers), ("grey card", greys)):
            for sheet in group:
                if not any(sheet is other for other in pointed):
                    seen.append((Reference(kind=kind, outline=sheet.outline, found=True), sheet))
    # What is full in a channel is no white there: better a darker reference that is not.
    whole = [pair for pair in seen if pair[1].full.max() < _MOSTLY_FULL]
    fit = whole or [pair for pair in seen if pair[1].full[1] < _MOSTLY_FULL] or seen
    chosen = [reference for reference, _ in fit]
    found = not by_hand
    chosen += [Reference(kind="chart", outline=c.outline, found=found) for c in charts]
    covariance: Array = np.zeros((3, 3))
    left_out = [r for r, sheet in seen if fit and not any(sheet is other for _, other in fit)]
    notes = [
        f"The {reference.kind} is overexposed and was left out; {_AND.join(_names(fit))} took its "
        "place: tap to darken a little next time."
        for reference in left_out
    ]
    for reference, sheet in fit:
        if sheet.full.max() < _FULL_SHARE:
            continue
        covariance += np.diag(np.square(_FULL_SD[0] + _FULL_SD[1] * sheet.full))
        covariance += (_ALL_FULL_SD * float(sheet.full[1])) ** 2
        notes.append(
            f"The {reference.kind} is overexposed: tilt away from the window, tap to darken, and "
            "take the photo again."
            if sheet.full[1] > _MOSTLY_FULL
            else f"The {reference.kind} is at the camera's limit in places: tap to darken a little "
            "next time."
        )
    covariance /= max(len(chosen), 1) ** 2
    lost = bool(fit) and not charts and all(is_lost(sheet) for _, sheet in fit)
    if lost:
        # However many there are, they lie over the limit together.
        covariance += excess_sd(_luminances(small, squares)) ** 2
    return Chosen(
        tuple(chosen), tuple(left_out), tuple(charts), covariance, lost,
        tuple(dict.fromkeys(notes)),
    )  # fmt: skip


def _could_be_sheet(small: SmallPicture, finding: Finding, sheet: Sheet, brightest: float) -> bool:
    """Whether a sheet that was found could be one, and is no plank or corner of the table. White
    paper on a white table hardly stands out, but is as light as the lightest squares, log luminance
    ``brightest``, and lies in the picture whole."""
    import cv2

    _, sides, _ = cv2.minAreaRect(sheet.outline.astype(np.float32))
    if max(sides) > _LONGEST * min(sides):
        return False
    margin = _AT_EDGE * max(small.size)
    low, high = sheet.outline.min(axis=0), sheet.outline.max(axis=0)
    whole = bool(np.all(low > margin) and np.all(high < np.array(small.size) - margin))
    as_light = brightest - sheet.level < _NEARLY_AS_LIGHT
    return (whole and as_light) or stands_out(small, finding, sheet)


def _names(seen: Sequence[tuple[Reference, Sheet]]) -> list[str]:
    return list(dict.fromkeys(f"the {reference.kind}" for reference, _ in seen))


def _chart_by_hand(photo: Photo, reference: Reference) -> ReadChart:
    chart = None
    if len(reference.outline) == 4:
        chart = read_chart(photo, chart_linear(), reference.outline)
    if chart is None:
        raise ColorError(
            "the chart set by hand does not show the colours of the 24-patch chart: give the four "
            "outer corners of its patches"
        )
    return chart


def _charts_found(photo: Photo, small: SmallPicture, finding: Finding) -> list[ReadChart]:
    known = chart_linear()
    charts = []
    for thing in finding.things:
        if thing.kind == "chart" and len(thing.outline) == 4:
            chart = read_chart(photo, known, thing.outline)
            if chart is not None:
                charts.append(chart)
    # Where finding saw paper and nothing else it could not name, there is no chart to look for.
    settled = bool(finding.things) and all(t.kind == "sheet" for t in finding.things)
    if not charts and not settled:
        chart = find_chart(photo, small, known, [s.corners for s in finding.squares])
        if chart is not None:
            charts.append(chart)
    return charts


def _lies_in(small: SmallPicture, sheet: Sheet, taken: NDArray[np.bool_]) -> bool:
    mask = polygon_mask(small, sheet.outline)
    return bool(np.count_nonzero(mask & taken) > 0.3 * max(int(np.count_nonzero(mask)), 1))


def brightest_square(small: SmallPicture, outlines: Array) -> float:
    """Log luminance of the third lightest mean of squares (N, 4, 2), or minus infinity without
    squares."""
    luminance = np.sort(_luminances(small, outlines))
    if not len(luminance):
        return -np.inf
    return float(np.log(max(float(luminance[-min(3, len(luminance))]), _LEAST_LIGHT)))


def _tint_of_lightest(small: SmallPicture, outlines: Array) -> float:
    """Size of the log tint (R/G and B/G) of the three lightest squares' mean, infinite without
    squares."""
    means = _means(small, outlines)
    if not len(means):
        return np.inf
    lightest = means[np.argsort(means @ LUMINANCE)[-3:]]
    log = np.log(np.maximum(lightest.mean(axis=0), _LEAST_LIGHT))
    return float(np.hypot(log[0] - log[1], log[2] - log[1]))


def _luminances(small: SmallPicture, outlines: Array) -> Array:
    """Luminance (N,) of the means of the squares that are seen, as the photo claims it."""
    return np.asarray(_means(small, outlines) @ LUMINANCE)


def _means(small: SmallPicture, outlines: Array) -> Array:
    """Mean linear light (N, 3) of the squares that are seen."""
    means = square_means(small, outlines)
    return np.asarray(means[np.isfinite(means[:, 0])])
