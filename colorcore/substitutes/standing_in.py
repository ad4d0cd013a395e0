"""A fabric from elsewhere at a square's own address."""

import math
from dataclasses import replace
from typing import Any, Final

import numpy as np
from numpy.typing import NDArray

from colorcore.bundle import Bundle
from colorcore.color.spaces import coded8_from_linear, linear_from_coded
from colorcore.swatch import Swatch

_SAME_SIDE: Final = 0.01
"""Inches within which two sides are one."""
_MOST_PIXELS: Final = 640
"""Longest side of a stand-in's picture; finer ones are reduced before they are continued."""


def with_stand_in(bundle: Bundle, square: str, swatch: Swatch) -> Bundle:
    """Return the bundle with ``swatch`` in the place of the square of that address.

    It is cut to that square's size, whatever part of the cloth its photo shows. It is a fabric of
    its own there, or the one that is there already as measured the same: what is
    cut twice from one cloth of the stash is one fabric, as much as copies in a bundle are.
    """
    own = next(s for s in bundle.squares if s.id == square)
    others = [s for s in bundle.squares if s is not own]
    fabric = next(
        (s.fabric for s in others if s.fabric >= 0 and _measured(s) == _measured(swatch)),
        max((s.fabric for s in bundle.squares), default=-1) + 1,
    )
    # How far it can be told from the others is known of squares of one photo alone.
    new = replace(
        _cut_to(swatch, own.side_inches), id=own.id, photo=own.photo, row=own.row,
        column=own.column, fabric=fabric, order_sd=None,
    )  # fmt: skip
    return replace(bundle, squares=tuple(new if s is own else s for s in bundle.squares))


def _cut_to(swatch: Swatch, side: float) -> Swatch:
    """Return the cloth as a square of ``side`` inches at the same scale: its middle where more of
    it shows, and continued by its mirror image where less does."""
    if abs(swatch.side_inches - side) < _SAME_SIDE:
        return swatch
    picture, valid = swatch.picture, swatch.valid
    density = len(picture) / swatch.side_inches
    step = min(math.ceil(density * side / _MOST_PIXELS), len(picture))
    if step > 1:
        light = _blocks(np.asarray(linear_from_coded(picture)), step)
        picture = coded8_from_linear(light.mean(axis=(1, 3)))
        valid = None if valid is None else np.asarray(_blocks(valid, step).all(axis=(1, 3)))
    pixels = max(round(density / step * side), 1)
    return replace(
        swatch,
        side_inches=side,
        picture=_sized(picture, pixels),
        valid=None if valid is None else _sized(valid, pixels),
    )


def _blocks(values: NDArray[Any], step: int) -> NDArray[Any]:
    """Return (N, N, ...) as (n, step, n, step, ...), without what is left of the last block."""
    whole = len(values) // step
    cut = values[: whole * step, : whole * step]
    return cut.reshape(whole, step, whole, step, *values.shape[2:])


def _sized(values: NDArray[Any], pixels: int) -> NDArray[Any]:
    """Return (N, N, ...) as (pixels, pixels, ...): its middle, or mirrored beyond its edges."""
    spare = len(values) - pixels
    if spare >= 0:
        first = spare // 2
        return values[first : first + pixels, first : first + pixels].copy()
    before = -spare // 2
    around = [(before, -spare - before)] * 2 + [(0, 0)] * (values.ndim - 2)
    return np.pad(values, around, mode="symmetric")


def _measured(swatch: Swatch) -> tuple[object, ...]:
    """The numbers that no other cut of cloth shares; its picture may have been coded again."""
    return (
        swatch.corners,
        swatch.lab,
        swatch.lab_sd,
        swatch.value_spread,
        swatch.palette,
        swatch.busyness,
    )
