"""What the squares lie on: maps of a few inks over the table, in inches.

A surface is painted as an array (h, w, n) of shares of its n inks plus an array (h, w) of shading,
over some rectangle of the table.
"""

from collections.abc import Callable
from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

from tests.scenes import spectra
from tests.scenes.prints import make_fabric

Rng = np.random.Generator
Image = NDArray[np.float32]

SURFACES = (
    "board",
    "white_table",
    "black_table",
    "wood",
    "mat",
    "carpet",
    "cloth",
    "flannel",
    "bedsheet",
    "tiles",
)


@dataclass(frozen=True, eq=False)
class Surface:
    """A table top. ``paint(box, pixels_per_inch)`` returns the shares (h, w, n) of its inks and
    its shading (h, w) over the box (x0, y0, x1, y1) in inches."""

    name: str
    inks: NDArray[np.float64]
    paint: Callable[[tuple[float, float, float, float], float], tuple[Image, Image]]


def _grid(
    box: tuple[float, float, float, float], ppi: float
) -> tuple[Image, Image, tuple[int, int]]:
    x0, y0, x1, y1 = box
    w, h = max(1, round((x1 - x0) * ppi)), max(1, round((y1 - y0) * ppi))
    x = (x0 + (np.arange(w, dtype=np.float32) + 0.5) / ppi)[None, :]
    y = (y0 + (np.arange(h, dtype=np.float32) + 0.5) / ppi)[:, None]
    return x, y, (h, w)


def _noise(rng: Rng, shape: tuple[int, int], ppi: float, size: tuple[float, float]) -> Image:
    """Return noise with blotches of about ``size`` (x, y) inches, mean 0, standard deviation 1."""
    h, w = shape
    coarse = (max(4, int(h / ppi / size[1]) + 2), max(4, int(w / ppi / size[0]) + 2))
    small = rng.standard_normal((min(coarse[0], h), min(coarse[1], w)), dtype=np.float32)
    field = cv2.resize(small, (w, h), interpolation=cv2.INTER_CUBIC)
    return np.asarray((field - field.mean()) / max(float(field.std()), 1e-6), dtype=np.float32)


def _two(share: Image) -> Image:
    share = np.clip(share, 0, 1).astype(np.float32)
    return np.stack([1 - share, share], axis=-1)


def _plain(
    name: str, ink: NDArray[np.float64], texture: float, blotch: float, seed: int
) -> Surface:
    def paint(box: tuple[float, float, float, float], ppi: float) -> tuple[Image, Image]:
        rng = np.random.default_rng(seed)
        _, _, shape = _grid(box, ppi)
        shading = 1 + texture * rng.standard_normal(shape, dtype=np.float32)
        shading += blotch * _noise(rng, shape, ppi, (6.0, 6.0))
        return np.ones((*shape, 1), np.float32), shading

    return Surface(name, ink[None], paint)


