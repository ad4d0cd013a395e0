"""Which background serves a bundle best: candidates side by side, and the L* to look for."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from fractions import Fraction
from typing import Final, TypeVar

import numpy as np

from colorcore.bundle import Bundle
from colorcore.color.bands import BANDS, value_bands
from colorcore.contrast import HOLDS, MELTS, SOFT, Background, Thresholds
from colorcore.contrast.cloth import DARKEST_CLOTH, LIGHTEST_CLOTH, is_beyond_cloth
from colorcore.contrast.pieces import (
    PieceContrast,
    PieceEdge,
    judge_edge,
    piece_verdict,
    plain_edges,
)
from colorcore.contrast.seen import FloatArray, beside_background
from colorcore.errors import DealError
from colorcore.lengths import exact_inches
from colorcore.pattern.model import Pattern, PieceRule, Role
from colorcore.stacking.dealing import deal, find_size
from colorcore.stacking.explaining import say_too_small
from colorcore.stacking.locks import Lock
from colorcore.stacking.model import Plan
from colorcore.stacking.problem import IntArray
from colorcore.swatch import Swatch
from colorcore.wording import listing

Number = TypeVar("Number", float, FloatArray)

PIECE_INCHES: Final = Fraction(5, 2)
"""Side of the pieces that are judged where no pattern says what is cut (common practice, no
source: a 10-inch square gives four by four of them)."""

FOCAL_COUNTS: Final = 3
"""How many times the focal pieces together count what the pieces of all fill together count (our
own judgement, no source): of equals, a background on which a third of the star points melts is as
bad as one on which all the fill does. How many pieces each of them has does not matter: fill is
cut smaller and in greater numbers, and would outvote the focal pieces."""


@dataclass(frozen=True)
class WorstPiece:
    """The piece that a background serves worst: its square, the share of its edge that melts, and
    its difference in L* as a whole."""

    square: str
    name: str
    melts: float
    delta_l: float


@dataclass(frozen=True)
class Shares:
    """Which shares of so many pieces hold, are soft, and melt."""

    holds: float
    soft: float
    melts: float
    pieces: int

    @property
    def serves(self) -> float:
        """How well they are served in one number, 0 to 1: a piece that holds counts 1, a soft one
        1/2."""
        return self.holds + self.soft / 2


@dataclass(frozen=True)
class Candidate(Shares):
    """How one background serves the pieces of the whole plan.

    Its own shares are of all pieces. ``focal`` and ``fill`` are the pieces by the role of their
    stacks, None where there are none, or no pattern says so. ``groups`` pairs each stack (without a
    pattern: value band) with the share of its pieces that holds; ``even_handed`` is 1 less the
    difference between the best and the worst served group. ``melting`` are the squares of which
    more than half of the pieces melt.
    ``plan`` is the deal on this background; ``trouble`` the sentence that says why there is none.
    """

    background: Background
    groups: tuple[tuple[str, float], ...]
    even_handed: float
    worst: WorstPiece | None
    melting: tuple[str, ...]
    plan: Plan | None = None
    trouble: str = ""
    focal: Shares | None = None
    fill: Shares | None = None

    @property
    def focal_apart(self) -> Shares | None:
        """The focal pieces where there is fill as well to tell them from, else None."""
        return self.focal if self.fill is not None else None

    @property
    def serves(self) -> float:
        """How well it serves in one number, 0 to 1: a piece that holds counts 1, a soft one 1/2.

        Where the pattern has focal stacks and fill, the mean of what the focal pieces give,
        counted ``FOCAL_COUNTS`` times, and of what the fill gives; else the mean over all pieces.
        """
        if self.focal_apart is None or self.fill is None:
            return super().serves
        return _weighed(self.focal_apart.serves, self.fill.serves)


@dataclass(frozen=True, eq=False)
class Ranking:
    """Candidates, the best first, and what a plain background of every L* would do.

    ``lightness`` (K,) L* from black to white cloth; ``curve_holds`` and ``curve_melts`` (K,)
    shares of all pieces, ``curve_focal`` (K,) of the focal pieces that hold, None where focal
    pieces do not come first, ``curve_serves`` (K,) as ``Candidate.serves``; ``best_lightness`` is
    where that is best, of equals where the nearest piece lies farthest off. ``basis`` says in a
    sentence what comes first in the order, ``sentence`` which value to look for.
    """

    candidates: tuple[Candidate, ...]
    lightness: FloatArray
    curve_holds: FloatArray
    curve_melts: FloatArray
    curve_focal: FloatArray | None
    curve_serves: FloatArray
    best_lightness: float
    basis: str
    sentence: str


@dataclass(frozen=True)
class _Cut:
    """A square with the edges of its pieces, the group and, of a plan, the role that it counts
    for."""

    square: str
    group: str
    edges: tuple[PieceEdge, ...]
    role: Role | None = None


def rank_backgrounds(
    bundle: Bundle,
    candidates: Sequence[tuple[Background, Iterable[str]]],
    *,
    pattern: Pattern | None = None,
    size: str | None = None,
    locks: Iterable[str | Lock] = (),
    thresholds: Thresholds | None = None,
) -> Ranking:
    """Rank backgrounds by how well the pieces of a whole plan stand off from them.

    Parameters
    ----------
    candidates : sequence of (Background, ids)
        The ids are squares used up by the background, which are not dealt then.
    pattern : Pattern or None
        The bundle is dealt anew for each candidate and its stacks' pieces judged. None: each
        square is cut into patches of ``PIECE_INCHES``.

    Order: what cannot be dealt comes last; then by ``serves`` in whole percents, in which focal
    stacks count most (a star whose points melt spoils the quilt, fill that melts a little does
    not), by even-handedness, and by the share of the worst piece's edge that melts.

    Raises
    ------
    DealError
        If the pattern has no such size or no background, or cuts larger squares, or there is no
        candidate or no square.
    """
    limits = thresholds or Thresholds()
    if not candidates or not bundle.squares:
        raise DealError("Nothing to compare: give at least one background and one square.")
    if pattern is not None:
        stacks = find_size(pattern, size).stacks
        if not any(rule.beside_background and rule.squares for rule in stacks):
            raise DealError(
                f"{pattern.name} sews no stack to a background, so none is better than another; "
                "take another pattern, or compare without one."
            )
        small = say_too_small(pattern, (square.side_inches for square in bundle.squares))
        if small:
            raise DealError(small)
    cutter = _Cutter(bundle, limits)
    ranked: list[Candidate] = []
    cuts_of: dict[int, list[_Cut]] = {}
    fixed = tuple(locks)
    for background, used in candidates:
        plan, trouble = None, ""
        out = tuple(used)
        if pattern is not None:
            try:
                plan = deal(
                    bundle,
                    pattern,
                    background,
                    size=size,
                    locks=(*fixed, *(Lock(name, ()) for name in out)),
                    thresholds=limits,
                )
            except DealError as error:
                trouble = str(error)
        cuts = cutter.planned(plan, pattern) if plan and pattern else cutter.loose(out)
        candidate = _judge(background, cuts, limits, plan, trouble)
        cuts_of[id(candidate)] = cuts
        ranked.append(candidate)
    ranked.sort(key=_order)
    return _with_curve(tuple(ranked), cuts_of[id(ranked[0])], limits)


def _order(one: Candidate) -> tuple[bool, float, float, float]:
    worst = one.worst.melts if one.worst else 0.0
    return (bool(one.trouble), -round(one.serves, 2), -round(one.even_handed, 2), worst)


class _Cutter:
    """Cuts squares virtually."""

    def __init__(self, bundle: Bundle, limits: Thresholds) -> None:
        self._squares = {swatch.id: swatch for swatch in bundle.squares}
        self._limits = limits

    def planned(self, plan: Plan, pattern: Pattern) -> list[_Cut]:
        """The squares of a plan, cut as their stacks ask; only stacks beside the background."""
        rules = {rule.name: rule for rule in find_size(pattern, plan.size).stacks}
        return [
            _Cut(
                place.square,
                stack.name,
                self._cut(place.square, rules[stack.name].pieces),
                rules[stack.name].role,
            )
            for stack in plan.stacks
            if rules[stack.name].beside_background
            for place in stack.placements
        ]

    def loose(self, out: Sequence[str]) -> list[_Cut]:
        """All squares but those, cut into patches, grouped by value band."""
        squares = [swatch for name, swatch in self._squares.items() if name not in out]
        bands = value_bands([swatch.lab[0] for swatch in squares])
        return [
            _Cut(swatch.id, band, self._cut(swatch.id, _patches(swatch)))
            for swatch, band in zip(squares, bands, strict=True)
        ]

    def _cut(self, name: str, pieces: tuple[PieceRule, ...]) -> tuple[PieceEdge, ...]:
        swatch = self._squares[name]
        return plain_edges(swatch, pieces or _patches(swatch), self._limits)


def _patches(swatch: Swatch) -> tuple[PieceRule, ...]:
    side = exact_inches(swatch.side_inches)
    piece = min(PIECE_INCHES, side)
    return (PieceRule("patch", piece, piece, int(side / piece) ** 2),)


def _judge(
    background: Background, cuts: list[_Cut], limits: Thresholds, plan: Plan | None, trouble: str
) -> Candidate:
    beside = beside_background(background, limits)
    judged = [(cut, tuple(judge_edge(edge, beside) for edge in cut.edges)) for cut in cuts]
    pieces = [piece for _, each in judged for piece in each]
    groups: dict[str, list[PieceContrast]] = {}
    for cut, each in judged:
        groups.setdefault(cut.group, []).extend(each)
    names = [name for name in BANDS if name in groups] if plan is None else list(groups)
    shares = tuple((name, _share(groups[name], HOLDS)) for name in names)
    served = [share for _, share in shares]
    of_role = {
        role: [piece for cut, each in judged if cut.role is role for piece in each] for role in Role
    }
    worst = max(
        ((cut.square, piece) for cut, each in judged for piece in each),
        key=lambda item: (item[1].melts, -abs(item[1].delta_l)),
        default=None,
    )
    return Candidate(
        **vars(_shares(pieces)),
        background=background,
        groups=shares,
        even_handed=1 - (max(served) - min(served)) if served else 1.0,
        worst=WorstPiece(worst[0], worst[1].name, worst[1].melts, worst[1].delta_l)
        if worst
        else None,
        melting=tuple(cut.square for cut, each in judged if _share(each, MELTS) > 0.5),
        plan=plan,
        trouble=trouble,
        focal=_shares(of_role[Role.FOCAL]) if of_role[Role.FOCAL] else None,
        fill=_shares(of_role[Role.FILL]) if of_role[Role.FILL] else None,
    )


def _shares(pieces: Sequence[PieceContrast]) -> Shares:
    holds, soft, melts = (_share(pieces, verdict) for verdict in (HOLDS, SOFT, MELTS))
    return Shares(holds, soft, melts, len(pieces))


def _share(pieces: Sequence[PieceContrast], verdict: str) -> float:
    return sum(piece.verdict == verdict for piece in pieces) / len(pieces) if pieces else 0.0


def _with_curve(ranked: tuple[Candidate, ...], cuts: list[_Cut], limits: Thresholds) -> Ranking:
    """Try plain backgrounds of every whole L* on the squares as the best candidate has them."""
    lightness = np.arange(DARKEST_CLOTH, LIGHTEST_CLOTH + 1)
    edges = [edge for cut in cuts for edge in cut.edges]
    roles = np.array([cut.role == Role.FOCAL for cut in cuts for _ in cut.edges], dtype=bool)
    verdicts = np.array([_plain_verdicts(edge, lightness, limits) for edge in edges])
    verdicts = verdicts.reshape(len(edges), len(lightness))
    holds = (verdicts == HOLDS).sum(axis=0) / max(len(edges), 1)
    melts = (verdicts == MELTS).sum(axis=0) / max(len(edges), 1)
    gives = ((verdicts == HOLDS) + (verdicts == SOFT) / 2).reshape(verdicts.shape)
    is_parted = bool(roles.any()) and any(cut.role == Role.FILL for cut in cuts)
    serves = (
        _weighed(gives[roles].mean(axis=0), gives[~roles].mean(axis=0))
        if is_parted
        else (1 + holds - melts) / 2
    )
    reads = np.array([edge.reads_as for edge in edges])
    nearest = [float(np.abs(reads - value).min()) if len(reads) else 0.0 for value in lightness]
    order = sorted(
        range(len(lightness)), key=lambda k: (-round(float(serves[k]), 3), -nearest[k], k)
    )
    best = order[0]
    at_best = [f"{holds[best]:.0%} of the pieces hold, {melts[best]:.0%} melt"]
    if is_parted:
        focal = verdicts[roles][:, best]
        at_best.insert(
            0,
            f"{(focal == HOLDS).mean():.0%} of the focal pieces hold, "
            f"{(focal == MELTS).mean():.0%} melt",
        )
        at_best[1] = "of all pieces " + at_best[1].replace(" of the pieces", "")
    return Ranking(
        candidates=ranked,
        lightness=lightness,
        curve_holds=holds,
        curve_melts=melts,
        curve_focal=(verdicts[roles] == HOLDS).mean(axis=0) if is_parted else None,
        curve_serves=serves,
        best_lightness=float(lightness[best]),
        basis=_basis(cuts, is_parted),
        sentence=_sentence(lightness, serves, best, "; ".join(at_best)) + _beyond_cloth(ranked),
    )


def _plain_verdicts(piece: PieceEdge, lightness: FloatArray, limits: Thresholds) -> list[str]:
    """The verdict on a piece beside plain backgrounds of each L* (K,), as ``judge_edge`` gives."""
    edge = np.concatenate(piece.sides)
    edge = np.sort(edge[np.isfinite(edge)])
    if not len(edge):
        return [limits.verdict(piece.reads_as - float(value)) for value in lightness]

    def within(step: float) -> FloatArray:
        low = np.searchsorted(edge, lightness - step, side="right")
        high = np.searchsorted(edge, lightness + step, side="left")
        return np.asarray(np.maximum(high - low, 0) / len(edge))

    melts, not_holds = within(limits.melts), within(limits.holds)
    return [piece_verdict(1 - n, m) for n, m in zip(not_holds, melts, strict=True)]


def _weighed(focal: Number, fill: Number) -> Number:
    return (FOCAL_COUNTS * focal + fill) / (FOCAL_COUNTS + 1)


def _basis(cuts: Sequence[_Cut], is_parted: bool) -> str:
    """Say what comes first in the order."""
    if not is_parted:
        return "Best first: every piece counts alike; one that holds counts 1, a soft one ½."
    names = {
        role: listing(list(dict.fromkeys(cut.group for cut in cuts if cut.role is role)))
        for role in Role
    }
    return (
        f"Best first, by the focal pieces above all: those of {names[Role.FOCAL]} together count "
        f"{FOCAL_COUNTS} times as much as the fill's ({names[Role.FILL]}), for focal pieces that "
        "melt spoil the quilt, and fill that melts a little does not. A piece that holds counts 1, "
        "a soft one ½."
    )


def _sentence(lightness: FloatArray, serves: FloatArray, best: int, there: str) -> str:
    near = np.flatnonzero(serves >= serves[best] - 0.02)
    run = near[(near >= best - _run(near, best, -1)) & (near <= best + _run(near, best, 1))]
    low, high = lightness[run[0]], lightness[run[-1]]
    where = f"L* {low:.0f} to {high:.0f}" if high > low else f"L* {low:.0f}"
    return (f"A plain background of {where} would serve best: {there}.").replace("%", " %")


def _beyond_cloth(ranked: Sequence[Candidate]) -> str:
    """Say which backgrounds no cloth can match; they look better here than any cloth will."""
    words = ""
    for background in (candidate.background for candidate in ranked):
        if is_beyond_cloth(background):
            paler = background.lab[0] > LIGHTEST_CLOTH
            limit = LIGHTEST_CLOTH if paler else DARKEST_CLOTH
            words += (
                f" No cloth is as {'light' if paler else 'dark'} as {background.label} "
                f"(L* {background.lab[0]:.0f}): try 'lab({limit:.0f} 0 0)', or a photo of the "
                "cloth."
            )
    return words


def _run(near: IntArray, best: int, step: int) -> int:
    known = set(near.tolist())
    length = 0
    while best + step * (length + 1) in known:
        length += 1
    return length
