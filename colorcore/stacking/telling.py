"""Say in words why a deal is as it is, how sure it is, and what to look at again."""

from typing import Final

import numpy as np

from colorcore.contrast import MELTS
from colorcore.pattern.model import Pattern, PatternSize, Role, StackRule, ValueRule
from colorcore.stacking.model import Placement, Plan, PlannedStack
from colorcore.stacking.problem import FloatArray, IntArray, Problem
from colorcore.stacking.search import stack_means
from colorcore.stacking.solving import Solution
from colorcore.wording import listing

_DRAWS: Final = 4000
_MOST_MARGINS: Final = 6
PART_SHOWS: Final = "only a part is in the picture"
SAME_CLOTH: Final = "two outlines cover the same cloth"


def tell(
    pattern: Pattern,
    size: PatternSize,
    problem: Problem,
    solution: Solution,
    stayed_out: tuple[str, ...],
) -> Plan:
    """Return the plan of a solved deal."""
    chances = _chances(problem, solution.assigned)
    stacks = tuple(
        PlannedStack(
            name=rule.name,
            role=rule.role.value,
            value=rule.value.value,
            placements=_placements(problem, solution.assigned, s, chances),
        )
        for s, rule in enumerate(problem.rules)
    )
    return Plan(
        pattern=pattern.name,
        size=size.name,
        background=problem.background,
        stacks=stacks,
        left_over=_placements(problem, solution.assigned, -1, chances),
        stayed_out=stayed_out,
        margins=_margins(problem, solution.assigned),
        evenness=_evenness_figures(problem, solution.assigned),
        second_look=_second_look(problem, solution.assigned),
        proof=_proof(solution),
    )


def _placements(
    problem: Problem, assigned: IntArray, s: int, chances: FloatArray
) -> tuple[Placement, ...]:
    here = np.flatnonzero(assigned == s)
    here = here[np.argsort(problem.lab[here, 0], kind="stable")]
    return tuple(
        Placement(
            square=problem.squares[n].id,
            band=problem.band[n],
            why=_why(problem, assigned, int(n)),
            chance=None if np.isnan(chances[n]) else float(chances[n]),
            delta_l=float(problem.delta_l[n]),
            delta_e=float(problem.delta_e[n]),
            ratio=float(problem.ratio[n]),
            verdict=problem.verdict[n],
            locked=bool(problem.locked[n]),
        )
        for n in here
    )


def _why(problem: Problem, assigned: IntArray, n: int) -> str:
    s = int(assigned[n])
    lightness = problem.lab[:, 0]
    rank = int((lightness < lightness[n]).sum()) + 1
    total = len(lightness)
    if problem.locked[n]:
        return "you locked it here"
    if s < 0:
        return _why_left(problem, n)
    rule = problem.rules[s]
    if rule.value is ValueRule.DARK:
        return f"{_ordinal(rank)}darkest of {total}, L* {lightness[n]:.0f}"
    if rule.value is ValueRule.LIGHT:
        return f"{_ordinal(total + 1 - rank)}lightest of {total}, L* {lightness[n]:.0f}"
    if rule.value is ValueRule.MEDIUM:
        return f"from the middle of the bundle, L* {lightness[n]:.0f}"
    copies = int(((problem.fabric == problem.fabric[n]) & (assigned == s)).sum())
    elsewhere = int(((problem.fabric == problem.fabric[n]) & (assigned != s)).sum())
    shared = ", its copies are spread" if elsewhere and copies == 1 else ""
    return f"a {problem.band[n]} that keeps the mixed stacks even{shared}"


def _why_left(problem: Problem, n: int) -> str:
    if problem.verdict[n] == MELTS:
        return "missed least: it runs into the background"
    if (problem.fabric == problem.fabric[n]).sum() > 1:
        return "missed least: the bundle has another of this fabric"
    return "missed least: others stand in for it"


