"""Spaces against IEC 61966-2-1, CIE 015, CSS Color Module Level 4, colour-science and skimage."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from numpy.typing import NDArray

from colorcore.color import spaces

RANDOM = np.random.default_rng(7).uniform(-0.1, 1.3, (64, 48, 3))


@pytest.mark.parametrize("kind", [np.float32, np.float64])
def test_greys_have_no_chroma(kind: type) -> None:
    greys = np.repeat(np.linspace(0, 2, 4001)[:, None], 3, axis=1).astype(kind)
    lab = spaces.lab_from_linear(greys)
    assert lab.dtype == kind
    assert np.hypot(lab[:, 1], lab[:, 2]).max() < 0.001


def test_white_is_100() -> None:
    np.testing.assert_allclose(spaces.lab_from_linear([1.0, 1.0, 1.0]), [100, 0, 0], atol=1e-12)
    np.testing.assert_allclose(spaces.lab_from_linear([0.0, 0.0, 0.0]), [0, 0, 0], atol=1e-12)


def test_matrix_is_that_of_iec_61966_2_1() -> None:
    """IEC 61966-2-1:1999 prints the matrix to four decimals."""
    printed = [[0.4124, 0.3576, 0.1805], [0.2126, 0.7152, 0.0722], [0.0193, 0.1192, 0.9505]]
    np.testing.assert_allclose(spaces.XYZ_FROM_LINEAR, printed, atol=5e-5)


def test_curve_meets_iec_61966_2_1() -> None:
    """Code 0.04045 is where the two branches meet; 18 % grey is code 117.6 of 255."""
    np.testing.assert_allclose(spaces.linear_from_coded(0.04045), 0.0031308, atol=1e-7)
    np.testing.assert_allclose(255 * spaces.coded_from_linear(0.18), 117.65, atol=0.05)


def test_against_colour_science() -> None:
    import colour

    xyz = spaces.xyz_from_linear(RANDOM)
    white = colour.CCS_ILLUMINANTS["CIE 1931 2 Degree Standard Observer"]
    for name in spaces.WHITE_XY:
        np.testing.assert_allclose(spaces.WHITE_XY[name], white[name], atol=1e-9)
    expected = colour.XYZ_to_Lab(xyz, white["D65"])
    np.testing.assert_allclose(spaces.lab_from_linear(RANDOM), expected, atol=1e-9)
    np.testing.assert_allclose(spaces.lab_from_xyz(xyz), expected, atol=1e-9)
    np.testing.assert_allclose(
        spaces.lab_from_xyz(xyz, "D50"), colour.XYZ_to_Lab(xyz, white["D50"]), atol=1e-9
    )
    np.testing.assert_allclose(
        spaces.coded_from_linear(np.abs(RANDOM)), colour.cctf_encoding(np.abs(RANDOM)), atol=1e-7
    )
    np.testing.assert_allclose(
        spaces.adaptation_matrix("D50", "D65"),
        colour.adaptation.matrix_chromatic_adaptation_VonKries(
            spaces.white_xyz("D50"), spaces.white_xyz("D65"), transform="Bradford"
        ),
        atol=1e-9,
    )


def test_against_skimage() -> None:
    """skimage rounds white to 0.95047, 1, 1.08883, hence the tolerance."""
    from skimage.color import rgb2lab

    coded = np.random.default_rng(1).uniform(0, 1, (50, 3))
    ours = spaces.lab_from_linear(spaces.linear_from_coded(coded))
    np.testing.assert_allclose(ours, rgb2lab(coded), atol=0.03)


def test_d50_to_d65_is_that_of_css_color_4() -> None:
    """CSS Color Module Level 4, section 'Sample code for color conversions' (D50_to_D65)."""
    published = [
        [0.955473421488075, -0.02309845494876471, 0.06325924320057072],
        [-0.0283697093338637, 1.0099953980813041, 0.021041441191917323],
        [0.012314014864481998, -0.020507649298898964, 1.330365926242124],
    ]
    np.testing.assert_allclose(spaces.adaptation_matrix("D50", "D65"), published, atol=1e-12)
    np.testing.assert_allclose(
        spaces.adapt_white(spaces.white_xyz("D50"), "D50", "D65"), spaces.white_xyz("D65")
    )


def test_fast_path_equals_slow() -> None:
    fast = RANDOM.astype(np.float32)
    slow = fast.astype(np.float64)
    for forward, tolerance in (
        (spaces.lab_from_linear, 0.002),
        (spaces.xyz_from_linear, 1e-6),
        (spaces.linear_from_xyz, 5e-6),
        (spaces.lab_from_xyz, 0.002),
        (spaces.coded_from_linear, 1e-6),
        (spaces.linear_from_coded, 2e-6),
    ):
        result = forward(fast)
        assert result.dtype == np.float32
        np.testing.assert_allclose(result, forward(slow), atol=tolerance)
    lab = spaces.lab_from_linear(slow)
    np.testing.assert_allclose(
        spaces.linear_from_lab(lab.astype(np.float32)), spaces.linear_from_lab(lab), atol=1e-5
    )


def test_integers_are_codes() -> None:
    codes = np.arange(256, dtype=np.uint8)
    linear = spaces.linear_from_coded(codes)
    np.testing.assert_allclose(linear, spaces.linear_from_coded(codes / 255), atol=1e-7)
    np.testing.assert_array_equal(spaces.coded8_from_linear(linear), codes)
    np.testing.assert_allclose(
        spaces.linear_from_coded(codes.astype(np.uint16) * 257), linear, atol=1e-7
    )
    with pytest.raises(TypeError, match="uint8, uint16 or float"):
        spaces.linear_from_coded(codes.astype(np.int64))


def test_coded8_is_the_nearest_code() -> None:
    exact = np.rint(255 * spaces.coded_from_linear(np.clip(RANDOM, 0, 1)))
    ours = spaces.coded8_from_linear(RANDOM).astype(float)
    assert np.abs(ours - exact).max() <= 1
    assert np.mean(ours != exact) < 0.005
    odd = np.array([np.nan, np.inf, -np.inf])
    np.testing.assert_array_equal(spaces.coded8_from_linear(odd), [0, 255, 0])


@given(st.tuples(*[st.floats(-0.5, 4)] * 3))
def test_round_trips(rgb: tuple[float, float, float]) -> None:
    def check(values: NDArray[np.floating]) -> None:
        np.testing.assert_allclose(values, rgb, atol=1e-7)

    check(spaces.linear_from_lab(spaces.lab_from_linear(rgb)))
    check(spaces.linear_from_xyz(spaces.xyz_from_linear(rgb)))
    check(spaces.linear_from_coded(spaces.coded_from_linear(rgb)))
    xyz = spaces.xyz_from_linear(rgb)
    check(spaces.linear_from_xyz(spaces.xyz_from_lab(spaces.lab_from_xyz(xyz, "D50"), "D50")))


def test_nan_and_empty() -> None:
    for kind in (np.float32, np.float64):
        assert np.isnan(spaces.lab_from_linear(np.array([np.nan, 0, 0], kind))).all()
        assert spaces.lab_from_linear(np.zeros((0, 3), kind)).shape == (0, 3)
