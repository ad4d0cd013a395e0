"""What the scenes call true agrees with colour-science and with published values."""

import warnings
from typing import Any

import numpy as np
import pytest

from tests.scenes import icc, prints, sensor, spectra

with warnings.catch_warnings():
    warnings.simplefilter("ignore")  # colour-science warns of absent optional libraries
    import colour


def lab_by_colour_science(sd: Any) -> np.ndarray:
    """Return CIELAB of a reflectance by colour-science's own integration (CIE 15:2004)."""
    shape = colour.SpectralShape(380, 780, 5)
    cmfs = colour.MSDS_CMFS["CIE 1931 2 Degree Standard Observer"].copy().align(shape)
    light = colour.SDS_ILLUMINANTS["D65"].copy().align(shape)

    def xyz(one: Any) -> np.ndarray:
        return np.asarray(colour.sd_to_XYZ(one, cmfs, light, method="Integration")) / 100

    white = xyz(colour.sd_ones(shape))
    return np.asarray(colour.XYZ_to_Lab(xyz(sd), colour.XYZ_to_xy(white)))


@pytest.mark.parametrize("chart", spectra.CHARTS)
def test_lab_of_every_patch_is_what_colour_science_integrates(chart: str) -> None:
    shape = colour.SpectralShape(380, 780, 5)
    for name, reflectance in spectra.chart_reflectances(chart).items():
        sd = colour.SpectralDistribution(reflectance, shape.wavelengths)
        assert spectra.lab_of(reflectance) == pytest.approx(lab_by_colour_science(sd), abs=1e-3), (
            name
        )


@pytest.mark.parametrize("chart", spectra.CHARTS)
def test_sampling_leaves_the_published_reflectances_as_they_are(chart: str) -> None:
    ours = spectra.chart_reflectances(chart)
    for name, sd in colour.SDS_COLOURCHECKERS[chart].items():
        at = np.isin(spectra.WAVELENGTHS, sd.wavelengths)
        kept = np.isin(sd.wavelengths, spectra.WAVELENGTHS)
        assert ours[name][at] == pytest.approx(np.asarray(sd.values)[kept], abs=1e-12)


def test_patches_have_the_published_lightness() -> None:
    # colour-science carries the chart's published xyY for D50 (BabelColor's average). Lightness
    # of neutrals is nearly the same under D65.
    published = colour.CCS_COLOURCHECKERS["BabelColor Average"].data
    ours = spectra.chart_reflectances("BabelColor Average")
    for name in ("white 9.5 (.05 D)", "neutral 5 (.70 D)", "black 2 (1.5 D)"):
        wanted = 116 * np.cbrt(published[name][2]) - 16
        assert spectra.lab_of(ours[name])[0] == pytest.approx(wanted, abs=0.15)


def test_neutrals_have_no_chroma() -> None:
    for reflectance in (0.01, 0.18, 0.88, 1.0):
        _, a, b = spectra.lab_of(spectra.flat(reflectance))
        assert np.hypot(a, b) < 1e-9


@pytest.mark.parametrize(("luminance", "lightness"), [(0.88, 95.16), (0.18, 49.50)])
def test_references_have_the_lightness_of_cie_1976(luminance: float, lightness: float) -> None:
    assert spectra.lab_of(spectra.flat(luminance))[0] == pytest.approx(lightness, abs=0.01)
    assert spectra.luminance_of_lightness(lightness) == pytest.approx(luminance, abs=0.002)


@pytest.mark.parametrize("name", ["D65", "A", "FL2", "FL11"])
def test_illuminants_have_their_published_chromaticity(name: str) -> None:
    xyz = spectra.xyz_of(spectra.flat(1.0), name)
    published = colour.CCS_ILLUMINANTS["CIE 1931 2 Degree Standard Observer"][name]
    assert xyz[:2] / xyz.sum() == pytest.approx(published, abs=6e-4)
    assert xyz[1] == pytest.approx(1.0)


@pytest.mark.parametrize("name", ["nikon", "sigma"])
@pytest.mark.parametrize("light", ["D65", "A", "FL2", "FL11"])
def test_a_balanced_camera_sees_white_as_white(name: str, light: str) -> None:
    camera = spectra.set_up_camera(name, {light: 1.0}, np.ones(3))
    seen = camera.see(spectra.flat(0.5), light) * camera.gains @ camera.matrix.T
    assert seen == pytest.approx(np.full(3, 0.5), abs=1e-9)


def test_the_chart_through_the_camera_comes_near_its_published_colors() -> None:
    # A published camera with a fitted matrix reaches 1.5 to 3 CIEDE2000 on average (Finlayson,
    # Mackiewicz and Hurlbert 2015 report such residuals for matrices).
    patches = np.stack(list(spectra.chart_reflectances().values()))
    camera = spectra.set_up_camera("nikon", {"D65": 1.0}, np.ones(3))
    linear = camera.see(patches, "D65") * camera.gains @ camera.matrix.T
    lab = spectra.lab_of_xyz(linear @ np.linalg.inv(spectra.SRGB_FROM_XYZ).T)
    difference = colour.delta_E(lab, spectra.lab_of(patches), method="CIE 2000")
    assert difference.mean() < 1.5
    assert difference.max() < 6