def _ordinal(rank: int) -> str:
    if rank == 1:
        return ""
    ending = (
        "th" if rank % 100 in (11, 12, 13) else {1: "st", 2: "nd", 3: "rd"}.get(rank % 10, "th")
    )
    return f"{rank}{ending} "


def _ordered(problem: Problem) -> list[tuple[int, StackRule]]:
    return [
        (s, rule) for s, rule in enumerate(problem.rules)
        if rule.value in (ValueRule.DARK, ValueRule.LIGHT) and rule.squares
    ]  # fmt: skip


def _chances(problem: Problem, assigned: IntArray) -> FloatArray:
    """Return the chance (N,) that a square in a dark or light stack truly is among so many
    darkest or lightest of the squares that may go there; NaN elsewhere.

    Monte Carlo over the uncertainty of L*, taken as normal: what a photo's reference and tone
    curve leave open moves all its squares alike, the rest each on its own. Seeded, so the same on
    every run.
    """
    chances = np.full(len(assigned), np.nan)
    if not _ordered(problem):
        return chances
    rng = np.random.default_rng(7)
    own = _order_sd(problem)
    common = np.sqrt(np.maximum(problem.lab_sd[:, 0] ** 2 - own**2, 0))
    photo = np.unique([s.photo for s in problem.squares], return_inverse=True)[1]
    shift = rng.standard_normal((_DRAWS, int(photo.max(initial=0)) + 1))[:, photo]
    alone = rng.standard_normal((_DRAWS, len(assigned)))
    draws = problem.lab[:, 0] + shift * common + alone * own
    for value in (ValueRule.DARK, ValueRule.LIGHT):
        stacks = [s for s, rule in _ordered(problem) if rule.value is value]
        here = np.isin(assigned, stacks)
        able = np.flatnonzero(problem.allowed[:, stacks].any(axis=1) | here)
        if not here.any():
            continue
        sign = 1.0 if value is ValueRule.DARK else -1.0
        order = np.argsort(sign * draws[:, able], axis=1)[:, : int(here.sum())]
        share = np.bincount(order.ravel(), minlength=len(able)) / _DRAWS
        found = np.full(len(assigned), np.nan)
        found[able] = share
        chances[here] = found[here]
    return chances


def _margins(problem: Problem, assigned: IntArray) -> tuple[str, ...]:
    """Return sentences on the squares at the edge of a stack that asks for a value."""
    close: list[tuple[float, float, str]] = []
    clear: list[str] = []
    for s, rule in _ordered(problem):
        sign = 1.0 if rule.value is ValueRule.DARK else -1.0
        inside = np.flatnonzero((assigned == s) & ~problem.locked)
        outside = np.flatnonzero((assigned != s) & problem.allowed[:, s] & ~problem.locked)
        outside = np.array([n for n in outside if not _same_rule(problem, assigned, s, int(n))])
        if not len(inside) or not len(outside):
            continue
        gap = sign * (problem.lab[outside, 0][None] - problem.lab[inside, 0][:, None])
        sd = _sd_between(problem, inside, outside)
        for i, j in zip(*np.nonzero((gap >= 0) & (gap < 2 * sd)), strict=True):
            first, second = problem.squares[inside[i]].id, problem.squares[outside[j]].id
            close.append(
                (float(gap[i, j] / sd[i, j]), float(gap[i, j]),
                 f"{first} and {second} could change places: {gap[i, j]:.1f} L* apart, "
                 f"uncertainty {sd[i, j]:.1f}.")
            )  # fmt: skip
        i, j = np.unravel_index(int(np.argmin(np.where(gap >= 0, gap, np.inf))), gap.shape)
        # Locks, copies or the maker's hand may keep a square out that lies beyond one inside.
        # Two of different photos share less, and may change places though they lie farther apart.
        if gap.min() >= 0 and bool(np.all(gap >= 2 * sd)):
            clear.append(
                f"{rule.name} is clearly apart: {problem.squares[inside[i]].id} and "
                f"{problem.squares[outside[j]].id}, the nearest across its edge, are "
                f"{gap[i, j]:.1f} L* apart, uncertainty {sd[i, j]:.1f}."
            )
    return tuple(words for _, _, words in sorted(close)[:_MOST_MARGINS]) + tuple(clear)


