"""Run a colour difference over arrays of any broadcastable shape, in blocks that stay in cache."""

from collections.abc import Callable
from typing import Any, Final

import numpy as np
from numpy.typing import ArrayLike, NDArray

FloatArray = NDArray[np.floating[Any]]
Planes = tuple[FloatArray, FloatArray, FloatArray]

_BLOCK: Final = 8192
"""Differences per block: some twenty intermediates of 64 KB each fit the second-level cache."""


def compare(
    formula: Callable[[Planes, Planes], FloatArray], lab1: ArrayLike, lab2: ArrayLike
) -> FloatArray:
    """Return ``formula`` of CIELAB arrays (..., 3) that broadcast against each other, as (...).

    ``formula`` gets the L*, a* and b* planes of both sides. The result is float32 if both sides
    are, else float64.

    Raises
    ------
    ValueError
        If a last axis is not 3, or the shapes do not broadcast.
    """
    first, second = np.asarray(lab1), np.asarray(lab2)
    for side in (first, second):
        if side.ndim == 0 or side.shape[-1] != 3:
            raise ValueError(f"CIELAB arrays end in an axis of 3, not in shape {side.shape}")
    kind = np.float32 if first.dtype == second.dtype == np.float32 else np.float64
    shape = np.broadcast_shapes(first.shape[:-1], second.shape[:-1])
    first = first.reshape((1,) * (len(shape) + 1 - first.ndim) + first.shape)
    second = second.reshape((1,) * (len(shape) + 1 - second.ndim) + second.shape)
    size = int(np.prod(shape))
    if not shape:
        return compare(formula, first[None], second[None]).reshape(())
    if size <= _BLOCK:
        return np.asarray(formula(_split(first, kind), _split(second, kind)))
    result: FloatArray = np.empty(shape, kind)
    axis = int(np.argmax(shape))
    step = max(1, _BLOCK * shape[axis] // size)
    for start in range(0, shape[axis], step):
        part: tuple[slice, ...] = (slice(None),) * axis + (slice(start, start + step),)
        result[part] = formula(
            _split(first[part] if first.shape[axis] > 1 else first, kind),
            _split(second[part] if second.shape[axis] > 1 else second, kind),
        )
    return result


def _split(lab: NDArray[Any], kind: type[np.floating[Any]]) -> Planes:
    """Return the three planes of (..., 3), each contiguous."""
    planes = np.ascontiguousarray(np.moveaxis(lab, -1, 0), dtype=kind)
    return planes[0], planes[1], planes[2]
