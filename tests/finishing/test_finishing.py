"""Thread, binding, border and backing against a top."""

from dataclasses import replace

import numpy as np
import pytest

from colorcore.color.difference import ciede2000
from colorcore.errors import ColorError
from colorcore.finishing import (
    Candidate,
    TopColors,
    rank_backings,
    rank_bindings,
    rank_borders,
    rank_threads,
    say_shared,
    top_colors,
)
from colorcore.lengths import Measure
from tests.piecing.making import make_quilt

GREY, WHITE, BLACK = (60.0, 0.0, 0.0), (96.0, 0.0, 2.0), (15.0, 0.0, 0.0)


def make_top(*parts: tuple[tuple[float, float, float], float, float], ground: int = 0) -> TopColors:
    """Return a top of (lab, area, edge) parts; ``ground`` is the background's number."""
    return TopColors(
        np.array([p[0] for p in parts]),
        np.array([p[1] for p in parts]),
        np.array([p[2] for p in parts]),
        np.array([p[2] for p in parts]),
        tuple("background" if i == ground else "" for i in range(len(parts))),
        ground,
    )


def test_areas_of_a_top_add_up() -> None:
    layout, _cuts, squares = make_quilt("hedgerow-geese")
    filled = [next(iter(squares.values())).lab] * len(layout.slots)
    top = top_colors(layout, filled, {"background": WHITE})
    assert top.areas.sum() == pytest.approx(layout.width * layout.height)
    # The border is background: all of the edge is.
    assert top.background is not None
    assert top.edges[top.background] == pytest.approx(2 * (layout.width + layout.height))


def test_a_border_is_read_against_the_units_within() -> None:
    """Its own colour is what is looked for, and what lies around the quilt is no neighbour."""
    layout, _cuts, squares = make_quilt("hedgerow-geese")
    swatches = [squares[name] for name in sorted(squares)]
    filled = [swatches[n % len(swatches)].lab for n in range(len(layout.slots))]
    inset = float(sum(border.width for border in layout.quilt.borders))
    around = 2 * (layout.width + layout.height - 4 * inset)
    tops = [top_colors(layout, filled, known) for known in ({}, {"background": WHITE})]
    assert tops[0].edges.sum() == 0, "of the border nothing is known"
    assert tops[0].within.sum() <= tops[1].within.sum() == pytest.approx(around)
    units = [n for n, inches in enumerate(tops[0].within) if inches > 0]
    same = Candidate("same", tuple(tops[0].labs[units[0]].tolist()))
    apart = Candidate("apart", (50.0, 90.0, -80.0))
    for top in tops:
        scores = {c.candidate.name: c.score for c in rank_borders(top, [same, apart])}
        bare = replace(top, within=np.zeros_like(top.within))
        unseen = {c.candidate.name: c.score for c in rank_borders(bare, [same, apart])}
        assert scores["apart"] - unseen["apart"] > scores["same"] - unseen["same"] >= 0
        assert scores["apart"] - unseen["apart"] == pytest.approx(0.45)


def test_a_binding_beside_a_border_of_unknown_colour_claims_nothing() -> None:
    layout, _cuts, squares = make_quilt("hedgerow-geese")
    top = top_colors(layout, [next(iter(squares.values())).lab] * len(layout.slots), {})
    (choice,) = rank_bindings(top, [Candidate("white", WHITE)])
    assert "the colour along the edge is not known" in choice.words


def test_thread_that_shows_least_is_nearest_by_area() -> None:
    top = make_top((WHITE, 900, 10), (BLACK, 100, 0))
    choices = [Candidate("grey", GREY), Candidate("white", WHITE), Candidate("black", BLACK)]
    ranked = rank_threads(top, choices)
    assert [c.candidate.name for c in ranked] == ["white", "grey", "black"]
    assert [c.candidate.name for c in rank_threads(top, choices, wish="most")] == [
        "black",
        "grey",
        "white",
    ]
    white = ranked[0]
    by_hand = 0.1 * float(ciede2000(np.array(WHITE), np.array(BLACK)))
    assert white.showing == pytest.approx(by_hand)
    assert white.share_hides == pytest.approx(0.9)
    assert white.share_shows == pytest.approx(0.1)
    assert white.on_background == pytest.approx(0)
    assert "sinks into the background" in white.sentence
    assert "shows on the background" in ranked[2].sentence


def test_showing_least_changes_with_the_area() -> None:
    choices = [Candidate("white", WHITE), Candidate("black", BLACK)]
    assert (
        rank_threads(make_top((WHITE, 1, 1), (BLACK, 9, 1)), choices)[0].candidate.name == "black"
    )


