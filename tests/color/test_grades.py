"""The grey scale against the table of ISO 105-A02:1993."""

import numpy as np
import pytest

from colorcore.color.grades import BOUNDARIES, grade, grade_from_difference


@pytest.mark.parametrize(
    ("step", "name"),
    [
        (0, "5"),
        (0.8, "4-5"),
        (1.7, "4"),
        (2.5, "3-4"),
        (3.4, "3"),
        (4.8, "2-3"),
        (6.8, "2"),
        (9.6, "1-2"),
        (13.6, "1"),
    ],
)
def test_steps(step: float, name: str) -> None:
    assert grade_from_difference(step) == name
    assert grade([50, 0, 0], [50 + step, 0, 0]) == name


def test_boundaries_lie_halfway_and_go_to_the_better_grade() -> None:
    np.testing.assert_allclose(BOUNDARIES, [0.4, 1.25, 2.1, 2.95, 4.1, 5.8, 8.2, 11.6])
    assert grade_from_difference(1.25) == "4-5"
    assert grade_from_difference(1.2501) == "4"
    assert grade_from_difference(500) == "1"


@pytest.mark.parametrize("bad", [-0.1, float("nan")])
def test_no_such_difference(bad: float) -> None:
    with pytest.raises(ValueError, match="0 or more"):
        grade_from_difference(bad)
