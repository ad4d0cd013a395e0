"""What the maker does on the photo becomes hints."""

import numpy as np
import pytest

from app.web.outlining import Outline, addressed, after_report, outlines, say_step
from colorcore.errors import ProjectError
from colorcore.finding import Finding, FoundSquare
from colorcore.project import ProjectPhoto

QUAD = ((0.1, 0.1), (0.2, 0.1), (0.2, 0.2), (0.1, 0.2))
SHOWN = (Outline("A1", "A1", QUAD, "A1, 99% sure", False),)
PHOTO = ProjectPhoto("0" * 64, "table.jpg")


def _shifted(by: float) -> list[list[float]]:
    return [[x + by, y + by] for x, y in QUAD]


def test_outlines_are_fractions_and_say_how_sure():
    corners = np.array([[100, 50], [200, 50], [200, 150], [100, 150]], dtype=float)
    finding = Finding(
        squares=(FoundSquare(corners, 0, 0, 0.97),),
        doubtful=(FoundSquare(corners + 200, 3, 3, 0.3),),
        things=(),
        surface=np.zeros((2, 2), bool),
        surface_scale=1.0,
    )
    sure, doubtful = outlines(finding, 1000, 500)
    assert sure.corners == ((0.1, 0.1), (0.2, 0.1), (0.2, 0.3), (0.1, 0.3))
    assert (sure.id, sure.words, sure.doubtful) == ("A1", "A1, 97% sure", False)
    assert (doubtful.id, doubtful.words, doubtful.doubtful) == ("?1", "?1, second look", True)


def test_a_square_that_is_counted_in_another_photo_goes_by_its_address_there():
    corners = np.array([[100, 50], [200, 50], [200, 150], [100, 150]], dtype=float)
    finding = Finding(
        squares=tuple(FoundSquare(corners + 200 * n, n, n, 0.97) for n in (0, 1)),
        doubtful=(),
        things=(),
        surface=np.zeros((2, 2), bool),
        surface_scale=1.0,
    )
    one, other = outlines(finding, 1000, 500, 2, {"B2": "1-A7"})
    # Both as on board and sheet; reports go by the place in this photo.
    assert (one.id, one.address, one.words) == ("A1", "2-A1", "2-A1, 97% sure")
    assert (other.id, other.address) == ("B2", "1-A7")
    assert other.words == "1-A7, counted in another photo, 97% sure"
    assert addressed(finding, 2, {"B2": "1-A7"}) == {"A1": "2-A1", "B2": "1-A7"}
    assert addressed(finding, None, {}) == {"A1": "A1", "B2": "B2"}


def test_outlines_that_cover_the_same_cloth_say_so():
    corners = np.array([[100, 50], [200, 50], [200, 150], [100, 150]], dtype=float)
    finding = Finding(
        squares=tuple(
            FoundSquare(np.add(corners, [by, 0]), 0, n, 0.9) for n, by in enumerate((0, 70))
        ),
        doubtful=(),
        things=(),
        surface=np.zeros((2, 2), bool),
        surface_scale=1.0,
    )
    assert [o.words for o in outlines(finding, 1000, 500)] == [
        "A1, 90% sure, covers the same cloth as A2",
        "A2, 90% sure, covers the same cloth as A1",
    ]
    words = [o.words for o in outlines(finding, 1000, 500, 2, {"A2": "1-C4"})]
    assert words[0] == "2-A1, 90% sure, covers the same cloth as 1-C4"


def test_a_moved_corner_keeps_the_square_as_the_maker_drew_it():
    corners = [[0.11, 0.1], *map(list, QUAD[1:])]
    moved = after_report(PHOTO, SHOWN, {"what": "moved", "id": "A1", "corners": corners})
    assert moved.add == (((0.11, 0.1), *QUAD[1:]),)
    assert moved.ignore == ()


def test_a_square_moved_away_is_not_found_again_where_it_was():
    report = {"what": "moved", "id": "A1", "corners": _shifted(0.3)}
    moved = after_report(PHOTO, SHOWN, report)
    assert len(moved.add) == 1
    assert moved.ignore == (pytest.approx((0.15, 0.15)),)


def test_moving_again_replaces():
    once = after_report(PHOTO, SHOWN, {"what": "moved", "id": "A1", "corners": _shifted(0.01)})
    shown = (Outline("A1", "A1", once.add[0], "", False),)
    twice = after_report(once, shown, {"what": "moved", "id": "A1", "corners": _shifted(0.02)})
    assert len(twice.add) == 1
    assert twice.add[0][0] == pytest.approx((0.12, 0.12))


def test_taking_out_what_was_found_and_what_was_added():
    gone = after_report(PHOTO, SHOWN, {"what": "removed", "id": "A1", "corners": QUAD})
    assert gone.ignore == (pytest.approx((0.15, 0.15)),)
    added = after_report(PHOTO, SHOWN, {"what": "added", "corners": _shifted(0.5)})
    shown = (Outline("B1", "B1", added.add[0], "", False),)
    undone = after_report(added, shown, {"what": "removed", "id": "B1", "corners": _shifted(0.5)})
    assert undone == PHOTO


def test_marks():
    assert after_report(PHOTO, (), {"what": "white", "point": [0.5, 0.25]}).white == (0.5, 0.25)
    assert after_report(PHOTO, (), {"what": "ignore", "point": [0.5, 0.5]}).ignore == ((0.5, 0.5),)
    outer = after_report(PHOTO, (), {"what": "moved", "id": "outer", "corners": QUAD})
    assert outer.corners == QUAD
    region = {"what": "moved", "id": "background", "corners": QUAD}
    assert after_report(PHOTO, (), region).background == QUAD
    cleared = after_report(outer, (), {"what": "removed", "id": "outer", "corners": QUAD})
    assert cleared.corners == ()


@pytest.mark.parametrize(
    "report",
    [
        {},
        {"what": "moved", "id": "Z9", "corners": QUAD},
        {"what": "moved", "id": "A1", "corners": QUAD[:3]},
        {"what": "moved", "id": "A1", "corners": [[5, 5]] * 4},
        {"what": "moved", "id": "A1", "corners": [[float("nan")] * 2] * 4},
        {"what": "white", "point": [0.5]},
        {"what": "explode", "id": "A1", "corners": QUAD},
        "moved",
        None,
    ],
)
def test_reports_that_cannot_be(report):
    with pytest.raises(ProjectError, match="could not be understood"):
        after_report(PHOTO, SHOWN, report)


@pytest.mark.parametrize(
    ("report", "words"),
    [
        ({"what": "moved", "id": "A1"}, "moved a square's corners"),
        ({"what": "moved", "id": "outer"}, "set the outer corners"),
        ({"what": "removed", "id": "background"}, "forgot the background fabric"),
        ({"what": "white", "point": [0.5, 0.5]}, "marked the paper"),
    ],
)
def test_steps_are_told_in_words(report, words):
    assert say_step(report) == words
