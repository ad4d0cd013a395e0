"""The kinds of scene: each sets some choices of the arrangement, by its own seed."""

from collections.abc import Callable
from dataclasses import fields
from typing import Any

import numpy as np

from tests.scenes.layout import Arrangement
from tests.scenes.scene import Scene, build_scene
from tests.scenes.things import THINGS

Rng = np.random.Generator
Choices = dict[str, Any]


def _grid(rng: Rng, **choices: Any) -> Choices:
    """A bundle with gaps, as laid by hand with care."""
    rows, columns = ((6, 7), (7, 6), (5, 8), (6, 7), (4, 6), (5, 5))[int(rng.integers(6))]
    return {
        "rows": rows,
        "columns": columns,
        "gap": float(rng.uniform(0.05, 0.30)),
        "jitter": float(rng.uniform(0.004, 0.02)),
        "hand": float(rng.uniform(0.5, 3.0)),
        "tilt": float(rng.uniform(0, 6)),
        "margin": float(rng.uniform(0.02, 0.08)),
        "turn": float(rng.uniform(-4, 4)),
        "copies": float(rng.choice([0.0, 0.1, 0.3])),
        "crumpled": float(rng.uniform(0.6, 1.4)),
        "lens": float(rng.uniform(-0.003, 0.003)),
        **choices,
    }


def _any_surface(rng: Rng, **choices: Any) -> Choices:
    surface = str(
        rng.choice(
            [
                "board",
                "board",
                "wood",
                "wood",
                "mat",
                "mat",
                "white_table",
                "carpet",
                "flannel",
            ]
        )
    )
    return _grid(rng, **{"surface": surface, **choices})


def _touching(rng: Rng) -> Choices:
    return _any_surface(
        rng,
        gap=0.0,
        jitter=float(rng.uniform(0.0, 0.004)),
        hand=float(rng.uniform(0.0, 0.5)),
        theme=str(rng.choice(["mixed", "mixed", "similar"])),
    )


def _touching_similar(rng: Rng) -> Choices:
    return {**_touching(rng), "theme": str(rng.choice(["similar", "white", "black"]))}


def _mat_on_table(rng: Rng) -> Choices:
    return _grid(
        rng,
        surface=str(rng.choice(["wood", "board", "white_table", "carpet"])),
        mat=(36.0, 24.0),
        side_inches=5.0,
        rows=4,
        columns=6,
        gap=float(rng.uniform(0.04, 0.1)),
    )


def _shingled(rng: Rng) -> Choices:
    style = int(rng.integers(3))
    strip, part = float(rng.uniform(0.2, 0.5)), float(rng.uniform(0.5, 0.85))
    lap = ((strip, 1.0), (1.0, strip), (part, part))[style]
    hand, first_on_top = float(rng.uniform(0.0, 2.0)), bool(rng.random() < 0.5)
    return _any_surface(rng, lap=lap, hand=hand, first_on_top=first_on_top)


def _tilted(rng: Rng) -> Choices:
    return _any_surface(rng, tilt=float(rng.uniform(12, 30)))


def _distractors(rng: Rng) -> Choices:
    names = tuple(name for name in THINGS if name != "gridded_ruler")
    chosen = rng.choice(names, int(rng.integers(2, 6)), replace=False)
    return _any_surface(
        rng,
        things=tuple(str(name) for name in chosen),
        margin=float(rng.uniform(0.08, 0.14)),
        overlap=float(rng.choice([0.0, 0.0, 1.0, 2.0])),
        table_edge=bool(rng.random() < 0.4),
    )


