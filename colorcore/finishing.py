"""Quilting thread, binding, borders and backing for a finished top.

A thread lies in a thin line on every patch it crosses, so what counts is its difference to each
patch, weighted by how much of the top that patch is. A binding frames the top; a border is read
against the units that it lies around; a backing must not show through the light parts of the top
and carries the same thread. All colours are what they read as; CIEDE2000 is defined for flat
samples.
"""

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from fractions import Fraction
from typing import Final, Literal

import numpy as np
from numpy.typing import NDArray

from colorcore.color.difference import ciede2000
from colorcore.errors import ColorError
from colorcore.lengths import Measure
from colorcore.pattern.layout import Layout, area_and_center
from colorcore.wording import listing

Lab = tuple[float, float, float]

SHOWS_FROM: Final = 12.0
"""CIEDE2000 from which a line of stitches catches the eye at arm's length; thread is thin, so this
is more than two fabrics side by side would need (our choice; try a line of stitches)."""

HIDES_BELOW: Final = 6.0
"""CIEDE2000 below which a line of stitches sinks into the fabric (our choice)."""

_FRAMES_FROM: Final = 15.0
_SHOWS_THROUGH_FROM: Final = 25.0
_ECHOES_BELOW: Final = 12.0


@dataclass(frozen=True)
class TopColors:
    """The colours of a top: ``labs`` (n, 3), their ``areas`` in square inches, how many inches of
    the quilt's ``edges`` each has, and of the edge ``within`` all borders, the same where there are
    none; and which is the background (or None)."""

    labs: NDArray[np.float64]
    areas: NDArray[np.float64]
    edges: NDArray[np.float64]
    within: NDArray[np.float64]
    names: tuple[str, ...]
    background: int | None


@dataclass(frozen=True)
class Candidate:
    """Something to choose: a thread, or a fabric for binding, border or backing. ``inches`` of
    length that there are, or None if that is not known, of which ``taken`` are the background's."""

    name: str
    lab: Lab
    inches: float | None = None
    taken: float = 0.0


@dataclass(frozen=True)
class ThreadChoice:
    """How a thread would look. ``showing`` is the mean CIEDE2000 by area; ``share_shows`` and
    ``share_hides`` shares of the area where it catches the eye or sinks in; ``on_background``
    CIEDE2000 there, or None without a background."""

    candidate: Candidate
    showing: float
    share_shows: float
    share_hides: float
    on_background: float | None
    sentence: str


@dataclass(frozen=True)
class FabricChoice:
    """How well a fabric would serve as ``use`` (binding, border or backing): ``score`` 0 to 1,
    higher is better, ``words`` on why; ``need`` inches of length, None if not known."""

    candidate: Candidate
    use: str
    score: float
    words: str
    need: float | None = None

    @property
    def left(self) -> float | None:
        """Inches of the fabric that would be left over, below 0 if it is short; None if not
        known."""
        if self.need is None or self.candidate.inches is None:
            return None
        return self.candidate.inches - self.candidate.taken - self.need

    @property
    def enough(self) -> bool | None:
        """Whether there is as much as is needed, None if not known."""
        return None if self.left is None else self.left >= 0

    @property
    def is_used_up(self) -> bool:
        """Whether the background takes all that there is."""
        one = self.candidate
        return one.inches is not None and 0 < one.taken >= one.inches

    def told(self, say: Measure) -> str:
        """Return a sentence for the maker, in her measure."""
        said, one = f"{self.candidate.name}: {self.words}", self.candidate
        if one.taken and one.inches is not None:
            rest = one.inches - one.taken
            takes = f"{_length(say, one.taken)} of it and leaves {_length(say, rest)}"
            said += f"; it is the background, which takes {takes if rest else 'all of it'}"
        if self.left is not None and self.left < 0:
            said += f"; {_length(say, -self.left)} too short"
        return f"{said}."


def _length(say: Measure, inches: float) -> str:
    return say.length(Fraction(round(inches * 8), 8))


def say_shared(ranked: Mapping[str, Sequence[FabricChoice]], say: Measure) -> tuple[str, ...]:
    """Say of which fabrics, named first for several uses, there is not enough for all of these."""
    uses: dict[str, list[FabricChoice]] = {}
    for choices in ranked.values():
        if choices and choices[0].enough:
            uses.setdefault(choices[0].candidate.name, []).append(choices[0])
    said = []
    for name, first in uses.items():
        one = first[0].candidate
        there = (one.inches or 0.0) - one.taken
        needed = sum(choice.need or 0.0 for choice in first)
        if len(first) > 1 and needed > there:
            said.append(
                f"{name} is named first for {listing([choice.use for choice in first])}, but "
                f"together they take {_length(say, needed)}, and there are {_length(say, there)}: "
                "take it for one of them."
            )
    return tuple(said)