def _wood(rng: Rng) -> Surface:
    lightness = float(rng.uniform(35, 78))
    chart = spectra.chart_reflectances()
    shares = rng.dirichlet([1.5, 2.0, 2.5])
    parts = ("light skin", "orange yellow", "neutral 6.5 (.44 D)")
    base = np.exp(sum(w * np.log(chart[p]) for w, p in zip(shares, parts, strict=True)))
    contrast = float(rng.uniform(8, 26))
    inks = np.stack(
        [
            spectra.with_lightness(base, lightness),
            spectra.with_lightness(base, max(10.0, lightness - contrast)),
            spectra.with_lightness(chart["dark skin"], 9.0),
        ]
    )
    plank = float(rng.uniform(2.5, 7.0))
    seed, upright = int(rng.integers(2**31)), bool(rng.random() < 0.5)
    gap = float(rng.choice([0.0, 0.03, 0.08]))
    ring = float(rng.uniform(0.15, 0.6))

    def paint(box: tuple[float, float, float, float], ppi: float) -> tuple[Image, Image]:
        local = np.random.default_rng(seed)
        along_x = (box[1], box[0], box[3], box[2]) if upright else box
        x, y, shape = _grid(along_x, ppi)
        board = np.floor(y / plank).astype(int)
        numbers = np.arange(board.min(), board.max() + 1)
        offsets = local.uniform(-40, 40, len(numbers)).astype(np.float32)[board - board.min()]
        tones = local.normal(0, 0.18, len(numbers)).astype(np.float32)[board - board.min()]
        shift = local.uniform(-0.4, 0.4, len(numbers)).astype(np.float32)[board - board.min()]
        # A plank is a slanted cut through rings: lines along it, with cathedral arches.
        middle = (y / plank % 1 - 0.5 + shift) * plank
        drift = 0.35 * _noise(local, shape, ppi, (9.0, 2.0))
        radius = np.hypot(middle * 1.6, (x + offsets) * 0.05) + 0.25 * drift + 0.004 * x
        phase = (radius * (2 * np.pi / ring)).astype(np.float32)
        grain = (0.5 + 0.5 * np.sin(phase + 0.5 * np.sin(phase))) ** 2
        fibres = _noise(local, shape, ppi, (1.2, 0.02))
        pores = (_noise(local, shape, ppi, (0.5, 0.025)) > 1.9).astype(np.float32)
        dark = 0.55 * grain + 0.12 * fibres + 0.25 + tones + 0.35 * pores
        seam = np.abs(y / plank - np.round(y / plank)) * plank < gap / 2
        dark = np.where(seam, np.float32(0.5), np.clip(dark, 0, 1))
        black = np.where(seam, np.float32(0.9), np.float32(0.0))
        shares = np.empty((*shape, 3), np.float32)
        shares[..., 0], shares[..., 1] = (1 - dark) * (1 - black), dark * (1 - black)
        shares[..., 2] = black
        shading = 1 + 0.015 * local.standard_normal(shape, dtype=np.float32)
        if upright:
            shares, shading = shares.transpose(1, 0, 2), shading.T
        return np.ascontiguousarray(shares, dtype=np.float32), np.ascontiguousarray(shading)

    return Surface("wood", inks, paint)


def _mat(rng: Rng) -> Surface:
    ground = spectra.mix_ink(rng, float(rng.uniform(28, 55)), float(rng.uniform(0.3, 1.0)))
    if rng.random() < 0.6:
        green = spectra.chart_reflectances()["bluish green" if rng.random() < 0.3 else "green"]
        ground = spectra.with_lightness(green, float(rng.uniform(28, 48)))
    line = spectra.with_lightness(ground, float(rng.uniform(78, 92)))
    inks, seed = np.stack([ground, line]), int(rng.integers(2**31))
    thin, bold = float(rng.uniform(0.008, 0.02)), float(rng.uniform(0.02, 0.04))
    strength = float(rng.uniform(0.5, 1.0))
    diagonal = bool(rng.random() < 0.5)

    def paint(box: tuple[float, float, float, float], ppi: float) -> tuple[Image, Image]:
        local = np.random.default_rng(seed)
        x, y, shape = _grid(box, ppi)

        def rules(at: Image, spacing: float, width: float) -> Image:
            # Share of a pixel that a line covers, so that thin lines stay even.
            distance = np.abs(at / spacing - np.round(at / spacing)) * spacing
            cover = np.clip((width / 2 - distance) * ppi + 0.5, 0, min(1.0, width * ppi))
            return np.asarray(cover, dtype=np.float32)

        shares = np.zeros(shape, np.float32)
        for at in (x, y):
            shares = np.maximum(shares, 0.5 * rules(at, 0.5, thin))
            shares = np.maximum(shares, 0.9 * rules(at, 1.0, bold))
            ticks = rules(at, 0.125, thin)
            other = y if at is x else x
            near = np.abs(other / 12 - np.round(other / 12)) * 12 < 0.1
            shares = np.maximum(shares, np.where(near, ticks, 0))
        if diagonal:
            for sign in (1.0, -1.0):
                tilted = (x + sign * np.tan(np.radians(60)) * y) * 0.5
                shares = np.maximum(shares, 0.7 * rules(np.asarray(tilted), 12.0, bold))
        _numbers(shares, box, ppi)
        shading = 1 + 0.012 * local.standard_normal(shape, dtype=np.float32)
        shading += 0.015 * _noise(local, shape, ppi, (5.0, 5.0))
        return _two(strength * shares), shading

    return Surface("mat", inks, paint)


