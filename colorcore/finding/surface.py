"""What the table looks like: where in the picture the surface shows.

The edge of the picture is mostly table. Its colours, with the slow change of light taken out, make
a histogram; a pixel is called surface when its colour lies in the densest region of that histogram
that holds a given share of the edge. Several shares are tried, because squares and things that
reach the edge of the picture spoil a part of it. A tablecloth has several dense regions, and that
is no hindrance.
"""

from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass, field
from typing import Any

import cv2
import numpy as np
from numpy.typing import NDArray

from colorcore.finding.view import View
from colorcore.ordering import median

# What is no further (CIELAB units) from the colour of a page of one colour may be the page.
_NEAR_A_PAGE = 6.0
_BINS = 32
#: Light changes across a table or a print, its colours hardly: lightness counts half (CIELAB).
EVENLY = np.array([0.5, 1, 1], np.float32)


@dataclass(frozen=True, eq=False)
class Surface:
    """``likelihood`` (h, w) float32, 0 to 1: how usual a pixel's colour is for the table (1 means
    as usual as the commonest); ``table`` (h, w) float32, 0 to 1: the same, but 1 for all that is
    as usual as four fifths of the picture's edge; ``flat`` (h, w, 3) float32: CIELAB with the
    light evened out."""

    likelihood: NDArray[np.float32] = field(repr=False)
    table: NDArray[np.float32] = field(repr=False)
    flat: NDArray[np.float32] = field(repr=False)


def _edge_mask(height: int, width: int, share: float = 0.035) -> NDArray[np.bool_]:
    margin = max(3, round(share * min(height, width)))
    mask = np.zeros((height, width), bool)
    mask[:margin] = mask[-margin:] = True
    mask[:, :margin] = mask[:, -margin:] = True
    return mask


def _terms(height: int, width: int, step: int) -> NDArray[np.float32]:
    y, x = np.mgrid[0:height:step, 0:width:step].astype(np.float32)
    x, y = x / width - 0.5, y / height - 0.5
    return np.stack([np.ones_like(x), x, y, x * x, x * y, y * y])


def fit_light(
    values: NDArray[np.float32], mask: NDArray[np.bool_], spread: float
) -> NDArray[np.float32]:
    """Fit a quadratic to ``values`` (h, w) where ``mask`` is True, robustly (Geman-McClure weights
    of scale ``spread``), and return it less its mean (h, w)."""
    height, width = values.shape
    step = max(1, round((height * width / 60_000) ** 0.5))
    terms = _terms(height, width, step)
    chosen = mask[::step, ::step]
    # The long axis comes last: sums over many short rows are slow.
    a, b = terms[:, chosen].astype(np.float64), values[::step, ::step][chosen].astype(np.float64)
    weight = np.ones(len(b))
    solution: NDArray[np.floating[Any]] = np.zeros(6)
    ridge = np.diag([0, 1e-3, 1e-3, 1e-2, 1e-2, 1e-2]) * len(b) + 1e-9 * np.eye(6)
    for _ in range(8):
        weighted = a * weight
        solution = np.linalg.solve(weighted @ a.T + ridge, weighted @ b)
        off = b - solution @ a
        wide = max(spread, 1.4826 * float(median(np.abs(off))))
        weight = 1 / np.square(1 + np.square(off / (2 * wide)))
    solution[0] = 0
    small = (solution.astype(np.float32) @ terms.reshape(6, -1)).reshape(terms.shape[1:])
    return np.asarray(
        cv2.resize(small, (width, height), interpolation=cv2.INTER_LINEAR), dtype=np.float32
    )


