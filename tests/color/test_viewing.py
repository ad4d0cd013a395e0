"""The S-CIELAB filter against its published numbers, a slow convolution, and its own rules."""

import numpy as np
import pytest
from numpy.testing import assert_allclose

from colorcore.color.spaces import LINEAR_FROM_XYZ
from colorcore.color.viewing import (
    KERNELS,
    OPPONENT_FROM_XYZ,
    filter_for_distance,
    pixels_per_degree,
)

RNG = np.random.default_rng(11)
PRINT = RNG.uniform(0, 1, (90, 120, 3)).astype(np.float32)


def _published_response(kernel: tuple, cycles_per_degree: float) -> float:
    """Fourier transform of sum w exp(-r^2/s^2), 1 at zero frequency (Zhang and Wandell 1996)."""
    total = sum(weight for weight, _ in kernel)
    return sum(w / total * np.exp(-((np.pi * s * cycles_per_degree) ** 2)) for w, s in kernel)


def test_kernels_are_those_of_the_paper() -> None:
    """Weights and spreads of Zhang and Wandell (1996), table 1, and its matrix to three decimals
    (magnitudes: the paper prints 0.077 with the opposite sign to the authors' program)."""
    assert KERNELS[0] == ((0.921, 0.0283), (0.105, 0.133), (-0.108, 4.336))
    assert KERNELS[1] == ((0.531, 0.0392), (0.330, 0.494))
    assert KERNELS[2] == ((0.488, 0.0536), (0.371, 0.386))
    printed = [[0.279, 0.720, 0.107], [0.449, 0.290, 0.077], [0.086, 0.590, 0.501]]
    assert_allclose(np.abs(OPPONENT_FROM_XYZ), printed, atol=2e-3)


def test_kernels_agree_with_the_authors_program() -> None:
    """The authors' program keeps a second fit of the same data, as full widths at half height in
    degrees with weights that sum to 1; both pass the same frequencies to within 0.05."""
    program = (
        ((1.00327, 0.05), (0.114416, 0.225), (-0.117686, 7.0)),
        ((0.616725, 0.0685), (0.383275, 0.826)),
        ((0.567885, 0.0920), (0.432115, 0.6451)),
    )
    for ours, theirs in zip(KERNELS, program, strict=True):
        as_spread = tuple((w, width / (2 * np.sqrt(np.log(2)))) for w, width in theirs)
        for frequency in (0.5, 1, 2, 4, 8, 16):
            difference = _published_response(ours, frequency) - _published_response(
                as_spread, frequency
            )
            assert abs(difference) < 0.05


@pytest.mark.parametrize("channel", [0, 1, 2])
@pytest.mark.parametrize("cycles_per_degree", [0.5, 2.0, 6.0])
def test_gratings_fade_as_published(channel: int, cycles_per_degree: float) -> None:
    """A grating in one opponent channel keeps the share of its contrast that the kernel's Fourier
    transform gives, and its phase."""
    pixels_per_inch, distance = 40.0, 72.0
    per_degree = pixels_per_degree(pixels_per_inch, distance)
    x = np.arange(900) / per_degree
    wave = np.cos(2 * np.pi * cycles_per_degree * (x - x.mean()))
    direction = LINEAR_FROM_XYZ @ np.linalg.inv(OPPONENT_FROM_XYZ)[:, channel]
    picture = 0.5 + 0.1 * np.broadcast_to(wave[:, None] * direction, (300, 900, 3))
    seen = filter_for_distance(picture, pixels_per_inch, distance)
    middle = seen[150, 200:700] - 0.5
    share = middle @ direction / (direction @ direction) / 0.1
    reference = wave[200:700]
    kept = (
        (share - share.mean())
        @ (reference - reference.mean())
        / np.sum((reference - reference.mean()) ** 2)
    )
    assert kept == pytest.approx(_published_response(KERNELS[channel], cycles_per_degree), abs=0.02)


@pytest.mark.parametrize("valid_share", [1.0, 0.6])
def test_a_constant_picture_is_unchanged(valid_share: float) -> None:
    color = np.array([0.7, 0.05, 0.3], np.float32)
    picture = np.broadcast_to(color, (80, 60, 3))
    valid = RNG.uniform(0, 1, (80, 60)) <= valid_share
    for distance in (10.0, 72.0, 400.0):
        seen = filter_for_distance(picture, 30.0, distance, valid=valid)
        assert seen.dtype == np.float32
        assert_allclose(seen[valid], np.broadcast_to(color, (valid.sum(), 3)), atol=2e-6)
        assert np.isnan(seen[~valid]).all()


