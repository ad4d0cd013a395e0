"""What must be even between stacks: value, hue, print scale and busyness of their squares."""

from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from colorcore.color.bands import BANDS, value_bands
from colorcore.color.families import HUE_FAMILIES, hue_families
from colorcore.pattern.model import StackRule, ValueRule
from colorcore.swatch import Swatch
from colorcore.swatch.prints import PRINTS, print_class

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.int64]


@dataclass(frozen=True, eq=False)
class Evenness:
    """What must be even between the stacks of a group: K features of each of N squares.

    ``values`` (N, K); a stack's figure is the mean over its squares. Differences between stacks
    up to ``zone`` (K,) are no difference; beyond it each quarter of a zone costs ``weight`` (K,).
    Zones are what measurement and eye can tell (1 L*, 2 in a* and b*), and for counts what cannot
    be helped (bands) or is one square off an even share (hues, scales): our own choice.
    ``stacks`` are indices into the pattern's stacks, at least two.
    """

    stacks: tuple[int, ...]
    names: tuple[str, ...]
    values: FloatArray
    zone: FloatArray
    weight: FloatArray


def even_groups(
    squares: tuple[Swatch, ...],
    rules: tuple[StackRule, ...],
    fabric: IntArray,
    cloth: FloatArray,
) -> tuple[Evenness, ...]:
    """Return the groups of stacks that are to be even: all mixed stacks, and all stacks of one
    role that ask for the same value.

    ``fabric`` (N,) numbers copies alike; ``cloth`` (N, 3) is the CIELAB of each square's fabric.
    """
    groups: dict[object, list[int]] = {}
    for s, rule in enumerate(rules):
        if rule.squares:
            key = rule.value if rule.value is ValueRule.MIXED else (rule.value, rule.role)
            groups.setdefault(key, []).append(s)
    return tuple(
        _evenness(tuple(stacks), squares, rules, fabric, cloth)
        for stacks in groups.values()
        if len(stacks) > 1
    )


def _evenness(
    stacks: tuple[int, ...],
    squares: tuple[Swatch, ...],
    rules: tuple[StackRule, ...],
    fabric: IntArray,
    cloth: FloatArray,
) -> Evenness:
    one = 1 / min(rules[s].squares for s in stacks)
    band = np.array(value_bands(cloth[:, 0]), dtype=str)
    features: list[tuple[str, FloatArray, float, float]] = [
        ("mean L*", cloth[:, 0], 1.0, 8.0),
        *((f"{name} squares", (band == name).astype(float), one, 8.0) for name in BANDS),
        ("mean a*", cloth[:, 1], 2.0, 4.0),
        ("mean b*", cloth[:, 2], 2.0, 4.0),
    ]
    hue = hue_families(cloth)
    for n, name in enumerate(HUE_FAMILIES):
        features.append((f"{name} squares", (hue == n).astype(float), 2 * one, 4.0))
    scale = _of_fabric(np.array([PRINTS.index(print_class(s)) for s in squares]), fabric)
    for n, name in enumerate(PRINTS):
        features.append((f"{name}s", (np.rint(scale) == n).astype(float), 2 * one, 2.0))
    busyness = np.array([s.busyness for s in squares], dtype=np.float64)
    features.append(("mean busyness", _of_fabric(busyness, fabric), 1.0, 1.0))
    told = [f for f in features if len(f[1]) and np.ptp(f[1]) > 0]
    return Evenness(
        stacks=stacks,
        names=tuple(f[0] for f in told),
        values=np.array([f[1] for f in told]).T.reshape(len(squares), len(told)),
        zone=np.array([f[2] for f in told]),
        weight=np.array([f[3] for f in told]),
    )


def _of_fabric(values: NDArray[np.floating[Any]], fabric: IntArray) -> FloatArray:
    """Return for each square the mean over its fabric's copies (N,)."""
    means = np.bincount(fabric, weights=values) / np.maximum(np.bincount(fabric), 1)
    return np.asarray(means[fabric])
