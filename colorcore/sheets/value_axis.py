"""The bundle on the value axis with candidate backgrounds across it: a chart to choose by.

Every square stands as a thumbnail at its L*, each background is a numbered line, and below lies
how many pieces hold and melt on a plain background of every L*, and how many of the focal ones hold
where they come first. Nothing hangs on colour: lines
differ by number and dash, zones by hatching, and the words of the chart tell the same.
"""

from collections.abc import Sequence
from html import escape
from typing import Final

import numpy as np
from numpy.typing import NDArray

from colorcore.color.css import css_color
from colorcore.contrast import Thresholds
from colorcore.sheets.pictures import jpeg_uri, shrink
from colorcore.stacking.ranking import Candidate, Ranking
from colorcore.swatch import Swatch
from colorcore.wording import percent

_WIDTH: Final = 1000.0
_LEFT, _RIGHT = 50.0, 950.0
_INK, _QUIET, _LINE = "#1b1b1b", "#565656", "#c9c9c9"
_FONT: Final = "'Avenir Next', 'Segoe UI', 'Noto Sans', 'Liberation Sans', Arial, sans-serif"
_DASHES: Final = ("none", "7 4", "2 4", "12 4 2 4", "4 2", "1 5")
_CURVE_HEIGHT: Final = 150.0
_LONGEST_LABEL: Final = 38


def draw_value_axis(
    squares: Sequence[Swatch],
    ranking: Ranking,
    *,
    thresholds: Thresholds | None = None,
    title: str = "Backgrounds on the value axis",
) -> str:
    """Return the chart as a self-contained SVG document of 1000 units' width."""
    limits = thresholds or Thresholds()
    thumb = 44.0 if len(squares) <= 50 else 32.0 if len(squares) <= 100 else 22.0
    rows = _swarm([s.lab[0] for s in squares], thumb)
    swarm_height = (max(rows, default=0) + 1) * (thumb + 13) + 6
    flags = _flag_rows(ranking.candidates)
    top = 64 + 22 * (max(flags, default=0) + 1)
    axis = top + swarm_height
    candidates_top = axis + 56
    curve_top = candidates_top + 34 * len(ranking.candidates) + 58
    height = curve_top + _CURVE_HEIGHT + 56
    words = describe_value_axis(squares, ranking)
    parts = [
        f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {_WIDTH:g} {height:.0f}" role="img" '
        f'aria-labelledby="value-axis-title value-axis-words" font-family="{_FONT}">',
        f'<title id="value-axis-title">{escape(title)}</title>',
        f'<desc id="value-axis-words">{escape(words)}</desc>',
        '<defs><pattern id="melts" width="6" height="6" patternUnits="userSpaceOnUse" '
        f'patternTransform="rotate(45)"><rect width="6" height="6" fill="#fff"/>'
        f'<line x1="0" y1="0" x2="0" y2="6" stroke="{_INK}" stroke-width="3"/></pattern></defs>',
        '<rect width="100%" height="100%" fill="#fff"/>',
        _text(_LEFT, 32, escape(title), size=22, weight=600),
        *_lines(ranking.candidates, flags, axis),
        *_thumbnails(squares, rows, axis, thumb),
        *_axis(axis),
        *_candidate_rows(ranking.candidates, candidates_top, limits),
        *_curve(ranking, curve_top),
        "</svg>",
    ]
    return "\n".join(parts) + "\n"


def describe_value_axis(squares: Sequence[Swatch], ranking: Ranking) -> str:
    """Return the chart in words, for those who do not see it."""
    values = sorted(s.lab[0] for s in squares)
    said = (
        [f"{len(squares)} squares from L* {values[0]:.0f} to {values[-1]:.0f}."] if values else []
    )
    for n, candidate in enumerate(ranking.candidates, 1):
        said.append(f"{n}. {candidate.background.label}: {_figures(candidate)}.")
    said.append(ranking.sentence)
    return " ".join(said)


def _figures(candidate: Candidate) -> str:
    focal, of_all = candidate.focal_apart, "of the pieces"
    first = ""
    if focal is not None:
        first, of_all = f"{percent(focal.holds)} of the focal pieces hold; ", "of all pieces"
    shares = (
        f"{first}{percent(candidate.holds)} {of_all} hold, {percent(candidate.soft)} are soft, "
        f"{percent(candidate.melts)} melt"
    )
    lightness = f"L* {candidate.background.lab[0]:.0f}"
    kind = "" if candidate.background.picture is None else ", a print"
    told = f"{lightness}{kind}; {shares}"
    return f"{told}; cannot be dealt" if candidate.trouble else told


def _x(lightness: float) -> float:
    return _LEFT + (_RIGHT - _LEFT) * min(max(lightness, 0.0), 100.0) / 100


