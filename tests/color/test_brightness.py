"""Lightness with saturation counted, against Fairchild and Pirrotta (1991) and Nayatani (1997)."""

import numpy as np
from numpy.testing import assert_allclose

from colorcore.color.brightness import lightness_with_chroma
from colorcore.color.spaces import xyz_from_lab


def _lab(lightness: float, chroma: float, degrees: float) -> list[float]:
    angle = np.deg2rad(degrees)
    return [lightness, chroma * np.cos(angle), chroma * np.sin(angle)]


def test_the_formula_at_its_ends() -> None:
    """g(h) is 0.085 at 90 degrees and 0.201 at 270; f2(L*) is 1.25 at L* 50 and 0 at 100."""
    assert_allclose(lightness_with_chroma(_lab(50, 40, 90)), 50 + 1.25 * 0.085 * 40)
    assert_allclose(lightness_with_chroma(_lab(50, 40, 270)), 50 + 1.25 * 0.201 * 40)
    assert_allclose(lightness_with_chroma(_lab(50, 40, 0)), 50 + 1.25 * 40 * 0.16702438, atol=1e-5)
    assert_allclose(lightness_with_chroma(_lab(100, 40, 270)), 100)


def test_greys_keep_their_lightness_and_shapes_hold() -> None:
    greys = np.stack([np.linspace(0, 100, 11), np.zeros(11), np.zeros(11)], -1)
    assert_allclose(lightness_with_chroma(greys), greys[:, 0])
    assert lightness_with_chroma(np.zeros((2, 5, 3))).shape == (2, 5)


def test_direction_agrees_with_nayatani() -> None:
    """Nayatani (1997) for object colours, as colour-science has it: both must rank how much
    brighter hues look alike (chroma 40, L* 50, yellow left out of the comparison of sizes)."""
    import colour

    hues = np.arange(0, 360, 15)
    lab = np.array([_lab(50, 40, hue) for hue in hues])
    gain = lightness_with_chroma(lab) - 50

    def uv(xyz: np.ndarray) -> np.ndarray:
        return colour.xy_to_Luv_uv(colour.XYZ_to_xy(xyz))

    white = uv(xyz_from_lab([100.0, 0, 0]))
    other = colour.HelmholtzKohlrausch_effect_object_Nayatani1997(
        uv(xyz_from_lab(lab)), white, 63.66
    )
    assert np.corrcoef(gain, other)[0, 1] > 0.7
    assert hues[gain.argmin()] == 90
    assert abs(hues[other.argmin()] - 90) <= 30
    more = lightness_with_chroma([_lab(50, chroma, 30) for chroma in (0, 20, 40, 60)])
    assert (np.diff(more) > 0).all()
