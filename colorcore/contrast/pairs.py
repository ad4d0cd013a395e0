"""Two fabrics of the bundle beside each other: focal against fill, print against print."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from colorcore.contrast.measures import Thresholds, contrast
from colorcore.pattern.model import Role, StackRule
from colorcore.swatch import Swatch


@dataclass(frozen=True)
class TouchingStacks:
    """Two stacks whose pieces meet.

    ``holds``, ``soft`` and ``melts`` are shares of all pairs of squares, by what they read as;
    ``alike`` the share of pairs that neither value (the melting threshold) nor colour (CIEDE2000
    of the same number) tells apart; ``closest`` the pairs that are nearest, as (first, second, L*
    apart, CIEDE2000): in value if one of the stacks is focal, else in colour. ``focal`` says so.
    """

    first: str
    second: str
    holds: float
    soft: float
    melts: float
    alike: float
    focal: bool
    closest: tuple[tuple[str, str, float, float], ...]


def judge_touching(
    rules: Sequence[StackRule],
    stacks: Mapping[str, Sequence[Swatch]],
    thresholds: Thresholds | None = None,
    *,
    most: int = 5,
) -> tuple[TouchingStacks, ...]:
    """Judge all stacks that touch, each pair of stacks once, focal stacks first.

    ``stacks`` gives the squares of each stack by name; a stack without squares is passed over.
    """
    limits = thresholds or Thresholds()
    found: list[TouchingStacks] = []
    seen: set[frozenset[str]] = set()
    by_role = sorted(rules, key=lambda rule: rule.role is not Role.FOCAL)
    touching = [(rule.name, other) for rule in by_role for other in rule.touches]
    for one, other in touching:
        if frozenset((one, other)) in seen or not stacks.get(one) or not stacks.get(other):
            continue
        seen.add(frozenset((one, other)))
        focal = any(rule.role is Role.FOCAL for rule in rules if rule.name in (one, other))
        found.append(_judge_stacks(one, other, stacks, limits, most, focal))
    return tuple(found)


def _judge_stacks(
    one: str,
    other: str,
    stacks: Mapping[str, Sequence[Swatch]],
    limits: Thresholds,
    most: int,
    focal: bool,
) -> TouchingStacks:
    first, second = stacks[one], stacks[other]
    labs = [np.array([s.lab for s in squares]) for squares in (first, second)]
    apart = contrast(labs[0][:, None], labs[1][None])
    pairs = [
        (i, j)
        for i in range(len(first))
        for j in range(len(second))
        if first[i].id != second[j].id and (one != other or i < j)
    ]
    if not pairs:
        return TouchingStacks(one, other, 1.0, 0.0, 0.0, 0.0, focal, ())
    rows, columns = (np.array(index) for index in zip(*pairs, strict=True))
    step = np.abs(apart.delta_l[rows, columns])
    delta_e = apart.delta_e[rows, columns]
    holds = float((step >= limits.holds).mean())
    melts = float((step < limits.melts).mean())
    alike = float(((step < limits.melts) & (delta_e < limits.melts)).mean())
    order = np.argsort(step if focal else delta_e, kind="stable")[:most]
    return TouchingStacks(
        one,
        other,
        holds,
        1 - holds - melts,
        melts,
        alike,
        focal,
        tuple(
            (first[rows[k]].id, second[columns[k]].id, float(step[k]), float(delta_e[k]))
            for k in order
        ),
    )
