"""What squares show of the light's slope, whatever is printed on them."""

import numpy as np
import pytest

from colorcore.finding.model import Finding, FoundSquare
from colorcore.light.responses import LINEAR_TONE
from colorcore.light.sampling import SmallPicture
from colorcore.light.slopes import read_across, slope_along, slopes_of

SIDE = 96
SLOPE = 0.15
"""Log light that is lost from the left of a square to its right."""


def printed(ground: float, motif: float, seed: int) -> SmallPicture:
    """Four squares in a row under light that falls to the right: a plain ground, and motifs that
    thicken here and there."""
    rng = np.random.default_rng(seed)
    picture = np.full((SIDE, 4 * SIDE, 3), ground)
    for top in range(0, SIDE, 8):
        for left in range(0, 4 * SIDE, 8):
            width = int(rng.integers(0, 8))
            picture[top : top + 6, left : left + width] = motif
    picture *= np.exp(rng.normal(0, 0.01, picture.shape[:2]))[..., None]
    picture *= np.exp(-SLOPE * (np.arange(4 * SIDE) + 0.5) / SIDE)[:, None]
    usable = np.ones(picture.shape[:2], bool)
    full = np.zeros(picture.shape, bool)
    return SmallPicture(picture.astype(np.float32), usable, full, 1.0, (4 * SIDE, SIDE))


def layout() -> Finding:
    box = np.array([[0.0, 0.0], [SIDE, 0.0], [SIDE, SIDE], [0.0, SIDE]])
    squares = tuple(FoundSquare(box + np.array([k * SIDE, 0.0]), 0, k, 1.0) for k in range(4))
    return Finding(squares, (), (), np.zeros((0, 0), bool), 1.0)


@pytest.mark.parametrize(("ground", "motif"), [(0.6, 0.1), (0.08, 0.6)])
def test_a_print_shows_the_slope_by_its_ground(ground, motif):
    off = []
    for seed in range(6):
        across = read_across(printed(ground, motif, seed), layout())
        seen = slopes_of(across, LINEAR_TONE)
        true = slope_along(-SLOPE / SIDE * across.xy[..., :1])
        off.append((seen.seen - true)[..., 1])
        # Coverage differs by a third of itself from cell to cell: the mean of all is off by that.
        assert np.sqrt(np.mean(seen.left**2)) < 0.03
    assert np.sqrt(np.mean(np.square(off))) < 0.03


def test_a_dark_ground_does_not_cost_a_square_its_say():
    """Light that strays in the lens spoils what is very dark: then the whole square is read."""
    across = read_across(printed(0.004, 0.6, 1), layout())
    assert len(across.xy) == 4
    assert across.linear.min() > 0.01
