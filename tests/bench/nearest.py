"""How fast the nearest colours are found, as a ratio to one pass of the bare formula.

    python -m tests.bench.nearest

Prints, for 100,000 and 1,000,000 colours, the time of the 20 nearest by CIEDE2000 over the time of
a bare NumPy pass of the formula over the array (the floor: written out below in one piece, with no
check and no blocks), and what scikit-image's and colour-science's functions take for the same in
the same run. Every answer is checked against the floor's.
"""

import tempfile
import warnings
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from colorcore.color.difference import ciede2000
from colorcore.stash import Stash
from colorcore.substitutes.nearest import nearest
from tests.bench.timing import best

COUNT = 20
QUERIES = ((45.0, 20.0, -30.0), (80.0, 2.0, 5.0), (30.0, 55.0, 30.0), (20.0, 10.0, -55.0))
REPEATS = 5


def make_shelf(size: int, seed: int = 0) -> NDArray[np.float64]:
    """Return CIELAB (size, 3) as fabrics spread: many muted, few vivid."""
    rng = np.random.default_rng(seed)
    chroma, hue = rng.gamma(2.2, 12, size), rng.uniform(0, 2 * np.pi, size)
    return np.stack([rng.uniform(12, 96, size), chroma * np.cos(hue), chroma * np.sin(hue)], axis=1)


def bare_formula(labs: NDArray[np.float64], query: NDArray[np.float64]) -> NDArray[np.float64]:
    """CIEDE2000 as the equations stand, over whole arrays: Sharma, Wu and Dalal (2005)."""
    l1, a1, b1 = query
    l2, a2, b2 = labs[:, 0], labs[:, 1], labs[:, 2]
    mean_c7 = ((np.hypot(a1, b1) + np.hypot(a2, b2)) / 2) ** 7
    g = 0.5 * (1 - np.sqrt(mean_c7 / (mean_c7 + 25.0**7)))
    a1, a2 = (1 + g) * a1, (1 + g) * a2
    c1, c2 = np.hypot(a1, b1), np.hypot(a2, b2)
    h1, h2 = np.degrees(np.arctan2(b1, a1)) % 360, np.degrees(np.arctan2(b2, a2)) % 360
    dl, dc, dh = l2 - l1, c2 - c1, h2 - h1
    dh = np.where(np.abs(dh) > 180, dh - 360 * np.sign(dh), dh)
    dh = 2 * np.sqrt(c1 * c2) * np.sin(np.radians(dh / 2))
    ml, mc = (l1 + l2) / 2, (c1 + c2) / 2
    mh = (h1 + h2) / 2
    mh = np.where(np.abs(h1 - h2) > 180, np.where(h1 + h2 < 360, mh + 180, mh - 180), mh)
    t = (
        1 - 0.17 * np.cos(np.radians(mh - 30)) + 0.24 * np.cos(np.radians(2 * mh))
        + 0.32 * np.cos(np.radians(3 * mh + 6)) - 0.20 * np.cos(np.radians(4 * mh - 63))
    )  # fmt: skip
    turn = 30 * np.exp(-(((mh - 275) / 25) ** 2))
    rc = 2 * np.sqrt(mc**7 / (mc**7 + 25.0**7))
    sl = 1 + 0.015 * (ml - 50) ** 2 / np.sqrt(20 + (ml - 50) ** 2)
    x, y, z = dl / sl, dc / (1 + 0.045 * mc), dh / (1 + 0.015 * mc * t)
    return np.sqrt(x * x + y * y + z * z - np.sin(np.radians(2 * turn)) * rc * y * z)


def by_pass(difference: NDArray[np.float64]) -> NDArray[np.intp]:
    """Indices of the nearest after a pass over all."""
    near = np.argpartition(difference, COUNT)[:COUNT]
    return near[np.argsort(difference[near])]


def fill_stash(stash: Stash, labs: NDArray[np.float64]) -> None:
    """Put colours straight into the file: measuring a million pieces is not what is timed."""
    rows = ((f"cloth {n}", *map(float, lab)) for n, lab in enumerate(labs))
    with stash._file.change() as db:
        db.executemany(
            "INSERT INTO entry (name, kind, amount, unit, lightness, a, b, measured, picture, "
            "reference, trust, added) "
            "VALUES (?, 'fabric', '1', 'yards', ?, ?, ?, '{}', x'', 'paper', 'B', '')",
            rows,
        )


def stash_time(labs: NDArray[np.float64], query: NDArray[np.float64]) -> float:
    """Seconds to read all colours from a stash file of so many entries and find the nearest."""
    with tempfile.TemporaryDirectory() as folder, Stash(Path(folder) / "shelf.sqlite") as stash:
        fill_stash(stash, labs)
        return best(lambda: nearest(stash.colors()[1], query, COUNT), REPEATS)


def main() -> None:
    """Print the table."""
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        from colour.difference import delta_E_CIE2000
    from skimage.color import deltaE_ciede2000

    print(f"{'colours':>10}  {'query':>16}  {'floor':>8}  ratio to the floor:")
    print(f"{'':>10}  {'':>16}  {'':>8}  ours  our pass  scikit-image  colour-science")
    for size in (100_000, 1_000_000):
        labs = make_shelf(size)
        for query in map(np.array, QUERIES):
            floor = best(lambda: by_pass(bare_formula(labs, query)), REPEATS)  # noqa: B023
            ours = best(lambda: nearest(labs, query, COUNT), REPEATS)  # noqa: B023
            plain = best(lambda: by_pass(ciede2000(labs, query)), REPEATS)  # noqa: B023
            image = best(lambda: by_pass(deltaE_ciede2000(labs, query[None])), REPEATS)  # noqa: B023
            science = best(lambda: by_pass(delta_E_CIE2000(labs, query)), REPEATS)  # noqa: B023
            indices, found = nearest(labs, query, COUNT)
            expected = np.sort(bare_formula(labs, query))[:COUNT]
            assert np.allclose(found, expected, atol=1e-9), "not the nearest"
            assert len(set(indices.tolist())) == COUNT
            told = ", ".join(f"{v:.0f}" for v in query)
            print(
                f"{size:>10,}  {told:>16}  {floor * 1e3:>5.0f} ms  {ours / floor:4.2f}  "
                f"{plain / floor:8.2f}  {image / floor:12.2f}  {science / floor:14.2f}"
            )
    labs, query = make_shelf(100_000), np.array(QUERIES[0])
    floor = best(lambda: by_pass(bare_formula(labs, query)), REPEATS)
    seconds = stash_time(labs, query)
    print(
        f"100,000 entries read from a stash file and searched: {seconds * 1e3:.0f} ms, "
        f"{seconds / floor:.2f} of the floor"
    )


if __name__ == "__main__":
    main()