def _order_sd(problem: Problem) -> FloatArray:
    """One standard deviation of L* (N,) against other squares of the same photo."""
    own = [s.lab_sd[0] if s.order_sd is None else s.order_sd for s in problem.squares]
    return np.asarray(np.minimum(own, problem.lab_sd[:, 0]), dtype=np.float64)


def _sd_between(problem: Problem, first: IntArray, second: IntArray) -> FloatArray:
    """One standard deviation (P, Q) of how far two squares lie apart in L*."""
    own, whole = _order_sd(problem), problem.lab_sd[:, 0]
    photo = np.array([s.photo for s in problem.squares])
    same = photo[first][:, None] == photo[second][None]
    within = np.hypot(own[first][:, None], own[second][None])
    return np.asarray(np.where(same, within, np.hypot(whole[first][:, None], whole[second][None])))


def _same_rule(problem: Problem, assigned: IntArray, s: int, n: int) -> bool:
    return assigned[n] >= 0 and problem.rules[int(assigned[n])].value is problem.rules[s].value


def _evenness_figures(problem: Problem, assigned: IntArray) -> tuple[tuple[str, float], ...]:
    """Return (figure in words, number): differences between the most unlike stacks of a group."""
    figures: list[tuple[str, float]] = []
    for even in problem.evenness:
        group = " / ".join(problem.rules[s].name for s in even.stacks)
        means = stack_means(even, assigned)
        # A maker may lay more or fewer than the pattern wants.
        sizes = np.array([np.count_nonzero(assigned == s) for s in even.stacks])
        for name, spread, column in zip(even.names, np.ptp(means, axis=0), means.T, strict=True):
            if name.startswith("mean"):
                words = f"{group}: {name}, apart by"
                figures.append((words, round(float(spread), 2)))
                continue
            counts = " and ".join(str(round(c)) for c in column * sizes)
            if column.any():
                words = f"{group}: {name} {counts}, apart by"
                figures.append((words, float(np.ptp(np.rint(column * sizes)))))
    return tuple(figures)


def _second_look(problem: Problem, assigned: IntArray) -> tuple[str, ...]:
    words: list[str] = []
    for s, rule in enumerate(problem.rules):
        here = np.flatnonzero(assigned == s)
        here = here[np.argsort(problem.lab[here, 0], kind="stable")]
        if rule.beside_background:
            words += _melting(problem, rule, here)
            words += _near_limit(problem, rule, here)
        words += _against_rule(problem, rule, here)
        words += _two_sides(problem, rule, here)
    return (*words, *_cut_off(problem, assigned), *_same_cloth(problem, assigned))


def _flagged(problem: Problem, assigned: IntArray, flag: str) -> list[str]:
    """Addresses of the squares in a stack that carry a flag, as they lie."""
    found = [
        square
        for n, square in enumerate(problem.squares)
        if assigned[n] >= 0 and flag in square.flags
    ]
    return [s.id for s in sorted(found, key=lambda s: (s.photo, s.row, s.column, s.id))]


def _same_cloth(problem: Problem, assigned: IntArray) -> list[str]:
    """Squares in a stack whose outlines cover the same cloth."""
    names = _flagged(problem, assigned, "overlapping")
    if not names:
        return []
    return [
        f"{listing(names)}: {SAME_CLOTH}, so a square may be counted twice or measured with a part "
        "of its neighbour; correct the outlines and deal again."
    ]


