"""What lies on the table and is not a square: sheets of paper or card, colour charts, the rest."""

import cv2
import numpy as np
from numpy.typing import NDArray

from colorcore.finding import choose
from colorcore.finding.model import FoundThing
from colorcore.finding.outlines import aspects
from colorcore.finding.scene import Scene
from colorcore.geometry import areas
from colorcore.ordering import median, quantiles

Quads = NDArray[np.float64]
_SIDE = 96
# What is so near to the edge of the picture, as a share of it, may be the table beside a thing.
_RIM = 0.008
# Light or dark marks (L* units) over so much of it, in so many of its sixteen parts, are a print:
# of dots that cover a hundredth, no part is free; a fold or a note on paper lies in few.
_MARK, _MARKS, _PARTS_MARKED = 5.0, 0.004, 10


def name_things(
    scene: Scene, shapes: Quads, fits: NDArray[np.float64], squares: Quads
) -> tuple[FoundThing, ...]:
    """Return the shapes that are no squares, each with its kind, outlines in pixels of the photo.

    ``shapes`` (N, 4, 2) with their ``fits`` (N,) and the ``squares`` (K, 2) are of the view.
    """
    least = 0.2 * float(np.median(areas(squares))) if len(squares) else 0.0
    size = areas(shapes)
    fair = (fits >= 0.85) & (size > max(least, 0.003 * scene.size[0] * scene.size[1]))
    fair &= size < 0.5 * scene.size[0] * scene.size[1]
    quads, worth = shapes[fair], fits[fair] * choose.sides(shapes[fair]) ** 0.5
    free = choose.clear(quads, squares, 0.2)
    quads, worth = quads[free], worth[free]
    return tuple(
        FoundThing(_kind(scene, quad), quad / scene.view.scale)
        for quad in quads[choose.keep_best(quads, worth)]
    )


def straighten(
    picture: NDArray[np.float32], quad: Quads, side: int = _SIDE, *, rim: int = 0
) -> NDArray[np.float32]:
    """Return what an outline (4, 2) holds as a picture (side, side, C), its rim left out; out of
    the picture it goes on as it is at its edge, or ``rim`` pixels from there."""
    picture = picture[rim : len(picture) - rim, rim : picture.shape[1] - rim]
    middle = quad.mean(axis=0)
    inner = middle + 0.9 * (quad - middle) - rim
    frame = np.array([[0, 0], [side, 0], [side, side], [0, side]], np.float32)
    matrix = cv2.getPerspectiveTransform(inner.astype(np.float32), frame)
    return np.asarray(
        cv2.warpPerspective(picture, matrix, (side, side), borderMode=cv2.BORDER_REPLICATE),
        dtype=np.float32,
    )


def _kind(scene: Scene, quad: Quads) -> str:
    content = straighten(scene.view.lab, quad)
    if is_chart(content):
        return "chart"
    return "sheet" if is_plain(content, scene.view.noise) else "other"


def is_plain(content: NDArray[np.float32], noise: float) -> bool:
    """Whether a straightened picture (n, n, 3) in CIELAB, n a multiple of 4, shows one even,
    greyish colour and no marks scattered over it."""
    smooth = np.ascontiguousarray(cv2.blur(content, (5, 5)).reshape(-1, 3).T)
    lightness = smooth[0].reshape(content.shape[:2])
    # A plane through the lightness: over a square its three terms are orthogonal.
    t = np.linspace(-1, 1, content.shape[0], dtype=np.float32)
    across, down = (lightness.mean(axis=k) @ t / (t @ t) for k in (0, 1))
    rest = lightness - lightness.mean() - across * t - (down * t)[:, None]
    uneven = float(quantiles(np.abs(rest).ravel(), 0.9)[0])
    middle = np.array([median(tint) for tint in smooth[1:]])[:, None]
    chroma = float(np.linalg.norm(middle))
    spots = float(np.abs(smooth[1:] - middle).mean())
    even = uneven < 2.0 + noise and chroma < 22 and spots < 1.5 + noise
    return even and not _is_marked(np.abs(rest) > _MARK + noise)


def _is_marked(marks: NDArray[np.bool_]) -> bool:
    """Whether marks (n, n), n a multiple of 4, lie scattered over all, as those of a print do."""
    part = len(marks) // 4
    parts = marks.reshape(4, part, 4, part).any(axis=(1, 3))
    return bool(marks.mean() >= _MARKS and parts.sum() >= _PARTS_MARKED)


def is_chart(content: NDArray[np.float32]) -> bool:
    """Whether a straightened picture (n, n, 3) in CIELAB, n a multiple of 24, shows six by four
    flat patches of many colours with a dark frame between."""
    for rows, columns in ((4, 6), (6, 4)):
        height, width = content.shape[0] // rows, content.shape[1] // columns
        fields = content.reshape(rows, height, columns, width, 3)
        down, across = (slice(round(0.35 * n), round(0.65 * n)) for n in (height, width))
        patches = fields[:, down, :, across].transpose(0, 2, 4, 1, 3).reshape(rows * columns, 3, -1)
        colors = np.median(patches, axis=2)
        apart = np.linalg.norm(colors[:, None] - colors[None], axis=-1)
        np.fill_diagonal(apart, np.inf)
        flat = np.mean(patches.std(axis=2).mean(axis=1) < 3.5) > 0.8
        many = np.mean(apart.min(axis=1) > 5) > 0.8
        if flat and many and float(np.ptp(colors[:, 0])) > 40:
            return True
    return False


def sheet_like(scene: Scene, quads: Quads) -> NDArray[np.bool_]:
    """Return which outlines (N, 4, 2) hold something plain, light and longer than wide, as paper
    is."""
    sheets = aspects(quads) >= 1.16
    for k in np.flatnonzero(sheets):
        sheets[k] = is_plain_and_light(scene, quads[k])
    return sheets


def is_plain_and_light(scene: Scene, quad: Quads) -> bool:
    """Whether what an outline holds is one even, light, greyish colour."""
    name = quad.tobytes()
    if name not in scene.plain_and_light:
        # Of what lies across the edge of the picture, that may be the table beside it.
        height, width = scene.size
        out = quad.min() < 0 or quad[:, 0].max() > width or quad[:, 1].max() > height
        rims = (0, round(_RIM * min(scene.size))) if out else (0,)
        scene.plain_and_light[name] = any(_plain_and_light(scene, quad, rim) for rim in rims)
    return scene.plain_and_light[name]


def _plain_and_light(scene: Scene, quad: Quads, rim: int) -> bool:
    content = straighten(scene.view.lab, quad, rim=rim)
    light = float(median(content[..., 0].ravel())) > float(scene.view.tones[1])
    return light and is_plain(content, scene.view.noise)