def _likelihood(
    flat: NDArray[np.float32], samples: NDArray[np.float32], noise: float
) -> NDArray[np.float32]:
    """Return the density of ``samples`` (N, 3) at every pixel, relative to its peak."""
    low, high = np.percentile(samples, [1, 99], axis=0)
    step = np.maximum((high - low) / (_BINS - 10), max(0.6, 1.2 * noise))
    start = (low + high) / 2 - step * _BINS / 2
    ranges = np.column_stack([start, start + step * _BINS]).astype(np.float32).ravel().tolist()
    bins, channels = [_BINS] * 3, [0, 1, 2]
    density = cv2.calcHist([samples[:, None]], channels, None, bins, ranges)
    for axis in range(3):
        turned = np.moveaxis(density, axis, 0).reshape(_BINS, -1)
        spread = np.asarray(
            cv2.GaussianBlur(turned, (1, 7), sigmaX=0.1, sigmaY=1.1), dtype=np.float32
        )
        density = np.moveaxis(spread.reshape(_BINS, _BINS, _BINS), 0, axis)
    density = np.ascontiguousarray(density) / np.float32(max(float(density.max()), 1e-9))
    # Without the wrapper its last axis would be taken for the channels of a picture.
    as_table: Any = cv2.Mat
    table = as_table(density, wrap_channels=False)
    likelihood = np.empty(flat.shape[:2], np.float32)

    def look_up(rows: slice) -> None:
        likelihood[rows] = cv2.calcBackProject([flat[rows]], channels, table, ranges, 1)

    # OpenCV does this on one core.
    count = cv2.getNumThreads()
    edges = [len(flat) * k // count for k in range(count + 1)]
    with ThreadPoolExecutor(count) as pool:
        list(pool.map(look_up, map(slice, edges[:-1], edges[1:])))
    return likelihood


def see_surface(view: View, edge: NDArray[np.bool_] | None = None) -> Surface:
    """Model the table from ``edge`` (h, w), True where it is mostly table; by default the edge of
    the picture."""
    if edge is None or not edge.any():
        edge = _edge_mask(view.height, view.width)
    light = fit_light(view.lab[..., 0], edge, 2.0)
    flat = view.lab.copy()
    flat[..., 0] -= light
    spots = _spots(edge)
    likelihood = _likelihood(flat, flat.reshape(-1, 3)[spots], view.noise)
    usual = max(float(np.quantile(likelihood.ravel()[spots], 0.2)), 0.01)
    return Surface(likelihood, np.minimum(likelihood / np.float32(usual), np.float32(1)), flat)


def _spots(edge: NDArray[np.bool_]) -> NDArray[np.int64]:
    """Return places (N,) within a mask (h, w), counted row by row: every third is plenty."""
    return np.asarray(np.flatnonzero(edge)[::3])


def surface_masks(
    view: View,
    surface: Surface,
    shares: tuple[float, ...] = (0.98, 0.92, 0.8, 0.6),
    edge: NDArray[np.bool_] | None = None,
) -> list[NDArray[np.bool_]]:
    """Return masks (h, w), True where the table shows, one per share of the edge that is taken to
    be table."""
    if edge is None or not edge.any():
        edge = _edge_mask(view.height, view.width)
    usual = surface.likelihood.ravel()[_spots(edge)]
    # A page of one colour, as programs make it, has no colours that are less usual than others.
    levels = np.minimum(np.quantile(usual, [1 - s for s in shares]), 0.999 * usual.max())
    masks, seen = [], set[float]()
    for level in np.maximum(levels, 0.004):
        if float(level) not in seen:
            seen.add(float(level))
            masks.append(surface.likelihood > level)
    if len(masks) == 1:
        # What JPEG leaves around squares on such a page is none of its colour, but near.
        off = surface.flat - np.median(surface.flat.reshape(-1, 3)[_spots(edge)], axis=0)
        masks.append(masks[0] | (np.square(off).sum(axis=-1) < _NEAR_A_PAGE**2))
    return masks


def pixels_within(
    size: tuple[int, int], quad: NDArray[np.float64], share: float
) -> tuple[tuple[slice, slice], NDArray[np.bool_]]:
    """Return where an outline (4, 2), shrunk to ``share`` of itself, lies in a picture of ``size``
    (height, width): the part of the picture that holds it, and which pixels of that part."""
    middle = quad.mean(axis=0)
    inner = middle + share * (quad - middle)
    x0, y0 = np.maximum(np.floor(inner.min(axis=0)), 0).astype(int)
    x1, y1 = np.maximum(np.ceil(inner.max(axis=0)) + 1, 0).astype(int)
    part = slice(y0, y1), slice(x0, x1)
    mask = np.zeros((len(range(size[0])[part[0]]), len(range(size[1])[part[1]])), np.uint8)
    corners = np.round(inner).astype(np.int32) - np.array([x0, y0], np.int32)
    if mask.size:
        cv2.fillConvexPoly(mask, corners, 1)
    return part, mask > 0
