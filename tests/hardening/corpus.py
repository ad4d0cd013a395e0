"""Picture files of every kind, and ways to break them: a stream of cases from a seed.

``cases(seed, count)`` yields (what it is, bytes). Small pictures, so that thousands take seconds.
"""

import io
import random
import struct
import zlib
from collections.abc import Callable, Iterator

import cv2
import numpy as np
from PIL import Image

from tests.photo.profiles import P3, make_profile, make_table_profile

Make = Callable[[random.Random], bytes]


def _pixels(rng: random.Random, width: int = 90, height: int = 70) -> np.ndarray:
    noise = np.random.default_rng(rng.randrange(2**32))
    return noise.integers(0, 256, (height, width, 3), dtype=np.uint8)


def _pillow(kind: str, mode: str = "RGB", **options: object) -> Make:
    def make(rng: random.Random) -> bytes:
        stream = io.BytesIO()
        Image.fromarray(_pixels(rng)).convert(mode).save(stream, kind, **options)
        return stream.getvalue()

    return make


def _with_exif(rng: random.Random) -> bytes:
    exif = Image.Exif()
    exif[0x0112] = rng.choice([0, 1, 3, 6, 8, 9, 65535])
    exif[0x010F] = "maker" * rng.randrange(40)
    stream = io.BytesIO()
    Image.fromarray(_pixels(rng)).save(stream, "JPEG", exif=exif)
    return stream.getvalue()


def _with_profile(rng: random.Random) -> bytes:
    profile = bytearray(rng.choice([make_profile(P3), make_table_profile(), b"", b"junk" * 50]))
    for _ in range(rng.randrange(12)):
        if profile:
            profile[rng.randrange(len(profile))] = rng.randrange(256)
    stream = io.BytesIO()
    kind = rng.choice(["JPEG", "PNG", "TIFF", "WEBP"])
    Image.fromarray(_pixels(rng)).save(stream, kind, icc_profile=bytes(profile))
    return stream.getvalue()


def _deep(rng: random.Random) -> bytes:
    values = np.random.default_rng(rng.randrange(2**32)).integers(
        0, 65536, (70, 90, rng.choice([1, 3, 4])), dtype=np.uint16
    )
    return cv2.imencode(rng.choice([".png", ".tif"]), values)[1].tobytes()


def _floating(rng: random.Random) -> bytes:
    values = np.full((70, 90, 3), rng.choice([0.5, float("nan"), 1e30]), np.float32)
    return cv2.imencode(".tif", values)[1].tobytes()


def _heic(rng: random.Random) -> bytes:
    import pillow_heif

    stream = io.BytesIO()
    pillow_heif.from_pillow(Image.fromarray(_pixels(rng))).save(stream, quality=40)
    return stream.getvalue()


def _animated(rng: random.Random) -> bytes:
    frames = [Image.fromarray(_pixels(rng)) for _ in range(3)]
    stream = io.BytesIO()
    kind = rng.choice(["WEBP", "TIFF", "PNG", "GIF"])
    frames[0].save(stream, kind, save_all=True, append_images=frames[1:])
    return stream.getvalue()


def _bomb(rng: random.Random) -> bytes:
    """A head that promises far more than there is."""

    def chunk(kind: bytes, data: bytes) -> bytes:
        return (
            struct.pack(">I", len(data)) + kind + data + struct.pack(">I", zlib.crc32(kind + data))
        )

    side = rng.choice([1, 60000, 100000, 2**31 - 1])
    other = rng.choice([1, 60000, 2**31 - 1])
    head = struct.pack(">IIBBBBB", side, other, 8, rng.choice([0, 2, 3, 6]), 0, 0, 0)
    body = chunk(b"IHDR", head) + chunk(b"IDAT", zlib.compress(bytes(500))) + chunk(b"IEND", b"")
    return b"\x89PNG\r\n\x1a\n" + body


