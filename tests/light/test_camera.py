"""Camera colour to CIELAB: published cameras, chart and lights from colour-science."""

import numpy as np
import pytest

from colorcore.color.charts import BEFORE_2014, chart_linear
from colorcore.color.difference import ciede2000
from colorcore.color.spaces import lab_from_linear, linear_from_xyz
from colorcore.light.camera import FIXED, _least_squares, fit_camera, root_terms
from colorcore.light.sharpened import LINEAR_FROM_SHARP, SHARP_FROM_LINEAR
from tests.scenes import spectra

PATCHES = np.stack(list(spectra.chart_reflectances("BabelColor Average").values()))


def seen_by(camera: str, light: str, reflectances: np.ndarray) -> np.ndarray:
    """Sharpened, light-free values of a camera set for daylight, white balanced."""
    daylight = spectra.set_up_camera(camera, {"D65": 1.0}, np.ones(3))
    white = daylight.see(spectra.flat(1.0), light)
    return (daylight.see(reflectances, light) / white) @ daylight.matrix.T @ SHARP_FROM_LINEAR.T


def truth(reflectances: np.ndarray) -> np.ndarray:
    return np.asarray(linear_from_xyz(spectra.xyz_of(reflectances)))


def test_the_sharpened_space_keeps_white_and_goes_both_ways():
    assert np.allclose(SHARP_FROM_LINEAR.sum(axis=1), 1)
    assert np.allclose(SHARP_FROM_LINEAR @ LINEAR_FROM_SHARP, np.eye(3))


@pytest.mark.parametrize("light", ["D65", "A", "FL2", "FL11"])
@pytest.mark.parametrize("camera", ["nikon", "sigma"])
def test_a_chart_gives_colour_within_published_accuracy(camera, light):
    """Camera characterisation with a chart reaches 1.5 to 3 CIEDE2000 (Finlayson, Mackiewicz and
    Hurlbert 2015, tables 1 to 4, for linear and root-polynomial fits)."""
    fit = fit_camera(seen_by(camera, light, PATCHES), truth(PATCHES))
    assert fit.difference < 3.0
    rng = np.random.default_rng(1)
    inks = np.stack([spectra.mix_ink(rng, v, 0.8) for v in rng.uniform(20, 90, 60)])
    measured = fit.convert(seen_by(camera, light, inks))
    off = ciede2000(lab_from_linear(measured), spectra.lab_of(inks))
    assert np.median(off) < 3.0
    fixed = lab_from_linear(FIXED.convert(seen_by(camera, light, inks)))
    assert np.median(off) < 1.15 * np.median(ciede2000(fixed, spectra.lab_of(inks)))


def test_the_simple_matrix_stays_where_it_is_enough():
    rng = np.random.default_rng(2)
    mixing = np.array([[1.2, -0.15, -0.05], [-0.1, 1.2, -0.1], [0.02, -0.2, 1.18]])
    names = []
    for _ in range(20):
        colors = rng.uniform(0.03, 0.9, (24, 3))
        sharp = colors @ np.linalg.inv(mixing).T * np.exp(rng.normal(0, 0.004, (24, 3)))
        names.append(fit_camera(sharp, colors).name)
        assert fit_camera(colors @ SHARP_FROM_LINEAR.T, colors).name == "fixed"
    assert names.count("matrix") >= 14
    assert "fixed" not in names


def test_richer_terms_are_never_a_worse_fit_than_the_simpler():
    for camera in ("nikon", "sigma"):
        for light in ("D65", "A", "FL2", "FL11"):
            sharp, known = seen_by(camera, light, PATCHES), truth(PATCHES)
            fit = fit_camera(sharp, known)
            before = ciede2000(lab_from_linear(FIXED.convert(sharp)), lab_from_linear(known))
            assert fit.difference <= np.median(before) * 1.25


def test_colours_that_no_chart_holds_come_closer_by_a_chart():
    """The 99 reflectances of CIE 224:2017 (TM-30's colour evaluation samples), through published
    cameras set for daylight, by a chart of other reflectances than its published values are of."""
    from colour import SpectralShape
    from colour.quality.cfi2017 import load_TCS_CIE2017

    samples = np.asarray(load_TCS_CIE2017(SpectralShape(380, 780, 5)).values).T
    chart = np.stack(list(spectra.chart_reflectances("ISO 17321-1").values()))
    fitted, fixed = [], []
    for camera in ("nikon", "sigma"):
        for light in ("D65", "D50", "A", "FL2", "FL11", "LED-B3"):
            fit = fit_camera(seen_by(camera, light, chart), chart_linear(BEFORE_2014))
            seen = seen_by(camera, light, samples)
            for mapping, into in ((fit, fitted), (FIXED, fixed)):
                off = ciede2000(lab_from_linear(mapping.convert(seen)), spectra.lab_of(samples))
                into.append(float(np.median(off)))
    assert np.mean(fitted) < 1.8 < 3.0 < np.mean(fixed)
    assert np.all(np.array(fitted) < np.array(fixed))


def test_few_patches_with_shine_on_one_are_not_fitted():
    few = seen_by("nikon", "D65", PATCHES)[8:18]
    few[7] += 0.5
    assert fit_camera(few, truth(PATCHES)[8:18]).name == "fixed"


def test_root_terms_are_those_of_the_paper_and_scale_with_exposure():
    """Finlayson et al. 2015, eq. 9: r, g, b, sqrt(rg), sqrt(gb), sqrt(rb)."""
    values = np.array([0.04, 0.09, 0.16])
    expected = [0.04, 0.09, 0.16, 0.06, 0.12, 0.08]
    assert np.allclose(root_terms(values), expected)
    assert np.allclose(root_terms(3 * values), 3 * np.array(expected))
    assert np.all(np.isfinite(root_terms(np.array([-0.1, 0.2, 0.0]))))


def test_what_a_fit_without_a_patch_makes_of_it_is_that_of_fitting_anew():
    sharp, known = seen_by("sigma", "A", PATCHES), truth(PATCHES)
    _, left_out = _least_squares(sharp, known)
    for i in range(len(known)):
        kept = np.arange(len(known)) != i
        anew = sharp[i] @ _least_squares(sharp[kept], known[kept])[0].T
        assert np.allclose(left_out[i], anew, atol=2e-3)


def test_a_few_patches_are_not_fitted():
    assert fit_camera(PATCHES[:5, ::30], PATCHES[:5, ::30]).name == "fixed"


def test_pictures_and_lists_convert_alike():
    rng = np.random.default_rng(3)
    fit = fit_camera(seen_by("sigma", "A", PATCHES), truth(PATCHES))
    picture = rng.uniform(0, 1, (5, 7, 3))
    whole = fit.convert(picture.astype(np.float32))
    assert whole.dtype == np.float32
    assert np.allclose(whole.reshape(-1, 3), fit.convert(picture.reshape(-1, 3)), atol=1e-5)
