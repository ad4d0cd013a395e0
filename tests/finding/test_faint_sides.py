"""Sides that no single place shows: traced along their whole length, unlike light and the table."""

import numpy as np
import pytest

from colorcore.finding.faint import traced

SQUARE = np.array([[[60, 60], [140, 60], [140, 140], [60, 140]]], np.float64)


def table(noise: float = 1.0) -> np.ndarray:
    picture = np.random.default_rng(5).normal(0, noise, (200, 200, 3)).astype(np.float32)
    return picture + np.float32([60, 0, 0])


def test_a_thin_shadow_deep_in_the_noise_is_traced() -> None:
    channels = table()
    channels[58:61, 58:142] -= 1.5
    channels[139:142, 58:142] -= 1.5
    channels[58:142, 58:61] -= 1.5
    channels[58:142, 139:142] -= 1.5
    assert traced(channels, SQUARE, 0.2).tolist() == [True]
    assert traced(channels, SQUARE[:0], 0.2).tolist() == []


def test_a_step_as_faint_as_the_noise_is_traced() -> None:
    channels = table()
    channels[60:140, 60:140] += 1.5
    assert traced(channels, SQUARE, 0.2).tolist() == [True]


@pytest.mark.parametrize("seed", range(5))
def test_nothing_is_traced_in_noise_and_uneven_light(seed: int) -> None:
    channels = np.random.default_rng(seed).normal(0, 1, (200, 200, 3)).astype(np.float32)
    channels[..., 0] += np.linspace(50, 75, 200, dtype=np.float32)[:, None]
    assert traced(channels, SQUARE, 0.2).tolist() == [False]


def test_lines_of_the_table_that_run_on_are_not_its_own() -> None:
    channels = table(0.3)
    channels[59:61] += 3
    channels[139:141] += 3
    channels[:, 59:61] += 3
    channels[:, 139:141] += 3
    assert traced(channels, SQUARE, 0.3).tolist() == [False]
