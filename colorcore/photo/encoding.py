"""How coded values become linear light: one curve per channel, then a matrix to sRGB primaries.

Values stay unbounded after the matrix, so a wide-gamut photo loses nothing.

Sources: sRGB curve, IEC 61966-2-1:1999. Profile tags and curve types, ICC.1:2022 (v4.4), clauses
10.6 (curveType) and 10.18 (parametricCurveType). Primaries of Display P3 and BT.2020 by their
chromaticities in ITU-T H.273 (2021), table 2; curve codes in its table 3.
"""

import struct
from collections.abc import Callable
from dataclasses import dataclass, field
from functools import cached_property
from itertools import pairwise
from typing import Any, Final

import numpy as np
from numpy.typing import NDArray

from colorcore.color.spaces import (
    BRADFORD,
    LINEAR_FROM_XYZ,
    linear_from_coded,
    rgb_to_xyz_matrix,
    white_xyz,
)

Pixels = NDArray[np.unsignedinteger[Any]]
Curve = Callable[[NDArray[np.float64]], NDArray[np.floating[Any]]]

#: ICC profile connection space white, ICC.1:2022 clause 7.2.16.
D50_XYZ: Final = np.array([0.9642, 1.0, 0.8249])
PRIMARIES: Final[dict[int, tuple[tuple[float, float], ...]]] = {
    1: ((0.640, 0.330), (0.300, 0.600), (0.150, 0.060)),
    9: ((0.708, 0.292), (0.170, 0.797), (0.131, 0.046)),
    12: ((0.680, 0.320), (0.265, 0.690), (0.150, 0.060)),
}


class UnusableProfileError(ValueError):
    """The profile is damaged, or is not of the curves-and-matrix kind."""


