"""The fitted light: true, honest, and not taken in by texture."""

from dataclasses import replace

import numpy as np
import pytest

from colorcore.light import field as field_module
from colorcore.light.field import fit_field
from colorcore.light.responses import LINEAR_TONE
from colorcore.light.samples import Samples
from colorcore.light.sharpened import LINEAR_FROM_SHARP
from colorcore.light.slopes import Across, Slopes, slopes_of

SIZE = (1600, 1200)


def samples(log: np.ndarray, grain: np.ndarray, noise: float, rng: np.random.Generator) -> Samples:
    """A grid of surface cells under light ``log(u, v)`` -> (3,) and a sheet of paper at right."""
    column, row = np.meshgrid(np.arange(20), np.arange(15))
    xy = np.stack([(column.ravel() + 0.5) * 80, (row.ravel() + 0.5) * 80], axis=-1)
    paper = np.array([[1400.0 + 20 * i, 500.0 + 20 * j] for i in range(4) for j in range(4)])
    surface_log = log(xy) + np.array([-1.2, -1.0, -0.9]) + grain.reshape(-1, 3)
    surface_log += rng.normal(0, noise, surface_log.shape)
    paper_log = log(paper) + rng.normal(0, 0.004, (len(paper), 3))
    count = len(paper)
    return Samples(
        xy=np.concatenate([paper, xy]),
        log=np.concatenate([paper_log, surface_log]),
        sd=np.concatenate([np.full(count, 0.008), np.full(len(xy), max(noise, 0.004))]),
        material=np.array([0] * count + [1] * len(xy)),
        known=np.array([[0.0] * 3, [np.nan] * 3]),
        grained=np.array([False, True]),
        bins=np.concatenate(
            [np.zeros((count, 2), int), np.stack([column.ravel(), row.ravel()], axis=-1)]
        ),
    )


def bent(xy: np.ndarray) -> np.ndarray:
    u, v = xy[:, :1] / SIZE[0], xy[:, 1:] / SIZE[0]
    return -2 * np.log1p(0.6 * u + 0.2 * v) * np.array([0.9, 1.0, 1.15])


def flat(xy: np.ndarray) -> np.ndarray:
    return np.zeros((len(xy), 3))


PLACES = np.stack(np.meshgrid(np.linspace(150, 1450, 8), np.linspace(150, 1050, 6)), axis=-1)


def error(light, truth) -> np.ndarray:
    return light.log_light(PLACES.reshape(-1, 2)) - truth(PLACES.reshape(-1, 2))


def test_plain_surface_gives_the_light_to_half_a_percent():
    rng = np.random.default_rng(1)
    light = fit_field(samples(bent, np.zeros((300, 3)), 0.008, rng), SIZE)
    assert np.sqrt(np.mean(error(light, bent) ** 2)) < 0.005


@pytest.mark.parametrize("truth", [flat, bent])
@pytest.mark.parametrize("seed", [1, 2, 3])
def test_planks_are_not_taken_for_light(truth, seed):
    rng = np.random.default_rng(seed)
    tone = np.repeat(rng.normal(0, 0.15, 20)[None, :], 15, axis=0).reshape(-1, 1)
    tone = tone + rng.normal(0, 0.05, (300, 1))
    grain = tone * np.array([0.9, 1.0, 1.15])
    light = fit_field(samples(truth, grain, 0.005, rng), SIZE)
    assert np.sqrt(np.mean(error(light, truth) ** 2)) < 0.08


def squares_under(truth, rng: np.random.Generator, stray: int = 0) -> Slopes:
    """What 20 squares of cloth show of a light; ``stray`` of them shade off by themselves."""
    t = np.arange(4) * 25.0
    cells = np.stack(np.meshgrid(t, t), axis=-1).reshape(-1, 2)
    x, y = np.meshgrid(np.arange(5) * 240 + 150.0, np.arange(4) * 240 + 150.0)
    xy = np.stack([x.ravel(), y.ravel()], axis=-1)[:, None] + cells
    log = truth(xy.reshape(-1, 2)).reshape(20, 16, 3) + rng.normal(-1.5, 0.5, (20, 1, 3))
    log += rng.normal(0, 0.012, (20, 16, 1))
    log[:stray] += 0.01 * cells[:, :1]
    return slopes_of(Across(xy, np.exp(log) @ LINEAR_FROM_SHARP.T), LINEAR_TONE)


