"""Bundles made up for the tests: random cloth with known numbers."""

import numpy as np

from colorcore.bundle import Bundle
from colorcore.pattern import Pattern, PatternSize, Role, StackRule, ValueRule
from colorcore.stacking import Background
from colorcore.swatch import Swatch
from tests.cloth import solid_square

WHITE = Background("white", (96.0, 0.0, 2.0))


def make_swatch(
    name: str,
    lab: tuple[float, float, float],
    *,
    sd: float = 0.8,
    fabric: int = -1,
    scale: float | None = None,
    busyness: float = 0.0,
    flags: tuple[str, ...] = (),
    picture: np.ndarray | None = None,
    side_inches: float = 10.0,
    photo: int = 0,
    order_sd: float | None = None,
) -> Swatch:
    return solid_square(
        lab,
        id=name,
        photo=photo,
        lab_sd=(sd, sd, sd),
        palette=(),
        print_scale_inches=scale,
        busyness=busyness,
        reads_as_solid=scale is None,
        fabric=fabric,
        flags=flags,
        side_inches=side_inches,
        picture=np.zeros((4, 4, 3), dtype=np.uint8) if picture is None else picture,
        order_sd=order_sd,
    )


def make_bundle(n: int, seed: int = 0, *, fabrics: int | None = None, columns: int = 7) -> Bundle:
    """A bundle of n squares of so many fabrics (default: each its own), in reading order."""
    rng = np.random.default_rng(seed)
    kinds = fabrics or n
    lightness = rng.uniform(18, 92, kinds)
    hue = rng.uniform(0, 2 * np.pi, kinds)
    chroma = rng.gamma(3, 9, kinds)
    scale = rng.choice([0.0, 0.5, 1.5, 4.0], kinds)
    busy = rng.uniform(0, 14, kinds)
    which = rng.permutation(np.arange(n) % kinds)
    squares = []
    for i, k in enumerate(which):
        lab = (
            float(np.clip(lightness[k] + rng.normal(0, 0.3), 0, 100)),
            float(chroma[k] * np.cos(hue[k])),
            float(chroma[k] * np.sin(hue[k])),
        )
        name = f"{chr(65 + i // columns)}{i % columns + 1}"
        squares.append(
            make_swatch(
                name,
                lab,
                fabric=int(k),
                scale=float(scale[k]) or None,
                busyness=float(busy[k]) if scale[k] else 0.0,
            )
        )
    return Bundle(tuple(squares), ())


def make_rule(
    name: str,
    squares: int,
    *,
    role: str = "fill",
    value: str = "mixed",
    max_copies: int | None = None,
    min_contrast: float | None = None,
    touches: tuple[str, ...] = (),
) -> StackRule:
    return StackRule(
        name=name,
        role=Role(role),
        value=ValueRule(value),
        squares=squares,
        max_copies=max_copies,
        min_contrast=min_contrast,
        touches=touches,
    )


def make_pattern(*rules: StackRule) -> Pattern:
    return Pattern("Test pattern", "", 10.0, (PatternSize("only", 1, None, rules),))
