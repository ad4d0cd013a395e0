"""Small matrix profiles (ICC.1:2010, version 4) for sRGB and Display P3."""

import functools
import struct

import numpy as np

from tests.scenes.spectra import Array

# xy of red, green, blue; IEC 61966-2-1 and SMPTE EG 432-1. Both have the white D65.
PRIMARIES: dict[str, tuple[tuple[float, float], ...]] = {
    "srgb": ((0.64, 0.33), (0.30, 0.60), (0.15, 0.06)),
    "display-p3": ((0.680, 0.320), (0.265, 0.690), (0.150, 0.060)),
}
NAMES = {"srgb": "sRGB (rendered scene)", "display-p3": "Display P3 (rendered scene)"}
D65 = (0.3127, 0.3290)
D50: Array = np.array([0.9642, 1.0, 0.8249])  # the profile connection space, ICC.1:2010 7.2.16
BRADFORD: Array = np.array(
    [[0.8951, 0.2664, -0.1614], [-0.7502, 1.7135, 0.0367], [0.0389, -0.0685, 1.0296]]
)


def _xyz(xy: tuple[float, float]) -> Array:
    return np.array([xy[0] / xy[1], 1.0, (1 - xy[0] - xy[1]) / xy[1]])


def rgb_to_pcs(profile: str) -> tuple[Array, Array]:
    """Return the matrix (3, 3) from linear RGB to XYZ for D50 and the adaptation (3, 3)."""
    columns = np.stack([_xyz(xy) for xy in PRIMARIES[profile]], axis=1)
    to_xyz = columns * np.linalg.solve(columns, _xyz(D65))
    gain = (BRADFORD @ D50) / (BRADFORD @ _xyz(D65))
    adapt = np.linalg.inv(BRADFORD) @ np.diag(gain) @ BRADFORD
    return adapt @ to_xyz, adapt


def _fixed(values: Array) -> bytes:
    return b"".join(struct.pack(">i", round(float(v) * 65536)) for v in np.ravel(values))


def _words(text: str) -> bytes:
    data = text.encode("utf-16-be")
    return struct.pack(">4sIII2s2sII", b"mluc", 0, 1, 12, b"en", b"US", len(data), 28) + data


@functools.cache
def make_profile(profile: str) -> bytes:
    """Return the ICC profile ``srgb`` or ``display-p3``, with the sRGB tone curve.

    Raises
    ------
    KeyError
        If the profile is another.
    """
    matrix, adapt = rgb_to_pcs(profile)
    curve = (
        b"para"
        + struct.pack(">IHH", 0, 3, 0)
        + _fixed(np.array([2.4, 1 / 1.055, 0.055 / 1.055, 1 / 12.92, 0.04045]))
    )
    tags = [
        (b"desc", _words(NAMES[profile])),
        (b"cprt", _words("No copyright; made for rendered scenes")),
        (b"wtpt", b"XYZ \0\0\0\0" + _fixed(D50)),
        (b"chad", b"sf32\0\0\0\0" + _fixed(adapt)),
        (b"rXYZ", b"XYZ \0\0\0\0" + _fixed(matrix[:, 0])),
        (b"gXYZ", b"XYZ \0\0\0\0" + _fixed(matrix[:, 1])),
        (b"bXYZ", b"XYZ \0\0\0\0" + _fixed(matrix[:, 2])),
        (b"rTRC", curve),
        (b"gTRC", curve),
        (b"bTRC", curve),
    ]
    start = 128 + 4 + 12 * len(tags)
    table, body = struct.pack(">I", len(tags)), b""
    for name, data in tags:
        data += b"\0" * (-len(data) % 4)
        table += struct.pack(">4sII", name, start + len(body), len(data))
        body += data
    size = start + len(body)
    head = struct.pack(">I4sI4s4s4s", size, b"\0\0\0\0", 0x04200000, b"mntr", b"RGB ", b"XYZ ")
    head += struct.pack(">6H4s", 2026, 1, 1, 0, 0, 0, b"acsp") + b"\0" * 28
    head += _fixed(D50) + b"\0" * 48
    return head + table + body
