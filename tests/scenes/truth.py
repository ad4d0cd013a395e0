"""What is true of a rendered picture, as objects and as JSON."""

import json
from collections.abc import Callable
from dataclasses import asdict, dataclass, field
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

Points = NDArray[np.float64]
SCHEMA = "rendered-scene-truth/1"


@dataclass(frozen=True)
class ColorTruth:
    """What a piece of cloth reads as, see ``SquareTruth``."""

    lab: tuple[float, float, float]
    palette: tuple[tuple[tuple[float, float, float], float], ...]
    ink_lightness_spread: float


@dataclass(frozen=True, eq=False)
class SquareTruth:
    """One square. Places are pixels of the picture, (0, 0) the outer corner of the first pixel.

    ``corners`` (4, 2) is the mean line of the cut edge, clockwise from the square's own top left;
    ``visible`` (K, 2) the part that shows, ``visible_share`` its share of the whole square (0 to
    1), ``cut_off`` whether it runs out of the picture. ``colors`` counts the inks, which takes
    long, so only when one of these is first asked for: ``lab`` is the reads-as colour of the whole
    square: CIELAB for D65 and 2 degrees of the mean in linear light; ``palette`` its inks as (lab,
    share), largest first; ``ink_lightness_spread`` the 90th less the 10th percentile of the inks'
    L* by area. Equal ``fabric`` numbers are the same print. ``scale_inches`` is the size of what
    repeats (0 for a solid), ``stripe_degrees`` the direction of stripes from the square's top edge
    (counter-clockwise, 0 to 180) or None. ``piece`` is the same number wherever the same square of
    one bundle lies in another picture. ``light`` is how much of it falls on the square (5th
    percentile, median, 95th percentile; 1 is what the exposure goes by, the lens not counted).
    """

    address: str
    row: int
    column: int
    corners: Points
    visible: Points
    visible_share: float
    cut_off: bool
    colors: Callable[[], ColorTruth] = field(repr=False)
    fabric: int
    family: str
    scale_inches: float
    stripe_degrees: float | None
    pinking_pitch_inches: float
    glare: bool
    piece: int
    light: tuple[float, float, float]

    @property
    def lab(self) -> tuple[float, float, float]:
        return self.colors().lab

    @property
    def palette(self) -> tuple[tuple[tuple[float, float, float], float], ...]:
        return self.colors().palette

    @property
    def ink_lightness_spread(self) -> float:
        return self.colors().ink_lightness_spread


@dataclass(frozen=True, eq=False)
class PatchTruth:
    """A patch of a colour chart: its published name, CIELAB (D65, 2 degrees), corners (4, 2) and
    the share of it that shows."""

    name: str
    lab: tuple[float, float, float]
    corners: Points
    visible_share: float = 1.0


@dataclass(frozen=True, eq=False)
class ReferenceTruth:
    """A reference in view: ``kind`` is paper, grey, chart or fabric. ``lab`` and ``luminance``
    (Y, 0 to 1) of a plain one; ``patches`` of a chart."""

    kind: str
    corners: Points
    lab: tuple[float, float, float] | None
    luminance: float | None
    patches: tuple[PatchTruth, ...] = ()
    mirrored: bool = False


@dataclass(frozen=True, eq=False)
class ThingTruth:
    """Something that is no square and no reference: a ruler, a hand, a leaflet."""

    kind: str
    outline: Points


@dataclass(frozen=True, eq=False)
class Truth:
    """All that is true of a picture. ``squares`` are those of which more than a fiftieth shows, in
    reading order. ``view`` (3, 3) takes inches on the table to pixels, but for
    what the lens bends;
    ``options`` are the choices the picture was made with."""

    kind: str
    seed: int
    width: int
    height: int
    light: str
    tone: str
    surface: str
    camera: str
    profile: str
    side_inches: float
    pixels_per_inch: float
    view: Points
    squares: tuple[SquareTruth, ...]
    references: tuple[ReferenceTruth, ...]
    things: tuple[ThingTruth, ...]
    options: dict[str, Any] = field(default_factory=dict)

    def to_json(self) -> str:
        """Return the truth as JSON text; it says that the picture is rendered."""
        whole = {
            "schema": SCHEMA,
            "rendered": "Computed from reflectance spectra; no photograph.",
            **asdict(self),
            "squares": [_square_to_json(square) for square in self.squares],
        }
        return json.dumps(_plain(whole), indent=1) + "\n"


def address(row: int, column: int) -> str:
    """Return what a person calls a place: row letter and column number, ``B3``. Rows past Z do
    not come up."""
    return f"{'ABCDEFGHIJKLMNOPQRSTUVWXYZ'[row]}{column + 1}"


def _square_to_json(square: SquareTruth) -> dict[str, Any]:
    facts: dict[str, Any] = {}
    for name, value in vars(square).items():
        facts |= asdict(value()) if name == "colors" else {name: value}
    return facts


def _plain(value: Any) -> Any:
    if isinstance(value, dict):
        return {k: _plain(v) for k, v in value.items()}
    if isinstance(value, np.ndarray):
        return np.round(value, 9).tolist()
    if isinstance(value, list | tuple):
        return [_plain(v) for v in value]
    if isinstance(value, np.generic):
        return value.item()
    return value


def _colors_from_json(square: dict[str, Any]) -> Callable[[], ColorTruth]:
    """The colours in a square's facts, which are taken from them."""
    palette = tuple((tuple(lab), share) for lab, share in square.pop("palette"))
    lab = tuple(square.pop("lab"))
    colors = ColorTruth(lab, palette, square.pop("ink_lightness_spread"))
    return lambda: colors


def read_truth(path: str | Path) -> Truth:
    """Return the truth that was saved beside a picture.

    Raises
    ------
    ValueError
        If the file is of another schema.
    """
    whole = json.loads(Path(path).read_text(encoding="utf-8"))
    if whole.pop("schema") != SCHEMA:
        raise ValueError(f"{path} is not of schema {SCHEMA}")
    whole.pop("rendered")
    whole["view"] = np.array(whole["view"])
    whole["squares"] = tuple(
        SquareTruth(
            **{
                "colors": _colors_from_json(square),
                **square,
                "corners": np.array(square["corners"]),
                "visible": np.array(square["visible"]).reshape(-1, 2),
                "light": tuple(square["light"]),
            }
        )
        for square in whole["squares"]
    )
    whole["references"] = tuple(
        ReferenceTruth(
            **{
                **reference,
                "corners": np.array(reference["corners"]),
                "lab": tuple(reference["lab"]) if reference["lab"] else None,
                "patches": tuple(
                    PatchTruth(
                        p["name"], tuple(p["lab"]), np.array(p["corners"]), p["visible_share"]
                    )
                    for p in reference["patches"]
                ),
            }
        )
        for reference in whole["references"]
    )
    whole["things"] = tuple(
        ThingTruth(thing["kind"], np.array(thing["outline"])) for thing in whole["things"]
    )
    return Truth(**whole)
