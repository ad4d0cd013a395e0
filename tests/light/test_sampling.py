"""The table read cell by cell: its ground between lines, its light parts on planks."""

import numpy as np

from colorcore.light.sampling import SmallPicture, read_cells

HEIGHT, WIDTH = 600, 800


def picture(bright: np.ndarray, seed: int = 0) -> SmallPicture:
    """A reduced picture of a grey surface of linear light ``bright`` (600, 800)."""
    rng = np.random.default_rng(seed)
    linear = np.repeat(bright[..., None], 3, axis=-1)
    linear = linear * np.exp(rng.normal(0, 0.01, (HEIGHT, WIDTH, 1)))
    nothing = np.zeros(linear.shape, bool)
    return SmallPicture(
        linear.astype(np.float32), ~nothing[..., 0], nothing, 0.5, (2 * WIDTH, 2 * HEIGHT)
    )


def spread(small: SmallPicture, light: np.ndarray, *, textured: bool) -> float:
    """How far cells are off a light (600, 800), a common level apart: standard deviation."""
    cells = read_cells(small, np.ones((HEIGHT, WIDTH), bool), textured=textured)
    x, y = np.floor(cells.xy * small.scale).astype(int).T
    off = np.log(cells.linear[:, 1]) - np.log(light[y, x])
    return float(np.std(off))


LIGHT = np.exp(-np.linspace(0, 0.6, WIDTH)[None, :] - np.linspace(0, 0.3, HEIGHT)[:, None])


def mat() -> np.ndarray:
    """Dark ground (600, 800) with light lines half an inch apart, a pixel wide: how much of one a
    pixel catches differs."""
    rng = np.random.default_rng(1)
    ground = np.full((HEIGHT, WIDTH), 0.1)
    for place in np.arange(2, WIDTH, 5.3).astype(int):
        ground[:, place] += rng.uniform(0, 0.4)
    for place in np.arange(2, HEIGHT, 5.3).astype(int):
        ground[place] += rng.uniform(0, 0.4)
    return ground


def test_a_mat_is_read_between_its_lines():
    small = picture(mat() * LIGHT)
    assert spread(small, LIGHT, textured=True) < 0.02
    assert spread(small, LIGHT, textured=True) < 0.2 * spread(small, LIGHT, textured=False)


def test_a_plain_table_is_read_whole():
    small = picture(0.4 * LIGHT)
    whole = np.ones((HEIGHT, WIDTH), bool)
    plain, textured = (read_cells(small, whole, textured=t) for t in (False, True))
    assert np.array_equal(plain.linear, textured.linear)


def test_ground_between_lines_is_read_in_smaller_cells():
    """Between light lines the ground shows in every small cell; of dark lines on light ground the
    light parts are read, in the usual cells."""
    whole = np.ones((HEIGHT, WIDTH), bool)
    light_lines, dark_lines = picture(mat() * LIGHT), picture((0.6 - mat()) * LIGHT)
    plain = len(read_cells(light_lines, whole))
    assert len(read_cells(light_lines, whole, textured=True)) > 1.8 * plain
    assert len(read_cells(dark_lines, whole, textured=True)) == plain
