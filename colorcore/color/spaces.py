"""Linear light, CIE XYZ and CIELAB, there and back.

One CIELAB: 2 degree observer, D65 unless ``white`` names another. All arrays are (..., 3).

==================  =====================================================  ====================
quantity            meaning                                                range
==================  =====================================================  ====================
coded               sRGB with its transfer curve                           0 to 1 (or integers)
linear              linear light, sRGB primaries, D65 white                1 = white, unbounded
XYZ                 CIE 1931 tristimulus values, Y = 1 for the white       unbounded
CIELAB              L*, a*, b*                                             L* 0 to 100 for 0 to 1
==================  =====================================================  ====================

float32 in gives float32 out by way of OpenCV, for pictures; anything else is computed in float64
by NumPy. The two agree to 0.002 CIELAB units (tests/color/test_spaces.py). NaN stays NaN.

Sources: IEC 61966-2-1:1999 (primaries, white, transfer curve); CIE 015:2018 (CIELAB, eqs 8.1 to
8.5, with the exact fractions of its Annex; chromaticities of the illuminants); Lam (1985) for the
Bradford transform in the linear form of CSS Color Module Level 4 and ICC.1:2010 Annex E.
"""

from functools import cache
from typing import Any, Final

import numpy as np
from numpy.typing import ArrayLike, NDArray

FloatArray = NDArray[np.floating[Any]]

WHITE_XY: Final[dict[str, tuple[float, float]]] = {
    "A": (0.44758, 0.40745),
    "C": (0.31006, 0.31616),
    "D50": (0.3457, 0.3585),
    "D55": (0.33243, 0.34744),
    "D65": (0.3127, 0.3290),
    "D75": (0.29903, 0.31488),
    "E": (1 / 3, 1 / 3),
    "FL2": (0.3721, 0.3751),
    "FL11": (0.3805, 0.3769),
}
"""CIE chromaticities (x, y), 2 degree observer. D65 as rounded by IEC 61966-2-1."""

_EPSILON: Final = (6 / 29) ** 3
_KAPPA: Final = (29 / 3) ** 3
_LAB_FROM_F: Final = np.array(
    [[0, 116, 0, -16], [500, -500, 0, 0], [0, 200, -200, 0]], dtype=np.float32
)
_SRGB_PRIMARIES_XY: Final = ((0.64, 0.33), (0.30, 0.60), (0.15, 0.06))


def white_xyz(white: str = "D65") -> NDArray[np.float64]:
    """Return XYZ (3,) of a white of the table ``WHITE_XY``, Y = 1.

    Raises
    ------
    KeyError
        If the table has no such white.
    """
    x, y = WHITE_XY[white]
    return np.array([x / y, 1.0, (1 - x - y) / y])


def rgb_to_xyz_matrix(
    primaries: tuple[tuple[float, float], ...], white: str
) -> NDArray[np.float64]:
    """Return the matrix (3, 3) from linear RGB of these primaries to XYZ.

    RGB = 1 lands on the white exactly, so that greys have no chroma (SMPTE RP 177-1993).
    """
    columns = np.array([[x / y, 1.0, (1 - x - y) / y] for x, y in primaries]).T
    return np.asarray(columns * np.linalg.solve(columns, white_xyz(white)))


XYZ_FROM_LINEAR: Final = rgb_to_xyz_matrix(_SRGB_PRIMARIES_XY, "D65")
LINEAR_FROM_XYZ: Final = np.linalg.inv(XYZ_FROM_LINEAR)
LUMINANCE: Final = XYZ_FROM_LINEAR[1]
"""Weights (3,) of linear light by which it makes the luminance Y (IEC 61966-2-1)."""

BRADFORD: Final = np.array(
    [[0.8951, 0.2664, -0.1614], [-0.7502, 1.7135, 0.0367], [0.0389, -0.0685, 1.0296]]
)


def _is_picture(values: ArrayLike) -> bool:
    """Whether the float32 path serves."""
    return isinstance(values, np.ndarray) and values.dtype == np.float32 and values.size > 0


def _transform(values: ArrayLike, matrix: FloatArray) -> FloatArray:
    """Multiply the last axis (3) by a matrix (3, 3)."""
    if _is_picture(values):
        import cv2

        array = np.asarray(values)
        rows = np.ascontiguousarray(array).reshape(-1, 1, 3)
        moved = cv2.transform(rows, matrix.astype(np.float32))
        return np.asarray(moved, dtype=np.float32).reshape(array.shape)
    return np.asarray(np.asarray(values, dtype=np.float64) @ matrix.T)


def _compress(ratio: FloatArray) -> FloatArray:
    """CIELAB's f (CIE 015:2018 eqs 8.4, 8.5), ``ratio`` being X/Xn, Y/Yn or Z/Zn.

    Its straight part meets the cube root at the limit, so f is the root of what is not below the
    limit, less the straight slope times what is missing.
    """
    if _is_picture(ratio) and ratio.min() >= _EPSILON:
        return _cube_root(ratio)
    root = np.maximum(ratio, ratio.dtype.type(_EPSILON))
    short = ratio - root
    root = _cube_root(root) if ratio.dtype == np.float32 else np.cbrt(root)
    short *= ratio.dtype.type(_KAPPA / 116)
    root += short
    return root


