"""Reflectances, lights and cameras on one wavelength grid, and what follows from them.

Everything is sampled at 380 to 780 nm in steps of 5 nm. Chart reflectances, illuminants, the
CIE 1931 observer and the camera sensitivities are those that colour-science publishes; outside
the range in which a reflectance was measured its last value is kept, outside the range of a
camera its sensitivity is nought.
"""

import warnings
from dataclasses import dataclass
from functools import cache
from typing import Any

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]

WAVELENGTHS: Array = np.arange(380.0, 780.1, 5.0)
LARGEST_TINT = 0.3  # natural logarithm
CAMERAS = {"nikon": "Nikon 5100 (NPL)", "sigma": "Sigma SDMerill (NPL)"}
CHARTS = ("BabelColor Average", "ISO 17321-1", "ColorChecker N Ohta")

# IEC 61966-2-1, linear sRGB from XYZ (D65).
SRGB_FROM_XYZ: Array = np.array(
    [
        [3.2406255, -1.5372080, -0.4986286],
        [-0.9689307, 1.8757561, 0.0415175],
        [0.0557101, -0.2040211, 1.0569959],
    ]
)


@cache
def _colour() -> Any:
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")  # colour-science warns of absent optional libraries
        import colour
    return colour


def _on_grid(wavelengths: Array, values: Array, *, outside: str) -> Array:
    from scipy.interpolate import PchipInterpolator

    inside = np.clip(WAVELENGTHS, wavelengths[0], wavelengths[-1])
    result = PchipInterpolator(wavelengths, values, axis=0)(inside)
    if outside == "nought":
        result[(wavelengths[0] > WAVELENGTHS) | (wavelengths[-1] < WAVELENGTHS)] = 0.0
    return np.asarray(result, dtype=np.float64)


@cache
def chart_reflectances(name: str = "BabelColor Average") -> dict[str, Array]:
    """Return the 24 patches of a published chart by name, in the chart's order, each (81,)."""
    patches = _colour().SDS_COLOURCHECKERS[name]
    return {
        patch: _on_grid(np.asarray(sd.wavelengths), np.asarray(sd.values), outside="last")
        for patch, sd in patches.items()
    }


@cache
def illuminant(name: str) -> Array:
    """Return a CIE illuminant (81,), scaled so that a perfect white has luminance 1."""
    sd = _colour().SDS_ILLUMINANTS[name]
    power = _on_grid(np.asarray(sd.wavelengths), np.asarray(sd.values), outside="last")
    return np.asarray(power / np.sum(power * observer()[:, 1]))


@cache
def observer() -> Array:
    """Return the colour matching functions (81, 3) of the CIE 1931 2 degree observer."""
    cmfs = _colour().MSDS_CMFS["CIE 1931 2 Degree Standard Observer"]
    return _on_grid(np.asarray(cmfs.wavelengths), np.asarray(cmfs.values), outside="last")


@cache
def camera_sensitivity(name: str) -> Array:
    """Return the sensitivities (81, 3) of a published camera, ``nikon`` or ``sigma``."""
    msds = _colour().MSDS_CAMERA_SENSITIVITIES[CAMERAS[name]]
    return _on_grid(np.asarray(msds.wavelengths), np.asarray(msds.values), outside="nought")


def flat(reflectance: float) -> Array:
    """Return the spectrum (81,) of a neutral surface."""
    return np.full(WAVELENGTHS.shape, reflectance)


def xyz_of(reflectances: Array, light: str = "D65") -> Array:
    """Return XYZ (..., 3) of reflectances (..., 81); a perfect white has Y = 1."""
    return np.asarray((reflectances * illuminant(light)) @ observer())


def lab_of_xyz(xyz: Array) -> Array:
    """Return CIELAB (..., 3) for D65 from XYZ (..., 3). White is the sum of the same spectra, so
    that a flat reflectance has no chroma at all (CIE 15:2004, section 8.2.1)."""
    ratio = np.asarray(xyz) / xyz_of(flat(1.0))
    f = np.where(ratio > (6 / 29) ** 3, np.cbrt(ratio), ratio * (29 / 6) ** 2 / 3 + 4 / 29)
    x, y, z = np.moveaxis(f, -1, 0)
    return np.stack([116 * y - 16, 500 * (x - y), 200 * (y - z)], axis=-1)


