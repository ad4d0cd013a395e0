"""The search by colour against the formula over everything."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from colorcore.color.difference import ciede2000
from colorcore.substitutes.nearest import least_difference, nearest
from tests.color.sharma import PAIRS

COLOR = st.tuples(st.floats(-1, 120), st.floats(-160, 160), st.floats(-160, 160))


def by_brute_force(labs, query, count):
    differences = np.asarray(ciede2000(labs, query))
    order = np.lexsort((np.arange(len(labs)), differences))[:count]
    return order, differences[order]


@given(COLOR, COLOR)
@settings(max_examples=400)
def test_the_bound_is_never_above_the_difference(one, other):
    bound = least_difference(np.array([one]), np.array(other))[0]
    assert bound <= ciede2000(one, other)


def test_the_bound_holds_where_the_rotation_is_strongest():
    """Blues around 275 degrees, where chroma and hue differences partly cancel."""
    rng = np.random.default_rng(5)
    hue = np.radians(rng.normal(275, 12, 60_000))
    chroma = rng.uniform(0, 150, 60_000)
    labs = np.stack(
        [rng.uniform(0, 100, 60_000), chroma * np.cos(hue), chroma * np.sin(hue)], axis=1
    )
    for query in labs[:60]:
        assert np.all(least_difference(labs, query) <= ciede2000(labs, query))


def test_the_bound_is_not_idle():
    """It would be worthless if it were far below the difference everywhere."""
    rng = np.random.default_rng(6)
    labs = np.stack([rng.uniform(20, 90, 4000), *rng.normal(0, 18, (2, 4000))], axis=1)
    share = least_difference(labs[1:], labs[0]) / ciede2000(labs[1:], labs[0])
    assert np.median(share) > 0.5


def test_the_bound_on_published_pairs():
    """The 34 pairs of Sharma, Wu and Dalal (2005)."""
    for row in PAIRS:
        assert least_difference(row[None, :3], row[3:6])[0] <= row[6] + 5e-5


@pytest.mark.parametrize("spread", [0.0, 0.3, 6.0, 25.0, 60.0])
@pytest.mark.parametrize("count", [1, 20, 700])
def test_finds_what_brute_force_finds(spread, count):
    rng = np.random.default_rng([int(spread * 10), count])
    labs = np.stack([rng.uniform(5, 98, 20_000), *rng.normal(3, spread, (2, 20_000))], axis=1)
    queries = np.concatenate([labs[:3], rng.uniform((0, -90, -90), (100, 90, 90), (5, 3))])
    for query in queries:
        indices, differences = nearest(labs, query, count)
        wanted, expected = by_brute_force(labs, query, count)
        assert indices.tolist() == wanted.tolist()
        assert np.array_equal(differences, expected)


@given(
    st.integers(0, 2**32 - 1),
    st.integers(5000, 30_000),
    st.integers(1, 40),
    st.sampled_from([0.5, 4.0, 30.0, 90.0]),
)
@settings(max_examples=40)
def test_finds_what_brute_force_finds_in_any_stash(seed, size, count, spread):
    """Colours in clusters, with many exact copies, as a shelf has them."""
    rng = np.random.default_rng(seed)
    centres = rng.uniform((0, -90, -90), (100, 90, 90), (12, 3))
    labs = centres[rng.integers(0, 12, size)] + rng.normal(0, spread, (size, 3))
    labs = np.where(rng.random(size)[:, None] < 0.3, centres[0], labs)
    query = labs[0] if seed % 2 else rng.uniform((0, -90, -90), (100, 90, 90))
    indices, _ = nearest(labs, query, count)
    assert indices.tolist() == by_brute_force(labs, query, count)[0].tolist()


def test_few_and_none():
    labs = np.array([[50.0, 0, 0], [60, 0, 0], [50, 0, 0]])
    assert nearest(labs, (50, 0, 0), 9)[0].tolist() == [0, 2, 1]
    assert nearest(np.zeros((0, 3)), (50, 0, 0), 9)[0].tolist() == []
    assert nearest(labs, (50, 0, 0), 0)[0].tolist() == []


@pytest.mark.parametrize(
    ("labs", "query", "count"),
    [([[1.0, 2]], (1, 2, 3), 1), ([[1.0, 2, 3]], (1, 2), 1), ([[1.0, 2, np.nan]], (1, 2, 3), 1),
     ([[1.0, 2, 3]], (np.inf, 2, 3), 1), ([[1.0, 2, 3]], (1, 2, 3), -1)],
)  # fmt: skip
def test_refuses(labs, query, count):
    with pytest.raises(ValueError, match=r"."):
        nearest(labs, query, count)
