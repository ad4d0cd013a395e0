"""What falls on the table: a mixture of lights, each with its spectrum and its own unevenness."""

from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

Field = NDArray[np.float32]

LIGHTS = (
    "even",
    "warm",
    "fluorescent",
    "triband",
    "led",
    "side",
    "mixed",
    "sun_patch",
    "hand_shadow",
    "falloff",
    "under",
    "over",
    "glare",
)


@dataclass(frozen=True)
class Ramp:
    """Light from one side: strength falls from 1 to 1 / ``ratio`` across the picture, towards
    ``direction`` (radians, x right, y down)."""

    direction: float
    ratio: float

    def strength(self, x: Field, y: Field) -> Field:
        along = (x - 0.5) * np.cos(self.direction) + (y - 0.5) * np.sin(self.direction)
        reach = 0.5 * (abs(np.cos(self.direction)) + abs(np.sin(self.direction)))
        place = np.clip((along / reach + 1) / 2, -0.2, 1.2)
        # A window's light falls with the square of the distance from somewhere beyond the edge.
        root = np.sqrt(self.ratio) - 1
        return np.asarray(1 / (1 + root * place) ** 2, dtype=np.float32)


@dataclass(frozen=True)
class Pool:
    """A lamp over the table: brightest below it, falling off with distance and slant."""

    x: float
    y: float
    height: float

    def strength(self, x: Field, y: Field) -> Field:
        squared = (x - self.x) ** 2 + (y - self.y) ** 2
        return np.asarray((1 + squared / self.height**2) ** -2, dtype=np.float32)


@dataclass(frozen=True)
class Panes:
    """A patch of sun through a window with glazing bars; 1 inside, 0 outside, soft edges."""

    corners: NDArray[np.float64]
    softness: float
    bars: int

    def strength(self, x: Field, y: Field) -> Field:
        inside = np.ones_like(x)
        points = self.corners
        for a, b in zip(points, np.roll(points, -1, axis=0), strict=True):
            along = (b - a) / np.linalg.norm(b - a)
            distance = (x - a[0]) * -along[1] + (y - a[1]) * along[0]
            inside = inside * _step(distance / self.softness)
        for k in range(1, self.bars + 1):
            a = points[0] + (points[1] - points[0]) * k / (self.bars + 1)
            b = points[3] + (points[2] - points[3]) * k / (self.bars + 1)
            along = (b - a) / np.linalg.norm(b - a)
            distance = np.abs((x - a[0]) * -along[1] + (y - a[1]) * along[0])
            inside = inside * _step((distance - 0.012) / self.softness)
        return np.asarray(inside, dtype=np.float32)


def _step(t: Field) -> Field:
    t = np.clip(t + 0.5, 0, 1)
    return np.asarray(t * t * (3 - 2 * t), dtype=np.float32)


@dataclass(frozen=True)
class Capsules:
    """A shadow of rounded limbs: how much of the light each point loses, 0 to ``depth``."""

    limbs: NDArray[np.float64]  # (K, 5): x, y, x, y, radius
    softness: float
    depth: float

    def strength(self, x: Field, y: Field) -> Field:
        cover = np.zeros_like(x)
        for x0, y0, x1, y1, radius in self.limbs:
            dx, dy = x1 - x0, y1 - y0
            t = np.clip(((x - x0) * dx + (y - y0) * dy) / (dx * dx + dy * dy), 0, 1)
            distance = np.hypot(x - x0 - t * dx, y - y0 - t * dy)
            cover = np.maximum(cover, _step((radius - distance) / self.softness))
        return np.asarray(1 - self.depth * cover, dtype=np.float32)


Shape = Ramp | Pool | Panes | Capsules


@dataclass(frozen=True, eq=False)
class Source:
    """One light: its illuminant's name, its share, and shapes that multiply."""

    illuminant: str
    share: float
    shapes: tuple[Shape, ...] = ()
    floor: float = 0.0  # what reaches the places that the shapes leave dark

    def strength(self, x: Field, y: Field) -> Field:
        product = np.ones(np.broadcast(x, y).shape, np.float32)
        for shape in self.shapes:
            product = product * shape.strength(x, y)
        return np.asarray(self.share * (self.floor + (1 - self.floor) * product), np.float32)


@dataclass(frozen=True, eq=False)
class Lighting:
    """All that reaches the table, and how the camera takes it.

    Coordinates are shares of the picture's larger side. ``vignette`` is the share of light that
    the lens loses in the far corner, ``exposure`` a factor on a right exposure, ``shadow_side``
    the direction (radians) in which shadows fall, ``glare`` how many squares have a glare spot.
    """

    name: str
    sources: tuple[Source, ...]
    vignette: float = 0.06
    exposure: float = 1.0
    shadow_side: float = 0.6
    glare: int = 0
    notes: dict[str, object] = field(default_factory=dict)

    def illuminants(self) -> tuple[str, ...]:
        return tuple(dict.fromkeys(source.illuminant for source in self.sources))

    def fields(self, x: Field, y: Field) -> dict[str, Field]:
        """Return the strength of each illuminant, vignetting not counted."""
        result: dict[str, Field] = {}
        for source in self.sources:
            strength = source.strength(x, y)
            result[source.illuminant] = result.get(source.illuminant, 0) + strength
        return result