def _numbers(shares: Image, box: tuple[float, float, float, float], ppi: float) -> None:
    """Print the inches along every twelfth line."""
    x0, y0, x1, y1 = box
    size = ppi * 0.3 / 22
    ink = np.zeros(shares.shape, np.uint8)
    for row in range(int(np.floor(y0 / 12)), int(np.ceil(y1 / 12)) + 1):
        for column in range(int(np.floor(x0)), int(np.ceil(x1)) + 1):
            place = (round((column + 0.08 - x0) * ppi), round((row * 12 - 0.1 - y0) * ppi))
            cv2.putText(
                ink,
                str(column % 36),
                place,
                cv2.FONT_HERSHEY_SIMPLEX,
                size,
                230,
                max(1, round(ppi * 0.03)),
                cv2.LINE_AA,
            )
    np.maximum(shares, ink.astype(np.float32) / 255, out=shares)


def _carpet(rng: Rng) -> Surface:
    ground = spectra.mix_ink(rng, float(rng.uniform(25, 75)), float(rng.uniform(0.0, 0.6)))
    fleck = spectra.with_lightness(ground, float(rng.uniform(12, 90)))
    inks, seed = np.stack([ground, fleck]), int(rng.integers(2**31))
    pile = float(rng.uniform(0.08, 0.25))
    fleckiness = float(rng.uniform(0.0, 0.5))

    def paint(box: tuple[float, float, float, float], ppi: float) -> tuple[Image, Image]:
        local = np.random.default_rng(seed)
        _, _, shape = _grid(box, ppi)
        tufts = _noise(local, shape, ppi, (pile, pile))
        fine = _noise(local, shape, ppi, (pile / 3, pile / 3))
        brushed = _noise(local, shape, ppi, (5.0, 8.0))
        share = fleckiness * (_noise(local, shape, ppi, (pile, pile)) > 0.8)
        shading = np.exp(0.16 * tufts + 0.10 * fine + 0.05 * brushed).astype(np.float32)
        return _two(share.astype(np.float32)), shading

    return Surface("carpet", inks, paint)


def _flannel(rng: Rng) -> Surface:
    """A design wall: soft napped cloth, pale as a rule, that squares cling to."""
    ink = spectra.mix_ink(rng, float(rng.choice([93.0, 88.0, 72.0, 45.0])), 0.12)
    seed = int(rng.integers(2**31))

    def paint(box: tuple[float, float, float, float], ppi: float) -> tuple[Image, Image]:
        local = np.random.default_rng(seed)
        _, _, shape = _grid(box, ppi)
        nap = 0.02 * _noise(local, shape, ppi, (0.15, 0.06)) + 0.015 * _noise(
            local, shape, ppi, (0.05, 0.05)
        )
        nap += 0.012 * _noise(local, shape, ppi, (10.0, 4.0))
        return np.ones((*shape, 1), np.float32), 1 + nap

    return Surface("flannel", ink[None], paint)


def _bedsheet(rng: Rng) -> Surface:
    """A sheet on a bed: plain cloth in soft folds, which light and shade like uneven light."""
    ink = spectra.mix_ink(rng, float(rng.uniform(55, 94)), float(rng.uniform(0.0, 0.5)))
    folds = rng.uniform([0, -0.6, 3, 0.03], [np.pi, 0.6, 14, 0.10], (4, 4))
    seed = int(rng.integers(2**31))

    def paint(box: tuple[float, float, float, float], ppi: float) -> tuple[Image, Image]:
        local = np.random.default_rng(seed)
        x, y, shape = _grid(box, ppi)
        shading = np.ones(shape, np.float32)
        warp = 1.5 * _noise(local, shape, ppi, (14.0, 14.0))
        for angle, phase, width, depth in folds:
            place = (x * np.cos(angle) + y * np.sin(angle) + warp) / width + phase
            ridge = np.sin(2 * np.pi * place) * np.exp(-8 * (place % 3 - 1.5) ** 2)
            shading += np.float32(depth) * ridge.astype(np.float32)
        shading += 0.01 * local.standard_normal(shape, dtype=np.float32)
        return np.ones((*shape, 1), np.float32), shading

    return Surface("bedsheet", ink[None], paint)


