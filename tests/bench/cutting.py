"""How long cutting, pairing and drawing take, and how good the pairing is.

``python -m tests.bench.cutting`` prints three tables. Times are the best of three, stated as a
ratio to painting the same quilt once at 1800 pixels, measured in the same run: the picture has to
be painted whatever the rest costs. The pairing is compared with layouts drawn at random.
"""

from fractions import Fraction as F

import numpy as np

from colorcore.cutting.avoiding import badness_from_map, cut_around
from colorcore.cutting.guillotine import Guillotine, PieceWanted
from colorcore.cutting.kits import cut_stacks
from colorcore.pattern import read_pattern
from colorcore.pattern.layout import spread
from colorcore.pattern.units import read_units
from colorcore.piecing import pair, plan_pressing
from colorcore.piecing.pairing import _Terms
from colorcore.preview import cloth_from_color, cloth_from_swatch, paint, quilt_svg, sew
from tests.bench.timing import timed
from tests.piecing.making import deal_in_order, make_squares

QUILTS = (
    ("gatepost-stars", 0), ("gatepost-stars", 1), ("hedgerow-geese", 0), ("hedgerow-geese", 1),
    ("lamplight-rails", 0), ("lamplight-rails", 1),
)  # fmt: skip
SQUARES = (
    ("16 of 2½", [("5/2", "5/2", 16)]),
    ("star: 4½ and 8 of 2½", [("9/2", "9/2", 1), ("5/2", "5/2", 8)]),
    ("6 of 2½ × 4½", [("9/2", "5/2", 6)]),
    ("3⅞, 5¼ and 1½", [("31/8", "31/8", 2), ("21/4", "21/4", 1), ("3/2", "3/2", 12)]),
    ("four sizes", [("3/2", "3/2", 8), ("2", "7/2", 6), ("19/8", "19/8", 4), ("3", "5", 2)]),
)


def bench_squares() -> None:
    """One square: the exact search, and the search around bad parts."""
    print(f"{'one 10 in square':24}{'counts':>8}{'parts':>8}{'exact ms':>10}{'around ms':>11}")
    rng = np.random.default_rng(1)
    bad = np.kron((rng.random((12, 12)) < 0.2).astype(float), np.ones((20, 20)))
    badness = badness_from_map(bad, 10)
    for name, sizes in SQUARES:
        wanted = [PieceWanted(w + h, F(w), F(h), most) for w, h, most in sizes]

        def search(wanted: list[PieceWanted] = wanted) -> Guillotine:
            found = Guillotine(F(10), F(10), wanted)
            found.frontier()
            return found

        seconds, found = timed(search)
        counts = found.frontier()[0]
        avoid, _ = timed(lambda w=wanted, c=counts: cut_around(F(10), F(10), w, c, badness), 1)
        print(
            f"{name:24}{len(found.frontier()):>8}{found.states:>8}{seconds * 1e3:>10.1f}"
            f"{avoid * 1e3:>11.0f}"
        )


def bench_quilts() -> None:
    """Whole quilts: each step as a ratio to painting once."""
    head = ("spread", "cut", "pair", "press", "sew", "svg")
    print(f"\n{'quilt':24}{'slots':>6}{'paint s':>9}" + "".join(f"{h:>8}" for h in head))
    for name, size in QUILTS:
        pattern = read_pattern(name)
        squares = make_squares(pattern.sizes[size].squares, copies=6)
        by_id = {s.id: s for s in squares}
        stacks = deal_in_order(pattern, size, squares)
        sewing = read_units(pattern)
        label = pattern.sizes[size].name
        t_spread, layout = timed(lambda s=sewing, n=label: spread(s, n))
        t_cut, cuts = timed(lambda q=layout, s=stacks: cut_stacks(q, s))
        t_pair, pairing = timed(lambda q=layout, c=cuts, b=by_id: pair(q, c, b))
        filled = [by_id[s] for s in pairing.squares()]
        t_press, _ = timed(lambda q=layout, f=filled: plan_pressing(q, f, {"background": 95.0}))
        cloths = {i: cloth_from_swatch(s) for i, s in by_id.items()}
        cloths["background"] = cloth_from_color("background", (95.0, 0.0, 3.0))
        t_sew, sewn = timed(lambda q=layout, p=pairing, c=cloths: sew(q, p.supplies, c))
        scale = 1800 / max(sewn.width, sewn.height)
        t_paint, _ = timed(lambda s=sewn, k=scale: paint(s, k))
        t_svg, _ = timed(lambda s=sewn: quilt_svg(s, words="a quilt"))
        times = (t_spread, t_cut, t_pair, t_press, t_sew, t_svg)
        print(
            f"{name + ', ' + label:24}{len(layout.slots):>6}{t_paint:>9.2f}"
            + "".join(f"{t / t_paint:>8.2f}" for t in times)
        )


def bench_pairing() -> None:
    """Cost, repeats and look-alikes: the optimiser against random layouts of the same kits."""
    print(
        f"\n{'pairing':24}{'cost':>8}{'seeds':>14}{'random':>9}{'best of 1000':>13}"
        f"{'repeats':>9}{'random':>8}{'alike':>7}{'random':>8}"
    )
    for name, size in QUILTS:
        pattern = read_pattern(name)
        squares = make_squares(pattern.sizes[size].squares, copies=6)
        by_id = {s.id: s for s in squares}
        layout = spread(read_units(pattern), pattern.sizes[size].name)
        cuts = cut_stacks(layout, deal_in_order(pattern, size, squares))
        found = [pair(layout, cuts, by_id, seed=seed) for seed in range(1, 6)]
        names = sorted({s.square for s in found[0].supplies})
        terms = _Terms.of(layout, [by_id[n] for n in names])
        labels = np.array([names.index(s) for s in found[0].squares()])
        rng = np.random.default_rng(0)
        stacks = np.array([slot.stack for slot in layout.slots])
        costs, faults = [], []
        for _ in range(1000):
            shuffled = labels.copy()
            for stack in set(stacks):
                here = np.flatnonzero(stacks == stack)
                shuffled[here] = rng.permutation(shuffled[here])
            costs.append(terms.cost(shuffled))
            faults.append([len(f) for f in terms.faults(shuffled)])
        repeats, alike = np.mean(faults, axis=0)
        spread_of = [f.cost for f in found]
        first = found[0]
        print(
            f"{name + ', ' + pattern.sizes[size].name:24}{first.cost:>8.0f}"
            f"{f'{min(spread_of):.0f} to {max(spread_of):.0f}':>14}{np.mean(costs):>9.0f}"
            f"{min(costs):>13.0f}{len(first.repeats):>9}{repeats:>8.1f}{len(first.alike):>7}"
            f"{alike:>8.1f}"
        )


if __name__ == "__main__":
    bench_squares()
    bench_quilts()
    bench_pairing()