def lab_of(reflectances: Array) -> Array:
    """Return CIELAB (..., 3), D65 and 2 degrees, of reflectances (..., 81)."""
    return lab_of_xyz(xyz_of(reflectances))


def luminance_of_lightness(lightness: float) -> float:
    """Return Y, 0 to 1, of an L*."""
    f = (lightness + 16) / 116
    return float(f**3 if f > 6 / 29 else (f - 4 / 29) * 3 * (6 / 29) ** 2)


@dataclass(frozen=True)
class Camera:
    """A camera set up for a light: white balance gains (3,) and the matrix (3, 3) that takes
    balanced camera RGB to linear sRGB; its rows sum to 1, so that white stays white."""

    name: str
    gains: Array
    matrix: Array

    def see(self, reflectances: Array, light: str) -> Array:
        """Return unbalanced camera RGB (..., 3) of reflectances (..., 81) under a light."""
        return np.asarray((reflectances * illuminant(light)) @ camera_sensitivity(self.name))


def set_up_camera(name: str, mixture: dict[str, float], balance_error: Array) -> Camera:
    """Return a camera balanced for a mixture of lights (name to share), off by the factors
    ``balance_error`` (3,), with the matrix that suits the published chart best there.

    The error is one of the camera's own channels. Where the matrix would magnify it beyond what
    any maker lets out, as that of a stacked sensor does, it is one of the picture's channels.
    """
    power = np.asarray(sum(share * illuminant(light) for light, share in mixture.items()))
    sensitivity = camera_sensitivity(name)
    gains = 1 / (power @ sensitivity)
    patches = np.stack(list(chart_reflectances().values()))
    seen = (patches * power) @ sensitivity * gains
    wanted = xyz_of(patches) @ SRGB_FROM_XYZ.T
    # Fit with rows summing to 1: the third weight is what the first two leave.
    free = seen[:, :2] - seen[:, 2:]
    weights, *_ = np.linalg.lstsq(free, wanted - seen[:, 2:], rcond=None)
    matrix = np.vstack([weights, 1 - weights.sum(axis=0)]).T
    white = matrix @ balance_error
    if white.min() <= 0 or np.abs(np.log(white)).max() > LARGEST_TINT:
        balance_error = np.linalg.solve(matrix, balance_error)
    return Camera(name, gains * balance_error, matrix)


def mix_ink(rng: np.random.Generator, lightness: float, chroma: float = 1.0) -> Array:
    """Return the reflectance (81,) of an invented ink of the given L*.

    Two or three chart patches are mixed as dyes mix (weighted geometric mean), then thinned with
    the chart's white or made denser (Beer-Lambert) until the lightness is met. ``chroma`` from 0
    (neutral) to 1 (as strong as the patches allow).
    """
    chart = chart_reflectances(CHARTS[int(rng.integers(len(CHARTS)))])
    names = list(chart)
    chosen = rng.choice(18, size=int(rng.integers(1, 4)), replace=False)
    weights = rng.dirichlet(np.full(len(chosen), 0.7))
    logs = sum(w * np.log(chart[names[i]]) for w, i in zip(weights, chosen, strict=True))
    neutral = chart[names[int(rng.integers(19, 23))]]
    ink = np.exp(chroma * np.asarray(logs) + (1 - chroma) * np.log(neutral))
    return with_lightness(ink, lightness)


def with_lightness(ink: Array, lightness: float) -> Array:
    """Return a reflectance like ``ink`` (81,), thinned or made denser to the given L*."""
    wanted = luminance_of_lightness(lightness)
    white = 1.02 * chart_reflectances()["white 9.5 (.05 D)"]
    have, top = xyz_of(ink)[1], xyz_of(white)[1]
    if wanted >= top:
        return np.asarray(np.minimum(white * wanted / top, 1.0))
    if wanted >= have:
        share = (wanted - have) / (top - have)
        return np.asarray((1 - share) * ink + share * white)
    # Cloth never loses the light that its fibres' surface sends back.
    sheen = 0.3 * wanted
    low, high = 0.0, 30.0
    for _ in range(40):
        density = (low + high) / 2
        if xyz_of(sheen + (1 - sheen) * ink**density)[1] > wanted:
            low = density
        else:
            high = density
    return np.asarray(sheen + (1 - sheen) * ink**high)
