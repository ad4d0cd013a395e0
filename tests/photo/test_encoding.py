"""Coded values to linear light, against IEC 61966-2-1, little CMS and scikit-image."""

import io

import numpy as np
import pytest
from PIL import Image, ImageCms
from skimage.color import deltaE_ciede2000, xyz2lab

from colorcore.photo import open_photo
from colorcore.photo.encoding import (
    UnusableProfileError,
    coded_points_encoding,
    linear_encoding,
    profile_encoding,
    srgb_encoding,
)
from tests.photo.profiles import (
    P3,
    SRGB,
    curv_gamma,
    curv_table,
    make_profile,
    make_table_profile,
    to_xyz_d65,
)


def test_srgb_curve_at_published_points():
    """IEC 61966-2-1: the ends, the break and, worked from its formula, mid grey 118 -> 0.1812."""
    table = srgb_encoding(8).table[:, 0]
    assert table[0] == 0
    assert table[255] == pytest.approx(1)
    assert table[10] == pytest.approx(10 / 255 / 12.92, abs=1e-6)
    assert table[118] == pytest.approx(0.18116, abs=1e-4)


def test_a_plain_profile_is_recognised_as_srgb():
    own = ImageCms.ImageCmsProfile(ImageCms.createProfile("sRGB")).tobytes()
    assert profile_encoding(own, 8).is_srgb
    assert profile_encoding(make_profile(SRGB), 16).is_srgb


@pytest.mark.parametrize(
    "profile",
    [
        make_profile(P3),
        make_profile(P3, curv_gamma(2.2)),
        make_profile(SRGB, curv_gamma(1.8)),
        make_profile(P3, curv_table(np.linspace(0, 1, 1024) ** 2.1)),
    ],
)
def test_agrees_with_little_cms(profile):
    """Against little CMS's floating path, at colours inside sRGB."""
    rng = np.random.default_rng(3)
    coded = rng.integers(70, 190, (64, 64, 3), dtype=np.uint8)
    source = ImageCms.ImageCmsProfile(io.BytesIO(profile))
    theirs = np.asarray(
        ImageCms.profileToProfile(
            Image.fromarray(coded), source, ImageCms.createProfile("sRGB"),
            renderingIntent=ImageCms.Intent.RELATIVE_COLORIMETRIC,
        )
    )  # fmt: skip
    linear = profile_encoding(profile, 8).linearize(coded)
    inside = ((linear > 0.01) & (linear < 0.9)).all(axis=2)
    assert inside.mean() > 0.3
    ours = np.where(linear <= 0.0031308, linear * 12.92, 1.055 * abs(linear) ** (1 / 2.4) - 0.055)
    assert np.abs(ours * 255 - theirs)[inside].max() < 1.6


def test_p3_and_srgb_twins_measure_the_same(tmp_path):
    """The same patches written as Display P3 and as sRGB, each with a camera's noise and its
    own rounding to 8 bits: their means within 0.5 CIEDE2000."""
    rng = np.random.default_rng(4)
    patches = rng.uniform(0.002, 0.98, (8, 8, 3)) ** 1.5
    linear = np.kron(patches, np.ones((12, 12, 1)))
    linear = np.clip(linear + rng.normal(0, 0.004, linear.shape), 0, 1)
    means = []
    for primaries, name in ((P3, "p3.png"), (SRGB, "srgb.png")):
        own = np.clip(linear @ (np.linalg.inv(to_xyz_d65(primaries)) @ to_xyz_d65(SRGB)).T, 0, 1)
        coded = np.where(own <= 0.0031308, own * 12.92, 1.055 * own ** (1 / 2.4) - 0.055)
        Image.fromarray(np.rint(coded * 255).astype(np.uint8)).save(
            tmp_path / name, icc_profile=make_profile(primaries)
        )
        light = open_photo(tmp_path / name).linear(0, 0, 96, 96).astype(float)
        means.append(light.reshape(8, 12, 8, 12, 3).mean(axis=(1, 3)) @ to_xyz_d65(SRGB).T)
    difference = deltaE_ciede2000(xyz2lab(means[0]), xyz2lab(means[1]))
    assert difference.max() < 0.5


def test_heif_code_points_match_the_profile():
    """Primaries 12 with curve 13 (ITU-T H.273) are Display P3."""
    coded = np.random.default_rng(5).integers(0, 256, (9, 9, 3), dtype=np.uint8)
    by_points = coded_points_encoding(8, 12, 13).linearize(coded)
    by_profile = profile_encoding(make_profile(P3), 8).linearize(coded)
    assert np.abs(by_points - by_profile).max() < 2e-3
    assert coded_points_encoding(8, 1, 13).is_srgb


def test_white_stays_white_through_every_profile():
    for profile in (make_profile(P3), make_profile(P3, curv_gamma(2.2)), make_profile(SRGB)):
        white = profile_encoding(profile, 8).linearize(np.full((1, 1, 3), 255, np.uint8))
        assert np.allclose(white, 1, atol=2e-3)


def test_grey_profile():
    encoding = profile_encoding(make_profile(curve=curv_gamma(2.0), space=b"GRAY"), 8)
    assert encoding.table[128, 1] == pytest.approx((128 / 255) ** 2, abs=1e-5)