def make_lighting(name: str, rng: np.random.Generator, aspect: tuple[float, float]) -> Lighting:
    """Return a light by name; several names may be joined by ``+``.

    ``aspect`` is the picture's width and height as shares of the larger side.

    Raises
    ------
    ValueError
        If a name is not in LIGHTS.
    """
    parts = name.split("+")
    unknown = [part for part in parts if part not in LIGHTS]
    if unknown:
        raise ValueError(f"light must be of {', '.join(LIGHTS)}; got {unknown[0]!r}")
    direction = rng.uniform(0, 2 * np.pi)
    day = str(rng.choice(["D55", "D65", "D75"]))
    sources = [Source("D65", 1.0, (Ramp(direction, float(rng.uniform(1.0, 1.12))),))]
    vignette, exposure, glare = float(rng.uniform(0.02, 0.08)), 1.0, 0
    plain = {"warm": "A", "fluorescent": "FL2", "triband": "FL11", "led": "LED-B3"}
    for part in parts:
        if part in plain:
            sources = [Source(plain[part], s.share, s.shapes, s.floor) for s in sources]
        elif part == "side":
            ratio = float(rng.uniform(1.8, 3.5))
            sources = [Source(s.illuminant, 1.0, (Ramp(direction, ratio),)) for s in sources]
        elif part == "mixed":
            lamp = str(rng.choice(["A", "A", "LED-B3", "FL2", "FL11"]))
            # The lamp stands away from the window.
            x = 0.5 * aspect[0] + 0.55 * np.cos(direction) + rng.uniform(-0.15, 0.15)
            y = 0.5 * aspect[1] + 0.55 * np.sin(direction) + rng.uniform(-0.15, 0.15)
            pool = Pool(float(x), float(y), float(rng.uniform(0.7, 1.2)))
            sources = [
                Source(day, 1.0, (Ramp(direction, float(rng.uniform(1.5, 3.0))),)),
                Source(lamp, float(rng.uniform(0.35, 0.9)), (pool,)),
            ]
        elif part == "sun_patch":
            sources.append(Source("D50", float(rng.uniform(0.8, 2.0)), (_panes(rng, aspect),)))
        elif part == "hand_shadow":
            shadow = _hand(rng, aspect)
            sources = [Source(s.illuminant, s.share, (*s.shapes, shadow), s.floor) for s in sources]
        elif part == "falloff":
            vignette = float(rng.uniform(0.3, 0.5))
        elif part == "under":
            exposure = float(rng.uniform(0.2, 0.4))
        elif part == "over":
            exposure = float(rng.uniform(1.4, 2.0))
        elif part == "glare":
            glare = int(rng.integers(1, 4))
    shadow_side = direction + float(rng.uniform(-0.3, 0.3))
    return Lighting(name, tuple(sources), vignette, exposure, shadow_side, glare)


def _panes(rng: np.random.Generator, aspect: tuple[float, float]) -> Panes:
    width, height = rng.uniform(0.3, 0.6), rng.uniform(0.25, 0.5)
    slant = rng.uniform(-0.3, 0.3)
    corners = np.array([[0, 0], [width, 0], [width + slant, height], [slant, height]])
    turn = rng.uniform(0, 2 * np.pi)
    c, s = np.cos(turn), np.sin(turn)
    middle = np.array(aspect) / 2 + rng.uniform(-0.2, 0.2, 2)
    corners = (corners - corners.mean(axis=0)) @ np.array([[c, s], [-s, c]]) + middle
    return Panes(corners, float(rng.uniform(0.004, 0.02)), int(rng.integers(0, 3)))


def _hand(rng: np.random.Generator, aspect: tuple[float, float]) -> Capsules:
    """The shadow of an arm, a palm and fingers, reaching in from an edge."""
    middle = np.array(aspect) / 2
    angle = rng.uniform(0, 2 * np.pi)
    along = np.array([np.cos(angle), np.sin(angle)])
    across = np.array([-along[1], along[0]])
    palm = middle - along * rng.uniform(0.0, 0.25) + across * rng.uniform(-0.15, 0.15)
    limbs = [[*(palm - along * 1.5), *palm, 0.07], [*palm, *(palm + along * 0.05), 0.09]]
    for k in range(4):
        start = palm + along * 0.08 + across * (k - 1.5) * 0.04
        tip = start + along * rng.uniform(0.08, 0.14) + across * (k - 1.5) * 0.02
        limbs.append([*start, *tip, 0.017])
    return Capsules(np.array(limbs), float(rng.uniform(0.015, 0.06)), float(rng.uniform(0.4, 0.7)))