def _expand(f: FloatArray) -> FloatArray:
    """Undo CIELAB's f."""
    straight = (f - 16 / 116) * (116 / _KAPPA)
    cube = f * f
    cube *= f
    np.copyto(cube, straight, where=f <= 6 / 29)
    return cube


def _lab_from_ratios(ratios: FloatArray) -> FloatArray:
    """CIE 015:2018 eqs 8.1 to 8.3 on XYZ divided by the white (..., 3)."""
    if _is_picture(ratios):
        import cv2

        rows = _compress(ratios).reshape(-1, 1, 3)
        return np.asarray(cv2.transform(rows, _LAB_FROM_F), np.float32).reshape(ratios.shape)
    f = _compress(ratios)
    lab = np.empty_like(f)
    np.multiply(f[..., 1], 116, out=lab[..., 0])
    lab[..., 0] -= 16
    np.subtract(f[..., 0], f[..., 1], out=lab[..., 1])
    lab[..., 1] *= 500
    np.subtract(f[..., 1], f[..., 2], out=lab[..., 2])
    lab[..., 2] *= 200
    return lab


def _ratios_from_lab(lab: ArrayLike) -> FloatArray:
    """XYZ divided by the white (..., 3) from CIELAB."""
    values = np.asarray(lab)
    if values.dtype != np.float32:
        values = values.astype(np.float64)
    f = np.empty_like(values)
    f[..., 1] = (values[..., 0] + 16) / 116
    f[..., 0] = f[..., 1] + values[..., 1] / 500
    f[..., 2] = f[..., 1] - values[..., 2] / 200
    return _expand(f)


def xyz_from_linear(rgb: ArrayLike) -> FloatArray:
    """Return XYZ (..., 3), Y = 1 for white, from linear light (..., 3). IEC 61966-2-1."""
    return _transform(rgb, XYZ_FROM_LINEAR)


def linear_from_xyz(xyz: ArrayLike) -> FloatArray:
    """Return linear light (..., 3), unclipped, from XYZ (..., 3). IEC 61966-2-1."""
    return _transform(xyz, LINEAR_FROM_XYZ)


def lab_from_xyz(xyz: ArrayLike, white: str = "D65") -> FloatArray:
    """Return CIELAB (..., 3) for a named white from XYZ (..., 3), Y = 1 for white. CIE 015.

    Raises
    ------
    KeyError
        As ``white_xyz``.
    """
    return _lab_from_ratios(_transform(xyz, 1 / white_xyz(white) * np.eye(3)))


def lightness_from_luminance(luminance: ArrayLike) -> FloatArray:
    """Return L* (...) of relative luminance Y (...), 1 = white (CIE 015:2018 eq. 8.1)."""
    values = np.asarray(luminance)
    flat = np.atleast_1d(values if values.dtype == np.float32 else values.astype(np.float64))
    lightness = _compress(flat)
    lightness *= 116
    lightness -= 16
    return lightness.reshape(values.shape)


def xyz_from_lab(lab: ArrayLike, white: str = "D65") -> FloatArray:
    """Return XYZ (..., 3), Y = 1 for white, from CIELAB (..., 3) for a named white. CIE 015."""
    ratios = _ratios_from_lab(lab)
    ratios *= white_xyz(white).astype(ratios.dtype)
    return ratios


def lab_from_linear(rgb: ArrayLike) -> FloatArray:
    """Return CIELAB D65 (..., 3) from linear light (..., 3); 1.0 becomes (100, 0, 0).

    Equals ``lab_from_xyz(xyz_from_linear(rgb))``, with the white folded into one matrix.
    """
    return _lab_from_ratios(_transform(rgb, XYZ_FROM_LINEAR / white_xyz()[:, None]))


def linear_from_lab(lab: ArrayLike) -> FloatArray:
    """Return linear light (..., 3), unclipped, from CIELAB D65 (..., 3).

    Equals ``linear_from_xyz(xyz_from_lab(lab))``.
    """
    return _transform(_ratios_from_lab(lab), LINEAR_FROM_XYZ * white_xyz())


def linear_from_coded(coded: ArrayLike) -> FloatArray:
    """Return linear light of any shape (...) from sRGB-coded values. IEC 61966-2-1.

    uint8 counts as 0 to 255 and uint16 as 0 to 65535, both read off a table into float32; floats
    count as 0 to 1 and keep their precision. Floats outside 0 to 1 follow the curve mirrored at
    zero, as CSS Color Module Level 4 extends it.

    Raises
    ------
    TypeError
        For any other integer type, since its white is unknown.
    """
    values = np.asarray(coded)
    if values.dtype == np.uint8 or values.dtype == np.uint16:
        table = _linear_table(int(np.iinfo(values.dtype).max))
        if values.dtype == np.uint8 and values.ndim == 3 and values.size:
            import cv2

            return np.asarray(cv2.LUT(np.ascontiguousarray(values), table), dtype=np.float32)
        return np.asarray(table.take(values))
    if values.dtype.kind != "f" and isinstance(coded, np.ndarray):
        raise TypeError(f"coded values must be uint8, uint16 or float, not {values.dtype}")
    if values.dtype != np.float32:
        values = values.astype(np.float64)
    size = np.abs(values)
    linear = _power((size + 0.055) / 1.055, 2.4)
    np.copyto(linear, size / 12.92, where=size <= 0.04045)
    return np.asarray(np.copysign(linear, values))