def _swarm(lightness: Sequence[float], thumb: float) -> list[int]:
    """Return the row of each thumbnail, 0 nearest the axis, so that none covers another."""
    rows = [0] * len(lightness)
    ends: list[float] = []
    for n in sorted(range(len(lightness)), key=lambda k: (lightness[k], k)):
        x = _x(lightness[n])
        row = next((r for r, end in enumerate(ends) if x - thumb / 2 >= end), len(ends))
        if row == len(ends):
            ends.append(0.0)
        ends[row] = x + thumb / 2 + 3
        rows[n] = row
    return rows


def _flag_rows(candidates: Sequence[Candidate]) -> list[int]:
    """Return the row of each candidate's number, 0 at the bottom, so that numbers keep apart."""
    rows: list[int] = []
    for n, candidate in enumerate(candidates):
        x = _x(candidate.background.lab[0])
        taken = {rows[m] for m in range(n) if abs(_x(candidates[m].background.lab[0]) - x) < 26}
        rows.append(next(row for row in range(n + 1) if row not in taken))
    return rows


def _text(
    x: float,
    y: float,
    text: str,
    *,
    size: float = 13,
    anchor: str = "start",
    fill: str = _INK,
    weight: int = 400,
) -> str:
    return (
        f'<text x="{x:.1f}" y="{y:.1f}" font-size="{size:g}" text-anchor="{anchor}" '
        f'fill="{fill}" font-weight="{weight}">{text}</text>'
    )


def _badge(x: float, y: float, n: int) -> str:
    return (
        f'<rect x="{x - 10:.1f}" y="{y - 10:.1f}" width="20" height="20" rx="4" fill="{_INK}"/>'
        + _text(x, y + 4.5, str(n), size=13, anchor="middle", fill="#fff", weight=700)
    )


def _lines(candidates: Sequence[Candidate], flags: Sequence[int], axis: float) -> list[str]:
    drawn = []
    for n, (candidate, row) in enumerate(zip(candidates, flags, strict=True)):
        x = _x(candidate.background.lab[0])
        y = 64 + 22 * (max(flags) - row)
        dash = _DASHES[n % len(_DASHES)]
        drawn.append(
            f'<line x1="{x:.1f}" y1="{y + 10:.1f}" x2="{x:.1f}" y2="{axis + 18:.1f}" '
            f'stroke="{_INK}" stroke-width="1.6" stroke-dasharray="{dash}"/>'
        )
        drawn.append(_badge(x, y, n + 1))
    return drawn


def _thumbnails(
    squares: Sequence[Swatch], rows: Sequence[int], axis: float, thumb: float
) -> list[str]:
    drawn = []
    for swatch, row in zip(squares, rows, strict=True):
        x = _x(swatch.lab[0]) - thumb / 2
        y = axis - 6 - (row + 1) * (thumb + 13) + 13
        label = escape(swatch.id)
        picture = jpeg_uri(shrink(swatch.picture, 96))
        drawn.append(
            f"<g><title>{label}, L* {swatch.lab[0]:.0f}</title>"
            f'<image x="{x:.1f}" y="{y:.1f}" width="{thumb:g}" height="{thumb:g}" '
            f'href="{picture}" preserveAspectRatio="none"/>'
            f'<rect x="{x:.1f}" y="{y:.1f}" width="{thumb:g}" height="{thumb:g}" fill="none" '
            f'stroke="{_INK}" stroke-width="0.8"/>'
            + _halo(x + thumb / 2, y - 2.5, label, 11 if thumb > 30 else 8)
            + "</g>"
        )
    return drawn


def _halo(x: float, y: float, text: str, size: float) -> str:
    """Text that stays readable where a line runs behind it."""
    return (
        f'<text x="{x:.1f}" y="{y:.1f}" font-size="{size:g}" text-anchor="middle" fill="{_INK}" '
        f'stroke="#fff" stroke-width="3" paint-order="stroke">{text}</text>'
    )


def _axis(axis: float) -> list[str]:
    stops = "".join(
        f'<stop offset="{v}%" stop-color="{css_color((float(v), 0.0, 0.0))}"/>'
        for v in range(0, 101, 10)
    )
    drawn = [
        f'<defs><linearGradient id="greys">{stops}</linearGradient></defs>',
        f'<rect x="{_LEFT:g}" y="{axis:.1f}" width="{_RIGHT - _LEFT:g}" height="16" '
        f'fill="url(#greys)" stroke="{_INK}" stroke-width="0.8"/>',
    ]
    for value in range(0, 101, 10):
        drawn.append(_text(_x(value), axis + 31, str(value), anchor="middle", fill=_QUIET))
    drawn.append(_text(_LEFT, axis + 48, "value, L*: 0 black, 100 white", fill=_QUIET))
    return drawn