@pytest.mark.parametrize("stray", [0, 5])
@pytest.mark.parametrize("truth", [flat, bent])
def test_squares_tell_the_light_that_planks_hide(truth, stray):
    rng = np.random.default_rng(8)
    alone, helped = [], []
    for _ in range(4):
        tone = np.repeat(rng.normal(0, 0.3, 20)[None, :], 15, axis=0).reshape(-1, 1)
        given = samples(truth, tone + rng.normal(0, 0.05, (300, 1)) * np.ones(3), 0.005, rng)
        slopes = squares_under(truth, rng, stray)
        for errors, cloth in ((alone, ()), (helped, {"slopes": slopes}.items())):
            light = fit_field(replace(given, **dict(cloth)), SIZE)
            errors.append(np.sqrt(np.mean(error(light, truth) ** 2)))
    assert np.median(helped) < 0.035
    assert np.median(helped) < 0.5 * np.median(alone)


def test_light_that_falls_evenly_is_not_expected_to_bend():
    """Light that does not bend in the second degree hardly does in the third to fifth, so grain is
    less likely to be taken for it there than under a lamp. How far it falls is another matter."""

    def falling(xy: np.ndarray) -> np.ndarray:
        return -1.2 * xy[:, :1] / SIZE[0] * np.ones(3)

    def lamp(xy: np.ndarray) -> np.ndarray:
        away = (xy - np.array([300.0, 400.0])) / SIZE[0]
        return -2 * np.log1p(np.sum(away**2, axis=1, keepdims=True) / 0.5) * np.ones(3)

    grain = np.zeros((300, 3))
    fits = [
        fit_field(samples(truth, grain, 0.02, np.random.default_rng(2)), SIZE)
        for truth in (falling, lamp)
    ]
    straight, curved = (np.sqrt(fit.variances.bends[0]) for fit in fits)
    assert straight[0] > 0.25
    assert np.all(straight[1:] < 0.5 * curved[1:])


def test_strips_that_straddle_two_planks_are_not_taken_for_light():
    """Cells that squares cut to one side lie off their strip's middle, on one plank or another."""
    worst = []
    for seed in range(6):
        rng = np.random.default_rng(seed)
        whole = samples(bent, np.zeros((300, 3)), 0.005, rng)
        shift = np.zeros_like(whole.xy)
        shift[16:, 0] = rng.uniform(-25, 25, 300)
        xy = whole.xy + shift
        planks = rng.normal(0, 0.15, 8)
        tone = planks[np.floor((xy[16:, 0] + 90) / 240).astype(int)]
        log = whole.log.copy()
        log[16:] = bent(xy[16:]) + np.array([-1.2, -1.0, -0.9]) + tone[:, None]
        moved = replace(whole, xy=xy, log=log + rng.normal(0, 0.01, log.shape))
        worst.append(np.sqrt(np.mean(error(fit_field(moved, SIZE), bent) ** 2)))
    assert np.median(worst) < 0.06
    assert max(worst) < 0.12


def test_a_fit_gone_on_from_is_the_fit_itself():
    rng = np.random.default_rng(8)
    given = samples(bent, rng.normal(0, 0.03, (300, 1)) * np.ones(3), 0.008, rng)
    first = fit_field(given, SIZE)
    again = fit_field(given, SIZE, start=first)
    places = PLACES.reshape(-1, 2)
    assert np.abs(first.log_light(places) - again.log_light(places)).max() < 0.005


def test_cells_that_are_alike_count_for_fewer():
    """Grain that neighbours share leaves the light more open than grain of each cell's own."""
    rng = np.random.default_rng(9)
    own = rng.normal(0, 0.04, (15, 20))
    shared = np.repeat(np.repeat(rng.normal(0, 0.04, (5, 5)), 3, axis=0), 4, axis=1)
    middle = np.array([[400.0, 600.0]])
    open_sd = [
        fit_field(samples(bent, g.reshape(-1, 1) * np.ones(3), 0.005, rng), SIZE).log_covariance(
            middle
        )[1, 1]
        for g in (own, shared)
    ]
    assert open_sd[1] > 1.5 * open_sd[0]


