"""Prints: repeating maps of inks, drawn in inches.

A design is drawn once as a tile (T, T) of ink numbers that repeats seamlessly; a square then
shows some part of it, turned as the cutter happened to lay it.
"""

from dataclasses import dataclass
from functools import lru_cache

import cv2
import numpy as np
from numpy.typing import NDArray

from tests.scenes import spectra
from tests.scenes.designs import FAMILIES, SCALES, Rng, Tile


@dataclass(frozen=True, eq=False)
class Fabric:
    """A printed cloth: ``family`` names the kind of print, ``repeat`` is the side of its tile in
    inches, ``inks`` (K, 81) reflectances, ``seed`` draws the tile again at any size,
    ``stripe`` is the direction of its stripes in degrees or None, ``scale`` the size in inches of
    what repeats visibly (0 for a solid)."""

    number: int
    family: str
    repeat: float
    inks: NDArray[np.float64]
    seed: int
    stripe: float | None
    scale: float

    def tile(self, pixels_per_inch: float) -> Tile:
        """Return the repeat as ink numbers (T, T), fine enough for a picture of that scale.

        It is drawn at a scale of its own, so that the inks' shares are the same in every picture;
        closer views enlarge it with smooth edges.
        """
        drawn = _draw_tile(self.family, self.seed, self.repeat, self.scale)
        times = round(pixels_per_inch * self.repeat / drawn.shape[0])
        shaded = self.family == "painted"
        return drawn if times < 2 else _enlarge(drawn, times, shaded=shaded)


@lru_cache(maxsize=128)
def _draw_tile(family: str, seed: int, repeat: float, scale: float) -> Tile:
    finest = 120 if family == "painted" else 90
    side = round(repeat * float(np.clip(150 / scale, finest, 300))) if scale else 1
    tile = FAMILIES[family](np.random.default_rng(seed), side / repeat, repeat, scale)
    tile.flags.writeable = False
    return tile


def _enlarge(tile: Tile, times: int, *, shaded: bool) -> Tile:
    """Return a tile ``times`` larger: each pixel takes the ink that is strongest around it, or,
    for a ``shaded`` print, one of those around it by chance, which keeps their shares."""
    shape = tuple(side * times for side in tile.shape)
    screen = np.random.default_rng(0).random(shape, dtype=np.float32) if shaded else None
    best, result = np.zeros(shape, np.float32), np.zeros(shape, np.uint8)
    rim = 4
    for ink in np.unique(tile):
        mask = np.pad((tile == ink).astype(np.float32), rim, mode="wrap")
        soft = cv2.GaussianBlur(mask, (0, 0), 0.8)
        large = cv2.resize(soft, None, fx=times, fy=times, interpolation=cv2.INTER_LINEAR)
        large = large[rim * times : -rim * times, rim * times : -rim * times]
        if screen is None:
            result[large > best] = ink
            np.maximum(best, large, out=best)
        else:
            result[(screen >= best) & (screen < best + large)] = ink
            best += large
    return result


def make_fabric(
    rng: Rng,
    number: int,
    family: str,
    lightness: float,
    *,
    chroma: float = 1.0,
    side_inches: float = 10.0,
    palette: tuple[NDArray[np.float64], ...] = (),
) -> Fabric:
    """Return an invented fabric that reads about as light as asked.

    ``family`` is a key of FAMILIES; ``lightness`` the L* of its ground; ``palette`` are inks (81,)
    that a designer keeps to, thinned and deepened; without them any colour may come.
    """
    low, high = SCALES[family]
    shrink = min(1.0, (side_inches / 10) ** 0.5)
    scale = float(np.exp(rng.uniform(np.log(low), np.log(high)))) * shrink if high else 0.0
    repeat = max(4.0, 2 * scale) if scale else 1.0
    if family in ("large_motif", "frames"):
        repeat = scale * 2
    inks = _choose_inks(rng, family, lightness, chroma, palette)
    stripe = 0.0 if family == "stripes" else None
    return Fabric(number, family, repeat, inks, int(rng.integers(2**31)), stripe, scale)


