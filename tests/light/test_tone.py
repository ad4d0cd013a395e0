"""The camera's tone curve, learned from neutrals of known reflectance."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from colorcore.color.charts import GREY_RAMP, chart_linear
from colorcore.light.responses import (
    CAMERA,
    LINEAR_TONE,
    Neutral,
    learn_tone,
    tone_unlearned,
)
from colorcore.light.tone import ToneCurve, lightness, luminance
from tests.bench.tone_curves import REFERENCES, correct, doubt, figures
from tests.light import published_curves

TRUE = np.linspace(0.02, 0.95, 60)
UNLEARNED = tone_unlearned()


def lifted(linear: np.ndarray) -> np.ndarray:
    """An invented camera: middle tones up by some 12 L* units, a little contrast."""
    t = lightness(linear)
    return luminance(t + 12 * np.sin(np.pi * t / 100) - 2 * np.sin(2 * np.pi * t / 100))


def bt709_shown_as_srgb(linear: np.ndarray) -> np.ndarray:
    """A published pair of curves: coded by ITU-R BT.709-6, item 1.2, read by IEC 61966-2-1."""
    coded = np.where(linear < 0.018, 4.5 * linear, 1.099 * linear**0.45 - 0.099)
    return np.where(coded <= 0.04045, coded / 12.92, ((coded + 0.055) / 1.055) ** 2.4)


def neutrals(curve, reflectances, exposure=0.95) -> list[Neutral]:
    return [
        Neutral(curve(np.full(3, r) * exposure), np.full(3, np.log(r)), 0.01) for r in reflectances
    ]


@pytest.mark.parametrize("curve", [lifted, bt709_shown_as_srgb, lambda v: v])
def test_the_grey_ramp_gives_the_curve_to_one_unit(curve):
    greys = chart_linear()[list(GREY_RAMP)].mean(axis=1)
    tone = learn_tone(neutrals(curve, greys))
    back = tone.undo(curve(TRUE))
    level = np.median(np.log(back / TRUE)[20:])
    inside = (greys.min() * 0.95 < TRUE) & (greys.max() * 0.95 > TRUE)
    off = lightness(back / np.exp(level)) - lightness(TRUE)
    assert np.abs(off[inside]).max() < 1.0


def test_paper_and_grey_card_undo_most_of_it():
    tone = learn_tone(neutrals(lifted, (0.88, 0.18)))
    before = np.abs(lightness(lifted(TRUE)) - lightness(TRUE))
    level = 0.88 * 0.95 / tone.undo(lifted(np.array([0.88 * 0.95])))
    after = np.abs(lightness(level * tone.undo(lifted(TRUE))) - lightness(TRUE))
    assert after.mean() < 0.3 * before.mean()


def left_open(tone: ToneCurve, values: np.ndarray) -> np.ndarray:
    """Standard deviation of L*, at L* ``values`` seen, that the curve leaves beside paper."""
    return doubt(tone, luminance(values), 0.83)


def test_what_stays_open_shrinks_with_evidence():
    greys = chart_linear()[list(GREY_RAMP)].mean(axis=1)
    values = np.array([45.0, 55, 65, 75, 85])
    one = left_open(UNLEARNED, values)
    two = left_open(learn_tone(neutrals(lifted, (0.88, 0.18))), values)
    six = left_open(learn_tone(neutrals(lifted, greys)), values)
    assert np.all(six < two)
    assert np.all(two < one)
    assert np.all(six < 1.0)


def test_what_is_plain_is_left_alone_and_trusted_with_a_grey_card():
    tone = learn_tone(neutrals(lambda v: v, (0.88, 0.18)))
    assert np.abs(tone.weights).max() < 0.5
    assert left_open(tone, np.array([50.0]))[0] < 0.5
    # A camera's contrast may pass through the same grey: the darks stay open.
    assert 2.0 < left_open(tone, np.array([20.0]))[0] < 4.0


def test_the_camera_family_is_that_of_the_published_curves():
    fits = [published_curves.weights_of(name) for name in published_curves.NODES]
    weights = np.array([w for w, _ in fits])
    assert np.allclose(weights.mean(axis=0), CAMERA.mean, atol=0.1)
    spread = np.cov(weights.T)
    assert np.allclose(spread, CAMERA.covariance, atol=0.1)
    assert max(off for _, off in fits) < 0.6


@pytest.mark.parametrize("name", ["Canon EOS 6D", "Nikon D90", "Sony DSC-RX100M2", "Pentax K-5"])
def test_the_grey_ramp_undoes_published_cameras(name):
    off, _ = correct(name, REFERENCES["chart"], 0.45)
    assert np.abs(off[1:]).max() < 1.5
    assert np.median(np.abs(off)) < 0.7


def test_doubts_hold_on_published_cameras():
    """Three exposures of each camera, which its file names, beside paper, paper and grey card,
    or a chart: about 68 in 100 true L* lie within one standard deviation and 95 within two."""
    for reflectances in REFERENCES.values():
        size, one, two = figures(reflectances, named=True)
        assert 0.55 < one < 0.85
        assert two > 0.9
        assert size < figures(reflectances[:1], named=False)[0]


def test_one_neutral_teaches_nothing():
    alone = learn_tone(neutrals(lifted, (0.88,)))
    assert alone.does_nothing
    assert np.array_equal(alone.covariance, UNLEARNED.covariance)
    assert LINEAR_TONE.does_nothing
    assert np.array_equal(UNLEARNED.undo(TRUE), TRUE)


def test_a_tint_of_the_light_changes_nothing():
    greys = chart_linear()[list(GREY_RAMP)].mean(axis=1)
    tint = np.array([0.95, 0.8, 0.6])
    tinted = [
        Neutral(lifted(tint * r), np.full(3, np.log(r)), 0.01) for r in greys
    ]  # fmt: skip
    plain = learn_tone(neutrals(lifted, greys))
    assert np.allclose(learn_tone(tinted).undo(TRUE), plain.undo(TRUE), atol=0.02)


@given(st.lists(st.floats(-25, 25), min_size=6, max_size=6))
def test_any_curve_is_monotone_and_goes_both_ways(weights):
    tone = ToneCurve(np.array(weights), UNLEARNED.covariance)
    seen = np.linspace(0, 1, 200)
    true = tone.undo(seen)
    assert np.all(np.diff(true) >= -1e-12)
    assert true[-1] == pytest.approx(1.0)
    held = true > 1e-6
    assert np.allclose(tone.undo(tone.seen(true))[held], true[held], atol=2e-3)


def test_beyond_the_scale_and_nan_pass_through():
    tone = ToneCurve(np.array([0.0, 8, 0, 0, 0, 0]), UNLEARNED.covariance)
    passed = tone.undo(np.array([-0.1, 1.5, np.nan]))
    assert passed[0] == pytest.approx(-0.1)
    assert passed[1] == pytest.approx(1.5)
    assert np.isnan(passed[2])
