"""Make colour profiles of the curves-and-matrix kind (ICC.1:2022), to test reading them."""

import struct

import numpy as np
from numpy.typing import NDArray

#: Chromaticities from ITU-T H.273 (2021), table 2.
SRGB = ((0.640, 0.330), (0.300, 0.600), (0.150, 0.060))
P3 = ((0.680, 0.320), (0.265, 0.690), (0.150, 0.060))
_BRADFORD = np.array(
    [[0.8951, 0.2664, -0.1614], [-0.7502, 1.7135, 0.0367], [0.0389, -0.0685, 1.0296]]
)


def _xyz(x: float, y: float) -> NDArray[np.float64]:
    return np.array([x / y, 1.0, (1 - x - y) / y])


def to_xyz_d65(primaries: tuple[tuple[float, float], ...]) -> NDArray[np.float64]:
    columns = np.array([_xyz(*p) for p in primaries]).T
    return columns * np.linalg.solve(columns, _xyz(0.3127, 0.3290))


def _s15(values: object) -> bytes:
    return b"".join(struct.pack(">i", round(float(v) * 65536)) for v in np.ravel(values))


def para_srgb() -> bytes:
    return b"para\0\0\0\0" + struct.pack(">HH", 3, 0) + _s15(
        [2.4, 1 / 1.055, 0.055 / 1.055, 1 / 12.92, 0.04045]
    )  # fmt: skip


def curv_gamma(exponent: float) -> bytes:
    return b"curv\0\0\0\0" + struct.pack(">IH", 1, round(exponent * 256)) + b"\0\0"


def curv_table(values: NDArray[np.float64]) -> bytes:
    coded = np.rint(values * 65535).astype(">u2").tobytes()
    body = b"curv\0\0\0\0" + struct.pack(">I", len(values)) + coded
    return body + b"\0" * (-len(body) % 4)


def make_table_profile() -> bytes:
    """A profile whose colours go by a table (lut8Type): the eight corners of the cube, in Lab."""
    corners = np.stack(np.meshgrid([0, 1], [0, 1], [0, 1], indexing="ij"), axis=-1).reshape(8, 3)
    lightness = 255 * corners @ [0.3, 0.55, 0.15]
    a = 128 + 60 * (corners[:, 0] - corners[:, 1])
    b = 128 + 60 * (corners[:, 1] - corners[:, 2])
    table = np.rint(np.stack([lightness, a, b], axis=1)).astype(np.uint8).tobytes()
    straight = bytes(range(256)) * 3
    head = b"mft1\0\0\0\0" + bytes([3, 3, 2, 0]) + _s15(np.eye(3))
    return _assemble({b"A2B0": head + straight + table + straight}, b"RGB ", b"Lab ")


def make_profile(
    primaries: tuple[tuple[float, float], ...] = SRGB,
    curve: bytes | None = None,
    space: bytes = b"RGB ",
) -> bytes:
    curve = para_srgb() if curve is None else curve
    d50 = np.array([0.9642, 1.0, 0.8249])
    cone = (_BRADFORD @ d50) / (_BRADFORD @ _xyz(0.3127, 0.3290))
    adapt = np.linalg.inv(_BRADFORD) @ np.diag(cone) @ _BRADFORD
    columns = (adapt @ to_xyz_d65(primaries)).T
    tags: dict[bytes, bytes] = {}
    if space == b"GRAY":
        tags[b"kTRC"] = curve
    else:
        names = (b"rXYZ", b"gXYZ", b"bXYZ")
        tags |= {n: b"XYZ \0\0\0\0" + _s15(c) for n, c in zip(names, columns, strict=True)}
        tags |= dict.fromkeys((b"rTRC", b"gTRC", b"bTRC"), curve)
        tags[b"chad"] = b"sf32\0\0\0\0" + _s15(adapt)
    return _assemble(tags, space, b"XYZ ")


def _assemble(own: dict[bytes, bytes], space: bytes, connection: bytes) -> bytes:
    text = "made for a test".encode("utf-16-be")
    description = b"mluc\0\0\0\0" + struct.pack(">II2s2sII", 1, 12, b"en", b"US", len(text), 28)
    d50 = np.array([0.9642, 1.0, 0.8249])
    tags = {b"desc": description + text, b"wtpt": b"XYZ \0\0\0\0" + _s15(d50)}
    tags |= {b"cprt": tags[b"desc"], **own}
    at, table, body = 132 + 12 * len(tags), b"", b""
    for name, data in tags.items():
        table += struct.pack(">4sII", name, at + len(body), len(data))
        body += data + b"\0" * (-len(data) % 4)
    size = at + len(body)
    head = struct.pack(">I4sI4s4s4s12s4s", size, b"\0" * 4, 0x04400000, b"mntr", space, connection,
                       b"\x07\xe8\0\1\0\1\0\0\0\0\0\0", b"acsp")  # fmt: skip
    head += b"\0" * 28 + _s15(d50)
    return head.ljust(128, b"\0") + struct.pack(">I", len(tags)) + table + body