def test_a_tenth_of_stray_samples_does_no_harm():
    rng = np.random.default_rng(4)
    stray = np.zeros((300, 3))
    stray[rng.choice(300, 30, replace=False)] = -0.8
    light = fit_field(samples(bent, stray, 0.008, rng), SIZE)
    assert np.sqrt(np.mean(error(light, bent) ** 2)) < 0.008
    grained = light.samples.grained[light.samples.material]
    assert np.mean(light.weights[grained] == 0) == pytest.approx(0.1, abs=0.03)


def test_covariance_tells_how_far_off_the_field_is():
    ratios = []
    for seed in range(12):
        rng = np.random.default_rng(seed)
        tone = np.repeat(rng.normal(0, 0.08, 20)[None, :], 15, axis=0).reshape(-1, 1)
        light = fit_field(samples(bent, tone * np.ones(3), 0.02, rng), SIZE)
        off = error(light, bent)[:, 1]
        sd = [np.sqrt(light.log_covariance(p[None])[1, 1]) for p in PLACES.reshape(-1, 2)]
        ratios.append(np.sqrt(np.mean((off / np.array(sd)) ** 2)))
    assert 0.5 < np.median(ratios) < 1.6


def test_the_field_turns_with_the_picture():
    rng = np.random.default_rng(5)
    upright = samples(bent, np.zeros((300, 3)), 0.008, rng)
    turned = Samples(
        xy=np.stack([SIZE[1] - upright.xy[:, 1], upright.xy[:, 0]], axis=-1),
        log=upright.log, sd=upright.sd, material=upright.material, known=upright.known,
        grained=upright.grained, bins=upright.bins[:, ::-1],
    )  # fmt: skip
    here = fit_field(upright, SIZE).log_light(PLACES.reshape(-1, 2))
    moved = np.stack([SIZE[1] - PLACES[..., 1], PLACES[..., 0]], axis=-1).reshape(-1, 2)
    there = fit_field(turned, (SIZE[1], SIZE[0])).log_light(moved)
    assert np.allclose(here, there, atol=1e-3)


def test_without_a_known_material_the_level_is_open():
    rng = np.random.default_rng(6)
    whole = samples(flat, np.zeros((300, 3)), 0.01, rng)
    only = Samples(
        whole.xy[16:], whole.log[16:], whole.sd[16:], np.zeros(300, int), whole.known[1:],
        whole.grained[1:], whole.bins[16:],
    )  # fmt: skip
    with pytest.raises(ValueError, match="level"):
        fit_field(only, SIZE)


def test_channels_solved_by_blocks_are_the_whole_system_solved() -> None:
    rng = np.random.default_rng(3)
    terms, unknowns = field_module._TERMS, field_module._TERMS + 9
    size = 3 * unknowns
    whole, side = np.zeros((size, size)), np.zeros(size)
    own, shared, right = [], [], []
    for k, slope in enumerate((0.0, 0.4, -0.7)):
        rows, target = rng.normal(0, 1, (60, unknowns)), rng.normal(0, 1, 60)
        # A tint's rows hold its share of lightness as well.
        wide = np.zeros((60, size))
        wide[:, k * unknowns : (k + 1) * unknowns] += rows
        if k:
            wide[:, :terms] -= slope * rows[:, :terms]
            shared.append(wide[:, k * unknowns : (k + 1) * unknowns].T @ wide[:, :terms])
        own.append(rows.T @ rows)
        right.append(rows.T @ target)
        if k:
            own[0][:terms, :terms] += wide[:, :terms].T @ wide[:, :terms]
            right[0][:terms] += wide[:, :terms].T @ target
        whole += wide.T @ wide
        side += wide.T @ target
    prior = rng.uniform(0.5, 2.0, (3, unknowns))
    inverse = np.linalg.inv(whole + np.diag(prior.ravel()))
    solution, variances, covariance = field_module._Normal(own, shared, right).solve(prior)
    np.testing.assert_allclose(solution.ravel(), inverse @ side, atol=1e-10)
    np.testing.assert_allclose(variances.ravel(), np.diag(inverse), atol=1e-10)
    fields = np.concatenate([np.arange(terms) + k * unknowns for k in range(3)])
    np.testing.assert_allclose(covariance, inverse[np.ix_(fields, fields)], atol=1e-10)
