"""Plans, bundles and fabrics made up for tests."""

from dataclasses import replace
from functools import cache
from pathlib import Path

import numpy as np

from colorcore.bundle import Bundle
from colorcore.color.spaces import coded8_from_linear, linear_from_lab
from colorcore.pattern import Pattern, read_pattern
from colorcore.sheets.folder import output_folder
from colorcore.sheets.outputs import plan_files
from colorcore.stacking import Background, Plan, deal
from colorcore.swatch import PaletteColor, Swatch
from tests.cloth import solid_square
from tests.sheets.making import make_bundle

CREAM = Background("#f4efe6", (94.6, 0.5, 5.0))
PATTERN = "gatepost-stars"


@cache
def pattern() -> Pattern:
    return read_pattern(PATTERN)


@cache
def bundle(seed: int = 1, squares: int = 44) -> Bundle:
    """A bundle without flags, so that trust is not in question."""
    made = make_bundle(7, 7, seed=seed)
    kept = tuple(replace(s, flags=()) for s in made.squares[:squares])
    return replace(made, squares=kept, name=f"Bundle {seed}")


@cache
def plan(seed: int = 1, squares: int = 44, locks: tuple[str, ...] = ()) -> Plan:
    return deal(bundle(seed, squares), pattern(), CREAM, locks=locks)


def striped(
    lab: tuple[float, float, float],
    *,
    period: float | None = None,
    spread: float = 0.0,
    side_inches: float = 10.0,
    samples: int = 160,
    name: str = "A1",
) -> Swatch:
    """Cloth of a colour with upright stripes of ``period`` inches, half of it lighter and half
    darker by half of ``spread``; a solid without a period."""
    x = (np.arange(samples) + 0.5) * side_inches / samples
    lighter = np.zeros(samples, bool) if period is None else (x % period) < period / 2
    row = np.tile(np.array(lab), (samples, 1))
    row[:, 0] += np.where(lighter, spread / 2, -spread / 2)
    picture = coded8_from_linear(np.tile(linear_from_lab(row)[None], (samples, 1, 1)))
    palette = (PaletteColor(lab, 1.0),)
    if period is not None:
        palette = tuple(
            PaletteColor((lab[0] + step, lab[1], lab[2]), 0.5) for step in (spread / 2, -spread / 2)
        )
    return solid_square(
        lab, id=name, value_spread=spread, palette=palette, print_scale_inches=period,
        busyness=spread / 3, reads_as_solid=period is None, side_inches=side_inches,
        picture=picture,
    )  # fmt: skip


def write_plan(folder: Path, seed: int = 1, squares: int = 44) -> Path:
    """Write a plan as ``bundlestacks stack`` does and return its plan.json."""
    made = bundle(seed, squares)
    with output_folder(folder) as out:
        out.publish(
            plan_files(plan(seed, squares), made, pattern(), photos=[None] * len(made.photos))
        )
    return folder / "plan.json"