def _thin(rng: random.Random) -> bytes:
    shape = rng.choice([(1, 1), (1, 6000), (6000, 1), (63, 64), (64, 64)])
    ending = rng.choice([".png", ".jpg", ".tif", ".webp"])
    return cv2.imencode(ending, np.zeros((*shape, 3), np.uint8))[1].tobytes()


def _polyglot(rng: random.Random) -> bytes:
    other = rng.choice([b"%PDF-1.7\n", b"PK\x03\x04", b"<html><script>", b"MZ\x90", b"#!/bin/sh\n"])
    picture = _pillow("JPEG")(rng)
    return rng.choice([picture + other * 20, other + picture, picture[:3] + other + picture[3:]])


def _not_a_picture(rng: random.Random) -> bytes:
    return rng.choice([b"", b"\0" * 1000, b"hello " * 99, b"BM" + bytes(99), rng.randbytes(500)])


MAKERS: tuple[tuple[str, Make], ...] = (
    ("jpeg", _pillow("JPEG")),
    ("progressive jpeg", _pillow("JPEG", progressive=True)),
    ("grey jpeg", _pillow("JPEG", "L")),
    ("cmyk jpeg", _pillow("JPEG", "CMYK")),
    ("png", _pillow("PNG")),
    ("png with alpha", _pillow("PNG", "RGBA")),
    ("palette png", _pillow("PNG", "P")),
    ("two-colour png", _pillow("PNG", "1")),
    ("tiff", _pillow("TIFF")),
    ("lzw tiff", _pillow("TIFF", compression="tiff_lzw")),
    ("cmyk tiff", _pillow("TIFF", "CMYK")),
    ("lab tiff", _pillow("TIFF", "LAB")),
    ("floating grey tiff", _pillow("TIFF", "F")),
    ("webp", _pillow("WEBP")),
    ("exif", _with_exif),
    ("profile", _with_profile),
    ("16 bit", _deep),
    ("floating", _floating),
    ("heic", _heic),
    ("animated", _animated),
    ("bomb", _bomb),
    ("thin", _thin),
    ("polyglot", _polyglot),
    ("no picture", _not_a_picture),
)


def _cut(data: bytes, rng: random.Random) -> bytes:
    return data[: rng.randrange(len(data) + 1)]


def _flip(data: bytes, rng: random.Random) -> bytes:
    broken = bytearray(data)
    for _ in range(rng.choice([1, 1, 3, 20])):
        if broken:
            # Heads hold what decoders trust.
            end = rng.choice([64, 400, len(broken)])
            broken[rng.randrange(min(end, len(broken)))] = rng.randrange(256)
    return bytes(broken)


def _drop(data: bytes, rng: random.Random) -> bytes:
    start = rng.randrange(len(data) + 1)
    return data[:start] + data[start + rng.randrange(1, 60) :]


def _double(data: bytes, rng: random.Random) -> bytes:
    start = rng.randrange(len(data) + 1)
    return data[:start] + data[start : start + rng.randrange(1, 200)] + data[start:]


def _grow(data: bytes, rng: random.Random) -> bytes:
    """Put a huge number where a length may stand."""
    if len(data) < 8:
        return data
    at = rng.randrange(min(len(data) - 4, 300))
    huge = rng.choice([b"\xff\xff\xff\xff", b"\x7f\xff\xff\xff", b"\0\0\0\0", b"\x80\0\0\0"])
    return data[:at] + huge + data[at + 4 :]


BREAKERS = (_cut, _flip, _drop, _double, _grow)


def cases(seed: int, count: int) -> Iterator[tuple[str, bytes]]:
    """Yield cases; the same seed gives the same ones. A tenth is left whole."""
    rng = random.Random(seed)
    kept: dict[str, bytes] = {}
    for number in range(count):
        name, make = MAKERS[number % len(MAKERS)]
        if name not in kept or rng.random() < 0.1:
            kept[name] = make(rng)
        data = kept[name]
        for _ in range(rng.choice([0, 1, 1, 1, 1, 2, 2, 3, 1, 1])):
            data = rng.choice(BREAKERS)(data, rng)
        yield name, data
