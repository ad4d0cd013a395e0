"""A regular lattice of plain blobs in a picture: what a chart looks like before its colours."""

from collections.abc import Iterator
from typing import Final

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]

_STEP: Final = 9
_LEAST_BLOBS: Final = 12
_MOST_BLOBS: Final = 4000
_SIDE_RATIO: Final = 1.6


def plain_blobs(grey: NDArray[np.uint8]) -> tuple[Array, Array]:
    """Centres (B, 2) and sides (B,) of compact, near-square plain blobs in a picture (h, w)."""
    import cv2

    kernel = np.ones((3, 3), np.uint8)
    change = cv2.morphologyEx(grey, cv2.MORPH_GRADIENT, kernel)
    flat = (np.asarray(change) < _STEP).astype(np.uint8)
    _, _, stats, centers = cv2.connectedComponentsWithStats(flat, connectivity=4)
    area = stats[:, cv2.CC_STAT_AREA].astype(np.float64)
    width, height = stats[:, cv2.CC_STAT_WIDTH], stats[:, cv2.CC_STAT_HEIGHT]
    # A square turned by 45 degrees fills half of its upright box.
    shape = (np.maximum(width, height) < 1.35 * np.minimum(width, height)) & (
        area > 0.42 * width * height
    )
    good = shape & (area >= 16) & (area < 0.01 * flat.size)
    good[0] = False
    chosen = np.flatnonzero(good)
    if chosen.size > _MOST_BLOBS:
        chosen = chosen[np.argsort(-area[chosen])[:_MOST_BLOBS]]
    # The flat core lies a pixel and a half inside the patch's edge.
    return np.asarray(centers[chosen] + 0.5), np.sqrt(area[chosen]) + 3.0


def lattices(centers: Array, sides: Array) -> Iterator[tuple[Array, int, int]]:
    """Yield each lattice of blobs: map (3, 3) from (column, row) cell units, and its extent in
    columns and rows. Cell (i, j) has its centre at (i + 0.5, j + 0.5)."""
    import cv2

    links = _neighbours(centers, sides)
    seen = np.zeros(len(centers), bool)
    for start in np.argsort(-np.array([len(n) for n in links])) if len(centers) else ():
        if seen[start]:
            continue
        places = _walk(int(start), centers, links)
        seen[list(places)] = True
        if len(places) < _LEAST_BLOBS:
            continue
        indices = np.array(list(places))
        cells = np.array([places[i] for i in places], dtype=np.float64)
        cells -= cells.min(axis=0)
        matrix, inliers = cv2.findHomography(
            (cells + 0.5).astype(np.float32),
            centers[indices].astype(np.float32),
            cv2.RANSAC,
            0.2 * float(np.median(sides[indices])),
        )
        if matrix is None or np.count_nonzero(inliers) < _LEAST_BLOBS:
            continue
        kept = inliers.ravel().astype(bool)
        columns, rows = (cells[kept].max(axis=0) + 1).astype(int)
        yield np.asarray(matrix, np.float64), int(columns), int(rows)


def _neighbours(centers: Array, sides: Array) -> list[list[int]]:
    """Blobs of like size that lie next to each blob."""
    links: list[list[int]] = [[] for _ in range(len(centers))]
    if len(centers) < _LEAST_BLOBS:
        return links
    order = np.argsort(centers[:, 0])
    x = centers[order, 0]
    reach = 1.75 * sides
    for place, i in enumerate(order):
        stop = int(np.searchsorted(x, x[place] + reach[i]))
        others = order[place + 1 : stop]
        gap = np.hypot(*(centers[others] - centers[i]).T)
        ratio = sides[others] / sides[i]
        near = (gap < reach[i]) & (gap > 0.8 * sides[i])
        near &= (ratio < _SIDE_RATIO) & (ratio > 1 / _SIDE_RATIO)
        for j in others[near]:
            links[int(i)].append(int(j))
            links[int(j)].append(int(i))
    return links


def _walk(start: int, centers: Array, links: list[list[int]]) -> dict[int, tuple[int, int]]:
    """Number the blobs of a lattice from one of them outwards: index to (column, row)."""
    steps = np.array([centers[j] - centers[start] for j in links[start]])
    if not len(steps):
        return {start: (0, 0)}
    first = steps[np.argmin(np.hypot(*steps.T))]
    first = first if abs(first[0]) >= abs(first[1]) else np.array([first[1], -first[0]])
    first = first if first[0] > 0 else -first
    second = np.array([-first[1], first[0]])
    axes = {start: (first, second)}
    places = {start: (0, 0)}
    taken = {(0, 0)}
    queue = [start]
    while queue:
        i = queue.pop(0)
        u, v = axes[i]
        inverse = np.linalg.inv(np.column_stack([u, v]))
        for j in links[i]:
            if j in places:
                continue
            across, down = inverse @ (centers[j] - centers[i])
            column, row = round(across), round(down)
            if abs(column) + abs(row) != 1 or abs(across - column) + abs(down - row) > 0.4:
                continue
            place = (places[i][0] + column, places[i][1] + row)
            if place in taken:
                continue
            # The step measured here is the best guess for the next: perspective bends slowly.
            step = (centers[j] - centers[i]) * (column + row)
            axes[j] = (0.5 * (u + step), v) if column else (u, 0.5 * (v + step))
            places[j] = place
            taken.add(place)
            queue.append(j)
    return places