def top_colors(layout: Layout, filled: Sequence[Lab], yardage: Mapping[str, Lab]) -> TopColors:
    """Return the colours of a top with their areas.

    Parameters
    ----------
    filled : sequence of Lab
        CIELAB of each slot's fabric.
    yardage : mapping
        CIELAB of background and borders by name; unknown ones are left out.
    """
    inset = float(sum(border.width for border in layout.quilt.borders))
    inside = (inset, inset, layout.width - inset, layout.height - inset)
    total: dict[tuple[str, Lab], list[float]] = {}
    for facet in layout.facets:
        if facet.slot is not None:
            key = ("", filled[facet.slot])
        elif facet.yardage is not None and facet.yardage in yardage:
            key = (facet.yardage, yardage[facet.yardage])
        else:
            continue
        area, center = area_and_center(facet.polygon)
        entry = total.setdefault(key, [0.0, 0.0, 0.0])
        entry[0] += area
        entry[1] += _edge_on(facet.polygon, (0.0, 0.0, layout.width, layout.height))
        if np.all(center > inside[:2]) and np.all(center < inside[2:]):
            entry[2] += _edge_on(facet.polygon, inside)
    names = tuple(name for name, _ in total)
    return TopColors(
        labs=np.array([lab for _, lab in total], dtype=np.float64).reshape(-1, 3),
        areas=np.array([entry[0] for entry in total.values()]),
        edges=np.array([entry[1] for entry in total.values()]),
        within=np.array([entry[2] for entry in total.values()]),
        names=names,
        background=names.index("background") if "background" in names else None,
    )


def _edge_on(polygon: NDArray[np.float64], box: tuple[float, float, float, float]) -> float:
    """Inches of a polygon's outline that lie on the sides of a box (left, top, right, bottom)."""
    left, top, right, bottom = box
    length = 0.0
    for (x0, y0), (x1, y1) in zip(polygon, np.roll(polygon, -1, axis=0), strict=True):
        if (x0 == x1 and x0 in (left, right)) or (y0 == y1 and y0 in (top, bottom)):
            length += float(np.hypot(x1 - x0, y1 - y0))
    return length


def rank_threads(
    top: TopColors,
    candidates: Sequence[Candidate],
    *,
    wish: Literal["least", "most"] = "least",
) -> tuple[ThreadChoice, ...]:
    """Rank threads for showing least, or most, over the whole top.

    Raises
    ------
    ColorError
        If there is no candidate, or no colour of the top is known.
    """
    _check(top, candidates, "thread")
    labs = np.array([c.lab for c in candidates])
    differences = np.asarray(ciede2000(labs[:, None], top.labs[None]), dtype=np.float64)
    share = top.areas / top.areas.sum()
    choices = []
    for candidate, row in zip(candidates, differences, strict=True):
        shows = float(share[row >= SHOWS_FROM].sum())
        hides = float(share[row < HIDES_BELOW].sum())
        ground = None if top.background is None else float(row[top.background])
        choices.append(
            ThreadChoice(
                candidate, float((share * row).sum()), shows, hides, ground,
                _say_thread(candidate.name, shows, hides, ground),
            )
        )  # fmt: skip
    sign = 1 if wish == "least" else -1
    return tuple(sorted(choices, key=lambda c: (sign * c.showing, c.candidate.name)))


def _say_thread(name: str, shows: float, hides: float, ground: float | None) -> str:
    said = f"{name}: shows on {shows:.0%} of the top, sinks into {hides:.0%}".replace("%", " %")
    if ground is not None:
        word = (
            "shows on the background"
            if ground >= SHOWS_FROM
            else "sinks into the background"
            if ground < HIDES_BELOW
            else "is seen a little on the background"
        )
        said += f"; it {word}"
    return said + "."


def rank_bindings(
    top: TopColors, candidates: Sequence[Candidate], *, need_inches: float | None = None
) -> tuple[FabricChoice, ...]:
    """Rank fabrics for the binding: it should part from what lies along the edge and, better
    still, repeat a colour of the top.

    Raises
    ------
    ColorError
        As ``rank_threads``.
    """
    _check(top, candidates, "binding fabric")
    edge = top.edges / max(float(top.edges.sum()), 1e-9)

    def judge(lab: Lab) -> tuple[float, str]:
        steps = np.abs(top.labs[:, 0] - lab[0])
        apart = np.asarray(ciede2000(top.labs, np.array(lab)))
        frames = float((edge * np.clip(apart / (2 * _FRAMES_FROM), 0, 1)).sum())
        by_value, by_color = (
            float(edge[far].sum()) for far in (steps >= 10, apart >= _FRAMES_FROM)
        )
        echo, said_echo = _echo(top, lab)
        said = (
            f"parts from {by_value:.0%} of the edge by value, {by_color:.0%} by colour".replace(
                "%", " %"
            )
            if edge.any()
            else "the colour along the edge is not known"
        )
        return 0.7 * frames + 0.3 * echo, f"{said}; {said_echo}"

    return _rank("binding", candidates, judge, need_inches)


