"""From what reaches the sensor to the picture that the camera stores."""

from collections.abc import Iterator
from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

from tests.scenes.spectra import Array, Camera

Image = NDArray[np.float32]

# Linear Display P3 from linear sRGB (both D65): SMPTE EG 432-1 primaries.
P3_FROM_SRGB: Array = np.array(
    [
        [0.8224621, 0.1775380, 0.0],
        [0.0331941, 0.9668058, 0.0],
        [0.0170827, 0.0723974, 0.9105199],
    ]
)

# What a tone curve makes of L* (sRGB-coded 0 to 100 in effect), as a camera's own processing
# lifts shadows and middle tones and rolls off the lights.
_PHONE = (
    (0, 1),
    (8, 13),
    (15, 24),
    (25, 37),
    (40, 54),
    (55, 68),
    (70, 80),
    (85, 91),
    (94, 97),
    (100, 100),
)
TONES: dict[str, tuple[tuple[float, float], ...]] = {
    "srgb": ((0, 0), (100, 100)),
    "phone": _PHONE,
    "phone_local": _PHONE,
    "phone_soft": ((0, 0), (10, 13), (25, 31), (50, 57), (75, 80), (100, 100)),
    "contrast": ((0, 0), (10, 6), (25, 20), (50, 52), (75, 80), (90, 94), (100, 100)),
}
# Beyond a curve, some phones level the light over the picture and strengthen colours.
LEVELING = {"phone_local": 0.3}
VIVID = {"phone_local": 0.12}
STRIP = 64  # rows at once; few enough that a processor's own memory holds them
BLACK, WHITE = 512, 16383  # levels of a raw file


@dataclass(frozen=True, kw_only=True)
class Development:
    """How a picture is taken and stored. ``gain`` exposure in linear light, ``vignette`` light
    lost in the far corner, ``noise`` 1 for a phone in a lit room, ``blur`` in pixels (standard
    deviation), ``sharpening`` 0 to 1, ``quality`` of the JPEG, ``profile`` srgb or display-p3."""

    gain: float
    vignette: float
    noise: float
    blur: float
    sharpening: float
    tone: str
    quality: int
    profile: str = "srgb"


def code(linear: NDArray[np.floating]) -> Array:
    """Return sRGB-coded values for linear light 0 to 1 (IEC 61966-2-1)."""
    v = np.clip(np.asarray(linear, dtype=np.float64), 0, 1)
    return np.where(v <= 0.0031308, 12.92 * v, 1.055 * v ** (1 / 2.4) - 0.055)


def tone_table(tone: str) -> NDArray[np.uint8]:
    """Return the coded byte (65536,) for each 16-bit linear value, tone curve included.

    Raises
    ------
    ValueError
        If the curve is not in TONES.
    """
    if tone not in TONES:
        raise ValueError(f"tone must be of {', '.join(TONES)}; got {tone!r}")
    from scipy.interpolate import PchipInterpolator

    points = np.array(TONES[tone], dtype=np.float64)
    linear = np.arange(65536) / 65535.0
    lightness = np.where(linear > (6 / 29) ** 3, 116 * np.cbrt(linear) - 16, linear * (29 / 3) ** 3)
    lifted = PchipInterpolator(points[:, 0], points[:, 1])(lightness)
    f = (lifted + 16) / 116
    back = np.where(lifted > 8, f**3, lifted * (3 / 29) ** 3)
    return np.round(code(back) * 255).astype(np.uint8)


def _collect(light: Image, how: Development, seed: int) -> Iterator[tuple[int, Image]]:
    """Yield strips (top row, balanced camera RGB): blurred by the lens, vignetted, noisy, clipped
    where the sensor is full."""
    height, width = light.shape[:2]
    if how.blur > 0.2:
        light = np.asarray(cv2.GaussianBlur(light, (0, 0), how.blur))
    rng = np.random.default_rng([seed, 77])
    reach = np.hypot(width, height) / 2
    x = ((np.arange(width, dtype=np.float32) + 0.5 - width / 2) / reach)[None, :] ** 2
    # cos^4 of an angle whose tangent grows with the radius.
    edge = np.float32((1 - how.vignette) ** -0.5 - 1)
    for top in range(0, height, STRIP):
        strip: Image = light[top : top + STRIP] * np.float32(how.gain)
        rows = np.arange(top, top + strip.shape[0], dtype=np.float32) + 0.5
        y = ((rows - height / 2) / reach)[:, None] ** 2
        away = (1 + edge * (x + y)) ** 2
        strip /= cv2.merge((away, away, away))
        if how.noise:
            sd = np.maximum(strip, 0)
            sd /= 9000
            sd += 0.0012**2
            np.sqrt(sd, out=sd)
            sd *= np.float32(how.noise)
            sd *= rng.standard_normal(strip.shape, dtype=np.float32)
            strip += sd
        yield top, np.clip(strip, 0, 1, out=strip)