def coded_from_linear(rgb: ArrayLike) -> FloatArray:
    """Return sRGB-coded values (...), 0 to 1 within the gamut, from linear light. IEC 61966-2-1.

    Not clipped: beyond 0 to 1 the curve goes on, mirrored at zero, as CSS Color 4 extends it.
    """
    values = np.asarray(rgb)
    if values.dtype != np.float32:
        values = values.astype(np.float64)
    size = np.abs(values)
    coded = _power(size, 1 / 2.4)
    coded *= 1.055
    coded -= 0.055
    np.copyto(coded, size * 12.92, where=size <= 0.0031308)
    return np.asarray(np.copysign(coded, values))


def coded8_from_linear(rgb: ArrayLike) -> NDArray[np.uint8]:
    """Return sRGB-coded uint8 from linear light, clipped to 0..255; NaN becomes 0.

    Equals ``round(255 * coded_from_linear(clip(rgb)))`` but for one step at a rounding edge.
    """
    values = np.asarray(rgb)
    if _is_picture(values) and values.ndim == 3 and values.shape[2] == 3:
        import cv2

        # OpenCV rounds, clips and makes NaN 0, all at once; a sum of two halves takes a third of
        # the time of a product.
        half = 65535 / 2
        steps = cv2.addWeighted(values, half, values, half, 0.0, dtype=cv2.CV_16U)
        return _look_up_16(np.asarray(steps), _coded8_table())
    # fmax and fmin pass over NaN.
    scaled = np.fmin(np.fmax(rgb, np.float32(0.0)), np.float32(1.0))
    scaled *= scaled.dtype.type(65535)
    scaled += scaled.dtype.type(0.5)
    return np.asarray(_coded8_table().take(scaled.astype(np.uint16)))


def adapt_white(xyz: ArrayLike, white_from: str, white_to: str) -> FloatArray:
    """Return XYZ (..., 3) adapted from one named white to another (linear Bradford).

    Valid for near-white adaptation such as D50 to D65; it does not predict what a strongly
    coloured lamp does to a given reflectance.
    """
    return _transform(xyz, adaptation_matrix(white_from, white_to))


def adaptation_matrix(white_from: str, white_to: str) -> NDArray[np.float64]:
    """Return the linear Bradford matrix (3, 3) that takes one white's XYZ to the other's."""
    gain = (BRADFORD @ white_xyz(white_to)) / (BRADFORD @ white_xyz(white_from))
    return np.asarray(np.linalg.solve(BRADFORD, gain[:, None] * BRADFORD))


def _cube_root(base: FloatArray) -> FloatArray:
    """Cube root of float32 above 0, to 4e-7 of itself: by logarithms in two thirds of the time
    that OpenCV takes for a power."""
    if not base.size:
        return base
    import cv2

    log: Any = cv2.log(base.reshape(-1, 1))
    log *= np.float32(1 / 3)
    return np.asarray(cv2.exp(log, dst=log), dtype=np.float32).reshape(base.shape)


def _look_up_16(steps: NDArray[Any], table: NDArray[np.uint8]) -> NDArray[np.uint8]:
    """Entries of a table (65536,) for uint16 steps of any shape."""
    import cv2

    if _opencv_looks_up_16():
        return np.asarray(cv2.LUT(steps, table), dtype=np.uint8)
    return np.asarray(table.take(steps))


@cache
def _opencv_looks_up_16() -> bool:
    """Whether this OpenCV takes tables for 16 bits, as from 5.0 on, in half of NumPy's time."""
    import cv2

    try:
        cv2.LUT(np.zeros((1, 1), dtype=np.uint16), np.zeros(65536, dtype=np.uint8))
    except cv2.error:
        return False
    return True


def _power(base: FloatArray, exponent: float) -> FloatArray:
    """``base ** exponent``, by OpenCV for float32; of use for base >= 0 only."""
    if base.dtype == np.float32 and base.size:
        import cv2

        rows = cv2.pow(base.reshape(-1, 1), exponent)
        return np.asarray(rows, dtype=np.float32).reshape(base.shape)
    return np.asarray(base**exponent)


@cache
def _linear_table(top: int) -> NDArray[np.float32]:
    """Linear light of every integer code 0..top."""
    table = linear_from_coded(np.arange(top + 1) / top).astype(np.float32)
    table.flags.writeable = False
    return table


@cache
def _coded8_table() -> NDArray[np.uint8]:
    """The nearest 8-bit code of linear light in steps of 1/65535."""
    return np.rint(255 * coded_from_linear(np.arange(65536) / 65535)).astype(np.uint8)