def _choose_inks(
    rng: Rng,
    family: str,
    lightness: float,
    chroma: float,
    palette: tuple[NDArray[np.float64], ...],
) -> NDArray[np.float64]:
    def ink(level: float) -> NDArray[np.float64]:
        level = float(np.clip(level, 9, 96))
        if palette:
            return spectra.with_lightness(palette[int(rng.integers(len(palette)))], level)
        return spectra.mix_ink(rng, level, chroma)

    ground = ink(lightness)
    if family == "solid":
        return np.stack([ground])
    if family in ("tone_on_tone", "marbled"):
        step = rng.uniform(3, 9) * rng.choice([-1, 1])
        near = [
            spectra.with_lightness(ground, float(np.clip(lightness + step * k, 8, 96)))
            for k in (1, 2, -1)
        ]
        return np.stack([ground, *near])
    if family in ("low_volume", "words"):
        pale = spectra.mix_ink(rng, float(np.clip(lightness, 88, 96)), 0.15)
        return np.stack([pale, ink(rng.uniform(30, 80)), ink(rng.uniform(50, 85))])
    spread = rng.uniform(10, 45)
    away = 1 if lightness + spread < 95 and (lightness - spread < 12 or rng.random() < 0.5) else -1
    first = ink(lightness + away * spread)
    second = ink(lightness + away * spread * rng.uniform(0.3, 1.3))
    if family == "checks":
        return np.stack([ground, first, (ground + first) / 2])
    if family == "plaid":
        pairs = [(ground + first) / 2, (ground + second) / 2, (first + second) / 2]
        return np.stack([ground, first, second, *pairs])
    third = ink(lightness - away * spread * rng.uniform(0.1, 0.6))
    return np.stack([ground, first, second, third, ink(rng.uniform(25, 90))])


def make_bundle(
    rng: Rng,
    count: int,
    *,
    theme: str = "mixed",
    copies: float = 0.0,
    families: tuple[str, ...] = (),
    side_inches: float = 10.0,
) -> list[Fabric]:
    """Return the fabrics (count) of a bundle in the order in which they lie.

    ``theme`` is mixed (a designer's palette), scraps (any colours), white (white and low-volume
    prints), black, similar (all of nearly one lightness) or chart (the 24 published patches as
    solids); ``copies`` is the share of squares that repeat a fabric of the bundle; ``families``
    limits the prints.
    """
    if theme == "chart":
        patches = list(spectra.chart_reflectances().values())
        return [Fabric(i, "solid", 1.0, patches[i % 24][None], 0, None, 0.0) for i in range(count)]
    distinct = max(1, round(count * (1 - copies)))
    names = families or tuple(FAMILIES)
    often = {"solid": 2.0, "tone_on_tone": 2.0, "floral": 3.0, "words": 0.4, "patchwork": 0.5}
    weights = np.array([often.get(name, 1.0) for name in names])
    base = rng.uniform(35, 80)
    palette: tuple[NDArray[np.float64], ...] = ()
    if theme == "mixed":
        palette = tuple(
            spectra.mix_ink(rng, float(rng.uniform(35, 70)), float(rng.uniform(0.5, 1.0)))
            for _ in range(int(rng.integers(5, 9)))
        )
    levels = rng.permutation(np.linspace(14, 95, distinct) + rng.uniform(-3, 3, distinct))
    fabrics = []
    for number in range(distinct):
        family = str(rng.choice(names, p=weights / weights.sum()))
        level, chroma = float(levels[number]), float(rng.uniform(0.3, 1.0))
        if theme == "white":
            level, chroma = float(rng.uniform(88, 96)), float(rng.uniform(0.0, 0.2))
            family = (
                families[0]
                if families
                else str(rng.choice(["solid", "tone_on_tone", "low_volume", "words", "marbled"]))
            )
        elif theme == "black":
            level, chroma = float(rng.uniform(9, 20)), float(rng.uniform(0.0, 0.5))
            family = (
                families[0]
                if families
                else str(
                    rng.choice(["solid", "tone_on_tone", "marbled", "dots"], p=[0.4, 0.3, 0.2, 0.1])
                )
            )
        elif theme == "similar":
            level = float(base + rng.uniform(-6, 6))
            family = (
                families[0]
                if families
                else str(rng.choice(["solid", "tone_on_tone", "marbled", "dots", "floral"]))
            )
        fabrics.append(
            make_fabric(
                rng,
                number,
                family,
                level,
                chroma=chroma,
                side_inches=side_inches,
                palette=palette,
            )
        )
    chosen = list(range(distinct)) + list(rng.integers(0, distinct, count - distinct))
    return [fabrics[int(i)] for i in rng.permutation(chosen)]