@pytest.mark.parametrize("lightness", [9.0, 30.0, 60.0, 96.0])
def test_inks_have_the_lightness_asked_for_and_are_possible(lightness: float) -> None:
    rng = np.random.default_rng(4)
    for _ in range(20):
        ink = spectra.mix_ink(rng, lightness, float(rng.uniform()))
        assert spectra.lab_of(ink)[0] == pytest.approx(lightness, abs=0.02)
        assert ink.min() > 0
        assert ink.max() <= 1


def test_spectral_truth_of_a_print_is_the_mean_in_light_not_in_lightness() -> None:
    # Half white (Y 0.9) and half black (Y 0.1): Y 0.5 is L* 76.07 (CIE 1976), not the mean L*.
    inks = np.stack([spectra.flat(0.9), spectra.flat(0.1)])
    lab = spectra.lab_of_xyz(np.array([0.5, 0.5]) @ spectra.xyz_of(inks))
    assert lab == pytest.approx([76.069, 0, 0], abs=1e-3)


@pytest.mark.parametrize("family", prints.FAMILIES)
def test_a_tile_repeats_and_uses_only_its_inks(family: str) -> None:
    fabric = prints.make_fabric(np.random.default_rng(3), 0, family, 50.0)
    tile = fabric.tile(20.0)
    assert tile.shape[0] == tile.shape[1]
    assert tile.max() < len(fabric.inks)
    if family != "solid":
        assert len(np.unique(tile)) > 1
        large = fabric.tile(700.0)
        assert large.shape[0] > tile.shape[0]
        shares = [np.bincount(t.ravel(), minlength=8) / t.size for t in (tile, large)]
        assert shares[0] == pytest.approx(shares[1], abs=0.01)


def test_p3_matrix_is_that_of_the_published_primaries() -> None:
    p3 = colour.RGB_COLOURSPACES["Display P3"]
    srgb = colour.RGB_COLOURSPACES["sRGB"]
    wanted = p3.matrix_XYZ_to_RGB @ srgb.matrix_RGB_to_XYZ
    assert pytest.approx(wanted, abs=2e-3) == sensor.P3_FROM_SRGB


@pytest.mark.parametrize("profile", ["srgb", "display-p3"])
def test_profiles_bring_white_to_the_connection_space(profile: str) -> None:
    matrix, _ = icc.rgb_to_pcs(profile)
    assert matrix.sum(axis=1) == pytest.approx(icc.D50, abs=1e-6)


def test_profiles_are_read_by_a_color_management_system() -> None:
    import io

    from PIL import Image, ImageCms

    # (0, 1, 0) of Display P3 lies outside sRGB; a grey stays what it is.
    picture = Image.new("RGB", (2, 1), (118, 118, 118))
    picture.putpixel((1, 0), (200, 90, 60))
    source = ImageCms.ImageCmsProfile(io.BytesIO(icc.make_profile("display-p3")))
    target = ImageCms.ImageCmsProfile(io.BytesIO(icc.make_profile("srgb")))
    done = ImageCms.profileToProfile(picture, source, target)
    assert done is not None
    assert done.getpixel((0, 0)) == (118, 118, 118)
    # By the published matrices: linear P3 to linear sRGB, coded again.
    coded = np.array([200, 90, 60]) / 255
    linear = np.where(coded <= 0.04045, coded / 12.92, ((coded + 0.055) / 1.055) ** 2.4)
    wanted = sensor.code(np.linalg.inv(sensor.P3_FROM_SRGB) @ linear) * 255
    assert np.asarray(done.getpixel((1, 0))) == pytest.approx(wanted, abs=1.01)


@pytest.mark.parametrize("tone", sensor.TONES)
def test_tone_curves_rise_and_keep_white(tone: str) -> None:
    table = sensor.tone_table(tone).astype(int)
    assert np.all(np.diff(table) >= 0)
    assert table[-1] == 255


def test_the_plain_tone_curve_is_that_of_the_standard() -> None:
    # IEC 61966-2-1: linear 0.0031308 is where the straight part ends; 0.5 codes to 0.73536.
    assert sensor.code(np.array(0.0031308)) == pytest.approx(0.04045, abs=1e-5)
    assert sensor.tone_table("srgb")[32768] == round(0.73536 * 255)
    # A phone's curve lifts shadows far more than lights.
    phone, plain = sensor.tone_table("phone").astype(int), sensor.tone_table("srgb").astype(int)
    assert phone[1200] - plain[1200] > 10
    assert phone[60000] - plain[60000] < 6