@dataclass(frozen=True, eq=False)
class Encoding:
    """Curves and matrix of one picture.

    ``table`` float32 (levels, 3): linear light for each coded level, levels 256 or 65536;
    ``matrix`` float64 (3, 3) to linear sRGB primaries with D65 white, or None for none needed.
    """

    table: NDArray[np.float32] = field(repr=False)
    matrix: NDArray[np.float64] | None
    name: str

    @property
    def is_srgb(self) -> bool:
        """Whether coded values are sRGB as they stand."""
        return self.name == "sRGB"

    def linearize(self, coded: Pixels) -> NDArray[np.float32]:
        """Return linear light (..., 3) float32, 1.0 = coded white, for coded values (..., 3).

        Raises
        ------
        ValueError
            If the dtype is not the one that the table was made for.
        """
        levels = {np.dtype(np.uint8): 256, np.dtype(np.uint16): 65536}.get(coded.dtype)
        if levels != len(self.table) or coded.shape[-1] != 3:
            raise ValueError(f"coded pixels of {coded.dtype}, shape {coded.shape}, do not fit")
        return self._to_srgb_primaries(_look_up(coded, self.table))

    def linearize_reduced(self, coded: Pixels, size: tuple[int, int]) -> NDArray[np.float32]:
        """Return linear light (height, width, 3) of coded values (H, W, 3), reduced by area to
        ``size`` (width, height): the mean is that of light, not of codes.

        Raises
        ------
        ValueError
            As ``linearize``.
        """
        import cv2

        if coded.dtype != np.uint8 or len(self.table) != 256:
            whole = self.linearize(coded)
            return np.asarray(cv2.resize(whole, size, interpolation=cv2.INTER_AREA))
        # Light in 65536 steps is averaged three times as fast as floats are, and a step is less
        # than a fiftieth of a unit of L* at black.
        table, step = self._steps
        light = cv2.resize(cv2.LUT(coded, table), size, interpolation=cv2.INTER_AREA)
        return self._to_srgb_primaries(np.multiply(light, step, dtype=np.float32))

    def reduce(self, coded: Pixels, size: tuple[int, int]) -> Pixels:
        """Return coded values reduced by area to ``size`` (width, height), same dtype: the code of
        the mean light, where the mean of codes would read darker. Bands bound the memory."""
        import cv2

        width, height = size
        back, step = self._codes
        reduced = np.empty((height, width, 3), dtype=coded.dtype)
        edges = np.linspace(0, height, max(1, len(coded) // 512) + 1).astype(int)
        for top, bottom in pairwise(edges):
            y0, y1 = (round(v * len(coded) / height) for v in (top, bottom))
            light = _look_up(np.ascontiguousarray(coded[y0:y1]), self.table)
            small = cv2.resize(light, (width, int(bottom - top)), interpolation=cv2.INTER_AREA)
            place = np.rint(small / step).astype(np.uint16)
            for channel in range(3):
                reduced[top:bottom, :, channel] = back[channel].take(place[..., channel])
        return reduced

    @cached_property
    def _codes(self) -> tuple[NDArray[np.uint16], np.float32]:
        """The nearest code (3, 65536) of light in even steps, and how much light a step is: less
        than a hundredth of a unit of L* off at black."""
        step = np.float32(self.table.max() / 65535)
        light = np.arange(65536) * np.float64(step)
        codes = [
            np.searchsorted((levels[1:] + levels[:-1]) / 2, light)
            for levels in np.maximum.accumulate(self.table.astype(np.float64), axis=0).T
        ]
        return np.stack(codes).astype(np.uint16), step

    @cached_property
    def _steps(self) -> tuple[NDArray[np.uint16], np.float32]:
        """The table in whole steps of light, for OpenCV, and how much light a step is."""
        step = np.float32(self.table.max() / 65535)
        steps = np.rint(self.table / step).astype(np.uint16)
        return _as_few_columns(steps), step

    def _to_srgb_primaries(self, linear: NDArray[np.float32]) -> NDArray[np.float32]:
        if self.matrix is None:
            return linear
        matrix = self.matrix.astype(np.float32)
        if linear.ndim == 3 and linear.size:
            import cv2

            return np.asarray(cv2.transform(linear, matrix), dtype=np.float32)
        return linear @ matrix.T


def _as_few_columns(table: NDArray[Any]) -> NDArray[Any]:
    """A table (256, 3) as OpenCV takes it: one for all channels takes half the time of three."""
    alike = bool((table == table[:, :1]).all())
    return np.ascontiguousarray(table[:, 0]) if alike else table.reshape(1, 256, 3)


def _look_up(coded: Pixels, table: NDArray[np.float32]) -> NDArray[np.float32]:
    if coded.dtype == np.uint8 and coded.ndim == 3 and coded.size:
        import cv2

        return np.asarray(cv2.LUT(coded, _as_few_columns(table)), dtype=np.float32)
    return np.stack([table[coded[..., i], i] for i in range(3)], axis=-1)


def _bt709_curve(coded: NDArray[np.float64]) -> NDArray[np.float64]:
    return np.where(coded < 0.081, coded / 4.5, ((coded + 0.099) / 1.099) ** (1 / 0.45))


def _levels(depth: int) -> NDArray[np.float64]:
    return np.linspace(0.0, 1.0, 2**depth, dtype=np.float64)


def srgb_encoding(depth: int) -> Encoding:
    """Return the encoding of plain sRGB with ``depth`` 8 or 16 bits a channel."""
    return _encoding(depth, (linear_from_coded,) * 3, None, "sRGB")


def linear_encoding(depth: int) -> Encoding:
    """Return the encoding of values that are linear light already, sRGB primaries."""
    return _encoding(depth, (lambda v: v,) * 3, None, "linear")


def gamma_encoding(depth: int, exponent: float) -> Encoding:
    """Return the encoding whose linear light is the coded value to the power ``exponent``."""
    return _encoding(depth, (lambda v: v**exponent,) * 3, None, f"gamma {exponent:.2f}")


def coded_points_encoding(depth: int, primaries: int, curve: int) -> Encoding:
    """Return the encoding for the code points of ITU-T H.273 that HEIC files carry.

    Raises
    ------
    UnusableProfileError
        For code points other than BT.709, BT.2020 and P3 primaries with sRGB or BT.709 curves.
    """
    curves: dict[int, Curve] = {
        1: _bt709_curve, 6: _bt709_curve, 13: linear_from_coded, 14: _bt709_curve, 15: _bt709_curve,
        8: lambda v: v,
    }  # fmt: skip
    if primaries not in PRIMARIES or curve not in curves:
        raise UnusableProfileError(f"colour code points {primaries}/{curve}")
    if primaries == 1 and curve == 13:
        return srgb_encoding(depth)
    to_xyz = rgb_to_xyz_matrix(PRIMARIES[primaries], "D65")
    matrix = None if primaries == 1 else LINEAR_FROM_XYZ @ to_xyz
    return _encoding(depth, (curves[curve],) * 3, matrix, f"code points {primaries}/{curve}")


def profile_encoding(profile: bytes, depth: int) -> Encoding:
    """Return the encoding of an embedded ICC profile of the curves-and-matrix kind, or grey.

    Raises
    ------
    UnusableProfileError
        If the profile is damaged or maps colours by tables (then colour management by a
        library has to convert the pixels instead).
    """
    try:
        tags = _read_tags(profile)
        space = profile[16:20]
        if space == b"GRAY":
            curve = _read_curve(tags[b"kTRC"])
            return _encoding(depth, (curve,) * 3, None, "grey profile")
        if space != b"RGB ":
            raise UnusableProfileError("not an RGB profile")
        curves = tuple(_read_curve(tags[tag]) for tag in (b"rTRC", b"gTRC", b"bTRC"))
        to_pcs = np.column_stack([_read_xyz(tags[tag]) for tag in (b"rXYZ", b"gXYZ", b"bXYZ")])
    except (KeyError, IndexError, struct.error, OverflowError) as error:
        raise UnusableProfileError("damaged or table-based profile") from error
    matrix = LINEAR_FROM_XYZ @ np.linalg.inv(_adaptation_to_d50()) @ to_pcs
    if not np.all(np.isfinite(matrix)) or not 0.5 < matrix.sum() / 3 < 2:
        raise UnusableProfileError("primaries that cannot be")
    near_srgb = np.allclose(matrix, np.eye(3), atol=4e-3)
    encoding = _encoding(depth, curves, None if near_srgb else matrix, "profile")
    if near_srgb and np.allclose(encoding.table, srgb_encoding(depth).table, atol=2e-3):
        return srgb_encoding(depth)
    return encoding


def _encoding(
    depth: int, curves: tuple[Curve, ...], matrix: NDArray[np.float64] | None, name: str
) -> Encoding:
    table = np.column_stack([curve(_levels(depth)) for curve in curves])
    if not np.all(np.isfinite(table)) or np.any(table[-1] <= table[0]):
        raise UnusableProfileError("a curve that does not rise")
    return Encoding(np.clip(table, 0.0, 4.0).astype(np.float32), matrix, name)


def _read_tags(profile: bytes) -> dict[bytes, bytes]:
    if len(profile) < 132 or profile[36:40] != b"acsp":
        raise UnusableProfileError("not a profile")
    (count,) = struct.unpack_from(">I", profile, 128)
    tags: dict[bytes, bytes] = {}
    for i in range(min(count, 200)):
        name, start, size = struct.unpack_from(">4sII", profile, 132 + 12 * i)
        tags[name] = profile[start : start + size]
    return tags


def _read_xyz(tag: bytes) -> NDArray[np.float64]:
    if tag[:4] != b"XYZ ":
        raise UnusableProfileError("a colourant of another type")
    return np.array(struct.unpack_from(">3i", tag, 8), dtype=np.float64) / 65536


def _read_curve(tag: bytes) -> Curve:
    if tag[:4] == b"curv":
        (count,) = struct.unpack_from(">I", tag, 8)
        if count == 0:
            return lambda v: v
        if len(tag) < 12 + 2 * count:
            raise UnusableProfileError("a curve that is cut short")
        values = np.frombuffer(tag, dtype=">u2", count=count, offset=12).astype(np.float64)
        if count == 1:
            exponent = float(values[0]) / 256
            return lambda v: v**exponent
        at = np.linspace(0.0, 1.0, count)
        return lambda v: np.interp(v, at, values / 65535)
    if tag[:4] == b"para":
        (kind,) = struct.unpack_from(">H", tag, 8)
        lengths = {0: 1, 1: 3, 2: 4, 3: 5, 4: 7}
        if kind not in lengths:
            raise UnusableProfileError("a curve of unknown type")
        raw = struct.unpack_from(f">{lengths[kind]}i", tag, 12)
        return _parametric(kind, *(value / 65536 for value in raw))
    raise UnusableProfileError("a curve of unknown type")


def _parametric(kind: int, *p: float) -> Curve:
    g, a, b, c, d, e, f = (*p, *(0.0,) * (7 - len(p)))
    if kind == 0:
        return lambda v: v**g
    if kind in (1, 2):
        if a == 0:
            raise UnusableProfileError("a curve without slope")
        return lambda v: np.where(v >= -b / a, np.maximum(a * v + b, 0) ** g + c, c)
    # Type 3 has no offsets, type 4 adds e above the break and f below it.
    return lambda v: np.where(v >= d, np.maximum(a * v + b, 0) ** g + e, c * v + f)


def _adaptation_to_d50() -> NDArray[np.float64]:
    """The connection space's D50 is rounded otherwise than the illuminant's chromaticity."""
    gain = (BRADFORD @ D50_XYZ) / (BRADFORD @ white_xyz("D65"))
    return np.asarray(np.linalg.solve(BRADFORD, gain[:, None] * BRADFORD))