def expose(light: Image, camera: Camera, how: Development, seed: int) -> NDArray[np.uint16]:
    """Return linear light (H, W, 3) as 16 bit in the primaries of the profile."""
    matrix = camera.matrix
    if how.profile == "display-p3":
        matrix = P3_FROM_SRGB @ matrix
    mixing = matrix.T.astype(np.float32)
    result = np.empty(light.shape, np.uint16)
    for top, strip in _collect(light, how, seed):
        developed = strip @ mixing
        np.clip(developed, 0, 1, out=developed)
        result[top : top + STRIP] = (developed * 65535 + 0.5).astype(np.uint16)
    return result


def mosaic(light: Image, camera: Camera, how: Development, seed: int) -> NDArray[np.uint16]:
    """Return what a sensor behind a red, green, green, blue mosaic stores (H, W), 14 bit between
    BLACK and WHITE, before any balance."""
    height, width = light.shape[:2]
    native = (camera.gains.min() / camera.gains).astype(np.float32)
    result = np.empty((height, width), np.uint16)
    for top, strip in _collect(light, how, seed):
        part = result[top : top + STRIP]
        raw = (strip * native * (WHITE - BLACK) + BLACK + 0.5).astype(np.uint16)
        for row, column, channel in ((0, 0, 0), (0, 1, 1), (1, 0, 1), (1, 1, 2)):
            part[row::2, column::2] = raw[row::2, column::2, channel]
    return result


def develop(linear: NDArray[np.uint16], how: Development) -> NDArray[np.uint8]:
    """Return the coded picture (H, W, 3) before it is compressed."""
    if how.tone in LEVELING:
        linear = _level(linear, LEVELING[how.tone])
    coded = np.take(tone_table(how.tone), linear)
    if how.tone in VIVID:
        grey = cv2.cvtColor(cv2.cvtColor(coded, cv2.COLOR_RGB2GRAY), cv2.COLOR_GRAY2RGB)
        coded = np.asarray(cv2.addWeighted(coded, 1 + VIVID[how.tone], grey, -VIVID[how.tone], 0))
    if how.sharpening:
        soft = cv2.GaussianBlur(coded, (0, 0), 1.2)
        coded = np.asarray(cv2.addWeighted(coded, 1 + how.sharpening, soft, -how.sharpening, 0))
    return coded


def _level(linear: NDArray[np.uint16], strength: float) -> NDArray[np.uint16]:
    """Return linear light whose broad lights and shadows differ less, as phones do to keep detail
    in both; the brightest parts stay as they are."""
    height, width = linear.shape[:2]
    small = cv2.resize(linear, (64, max(2, round(64 * height / width))), None, 0, 0, cv2.INTER_AREA)
    broad = cv2.GaussianBlur(small.mean(axis=-1).astype(np.float32), (0, 0), 6) / 65535
    lift = (np.maximum(broad, 1e-3) / broad.max()) ** -strength
    lift = cv2.resize(lift.astype(np.float32), (width, height), interpolation=cv2.INTER_LINEAR)
    result = np.empty_like(linear)
    for top in range(0, height, STRIP):
        strip = linear[top : top + STRIP] * lift[top : top + STRIP, :, None]
        result[top : top + STRIP] = np.minimum(strip, 65535)
    return result


def compress(coded: NDArray[np.uint8], quality: int) -> bytes:
    """Return a JPEG file of a coded picture, chroma halved as cameras do."""
    done, buffer = cv2.imencode(
        ".jpg", cv2.cvtColor(coded, cv2.COLOR_RGB2BGR), [cv2.IMWRITE_JPEG_QUALITY, quality]
    )
    if not done:
        raise RuntimeError("the picture could not be compressed")
    return bytes(buffer)