def test_equals_the_slow_way() -> None:
    """scipy's Gaussian at full size with the same rule for edges; the wide kernels go through a
    smaller picture, to 1 % of the picture's contrast."""
    from scipy.ndimage import gaussian_filter

    valid = np.ones(PRINT.shape[:2], bool)
    valid[30:60, 40:80] = False
    valid[:, :7] = False
    per_degree = pixels_per_degree(20.0, 72.0)
    opponents = (PRINT @ np.linalg.inv(LINEAR_FROM_XYZ).T @ OPPONENT_FROM_XYZ.T) * valid[..., None]
    seen = np.zeros_like(opponents)
    for channel, kernel in enumerate(KERNELS):
        total = sum(weight for weight, _ in kernel)
        for weight, spread in kernel:
            options = {"sigma": spread * per_degree / np.sqrt(2), "mode": "constant", "truncate": 4}
            blurred = gaussian_filter(opponents[..., channel], **options)
            share = gaussian_filter(valid.astype(float), **options)
            seen[..., channel] += weight / total * blurred / np.maximum(share, 1e-12)
    slow = seen @ np.linalg.inv(OPPONENT_FROM_XYZ).T @ LINEAR_FROM_XYZ.T
    fast = filter_for_distance(PRINT, 20.0, 72.0, valid=valid)
    contrast = np.nanstd(slow[valid])
    assert_allclose(fast[valid], slow[valid], atol=0.05 * contrast)
    assert np.sqrt(np.mean((fast[valid] - slow[valid]) ** 2)) < 0.01 * contrast


def test_mask_that_hides_nothing_changes_nothing() -> None:
    whole = filter_for_distance(PRINT, 40.0, 72.0)
    assert_allclose(filter_for_distance(PRINT, 40.0, 72.0, np.ones((90, 120), bool)), whole)


def test_what_is_hidden_does_not_count() -> None:
    valid = np.ones((90, 120), bool)
    valid[:, 60:] = False
    other = PRINT.copy()
    other[:, 60:] = np.nan
    one = filter_for_distance(PRINT, 40.0, 72.0, valid)
    assert_allclose(one[valid], filter_for_distance(other, 40.0, 72.0, valid)[valid])
    alone = filter_for_distance(PRINT[:, :60], 40.0, 72.0)
    assert_allclose(one[:, :60], alone, atol=0.02)
    assert np.isnan(filter_for_distance(PRINT, 40.0, 72.0, np.zeros((90, 120), bool))).all()


def test_turning_the_picture_turns_the_result() -> None:
    turned = filter_for_distance(np.rot90(PRINT).copy(), 40.0, 72.0)
    assert_allclose(turned, np.rot90(filter_for_distance(PRINT, 40.0, 72.0)), atol=1e-4)


def test_nearer_shows_more_and_light_stays() -> None:
    spreads = [filter_for_distance(PRINT, 40.0, d).std() for d in (6, 24, 72, 300)]
    assert spreads == sorted(spreads, reverse=True)
    assert spreads[0] > 3 * spreads[2]
    for distance in (6.0, 72.0):
        seen = filter_for_distance(PRINT, 40.0, distance)
        assert_allclose(seen.mean(axis=(0, 1)), PRINT.mean(axis=(0, 1)), atol=0.02)


def test_colour_blurs_before_light_and_dark() -> None:
    """Red and green checks of equal luminance merge where black and white ones still show."""
    checks = np.indices((128, 128)).sum(axis=0) // 4 % 2 == 0
    grey = np.where(checks[..., None], 0.4, 0.2) * np.ones(3)
    red, green = np.array([0.6, 0.2, 0.2]), np.array([0.2, 0.3189, 0.2])
    tint = np.where(checks[..., None], red, green)
    kept = []
    for picture in (grey, tint):
        seen = filter_for_distance(picture, 40.0, 48.0)[32:96, 32:96]
        kept.append(seen[..., 0].std() / picture[32:96, 32:96, 0].std())
    assert kept[0] > 1.5 * kept[1]


@pytest.mark.parametrize(
    ("shape", "ppi", "distance", "says"),
    [
        ((4, 4), 40, 72, r"\(H, W, 3\)"),
        ((4, 4, 3), 0, 72, "pixels_per_inch"),
        ((4, 4, 3), 40, -1, "distance_inches"),
        ((4, 4, 3), 40, float("nan"), "distance_inches"),
    ],
)
def test_bad_input(shape: tuple, ppi: float, distance: float, says: str) -> None:
    with pytest.raises(ValueError, match=says):
        filter_for_distance(np.zeros(shape, np.float32), ppi, distance)
    with pytest.raises(ValueError, match="does not fit"):
        filter_for_distance(np.zeros((4, 4, 3)), 40, 72, np.ones((3, 4), bool))


def test_tiny_and_empty_pictures() -> None:
    assert filter_for_distance(np.zeros((0, 5, 3)), 40, 72).shape == (0, 5, 3)
    one = np.full((1, 1, 3), 0.4, np.float32)
    assert_allclose(filter_for_distance(one, 40, 72), one, atol=1e-6)
    thin = np.full((1, 300, 3), 0.4, np.float32)
    assert_allclose(filter_for_distance(thin, 40, 72), thin, atol=1e-6)