@pytest.mark.parametrize("kind", range(5))
def test_parametric_curves_against_little_cms(kind):
    """Types 0 to 4 of the standard with parameters that keep the curve continuous."""
    import struct

    g, a, b, c = 2.4, 1 / 1.055, 0.055 / 1.055, 1 / 12.92
    values = [(2.2,), (2.2, 1.0, 0.0), (2.2, 0.9, 0.05, 0.02), (g, a, b, c, 0.04045),
              (g, a, b, c, 0.04045, 0.0, 0.0)][kind]  # fmt: skip
    curve = b"para\0\0\0\0" + struct.pack(">HH", kind, 0)
    curve += b"".join(struct.pack(">i", round(v * 65536)) for v in values)
    profile = make_profile(SRGB, curve)
    coded = np.repeat(np.arange(64, 220, dtype=np.uint8)[:, None, None], 3, axis=2)
    theirs = np.asarray(
        ImageCms.profileToProfile(
            Image.fromarray(coded),
            ImageCms.ImageCmsProfile(io.BytesIO(profile)),
            ImageCms.createProfile("sRGB"),
            renderingIntent=ImageCms.Intent.RELATIVE_COLORIMETRIC,
        )
    )
    linear = profile_encoding(profile, 8).linearize(coded)
    assert np.abs(linear - srgb_encoding(8).linearize(theirs)).max() < 0.012


DAMAGED = {
    f"cut at {cut}": make_profile(P3)[:cut] + b"\xff" * 40
    for cut in (0, 10, 100, 140, 200, 300, 400)
} | {
    "its curve is cut short": make_profile(
        P3, b"curv\0\0\0\0" + (1000).to_bytes(4, "big") + b"\0" * 8
    )
}


@pytest.mark.parametrize("profile", DAMAGED.values(), ids=DAMAGED)
def test_damaged_profiles_do_not_cost_the_picture(tmp_path, profile):
    with pytest.raises(UnusableProfileError):
        profile_encoding(profile, 8)
    Image.new("RGB", (80, 80), "teal").save(tmp_path / "a.jpg", icc_profile=profile)
    photo = open_photo(tmp_path / "a.jpg")
    assert photo.encoding.is_srgb
    assert photo.notes


def test_profile_by_tables_goes_through_colour_management(tmp_path):
    """A profile with tables instead of a matrix: little CMS converts, our pixels are its."""
    profile = make_table_profile()
    with pytest.raises(UnusableProfileError):
        profile_encoding(profile, 8)
    coded = np.random.default_rng(6).integers(0, 256, (80, 80, 3), dtype=np.uint8)
    Image.fromarray(coded).save(tmp_path / "a.png", icc_profile=profile)
    photo = open_photo(tmp_path / "a.png")
    theirs = ImageCms.profileToProfile(
        Image.fromarray(coded),
        ImageCms.ImageCmsProfile(io.BytesIO(profile)),
        ImageCms.createProfile("sRGB"),
        renderingIntent=ImageCms.Intent.RELATIVE_COLORIMETRIC,
    )
    assert photo.encoding.is_srgb
    assert np.array_equal(photo.pixels, np.asarray(theirs))
    assert np.abs(photo.pixels.astype(int) - coded).mean() > 5


def test_other_dtypes_are_refused():
    with pytest.raises(ValueError, match="float"):
        srgb_encoding(8).linearize(np.zeros((4, 4, 3)))  # type: ignore[arg-type]
    with pytest.raises(ValueError, match="uint16"):
        srgb_encoding(8).linearize(np.zeros((4, 4, 3), np.uint16))
    assert linear_encoding(16).table[65535, 0] == 1


@pytest.mark.parametrize("depth", [8, 16])
@pytest.mark.parametrize("encoding", [srgb_encoding, linear_encoding], ids=["sRGB", "linear"])
def test_reduced_codes_show_the_mean_light(encoding, depth: int) -> None:
    how = encoding(depth)
    dtype = np.uint8 if depth == 8 else np.uint16
    rng = np.random.default_rng(depth)
    coded = rng.integers(0, 2**depth, (1200, 64, 3), dtype=dtype)
    coded[:, 32:] = np.where(np.arange(1200) % 2, 2**depth - 1, 0)[:, None, None]
    reduced = how.reduce(coded, (16, 300))
    assert reduced.dtype == dtype
    mean = how.linearize(coded).reshape(300, 4, 16, 4, 3).mean(axis=(1, 3))
    half_a_code = 1.2 * np.diff(how.table[:, 0]).max() / 2
    assert np.abs(how.linearize(reduced) - mean).max() < half_a_code + 1e-5
    # Fine stripes of black and white are as light as half the light, not as half the code.
    assert np.allclose(how.linearize(reduced)[:, 8:], 0.5, atol=half_a_code + 1e-5)


def test_blocks_in_steps_of_light_equal_the_mean_of_floats() -> None:
    how = srgb_encoding(8)
    coded = np.random.default_rng(1).integers(0, 60, (96, 90, 3), dtype=np.uint8)
    mean = how.linearize(coded).reshape(32, 3, 30, 3, 3).mean(axis=(1, 3))
    assert np.abs(how.linearize_reduced(coded, (30, 32)) - mean).max() < 1.6e-5