def rank_borders(
    top: TopColors, candidates: Sequence[Candidate], *, need_inches: float | None = None
) -> tuple[FabricChoice, ...]:
    """Rank fabrics for a border: it should part from the units that it lies around as a binding
    from the edge, but it is wide, so it should also sit within the top's range of values instead
    of outshouting it.

    Raises
    ------
    ColorError
        As ``rank_threads``.
    """
    _check(top, candidates, "border fabric")
    edge = top.within / max(float(top.within.sum()), 1e-9)
    low, high = float(top.labs[:, 0].min()), float(top.labs[:, 0].max())

    def judge(lab: Lab) -> tuple[float, str]:
        apart = np.asarray(ciede2000(top.labs, np.array(lab)))
        frames = float((edge * np.clip(apart / _FRAMES_FROM, 0, 1)).sum())
        echo, said_echo = _echo(top, lab)
        outside = max(low - lab[0], lab[0] - high, 0.0)
        within = 1 - min(outside / 20, 1)
        said = "within the top's values" if outside == 0 else f"{outside:.0f} L* beyond its values"
        return 0.45 * frames + 0.35 * echo + 0.2 * within, f"{said}; {said_echo}"

    return _rank("border", candidates, judge, need_inches)


def rank_backings(
    top: TopColors,
    candidates: Sequence[Candidate],
    *,
    thread: Lab | None = None,
    need_inches: float | None = None,
) -> tuple[FabricChoice, ...]:
    """Rank fabrics for the backing: not much darker than the lightest parts of the top, through
    which it would show, and kind to the quilting thread if that is known.

    Raises
    ------
    ColorError
        As ``rank_threads``.
    """
    _check(top, candidates, "backing fabric")
    share = top.areas / top.areas.sum()

    def judge(lab: Lab) -> tuple[float, str]:
        darker = top.labs[:, 0] - lab[0]
        risk = float(share[(darker >= _SHOWS_THROUGH_FROM) & (top.labs[:, 0] >= 80)].sum())
        said = (
            f"may show through {risk:.0%} of the top".replace("%", " %")
            if risk > 0.005
            else "does not show through"
        )
        echo, said_echo = _echo(top, lab)
        score = 0.6 * (1 - risk) + 0.2 * echo
        if thread is None:
            return score + 0.1, f"{said}; {said_echo}"
        apart = float(ciede2000(np.array(lab), np.array(thread)))
        score += 0.2 * float(np.clip(1 - apart / 30, 0, 1))
        seen = "shows" if apart >= SHOWS_FROM else "hardly shows"
        return score, f"{said}; the thread {seen} on it; {said_echo}"

    return _rank("backing", candidates, judge, need_inches)


def _echo(top: TopColors, lab: Lab) -> tuple[float, str]:
    """How near the fabric comes to a colour of the top, 0 to 1."""
    nearest = float(np.asarray(ciede2000(top.labs, np.array(lab))).min())
    score = float(np.clip(1 - nearest / (2 * _ECHOES_BELOW), 0, 1))
    return score, (
        "repeats a colour of the top" if nearest < _ECHOES_BELOW else "brings in a new colour"
    )


def _rank(
    use: str,
    candidates: Sequence[Candidate],
    judge: Callable[[Lab], tuple[float, str]],
    need: float | None,
) -> tuple[FabricChoice, ...]:
    choices = []
    for candidate in candidates:
        score, said = judge(candidate.lab)
        choices.append(FabricChoice(candidate, use, score, said, need))
    # What is too short comes last, and last of all what the background leaves nothing of.
    return tuple(
        sorted(
            choices,
            key=lambda c: (c.enough is False, c.is_used_up, -c.score, c.candidate.name),
        )
    )


def _check(top: TopColors, candidates: Sequence[Candidate], what: str) -> None:
    if not candidates:
        raise ColorError(f"There is no {what} to choose from; give colours or fill the stash.")
    if len(top.areas) == 0:
        raise ColorError(
            "No colour of the top is known, so nothing can be ranked against it; give colours."
        )
