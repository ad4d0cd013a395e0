"""Bundles of plain prints for the steps after dealing."""

from collections.abc import Sequence

import numpy as np

from colorcore.cutting.kits import StackCutting, cut_stacks
from colorcore.pattern import Pattern, read_pattern
from colorcore.pattern.layout import Layout, spread
from colorcore.pattern.units import read_units
from colorcore.swatch import Swatch
from tests.cloth import plain_picture, solid_square

Lab = tuple[float, float, float]


def make_swatch(name: str, lab: Lab, *, fabric: int = -1, spread: float = 8.0) -> Swatch:
    """Return a square of one colour with a darker dot a third of the way along each side."""
    picture = plain_picture(lab, 80)
    picture[20:32, 20:32] //= 2
    return solid_square(
        lab, id=name, lab_sd=(0.8, 1.0, 1.0), value_spread=spread, print_scale_inches=1.0,
        busyness=4.0, reads_as_solid=False, fabric=fabric, picture=picture,
    )  # fmt: skip


def make_squares(count: int, seed: int = 1, *, copies: int = 0) -> list[Swatch]:
    """Return squares darkest first, the last ``copies`` of them repeating earlier fabrics."""
    rng = np.random.default_rng(seed)
    found = []
    for i in range(count):
        hue, chroma = rng.uniform(0, 2 * np.pi), rng.uniform(8, 22)
        lab = (20 + 65 * i / count, float(chroma * np.cos(hue)), float(chroma * np.sin(hue)))
        found.append(make_swatch(f"{chr(65 + i // 7)}{i % 7 + 1}", lab, fabric=i))
    for i in range(copies):
        twin = found[-1 - i]
        other = found[2 * i]
        found[-1 - i] = make_swatch(twin.id, other.lab, fabric=other.fabric)
    return sorted(found, key=lambda s: s.lab[0])


def deal_in_order(pattern: Pattern, size: int, squares: Sequence[Swatch]) -> dict[str, list[str]]:
    """Fill the stacks of a size one after the other."""
    stacks, used = {}, 0
    for rule in pattern.sizes[size].stacks:
        stacks[rule.name] = [s.id for s in squares[used : used + rule.squares]]
        used += rule.squares
    return stacks


def make_quilt(
    name: str, *, size: int = 0, copies: int = 0, seed: int = 1
) -> tuple[Layout, tuple[StackCutting, ...], dict[str, Swatch]]:
    """Return a shipped pattern's quilt spread out and its stacks cut."""
    pattern = read_pattern(name)
    layout = spread(read_units(pattern), pattern.sizes[size].name)
    squares = make_squares(pattern.sizes[size].squares, seed, copies=copies)
    cuts = cut_stacks(layout, deal_in_order(pattern, size, squares))
    return layout, cuts, {s.id: s for s in squares}