def test_binding_parts_from_the_edge_not_from_the_middle() -> None:
    top = make_top((WHITE, 500, 100), (BLACK, 500, 0))
    ranked = rank_bindings(top, [Candidate("white", WHITE), Candidate("black", BLACK)])
    assert ranked[0].candidate.name == "black"
    assert "parts from 100 % of the edge by value, 100 % by colour" in ranked[0].words


def test_a_binding_of_the_edge_s_own_value_is_told_to_part_by_colour() -> None:
    """Else an olive beside a plum would come first with nothing said for it."""
    plum, olive = (28.0, 25.0, -2.0), (31.0, -2.0, 18.0)
    top = make_top((plum, 500, 100), (olive, 100, 0), (WHITE, 500, 0))
    first, last = rank_bindings(top, [Candidate("plum", plum), Candidate("olive", olive)])
    assert (first.candidate.name, last.candidate.name) == ("olive", "plum")
    assert "parts from 0 % of the edge by value, 100 % by colour" in first.words
    assert "parts from 0 % of the edge by value, 0 % by colour" in last.words


def test_a_border_stays_within_the_top_and_echoes_it() -> None:
    teal = (40.0, -25.0, -10.0)
    top = make_top((WHITE, 500, 100), (teal, 300, 0), (GREY, 200, 0))
    ranked = rank_borders(
        top, [Candidate("teal", (41.0, -24.0, -9.0)), Candidate("magenta", (50.0, 80.0, -30.0)),
              Candidate("ink", (4.0, 0.0, 0.0))],
    )  # fmt: skip
    assert ranked[0].candidate.name == "teal"
    assert "L* beyond" in next(c for c in ranked if c.candidate.name == "ink").words


def test_a_dark_backing_shows_through_light_patches() -> None:
    top = make_top((WHITE, 800, 100), (BLACK, 200, 0))
    ranked = rank_backings(
        top, [Candidate("navy", (18.0, 5.0, -25.0)), Candidate("cream", (92.0, 0.0, 8.0))]
    )
    assert ranked[0].candidate.name == "cream"
    assert "may show through 80 %" in ranked[1].words
    assert "does not show through" in ranked[0].words


def test_too_little_cloth_comes_last() -> None:
    top = make_top((WHITE, 500, 100), (BLACK, 500, 0))
    ranked = rank_bindings(
        top, [Candidate("black", BLACK, 10.0), Candidate("grey", GREY, 40.0)], need_inches=17.5
    )
    assert [c.candidate.name for c in ranked] == ["grey", "black"]
    assert ranked[1].enough is False
    assert ranked[1].told(Measure()).endswith("; 7½ in too short.")
    assert ranked[1].told(Measure(metric=True)).endswith("; 19.05 cm too short.")


def test_what_the_background_takes_of_its_cloth_is_not_there_for_the_binding() -> None:
    top = make_top((WHITE, 500, 100), (BLACK, 500, 0))
    cloths = [Candidate("black", BLACK, 40.0, taken=24.0), Candidate("grey", GREY, 40.0)]
    for need, enough in ((16.0, True), (17.5, False)):
        ranked = rank_bindings(top, cloths, need_inches=need)
        black = next(c for c in ranked if c.candidate.name == "black")
        assert black.enough is enough
        assert (ranked[-1] is black) is not enough
        said = black.told(Measure())
        assert "it is the background, which takes 24 in of it and leaves 16 in" in said
        assert ("1½ in too short" in said) is not enough
    used_up = Candidate("black", BLACK, 24.0, taken=24.0)
    grey, gone = rank_bindings(top, [used_up, Candidate("grey", GREY, 3.0)], need_inches=5)
    # A little is nearer than nothing.
    assert (grey.is_used_up, gone.is_used_up, gone.candidate) == (False, True, used_up)
    assert "it is the background, which takes all of it; 5 in too short." in gone.told(Measure())


def test_a_fabric_that_is_first_for_two_uses_and_enough_for_one_is_told() -> None:
    top = make_top((WHITE, 500, 100), (BLACK, 500, 0))

    def shared(inches: float, taken: float = 0.0) -> tuple[str, ...]:
        cloth = [Candidate("black", BLACK, inches, taken=taken)]
        ranked = {
            "binding": rank_bindings(top, cloth, need_inches=20.0),
            "backing": rank_backings(top, cloth, need_inches=30.5),
        }
        return say_shared(ranked, Measure())

    (said,) = shared(50.0)
    assert said == (
        "black is named first for binding and backing, but together they take 50½ in, and there "
        "are 50 in: take it for one of them."
    )
    assert shared(50.5) == ()
    assert "there are 40 in" in shared(80.0, taken=40.0)[0]
    # What is too little for one of them is not first for both.
    assert shared(25.0) == ()


def test_nothing_to_choose_from_is_said() -> None:
    with pytest.raises(ColorError, match="no thread"):
        rank_threads(make_top((WHITE, 1, 1)), [])