MAKERS: dict[str, Callable[[Rng], Choices]] = {
    "gaps_board": lambda rng: _grid(rng, surface="board"),
    "gaps_white_table": lambda rng: _grid(rng, surface="white_table"),
    "gaps_wood": lambda rng: _grid(rng, surface="wood"),
    "gaps_carpet": lambda rng: _grid(rng, surface="carpet"),
    "gaps_mat": lambda rng: _grid(rng, surface="mat"),
    "gaps_cloth": lambda rng: _grid(rng, surface="cloth"),
    "gaps_flannel": lambda rng: _grid(rng, surface="flannel"),
    "gaps_bedsheet": lambda rng: _grid(rng, surface="bedsheet"),
    "gaps_tiles": lambda rng: _grid(rng, surface="tiles"),
    "touching": _touching,
    "touching_similar": _touching_similar,
    "mat_on_table": _mat_on_table,
    "cut_off": lambda rng: _any_surface(rng, margin=float(rng.uniform(-0.12, -0.04))),
    "shingled": _shingled,
    "white_on_white": lambda rng: _grid(rng, surface="white_table", theme="white"),
    "black_on_black": lambda rng: _grid(rng, surface="black_table", theme="black"),
    "hand_laid": lambda rng: _any_surface(
        rng, hand=float(rng.uniform(8, 15)), gap=float(rng.uniform(0.25, 0.35)), jitter=0.03
    ),
    "turned": lambda rng: _any_surface(rng, turn=float(rng.uniform(-44, 44))),
    "uneven_rows": lambda rng: _any_surface(rng, uneven=True),
    "missing": lambda rng: _any_surface(rng, missing=float(rng.uniform(0.08, 0.3))),
    "many": lambda rng: _any_surface(rng, rows=9, columns=10),
    "few": lambda rng: _any_surface(rng, rows=int(rng.integers(1, 3)), columns=2),
    "one_large": lambda rng: _any_surface(
        rng, rows=1, columns=1, margin=float(rng.uniform(0.02, 0.1)), framing=False
    ),
    "one_small": lambda rng: _any_surface(
        rng, rows=1, columns=1, margin=float(rng.uniform(0.36, 0.42)), framing=False
    ),
    "precuts_5": lambda rng: _any_surface(rng, side_inches=5.0),
    "precuts_2h": lambda rng: _any_surface(rng, side_inches=2.5),
    "strips": lambda rng: _any_surface(
        rng,
        side_inches=2.5,
        long_inches=20.0,
        rows=1,
        columns=int(rng.integers(8, 18)),
        gap=float(rng.uniform(0.1, 0.4)),
        hand=0.8,
    ),
    "side_light": lambda rng: _any_surface(rng, light="side"),
    "mixed_light": lambda rng: _any_surface(rng, light="mixed"),
    "sun_patch": lambda rng: _any_surface(rng, light="sun_patch"),
    "hand_shadow": lambda rng: _any_surface(rng, light="hand_shadow"),
    "falloff": lambda rng: _any_surface(rng, light="falloff"),
    "glare": lambda rng: _any_surface(rng, light="glare"),
    "glossy_table": lambda rng: _grid(
        rng,
        surface=str(rng.choice(["wood", "white_table", "black_table", "mat"])),
        sheen=float(rng.uniform(0.1, 0.5)),
    ),
    "crumpled": lambda rng: _any_surface(rng, crumpled=float(rng.uniform(2.0, 3.0))),
    "bent_lens": lambda rng: _any_surface(
        rng, lens=float(rng.choice([-1, 1]) * rng.uniform(0.01, 0.03))
    ),
    "dim": lambda rng: _any_surface(rng, light="warm", exposure=0.5, noise=4.0, blur=1.0),
    "tilted": _tilted,
    "blurred": lambda rng: _any_surface(rng, blur=float(rng.uniform(1.5, 3.0))),
    "low_quality": lambda rng: _any_surface(rng, quality=75, noise=2.0),
    "tricky_prints": lambda rng: _any_surface(
        rng, families=("checks", "frames", "patchwork", "plaid", "large_motif", "stripes")
    ),
    "distractors": _distractors,
    "table_edge": lambda rng: _grid(
        rng,
        table_edge=True,
        margin=float(rng.uniform(0.06, 0.12)),
        surface=str(rng.choice(["board", "wood", "mat", "white_table", "black_table"])),
    ),
    "leaflet": lambda rng: _any_surface(rng, things=("leaflet",), margin=0.14),
    "gridded_ruler": lambda rng: _any_surface(
        rng,
        things=("gridded_ruler",) * int(rng.integers(1, 3)),
        margin=float(rng.uniform(0.14, 0.2)),
        overlap=float(rng.choice([-0.3, 0.0, 3.0, 6.0])),
    ),
    "chart_squares": lambda rng: _grid(rng, rows=4, columns=6, theme="chart", copies=0.0, gap=0.15),
}
SCENE_KINDS: tuple[str, ...] = tuple(MAKERS)


def make_scene(
    kind: str,
    seed: int,
    *,
    megapixels: float = 3.0,
    light: str = "even",
    tone: str = "srgb",
    reference: str = "paper",
    **options: Any,
) -> Scene:
    """Return a rendered photograph with its truth; same arguments, same picture.

    Parameters
    ----------
    kind : str
        One of SCENE_KINDS.
    light : str
        One or more of ``lights.LIGHTS`` joined by +. A kind that is about light (``side_light``)
        brings its own unless another than ``even`` is asked for.
    tone : str
        One of ``sensor.TONES``.
    reference : str
        ``none`` or one or more of paper, grey, chart, fabric joined by +.
    options
        Fields of ``layout.Arrangement``, which override what the kind chooses. With ``bundle``
        the kind chooses neither theme, families nor copies.

    Raises
    ------
    ValueError
        If a name is unknown.
    """
    if kind not in MAKERS:
        raise ValueError(f"kind must be of {', '.join(SCENE_KINDS)}; got {kind!r}")
    known = {f.name for f in fields(Arrangement)}
    unknown = set(options) - known
    if unknown:
        raise ValueError(f"options are {', '.join(sorted(known))}; got {sorted(unknown)[0]!r}")
    choices = MAKERS[kind](np.random.default_rng([seed, 1, *kind.encode()]))
    if options.get("bundle") is not None:
        # The same bundle must come out of every kind.
        for name in ("theme", "families", "copies"):
            choices.pop(name, None)
    own_light = choices.pop("light", "even")
    return build_scene(
        kind,
        seed,
        Arrangement(**{**choices, **options}),
        megapixels=megapixels,
        light=own_light if light == "even" else light,
        tone=tone,
        reference=reference,
    )