def _candidate_rows(candidates: Sequence[Candidate], top: float, limits: Thresholds) -> list[str]:
    """One row a candidate: its number and figures, and where on the axis squares melt and are
    soft beside it."""
    drawn = []
    for n, candidate in enumerate(candidates):
        y = top + 34 * n + 17
        lightness = candidate.background.lab[0]
        x = _x(lightness)
        soft = (_x(lightness - limits.holds), _x(lightness + limits.holds))
        melts = (_x(lightness - limits.melts), _x(lightness + limits.melts))
        drawn.append(
            f'<line x1="{_LEFT:g}" y1="{y + 15:.1f}" x2="{_RIGHT:g}" y2="{y + 15:.1f}" '
            f'stroke="{_LINE}"/>'
            f'<rect x="{soft[0]:.1f}" y="{y + 9:.1f}" width="{soft[1] - soft[0]:.1f}" height="6" '
            f'fill="#fff" stroke="{_INK}" stroke-width="0.8"/>'
            f'<rect x="{melts[0]:.1f}" y="{y + 9:.1f}" width="{melts[1] - melts[0]:.1f}" '
            f'height="6" fill="url(#melts)" stroke="{_INK}" stroke-width="0.8"/>'
            f'<line x1="{x:.1f}" y1="{y + 6:.1f}" x2="{x:.1f}" y2="{y + 17:.1f}" '
            f'stroke="{_INK}" stroke-width="2.4"/>'
        )
        label = candidate.background.label
        if len(label) > _LONGEST_LABEL:
            label = label[: _LONGEST_LABEL - 1] + "…"
        drawn.append(_badge(24, y + 2, n + 1))
        drawn.append(
            f'<rect x="{_LEFT:g}" y="{y - 10:.1f}" width="20" height="12" '
            f'fill="{css_color(candidate.background.lab)}" stroke="{_INK}" stroke-width="0.8"/>'
        )
        drawn.append(
            _text(
                _LEFT + 28,
                y,
                f'<tspan font-weight="600">{escape(label)}</tspan> {escape(_figures(candidate))}',
            )
        )
    note = (
        f"Hatched: values that melt beside it (within {limits.melts:g} L*); "
        f"white: soft (within {limits.holds:g} L*)."
    )
    drawn.append(_text(_LEFT, top + 34 * len(candidates) + 16, note, fill=_QUIET))
    return drawn


def _curve(ranking: Ranking, top: float) -> list[str]:
    bottom = top + _CURVE_HEIGHT

    def y(share: float) -> float:
        return bottom - _CURVE_HEIGHT * share

    def path(shares: NDArray[np.float64]) -> str:
        return " ".join(
            f"{_x(float(v)):.1f},{y(float(share)):.1f}"
            for v, share in zip(ranking.lightness, shares, strict=True)
        )

    drawn = [
        f'<line x1="{_LEFT:g}" y1="{y(level):.1f}" x2="{_RIGHT:g}" y2="{y(level):.1f}" '
        f'stroke="{_LINE}"/>' + _text(_LEFT - 6, y(level) + 4, f"{level * 100:.0f}", anchor="end",
                                     fill=_QUIET, size=12)
        for level in (0.0, 0.5, 1.0)
    ]  # fmt: skip
    focal = ranking.curve_focal
    if focal is not None:
        drawn.append(
            f'<polyline points="{path(focal)}" fill="none" stroke="{_INK}" stroke-width="3.6"/>'
        )
    drawn.append(
        f'<polyline points="{path(ranking.curve_holds)}" fill="none" stroke="{_INK}" '
        f'stroke-width="{2.6 if focal is None else 1.4}"/>'
        f'<polyline points="{path(ranking.curve_melts)}" fill="none" stroke="{_INK}" '
        'stroke-width="1.6" stroke-dasharray="3 3"/>'
    )
    # The last first, so that of numbers that meet the better candidate's is seen.
    for n, candidate in reversed(list(enumerate(ranking.candidates, 1))):
        drawn.append(_badge(_x(candidate.background.lab[0]), y(candidate.holds), n))
    best = _x(ranking.best_lightness)
    drawn.append(
        f'<path d="M {best:.1f} {bottom + 3:.1f} l 7 11 h -14 z" fill="{_INK}"/>'
        + _text(
            min(max(best, _LEFT + 40), _RIGHT - 40),
            bottom + 28,
            f"best: L* {ranking.best_lightness:.0f}",
            anchor="middle",
            weight=600,
        )
    )
    title = "Percent of pieces on a plain background of each L*: "
    title += (
        "thick line hold, dotted line melt"
        if focal is None
        else "thick line focal pieces that hold, thin line all that hold, dotted line all that melt"
    )
    drawn.append(_text(_LEFT, top - 12, title, fill=_QUIET))
    drawn.append(_text(_LEFT, bottom + 46, escape(ranking.sentence)))
    return drawn