def _cut_off(problem: Problem, assigned: IntArray) -> list[str]:
    """Squares in a stack of which part lies beyond the edge of their photo."""
    names = _flagged(problem, assigned, "cut-off")
    if not names:
        return []
    what = "it was" if len(names) == 1 else "they were"
    return [
        f"{listing(names)}: {PART_SHOWS}, so {what} dealt by what shows; take the photo again "
        "with every corner in it, or look at the whole cloth before you cut."
    ]


def _melting(problem: Problem, rule: StackRule, here: IntArray) -> list[str]:
    words: list[str] = []
    melting = [
        problem.squares[n].id for n in here
        if problem.verdict[n] == MELTS
    ]  # fmt: skip
    if melting:
        verb = "runs" if len(melting) == 1 else "run"
        words.append(
            f"{rule.name}: {', '.join(melting)} {verb} into the background (less than "
            f"{problem.thresholds.melts:g} L* apart)."
        )
    return words


def _near_limit(problem: Problem, rule: StackRule, here: IntArray) -> list[str]:
    """Focal squares whose verdict could be another within one standard deviation."""
    if rule.role is not Role.FOCAL:
        return []
    ground = problem.background
    sd = np.hypot(problem.lab_sd[:, 0], ground.lab_sd[0])
    if ground.order_sd is not None:
        beside = np.array([square.photo == ground.photo for square in problem.squares])
        sd = np.where(beside, np.hypot(_order_sd(problem), ground.order_sd), sd)
    limits = (problem.thresholds.holds, problem.thresholds.melts)
    near = [n for n in here if min(abs(problem.stand_off[n] - limit) for limit in limits) < sd[n]]
    if not near:
        return []
    names = [problem.squares[n].id for n in near]
    told = ", ".join(names[:_MOST_MARGINS]) + (
        f" and {len(names) - _MOST_MARGINS} more" if len(names) > _MOST_MARGINS else ""
    )
    lie = "lies" if len(names) == 1 else "lie"
    return [
        f"{rule.name}: {told} {lie} so near a limit of contrast that the measurement "
        f"(± {float(np.median(sd[near])):.1f} L*) cannot tell on which side."
    ]


def _against_rule(problem: Problem, rule: StackRule, here: IntArray) -> list[str]:
    if rule.value is ValueRule.MIXED or rule.role is not Role.FOCAL:
        return []
    other = [problem.squares[n].id for n in here if problem.band[n] != rule.value.value]
    if not other:
        return []
    verb = "is" if len(other) == 1 else "are"
    return [
        f"{rule.name}: {', '.join(other)} {verb} not {rule.value.value} beside the rest of the "
        f"bundle; the bundle has too few."
    ]


def _two_sides(problem: Problem, rule: StackRule, here: IntArray) -> list[str]:
    if rule.role is not Role.FOCAL or rule.value is ValueRule.MIXED or not rule.beside_background:
        return []
    lighter = [problem.squares[n].id for n in here if problem.delta_l[n] > 0]
    darker = [problem.squares[n].id for n in here if problem.delta_l[n] < 0]
    if not lighter or not darker:
        return []
    few, side, other = (
        (lighter, "lighter", "darker")
        if len(lighter) <= len(darker)
        else (darker, "darker", "lighter")
    )
    verb = "is" if len(few) == 1 else "are"
    return [
        f"{rule.name}: {', '.join(few)} {verb} {side} than the background, the others {other}; "
        "seen from afar they will not look alike."
    ]


def _proof(solution: Solution) -> str:
    if solution.proven:
        return "Optimal: no other deal does better on any goal, taken in their order."
    reached = (solution.score.uneven, float(solution.score.clumps), solution.score.missed)
    names = ("evenness", "spread of copies", "what is left over")
    for name, value, bound in zip(names, reached, solution.bound, strict=True):
        if value > bound:
            gap = (value - bound) / value
            return (
                f"The best deal found in {solution.seconds:.0f} s; in {name} another could be "
                f"better by at most {gap:.0%}, all weightier goals being optimal."
            ).replace("%", " %")
    return f"The best deal found in {solution.seconds:.0f} s; not proven to be the best."
