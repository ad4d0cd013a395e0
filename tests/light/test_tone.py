"""The camera's tone curve, learned from neutrals of known reflectance."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from colorcore.color.charts import GREY_RAMP, chart_linear
from colorcore.light.tone import (
    LINEAR_TONE,
    UNKNOWN_TONE,
    Neutral,
    ToneCurve,
    learn_tone,
    lightness,
    luminance,
    prior_covariance,
)

TRUE = np.linspace(0.02, 0.95, 60)


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


def test_what_stays_open_shrinks_with_evidence():
    greys = chart_linear()[list(GREY_RAMP)].mean(axis=1)
    two = learn_tone(neutrals(lifted, (0.88, 0.18))).covariance
    six = learn_tone(neutrals(lifted, greys)).covariance
    assert np.all(np.diag(six) < np.diag(two))
    assert np.all(np.diag(two) <= np.diag(prior_covariance()) + 1e-9)


def test_one_neutral_teaches_nothing():
    assert learn_tone(neutrals(lifted, (0.88,))) is UNKNOWN_TONE
    assert LINEAR_TONE.does_nothing
    assert np.array_equal(UNKNOWN_TONE.undo(TRUE), TRUE)


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
    tone = ToneCurve(np.array(weights), prior_covariance())
    seen = np.linspace(0, 1, 200)
    true = tone.undo(seen)
    assert np.all(np.diff(true) >= -1e-12)
    assert true[-1] == pytest.approx(1.0)
    held = true > 1e-6
    assert np.allclose(tone.undo(tone.seen(true))[held], true[held], atol=2e-3)


def test_beyond_the_scale_and_nan_pass_through():
    tone = ToneCurve(np.array([0.0, 8, 0, 0, 0, 0]), prior_covariance())
    passed = tone.undo(np.array([-0.1, 1.5, np.nan]))
    assert passed[0] == pytest.approx(-0.1)
    assert passed[1] == pytest.approx(1.5)
    assert np.isnan(passed[2])
