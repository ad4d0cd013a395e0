"""What the maker draws or counts wins over outlines that look sure and are wrong."""

from collections.abc import Callable
from dataclasses import replace

import numpy as np
import pytest

from colorcore.finding import Finding, Hints, find_squares, overlapping_squares
from colorcore.finding import find as finding_module
from colorcore.finding.choose import overlap
from colorcore.finding.group import Explanation, Group
from colorcore.photo import photo_from_array
from tests.bench.finding import match
from tests.finding.drawn import Drawing, make_drawing

Spoil = Callable[[np.ndarray], np.ndarray]


@pytest.fixture(scope="module")
def table() -> Drawing:
    return make_drawing(3, rows=3, columns=4, jitter=0.01, lean=1.0, width=1000, height=750)


@pytest.fixture
def spoil(monkeypatch: pytest.MonkeyPatch) -> Callable[[Spoil], None]:
    """Let finding be sure of other outlines than it found: ``change`` gets them in reading order of
    the drawing, in the view's pixels, (N, 4, 2)."""
    explain = finding_module.explain

    def use(change: Spoil) -> None:
        def wrong(*args: object) -> Explanation:
            seen = explain(*args)  # type: ignore[arg-type]
            middles = seen.group.quads.mean(axis=1)
            rows = np.round(middles[:, 1] / np.ptp(middles[:, 1]) * 2)
            quads = change(seen.group.quads[np.lexsort((middles[:, 0], rows))])
            none = np.zeros(len(quads), bool)
            return replace(seen, group=Group(quads, np.full(len(quads), 0.97), quads, none, none))

        monkeypatch.setattr(finding_module, "explain", wrong)

    return use


def find(drawing: Drawing, **hints: object) -> Finding:
    return find_squares(photo_from_array(drawing.pixels), hints=Hints(**hints))  # type: ignore[arg-type]


def outer(drawing: Drawing) -> np.ndarray:
    quads = drawing.quads.reshape(3, 4, 4, 2)
    return np.array([quads[0, 0, 0], quads[0, 3, 1], quads[2, 3, 2], quads[2, 0, 3]])


def worst(drawing: Drawing, finding: Finding) -> float:
    """How well the worst of the drawn squares is outlined, 0 to 1."""
    found = np.array([s.corners for s in finding.squares])
    pairs = match(drawing.quads, found)
    return min(share for _, _, share in pairs) if len(pairs) == len(drawing.quads) else 0.0


def shifted(quads: np.ndarray) -> np.ndarray:
    """Two outlines of the first row lie half a place off; all the others are right."""
    moved = quads.copy()
    moved[1:3] += 0.5 * (quads[1] - quads[0]).mean(axis=0)
    return moved


def test_outlines_that_cover_the_same_cloth_are_flagged(
    table: Drawing, spoil: Callable[[Spoil], None]
) -> None:
    assert not any("overlapping" in s.flags for s in find(table).squares)
    spoil(lambda quads: np.concatenate([quads, quads[:1] + 0.35 * (quads[1, 0] - quads[0, 0])]))
    finding = find(table)
    flagged = {s.address for s in finding.squares if "overlapping" in s.flags}
    pairs = overlapping_squares(finding)
    assert pairs
    assert flagged == {name for pair in pairs for name in pair}
    assert 2 <= len(flagged) <= 3, "the wrong one and what it lies on, and no other"


def test_corners_with_rows_and_columns_win_over_outlines_that_look_sure(
    table: Drawing, spoil: Callable[[Spoil], None]
) -> None:
    spoil(shifted)
    assert worst(table, find(table)) < 0.7
    finding = find(table, corners=outer(table), grid=(3, 4))
    assert len(finding.squares) == 12
    assert worst(table, finding) > 0.85
    assert not any("overlapping" in s.flags for s in finding.squares)
    # Outlines that are where the maker says stay as they were found.
    assert sum(s.confidence == pytest.approx(0.97) for s in finding.squares) == 10


def test_corners_leave_out_what_reaches_far_beyond_them(
    table: Drawing, spoil: Callable[[Spoil], None]
) -> None:
    def beyond(quads: np.ndarray) -> np.ndarray:
        out = quads[:1] - 0.45 * (quads[1] - quads[0]).mean(axis=0)
        return np.concatenate([quads[1:], out])

    spoil(beyond)
    left = table.quads[:, :, 0].min() - 10
    assert min(s.corners[:, 0].min() for s in find(table).squares) < left
    with_corners = find(table, corners=outer(table)).squares
    assert min(s.corners[:, 0].min() for s in with_corners) > left


def test_rows_and_columns_settle_which_of_two_is_wrong(
    table: Drawing, spoil: Callable[[Spoil], None]
) -> None:
    """A surer outline lies between two places, where the right one lies beneath."""

    def between(quads: np.ndarray) -> np.ndarray:
        return np.concatenate([quads, quads[5:6] + 0.4 * (quads[6] - quads[5]).mean(axis=0)])

    spoil(between)
    finding = find(table, grid=(3, 4))
    assert len(finding.squares) == 12
    assert worst(table, finding) > 0.85
    assert not any("overlapping" in s.flags for s in finding.squares)
    assert any(s.corners[:, 0].mean() > table.quads[5][:, 0].mean() for s in finding.doubtful)


def test_a_square_that_was_drawn_takes_the_place_of_what_it_covers(
    table: Drawing, spoil: Callable[[Spoil], None]
) -> None:
    step = (table.quads[1] - table.quads[0]).mean(axis=0)
    share_of_step = 0.65

    def off(quads: np.ndarray) -> np.ndarray:
        moved = quads.copy()
        moved[0] -= share_of_step * (quads[1] - quads[0]).mean(axis=0)
        return moved

    spoil(off)
    # Of the wrong outline a quarter lies on the square.
    assert 0.2 < overlap(table.quads[0], table.quads[0] - share_of_step * step) < 0.3
    finding = find(table, add=(table.quads[0],))
    assert not any("overlapping" in s.flags for s in finding.squares)
    assert len(finding.squares) == 12