def _tiles(rng: Rng) -> Surface:
    """A floor of square tiles, not far from the size of the squares that lie on it."""
    ground = spectra.mix_ink(rng, float(rng.uniform(35, 85)), 0.25)
    other = spectra.with_lightness(ground, float(spectra.lab_of(ground)[0] + rng.uniform(-12, 8)))
    grout = spectra.mix_ink(rng, float(rng.uniform(25, 80)), 0.1)
    inks, seed = np.stack([ground, other, grout]), int(rng.integers(2**31))
    pitch, joint = float(rng.uniform(8.0, 13.0)), float(rng.uniform(0.1, 0.3))

    def paint(box: tuple[float, float, float, float], ppi: float) -> tuple[Image, Image]:
        local = np.random.default_rng(seed)
        x, y, shape = _grid(box, ppi)
        column, row = np.floor(x / pitch).astype(int), np.floor(y / pitch).astype(int)
        tones = local.uniform(0, 0.6, (97, 89)).astype(np.float32)
        cloud = 0.18 * _noise(local, shape, ppi, (2.0, 2.0))
        share = np.clip(tones[row % 97, column % 89] + cloud, 0, 1)
        near = [np.abs(v / pitch - np.round(v / pitch)) * pitch for v in (x, y)]
        gap = np.minimum(np.broadcast_to(near[0], shape), np.broadcast_to(near[1], shape))
        seam = np.clip((joint / 2 - gap) * ppi + 0.5, 0, 1)
        shares = np.empty((*shape, 3), np.float32)
        shares[..., 0], shares[..., 1] = (1 - share) * (1 - seam), share * (1 - seam)
        shares[..., 2] = seam
        shading = 1 + 0.01 * local.standard_normal(shape, dtype=np.float32)
        return shares, shading

    return Surface("tiles", inks, paint)


def _tablecloth(rng: Rng) -> Surface:
    family = str(rng.choice(["checks", "plaid", "stripes", "floral", "dots", "large_motif"]))
    fabric = make_fabric(rng, -1, family, float(rng.uniform(30, 92)), chroma=0.8)
    seed = int(rng.integers(2**31))

    def paint(box: tuple[float, float, float, float], ppi: float) -> tuple[Image, Image]:
        local = np.random.default_rng(seed)
        tile = fabric.tile(2 * ppi)
        n = len(fabric.inks)
        x0, y0 = box[:2]
        _, _, (h, w) = _grid(box, ppi)
        rows = (np.arange(2 * h) + round(y0 * 2 * ppi)) % tile.shape[0]
        columns = (np.arange(2 * w) + round(x0 * 2 * ppi)) % tile.shape[1]
        shares = np.empty((h, w, n), np.float32)
        for ink in range(n):
            mask = (tile == ink).astype(np.uint8) * np.uint8(255)
            whole = mask.take(rows, axis=0).take(columns, axis=1)
            shares[..., ink] = cv2.resize(whole, (w, h), interpolation=cv2.INTER_AREA) / 255.0
        shares /= np.maximum(shares.sum(axis=-1, keepdims=True), 1e-6)
        folds = 0.04 * _noise(local, (h, w), ppi, (8.0, 8.0))
        shading = 1 + folds + 0.03 * local.standard_normal((h, w), dtype=np.float32)
        return shares, shading.astype(np.float32)

    return Surface("cloth", fabric.inks, paint)


def make_surface(name: str, rng: Rng) -> Surface:
    """Return a surface by name.

    Raises
    ------
    ValueError
        If the name is not in SURFACES.
    """
    if name not in SURFACES:
        raise ValueError(f"surface must be of {', '.join(SURFACES)}; got {name!r}")
    seed = int(rng.integers(2**31))
    plain = {
        # lightness from and to, chroma, grain, blotches
        "board": (40, 75, 0.08, 0.02, 0.01),
        "white_table": (88, 95, 0.05, 0.006, 0.006),
        "black_table": (9, 22, 0.05, 0.03, 0.02),
    }
    if name in plain:
        low, high, chroma, texture, blotch = plain[name]
        ink = spectra.mix_ink(rng, float(rng.uniform(low, high)), chroma)
        return _plain(name, ink, texture, blotch, seed)
    makers = {
        "wood": _wood,
        "mat": _mat,
        "carpet": _carpet,
        "cloth": _tablecloth,
        "flannel": _flannel,
        "bedsheet": _bedsheet,
        "tiles": _tiles,
    }
    return makers[name](rng)
