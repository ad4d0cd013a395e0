"""Goals that are sums over places: what each square costs in each stack.

All costs are whole numbers (thousandths), so that sums of them compare exactly.
"""

import numpy as np

from colorcore.pattern.model import Role, ValueRule
from colorcore.stacking.problem import COST_STEP, FloatArray, IntArray, Problem


def value_goal(problem: Problem, role: Role) -> FloatArray:
    """Whole costs (N, S) of a square's L* in the stacks of a role that ask for a value."""
    cost = np.zeros(problem.allowed.shape)
    medium = np.array([b == "medium" for b in problem.band])
    lightness = problem.lab[:, 0]
    middle = float(np.median(lightness[medium] if medium.any() else lightness))
    for s, rule in enumerate(problem.rules):
        if rule.role is not role or rule.value is ValueRule.MIXED:
            continue
        by_rule = {
            ValueRule.DARK: lightness,
            ValueRule.LIGHT: -lightness,
            ValueRule.MEDIUM: np.abs(lightness - middle),
        }
        cost[:, s] = np.rint(by_rule[rule.value] * COST_STEP)
    return cost


def background_goal(problem: Problem) -> FloatArray:
    """Whole costs (N, S): how far a square in a focal stack is from holding on the background."""
    short = np.maximum(problem.thresholds.holds - problem.stand_off, 0)
    focal = [r.role is Role.FOCAL and r.beside_background for r in problem.rules]
    return np.asarray(np.rint(short * COST_STEP)[:, None] * np.array(focal, dtype=float))


def touching_goal(problem: Problem, assigned: IntArray) -> FloatArray:
    """Whole costs (N, S): how far a square of fill is, on average over the squares it will touch
    in focal stacks that ask for a value, from holding against them. ``assigned`` (N,) stacks."""
    cost = np.zeros(problem.allowed.shape)
    lightness = problem.lab[:, 0]
    for s, rule in enumerate(problem.rules):
        if rule.role is not Role.FILL:
            continue
        beside = [
            f
            for f, other in enumerate(problem.rules)
            if other.role is Role.FOCAL
            and other.value is not ValueRule.MIXED
            and (other.name in rule.touches or rule.name in other.touches)
        ]
        focal = np.isin(assigned, beside)
        if focal.any():
            step = np.abs(lightness[:, None] - lightness[None, focal])
            short = np.maximum(problem.thresholds.holds - step, 0).mean(axis=1)
            cost[:, s] = np.rint(short * COST_STEP)
    return cost


def moving_goal(problem: Problem) -> FloatArray | None:
    """Costs (N, S): 1 where a square would leave the stack it lay in, -1 where it stays, so that
    one left over pays too; None without an earlier plan."""
    if problem.previous is None:
        return None
    cost = np.zeros(problem.allowed.shape)
    for n, stack in enumerate(problem.previous):
        if stack >= 0:
            cost[n, stack] = -1.0
        elif stack == -1:
            cost[n, :] = 1.0
    return cost
